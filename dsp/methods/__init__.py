"""The methods, from signals to statistics: one module a gesture or witness."""
