"""What a person reads of a gesture: what to do, in few words and in one sentence, and what it is good for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import assert_never

from dsp.live.gestures import ALL_GESTURES, WITH_ONSET, Gesture
from reports.model.gestures import SESSION_GESTURES


@dataclass(frozen=True)
class GestureWords:
    """The words for one gesture.

    ``big`` can be read from a metre away; ``how`` says what to do, with the fields of
    reports.messages.session.how; ``done`` follows the gesture's name in a list; ``good_for`` says what it
    tells, where a guided session may ask for it.
    """

    big: str
    how: str
    done: str = ""
    good_for: str = ""


def gesture_words(gesture: Gesture) -> GestureWords:
    """The words for ``gesture``."""
    match gesture:
        case "pluck":
            words = GestureWords(
                "PLUCK {string}",
                "Damp the strings, then pluck {string}{fret} once, partly towards the body, and let it ring.",
                good_for="in phase or not, with two pickups on two inputs",
            )
        case "press":
            words = GestureWords(
                "PRESS {string}",
                "Damp the strings, then push {string}{fret} towards the body with a finger, hold, let go, "
                "and let it ring.",
                "push a string to the body and let go",
                "as pluck, and less often turned over; a string pushed to the body and let go",
            )
        case "lift":
            words = GestureWords(
                "LIFT",
                "Rest the {tool} on a pole piece of {on}, hold it there until it says Now, then pull it away "
                "briskly.",
                "pull a steel tool off the pole",
                "in phase or not, with a steel tool pulled off the pole, no string needed",
            )
        case "touch":
            words = GestureWords(
                "TOUCH",
                "Bring the {tool} to a pole piece of {on} and hold it there.",
                "bring a steel tool to the pole and hold it",
            )
        case "switch":
            words = GestureWords(
                "{string} AND SWITCH",
                "Damp the strings, pluck {string}{fret} over the neck, half a second later move the "
                "selector {way}, half a second on each, and let it ring for a second and a half after "
                "the last.",
                "turn the selector while it rings",
                "in phase or not and hum, at one jack, while a string rings",
            )
        case "hum":
            words = GestureWords(
                "KEEP STILL",
                "Damp all strings with a cloth, take your hands off, and keep still for three seconds.",
                "nothing is played",
                "whether hum cancels where a setting should be quiet",
            )
        case "drive":
            words = GestureWords(
                "HOLD THE COIL",
                "Hold the driven coil over {on}, the marked face down, and keep still.",
                "a driven coil held over the pickup",
            )
        case "tap":
            words = GestureWords(
                "TAP {tapped}",
                "With the selector on {on}, tap the poles of {tapped} with the {tool} three to five times, "
                "about twice a second, until the take has ended. Nothing heard is an answer too.",
                "steel taps the poles of one pickup, on one position of the selector",
                "which pickup is on where, if the selector's list is in doubt; carries no sign",
            )
        case _:
            assert_never(gesture)
    return words


def _listed(gesture: Gesture) -> str:
    done = gesture_words(gesture).done
    return f"{gesture} ({done})" if done else gesture


CHOICES = {
    gesture: ": ".join(part for part in (gesture, gesture_words(gesture).done) if part)
    for gesture in ALL_GESTURES
}
"""What a person chooses from who enters a recording."""
GOOD_FOR = {gesture: f"{gesture}: {gesture_words(gesture).good_for}" for gesture in SESSION_GESTURES}
"""What a person chooses from who allows a session its gestures."""
TAKE_HELP = f"What was done: {', '.join(map(_listed, ALL_GESTURES))}."
BRING_HELP = f"What was done: {', '.join(WITH_ONSET)}, hum. Left out: as names or notes say."
