"""The guided session: candidates, expected evidence, information gain, and its course."""
