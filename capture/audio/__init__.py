"""Audio files, devices and streams."""
