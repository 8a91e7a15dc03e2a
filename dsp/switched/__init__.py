"""One string rings while the selector moves: what the signs of its partials say about the pickups."""
