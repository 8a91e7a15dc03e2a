"""The guided session: what to play next, waiting for it, and what it told."""
