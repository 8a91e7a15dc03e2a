"""Faces of a verdict: text, HTML, tables, plots and drawings."""
