"""The wiring plan, coil by coil: the cheapest work that gives every setting what it is meant to do."""
