"""Signal processing: arrays in, measurements out. No files, no clock, no printing, no plotting.

Holds the base error of coilwise, and the error of this package. A message is one line for the person at the
bench: what is wrong, where, and what to do.
"""

import unicodedata

_DIRECTION = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_LONGEST, _HEAD = 1200, 800
"""Characters of a message, and of its beginning where it is longer."""


def plain(text: str) -> str:
    """``text`` in one line that cannot steer a terminal or break a file.

    White space becomes single blanks; control, surrogate and direction characters a visible mark.
    """
    marked = "".join(
        "\N{REPLACEMENT CHARACTER}"
        if c in _DIRECTION or (unicodedata.category(c) in {"Cc", "Cs"} and not c.isspace())
        else c
        for c in text
    )
    return " ".join(marked.split())


class CoilwiseError(Exception):
    """Whatever the tool refuses; its text is shown to the user as it stands.

    It may quote what came from elsewhere, so it is one line without control characters, and not endless: of a
    long one, the beginning and the end.
    """

    def __str__(self) -> str:
        text = plain(super().__str__())
        return text if len(text) <= _LONGEST else f"{text[:_HEAD]} … {text[_HEAD - _LONGEST :]}"


class SignalError(CoilwiseError):
    """An array that cannot be worked on: wrong shape, NaN or infinity, too short, a rate out of range."""
