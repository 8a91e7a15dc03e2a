"""What a guided session does where nothing else is said; nothing is imported here, a help text shows it."""

GESTURES = ("pluck", "switch", "press", "lift", "hum")
MOST_TAKES = 40
"""After so many it ends, whatever is open: a person's patience, and more than any simulated job took."""
