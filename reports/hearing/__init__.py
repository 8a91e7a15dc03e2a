"""What was heard, kept: the door through which takes are heard, and the shelf of those heard before."""
