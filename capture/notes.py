"""Names of open strings and their pitch.

A name is a letter A to G, sharps (#) or flats (b), and the octave in scientific pitch notation:
"E2" is the lowest string of a guitar, A4 = 440 Hz (ISO 16), equal temperament.
"""

from __future__ import annotations

import re

from capture.errors import JobError

A4_HZ = 440.0  # ISO 16
HIGHEST_FRET = 36

NO_NOTE = "is no note name; write a letter, # or b, and the octave, as in F#3 or Bb2"

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"([A-Ga-g])(##?|bb?)?([0-8])", re.ASCII)


def semitone(name: str) -> int:
    """Return the number of the note in semitones, A4 = 69.

    Raises
    ------
    JobError
        `name` is no note name.

    """
    found = _NAME.fullmatch(name)
    if found is None:
        raise JobError(f'"{name}" {NO_NOTE}')
    letter, turn, octave = found.group(1).upper(), found.group(2) or "", int(found.group(3))
    return 12 * (octave + 1) + _STEPS[letter] + turn.count("#") - turn.count("b")


def note_hz(name: str, *, fret: int = 0) -> float:
    """Return the pitch in Hz of the open string `name`, or of that string stopped at `fret`.

    Raises
    ------
    JobError
        `name` is no note name.

    """
    return float(A4_HZ * 2.0 ** ((semitone(name) + fret - 69) / 12))
