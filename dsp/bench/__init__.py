"""The bench simulator: strings, pickups, circuits, tools and inputs that do not exist, with known signs."""
