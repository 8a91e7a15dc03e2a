"""What an ohmmeter says of a pickup's coils and leads, and how its leads are to be joined."""
