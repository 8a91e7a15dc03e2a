"""Readings in ohms: coils from readings between leads, and at the jack."""
