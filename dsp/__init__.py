"""Arrays in, measurements out: what a pickup's signal says about its sign.

No files, no clock, no printing, no plotting. Imports numpy, scipy and librosa only.
"""
