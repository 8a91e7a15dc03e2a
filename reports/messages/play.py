"""What the screen for playing says besides the session's sentences: its band, and words in its picture."""

from __future__ import annotations

from typing import Final

from reports.model.session import Ending

SELECTOR: Final = "selector"
INPUT: Final = "{number}"
CLOTH: Final = "cloth on all strings"
COIL_TO_TOUCH: Final = "coil {coil} alone"
ON_CLIPS: Final = "red clip (tip) on {red}, black on {black}"
RED_ON: Final = "red clip: the tip"
BLACK_ON: Final = "black clip: the sleeve"
TAG: Final = "tag"

TOO_LOUD: Final = "TOO LOUD"
BAND: Final[dict[str, str]] = {
    "begin": "READY?",
    "ready": "GET READY",
    "move": "MOVE THE PLUG",
    "quiet": "QUIET",
    "now": "NOW",
    "listening": "LISTENING",
    "accepted": "ACCEPTED",
    "refused": "NOT ACCEPTED",
    "question": "ANSWER",
    "settled": "SETTLED",
    "ended": "PAUSED",
    "stopped": "STOPPED",
}
"""What the band says, in letters that are read from two metres."""
ENDINGS_BIG: Final[dict[Ending, str]] = {
    "settled": "SETTLED",
    "no more": "DONE",
    "most": "PAUSED",
    "stopped": "PAUSED",
    "gave up": "PAUSED",
    "stuck": "STUCK",
    "nothing": "STOPPED",
    "done": "DONE",
}
"""How a session ended; it is paused only where it can be gone on with."""
