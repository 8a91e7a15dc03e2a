"""Parts that several screens of the page are built from."""
