"""The cautions that go with a job, and the questions that no recording can answer, each stored once.

`cautions_for` picks from what was done and what is to be done, in this order: danger to people, danger to
ears and gear, danger to the pickup, the plan; the last one always says whose judgement goes first.
"""

from __future__ import annotations

from collections.abc import Collection

from dsp.live.gestures import Gesture
from reports.model.gestures import gesture_row
from reports.model.notes import QuestionCode

AMPLIFIER = (
    "Unplug the guitar from any amplifier before clips, a meter or a tool go on it. "
    "Never open an amplifier for this job."
)
TINGLE = (
    "If the strings or any metal part give a tingle: stop, unplug, and have the wiring of the room and the "
    "gear checked."
)
EARTH = "Keep the protective earth connected. Never lift it to chase hum."
PHANTOM = "Switch phantom power off before a pickup is plugged in."
THUMP = (
    "Turn monitors down, take headphones off and switch direct monitoring off before a tool touches a pole "
    "piece or a clip goes on: the thump is loud."
)
BARE_COIL = "Tape over exposed coil wire before a tool comes near: one slip kills a pickup."
MAGNETS = (
    "Never push rod magnets out of a coil that is wound directly on them. Loose magnets pinch, break, and "
    "are dangerous to people with a pacemaker."
)
ACTIVE = "No ohmmeter into active electronics. Take the battery out before metering or soldering."
SHIELD = (
    "A cover or braid that is joined to one lead must be separated from it before the leads are exchanged. "
    "Otherwise it ends up on the hot side, hums, and mutes the guitar where it touches the strings."
)
COMMON_GROUND = (
    "Clips on a fitted pickup may be shorted by a common ground: check before you trust a reading."
)
SOLDERING = (
    "Iron and fumes: work with air moving, and wear eye protection when clipping leads or strings. Slacken "
    "the strings before lifting a pickup. Wash your hands after leaded solder."
)
JUDGEMENT = "This report advises. Local codes and the judgement of a licensed technician go first, always."

OWNER = frozenset((TINGLE, SHIELD, MAGNETS, JUDGEMENT))
"""Those that matter to the owner and to whoever opens the guitar next; the others are about this bench."""


def cautions_for(
    *,
    gestures: Collection[Gesture],
    meter_used: bool,
    any_loose: bool,
    any_shield_on_ground: bool,
    any_fitted: bool = False,
    soldering: bool = False,
    turning_magnet: bool = False,
    any_active: bool = False,
) -> tuple[str, ...]:
    """Cautions that apply to a job, in the order in which they are to be read.

    ``gestures``: names of the gestures of all takes (sources R5); ``any_loose``: a pickup
    not fitted, so that clips go on its leads; ``any_shield_on_ground``: a pickup whose braid or cover is
    joined to its ground lead, or whose shield is not known; ``soldering``: the plan exchanges leads;
    ``turning_magnet``: the plan turns a magnet.
    """
    listened = bool(gestures)
    tool = meter_used or any(gesture_row(g).at_poles for g in gestures)
    clips = meter_used or any_loose
    chosen = (
        (AMPLIFIER, tool or clips or soldering),
        (TINGLE, listened),
        (EARTH, listened),
        (PHANTOM, listened),
        (THUMP, listened and (tool or any_loose)),
        (BARE_COIL, tool),
        (MAGNETS, turning_magnet),
        (ACTIVE, meter_used or soldering or any_active),
        (SHIELD, any_shield_on_ground),
        (COMMON_GROUND, meter_used and any_fitted),
        (SOLDERING, soldering),
        (JUDGEMENT, True),
    )
    return tuple(caution for caution, applies in chosen if applies)


def cautions_of_step(*, gesture: Gesture | None, plugs: bool) -> tuple[str, ...]:
    """The cautions of one step: ``gesture`` that is asked for, None before any; ``plugs``: one is moved."""
    at_poles = gesture is not None and gesture_row(gesture).at_poles
    chosen = ((AMPLIFIER, plugs), (PHANTOM, plugs), (THUMP, at_poles), (BARE_COIL, at_poles))
    return tuple(caution for caution, applies in chosen if applies)


QUESTIONS: dict[QuestionCode, str] = {
    "selector order": (
        "Was the selector moved through the settings in the order that is listed, and through no other?"
    ),
    "knobs": "Were volume and tone full up in every take?",
    "phase switch": (
        "Was every phase, series or split switch at rest, or is its position among the settings of job.toml?"
    ),
    "plug": (
        "Is the plug of the right kind and pushed home? A stereo plug in a mono jack can leave a pickup out."
    ),
    "battery": "If there is a battery inside: is it fresh, and was the plug in?",
    "phantom power": "Was phantom power off on every input?",
    "input buttons": (
        "Was nothing changed at the inputs between the first take and the last: no polarity button, no "
        "other cable?"
    ),
    "split lead": (
        "Was the lead of the split check measured: tip of one end to tip of the other, sleeve to sleeve, on "
        "both branches? One that is crossed over makes every pluck on two inputs say the opposite."
    ),
    "magnets near": (
        "Was the bench clear of magnets, such as a magnetic parts tray, a loudspeaker or a phone, in every "
        "take?"
    ),
    "same string": (
        "Was the string that is named the one that was played, and played by the same hand each time?"
    ),
}
"""What no recording can tell, and a person is asked before the verdict is believed."""

BEFORE = (
    "Is phantom power off on every input?",
    "Are volume and tone full up?",
    "Is every phase, series or split switch at rest?",
    "If there is a battery inside: is it fresh?",
    "Is the plug a mono one, not a stereo one, and pushed home?",
)
"""The same before anything is recorded, while it can still be put right."""
