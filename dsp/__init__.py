"""Signal processing: arrays in, measurements out. No files, no clock, no printing, no plotting.

Holds the base error of coilwise, and the error of this package. A message is one line for the person at the
bench: what is wrong, where, and what to do.
"""


class CoilwiseError(Exception):
    """Whatever the tool refuses; its text is shown to the user as it stands."""


class SignalError(CoilwiseError):
    """An array that cannot be worked on: wrong shape, NaN or infinity, too short, a rate out of range."""
