"""The wiring plan, and how coils are joined."""
