"""What the signals mean: signs, settings and places, string levels, calibration of statistics."""
