"""From takes to results: hearing, the cache, lead history, selector settings, health of a pickup."""
