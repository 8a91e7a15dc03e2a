"""Files on the disk: what may be read of a folder from elsewhere, how files are written whole, who writes."""
