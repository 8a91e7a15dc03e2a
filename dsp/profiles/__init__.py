"""Which pickups are in phase, from plucks on each alone and on several together."""
