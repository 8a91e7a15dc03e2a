"""What a guided session says: what to do, what was heard, and why it ends.

Task: all wording of the session, in short plain sentences and, for the large letters, in few words.
Signs: none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reports.messages.sentences import say
from reports.messages.summary import headline
from reports.messages.wording import on_words, percent_at_least
from reports.model.session import TOOL, Step
from reports.model.take_notes import AnyTakeNote
from reports.model.verdict import PairVerdict, Verdict

BIG = {
    "pluck": "PLUCK {string}",
    "press": "PRESS {string}",
    "switch": "{string} AND SWITCH",
    "lift": "LIFT",
    "touch": "TOUCH",
    "hum": "KEEP STILL",
    "drive": "HOLD THE COIL",
}
HOW = {
    "pluck": "Damp the strings, then pluck {string}{fret} once, partly towards the body, and let it ring.",
    "press": (
        "Damp the strings, then push {string}{fret} towards the body with a finger, hold, let go, and let it "
        "ring."
    ),
    "switch": (
        "Damp the strings, pluck {string}{fret} over the neck, wait half a second, then move the selector "
        "{way} without waiting long, and let it ring for a second and a half after the last."
    ),
    "lift": (
        "Rest the {tool} on a pole piece of {on}, hold it there until it says Now, then pull it away briskly."
    ),
    "touch": "Bring the {tool} to a pole piece of {on} and hold it there.",
    "hum": "Damp all strings with your hand and keep still for three seconds.",
    "drive": "Hold the driven coil over {on}, the marked face down, and keep still.",
}
ONE_INPUT = "Selector on {on}."
EACH_INPUT = "Input {number}: {on}."
SPLIT = "Split check: put {on} into both inputs at once (a Y-lead or a splitter)."
CLIPS_ANEW = "Take the clips off {on}, read the leads once more, and clip on again."
SWITCH_FROM = "Selector on {on}."
PART = " ({part} of {parts})"
LOOKING = "Keep still a moment: is the set-up right?"
LISTENING = "Listening to {input}: {count} of its inputs, at {rate} Hz."
NOTHING_SAID = "nothing said of it"
GESTURE_ON = "{gesture} on {on}"
TAKEN_IN = "{id}: taken in; the verdict judges it."
WAS_SET_ASIDE = "Set aside as {path}."
LOOKS_RIGHT = "Nothing wrong was heard while it was quiet."
WAITING = "Waiting until it is quiet."
READY = "Now."
ONSET = "Heard it; recording."
TOO_LOUD = "Too loud: it clips. Turn the gain down a little, or play softer."
NOTHING_HEARD = "Nothing was heard yet. {how}"
ENDED = "That was long enough; one moment."
ACCEPTED = "{id} accepted."
NO_WORD = "{id} says nothing: no sign could be read from it. Once more."
REFUSED = "{id} not accepted. {why}"
VOIDED = "{id} is void; it stays in the log and does not count."
NOTHING_TO_VOID = "There is no take of this session to void."
LOST = "samples were lost while it was recorded"
LOST_SAID = "{id} is void: samples were lost while it was recorded. Close other programs."
ENDINGS = {
    "settled": (
        "Settled: every pair that shares a setting, and hum where it is to cancel, after {count} accepted "
        "takes."
    ),
    "no more": "After {count} accepted takes this is as sure as more of them would make it.",
    "most": "That were {count} accepted takes, and not all is settled.",
    "stopped": "Stopped after {count} accepted takes.",
    "gave up": "Nobody played for long, so the session ends here, after {count} accepted takes.",
    "stuck": "What was tried was not accepted.",
    "nothing": ("There is nothing to ask for: no gesture that is allowed fits these pickups and inputs."),
    "done": "Done: {count} accepted.",
}
IN_TERMINAL = {
    "stopped": "Go on with the same command.",
    "stuck": "Look at the set-up (coilwise setup), then begin again.",
    "nothing": "Name a take yourself with --gesture and --on.",
}
"""What to do after such an ending; the page has its own."""
MISSING = "{a} and {b}: {because} {next}"
DRIVE_CAUTION = (
    "The coil will sound through this output: take headphones off, turn speakers down, and plug nothing but "
    "the small coil in. Start with the output's volume low."
)
KEYS = "Keys, where one is needed: v takes back the last take, s skips, q ends."
VERDICT = "The whole verdict: coilwise verdict {folder}. The page to print: coilwise report {folder}."
PAIR = "{a} and {b}: {word} ({percent})"
NOT_KNOWN = "not known yet"


def count_words(count: int, to_go: int | None) -> str:
    """How far it is: what was accepted, and how many takes at least are still wanted."""
    return f"{count} accepted" if to_go is None else f"{count} accepted, at least {to_go} to go"


def big_words(step: Step) -> str:
    """What to do, in as few words as can be read from a metre away."""
    if step.kind == "split":
        return f"SPLIT {step.string}"
    return BIG[step.gesture].format(string=step.string)


def where(step: Step) -> tuple[str, ...]:
    """What has to be plugged in or set."""
    if step.kind == "split":
        return (SPLIT.format(on=on_words(step.inputs[0])),)
    if step.gesture == "switch":
        first = step.inputs[0]
        return (SWITCH_FROM.format(on=first[0] if isinstance(first, tuple) else on_words(first)),)
    if len(step.inputs) == 1:
        return (ONE_INPUT.format(on=on_words(step.inputs[0])),)
    anew = (CLIPS_ANEW.format(on=" and ".join(on_words(i) for i in step.inputs)),) if step.anew else ()
    return anew + tuple(
        EACH_INPUT.format(number=c + 1, on=on_words(i))
        for c, i in zip(step.columns, step.inputs, strict=True)
    )


def how(step: Step) -> str:
    """What to do, in one sentence."""
    said = HOW[step.gesture].format(
        string=step.string,
        fret=f" at fret {step.fret}" if step.fret else "",
        tool=step.tool or TOOL,
        on=_pickup(step),
        way=_way(step),
    )
    return said + (PART.format(part=step.part, parts=step.parts) if step.parts > 1 else "")


def pair_line(pair: PairVerdict) -> str:
    """What is believed of one pair now."""
    if pair.p_in_phase is None:
        return PAIR.format(a=pair.a, b=pair.b, word=NOT_KNOWN, percent="nothing heard")
    p = pair.p_in_phase
    lean = "in phase" if p > 1 - p else "out of phase"
    word = f"{pair.standing}: {lean}" if pair.standing != "unsettled" else f"unsettled, leaning to {lean}"
    return PAIR.format(a=pair.a, b=pair.b, word=word, percent=percent_at_least(p))


def accepted(take: str, remarks: Sequence[AnyTakeNote]) -> str:
    """That a take counts, and what is to be said of it."""
    return " ".join((ACCEPTED.format(id=take), *map(say, remarks)))


def refused(take: str, faults: Sequence[AnyTakeNote]) -> str:
    """Why a take does not count."""
    return REFUSED.format(id=take, why=" ".join(map(say, faults))) if faults else NO_WORD.format(id=take)


def _pickup(step: Step) -> str:
    said = on_words(step.inputs[0])
    return f"{said}, coil {step.coil}" if step.coil is not None else said


def _way(step: Step) -> str:
    way = step.inputs[0]
    if not isinstance(way, tuple):
        return ""
    return "to " + ", then ".join(way[1:])


def ending_lines(
    why: str, verdict: Verdict, *, accepted: int, folder: str | None, then: Mapping[str, str] = IN_TERMINAL
) -> tuple[str, ...]:
    """Why the session ends and what to do ``then``, the verdict in short, and what is missing."""
    said = " ".join(part for part in (ENDINGS[why].format(count=accepted), then.get(why)) if part)
    open_pairs = [p for p in verdict.pairs if p.standing != "settled" and p.next]
    missing = tuple(MISSING.format(a=p.a, b=p.b, because=p.because, next=p.next) for p in open_pairs)
    return (
        said,
        headline(verdict),
        *(() if why == "settled" else (*missing, *verdict.next)),
        *(() if folder is None else (VERDICT.format(folder=folder),)),
    )
