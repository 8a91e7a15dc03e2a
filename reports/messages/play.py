"""What the screen for playing says besides the session's sentences: its band, and words in its picture."""

from __future__ import annotations

from typing import Final

from reports.model.session import Ending

VOLUMES: Final = "volumes"
VOLUME_UP: Final = "full up"
VOLUME_DOWN: Final = "all the way down"
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
MOVE_FIRST: Final = "FIRST"
"""Above what hands have to move, where that stands in letters of its own."""
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

EVIDENCE: Final = "What the take shows"
BOTH_INPUTS: Final = "Both inputs: {told}"
MOVES: Final[dict[bool, str]] = {True: "they move together", False: "they move against each other"}
NOT_CLEAR: Final = "neither together nor against each other"
FIRST_MS: Final = "The pluck's beginning"
PULSE: Final = "The tool's pulse"
SPAN_MS: Final = "{ms} ms"
JUMP: Final = "What each partial did as the selector moved"
LEVELS: Final = "Levels"
TAPPED_AT: Final = "{tapped} on {setting}"
DB: Final = "{db:.0f} dB"
NO_LEVEL: Final = "nothing"
OPEN_TAKE: Final = "Take to look at"
NEWEST: Final = "the newest"
AS_RECORDED: Final = "As recorded, so it may be quiet: monitors down before anything is plugged in again."
PLAY_TAKE: Final = "Play back {id}"
TARGET: Final = "a pluck's peak"
MORE_CAUTIONS: Final = "{count} more"
SEE_WIRING: Final = "See the wiring"
SEE_REPORT: Final = "Go to the report"
LIVE: Final = "The input is live: {word}. Back to Play"
LOOK: Final = "Light or dark"
LOOKS: Final[dict[str, str]] = {"": "as the system", "light": "light", "dark": "dark"}
DROPPED_ELSEWHERE: Final = "Recordings that are dropped go here"
HOLD: Final = "hold it steady, both hands free:"
HOLD_STRINGS: Final = "strings"
HOLD_PICKUP: Final = "loose pickup, poles up"
HOLD_SPACER: Final = "spacer: folded card or cork"
HOLD_TAPE: Final = "tape over the wire"
