"""What no recording can tell, and so has to be asked.

Task: from the gestures of a job to the questions that the person at the bench answers before the verdict is
believed. Signs: none.
"""

from __future__ import annotations

from collections.abc import Collection

ORDER = "Was the selector moved through the settings in the order that is listed, and through no other?"
KNOBS = "Were volume and tone full up in every take?"
PHASE_SWITCH = (
    "Was every phase, series or split switch at rest, or is its position among the settings of job.toml?"
)
PLUG = "Is the plug of the right kind and pushed home? A stereo plug in a mono jack can leave a pickup out."
BATTERY = "If there is a battery inside: is it fresh, and was the plug in?"
PHANTOM = "Was phantom power off on every input?"
SAME_STRING = "Was the string that is named the one that was played, and played by the same hand each time?"

BEFORE = (
    "Is phantom power off on every input?",
    "Are volume and tone full up?",
    "Is every phase, series or split switch at rest?",
    "If there is a battery inside: is it fresh?",
    "Is the plug a mono one, not a stereo one, and pushed home?",
)
"""The same before anything is recorded, while it can still be put right."""

_PLAYED = frozenset({"pluck", "press", "switch"})


def questions_for(gestures: Collection[str]) -> tuple[str, ...]:
    """The questions that go with these gestures; none where nothing was recorded."""
    if not gestures:
        return ()
    played = bool(_PLAYED & set(gestures))
    asked = (
        (ORDER, "switch" in gestures),
        (KNOBS, True),
        (PHASE_SWITCH, True),
        (PLUG, True),
        (BATTERY, True),
        (PHANTOM, True),
        (SAME_STRING, played),
    )
    return tuple(question for question, applies in asked if applies)
