"""The gestures of the bench: what a guided session may ask for where nothing else is said."""

from __future__ import annotations

GESTURES = ("pluck", "switch", "press", "lift", "hum")

MOST_TAKES = 40
"""After so many it ends, whatever is open: a person's patience, and more than any simulated job took."""
