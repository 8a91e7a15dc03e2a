"""Building the verdict: pairs, settings, stages, advice, leads."""
