"""Sentences of a guided session: what to play, what happened, and why it ended.

Steps, notes and endings come as data (reports.model.session); the page and the terminal ask here for the same
words, and for a remedy of their own where an option or a button is meant.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from shlex import quote
from typing import assert_never

from capture.log import Input, Stage
from capture.takes.recorder import UnfinishedTake
from reports.messages.gestures import gesture_words
from reports.messages.sentences import say, text_of
from reports.messages.setup import PART_INSTRUCTIONS, setup_lines
from reports.messages.summary import headline
from reports.messages.wording import on_words, percent_at_least, plain
from reports.model.session import (
    TOOL,
    Activity,
    Answered,
    BenchQuestion,
    Ending,
    InputOpened,
    Moving,
    NothingToKeep,
    OtherWay,
    OwnTakeRefused,
    QuestionCode,
    SamplesLost,
    SessionNote,
    SetupSeen,
    Step,
    Surface,
    TagPut,
    TakeAccepted,
    TakeRefused,
    TakeVoided,
)
from reports.model.take_notes import SoundNote
from reports.model.verdict import PairVerdict, Verdict

ONE_INPUT = "Selector on {on}."
VOLUMES_UP = "Volume of {up} full up."
VOLUMES_AT = "Volume of {up} full up, of {down} all the way down. Where that silences both: down to 2."
SWEEP_BIG = "{string} AND VOLUMES"
VOLUMES_HOW = (
    "Damp the strings and pluck {string}{fret}. Half a second later turn the volume of {up} full up, half a "
    "second after that the volume of {down} all the way down, each in one quick turn, and let it ring for a "
    "second and a half."
)
TAP_VOLUMES = (
    "With the volumes so, tap the poles of {tapped} with the {tool} three to five times, about twice a "
    "second, until the take has ended. Nothing heard is an answer too."
)
PLUG_IN = "Plug the guitar into input 1."
EACH_INPUT = "Input {number}: {on}."
SPLIT = "Split check: put {on} into both inputs at once (a Y-lead or a splitter)."
SPLIT_BY_CLIPS = (
    "Split check: put {on} into both inputs at once by its leads: the clips of both inputs on them, red with "
    "red and black with black. A Y-lead behind one pair of clips does not try the other: skip this then."
)
TAG_FIRST = (
    "Before you unclip {on}: put a tag on the lead under the tip's clip of each loose pickup, and press t "
    "(on the page: Readings)."
)
CLIPS_ANEW = "Take the clips off {on}, read the leads once more, and clip on again."
SWITCH_FROM = "Selector on {on}."
HELD = "Hold a loose pickup between strings and body, as it will sit, not over the strings from above."
QUESTIONS_BIG: dict[QuestionCode, str] = {
    "work": "CHECK WORK",
    "tag": "TAG ON",
    "held": "HELD HOW",
    "clip lead": "CLIP LEAD",
    "tool": "STAPLE",
}
"""A question in as few words as can be read from a metre away."""
QUESTIONS: dict[QuestionCode, str] = {
    "work": (
        "Leads were changed. Check the work? Yes: it is soldered, and takes from here on are of the guitar "
        "as it is now. No: go on with the guitar as it was found."
    ),
    "tag": (
        "Leave the clips on, and put a tag (a piece of tape) on the lead of {pickup} that is under the tip's "
        "clip, the red one. Were the clips left as they were in {take}, and is the tag on?"
    ),
    "held": (
        "How was {pickup} held in the takes so far? Yes: between strings and body, as it will sit. No: over "
        "the strings, from above."
    ),
    "clip lead": (
        "Take the lead of input {input} out of the box, and hold an ohmmeter to the tip of its plug and to "
        "its red clip: does it read near 0 ohm? No: the black clip does. Battery out of active electronics "
        "first."
    ),
    "tool": "Hold the tip of {tool} to a paper staple that lies loose. Does it lift the staple?",
}
ANSWER: dict[Surface, str] = {
    "terminal": "Press y for yes, n for no, s where you do not know.",
    "page": "Where you do not know, press Next.",
}
ANSWERED = "{entry}: written down."
PART = " ({part} of {parts})"
LISTENING = "Listening to {input}: {count} of its inputs, at {rate} Hz."
NOTHING_SAID = "nothing said of it"
GESTURE_ON = "{gesture} on {on}"
TAKEN_IN = "{id}: taken in; the verdict judges it."
WAS_SET_ASIDE = "Set aside as {path}."
LOOKS_RIGHT = "Nothing wrong was heard while it was quiet."
READY = "Now."
ONSET = "Heard it; recording."
ENDED = "That was long enough; one moment."
ACTIVITIES: dict[Activity, str] = {
    "opening": "Opening the input.",
    "quiet": PART_INSTRUCTIONS["quiet"],
    "pluck": PART_INSTRUCTIONS["pluck"],
    "moving": "It listens for the move, and goes on after two seconds of quiet.",
    "not moved": "Nothing was heard to move. Is all in place? Then tap the strings or a pole twice.",
    "waiting": "Damp the strings and wait for Now.",
    "ready": READY,
    "onset": ONSET,
    "too loud": "Too loud: it clips. Turn the gain down a little, or play softer.",
    "ended": ENDED,
    "nothing heard": "Nothing was heard yet.",
    "passed over": "Something was heard, and passed over: it did not ring like a string. Now.",
    "still ringing": "Still ringing: damp the strings, wait for Now, then once more.",
}
"""What the person reads while the recording does this."""
ACCEPTED = "{id} accepted."
NO_SIGN = "{id} says nothing: no sign could be read from it. Once more."
REFUSED = "{id} not accepted. {why}"
WRONG_STRING = "{id} not accepted: that was {heard}; {wanted} please."
OTHER_WAY = "{big} was not accepted {times} times in a row, so here is another way."
NOTHING_TO_KEEP = "Nothing was heard in the last seconds that is not in a take already."
MOVING_BIG: dict[Moving, str] = {
    "plug in": "PLUG IN",
    "plug": "MOVE THE PLUG",
    "clips": "MOVE THE CLIPS",
    "selector": "SELECTOR",
}
"""What hands have to do before a step, in as few words as can be read from a metre away."""
VOLUMES_BIG = "VOLUMES"
"""The same of a guitar with a volume knob each and no selector."""
MOVING: dict[Surface, str] = {
    "terminal": "If nothing has to be moved, tap the strings twice, or press m.",
    "page": "If nothing has to be moved, tap the strings twice, or press Moved.",
}
VOIDED = "{id} is void; it stays in the log and does not count."
NOTHING_TO_VOID = "There is no take of this session to void."
NOTHING_TO_TAG = "No take of this session went through clips on a loose pickup, so there is nothing to tag."
LOST = "samples were lost while it was recorded"
LOST_LATER = f"{{id}} is void: {LOST}. Close other programs."
ENDINGS: dict[Ending, str] = {
    "settled": (
        "Settled: every pair that shares a setting, and hum where it is to cancel, after {count} accepted "
        "takes."
    ),
    "no more": "After {count} accepted takes this is as sure as more of them would make it.",
    "most": "After {count} accepted takes not all is settled yet.",
    "stopped": "Stopped after {count} accepted takes.",
    "gave up": "Nobody played for long, so the session ends here, after {count} accepted takes.",
    "stuck": "What was tried was not accepted.",
    "nothing": ("There is nothing to ask for: no gesture that is allowed fits these pickups and inputs."),
    "done": "Done: {count} accepted.",
}
THEN: dict[Surface, dict[Ending, str]] = {
    "terminal": {
        "stopped": "Go on with the same command.",
        "most": "Do what is named below, or go on with the same command.",
        "stuck": "Look at the set-up (coilwise setup), then begin again.",
        "nothing": "Name a take yourself with --gesture and --on.",
    },
    "page": {
        "stopped": "Go on when you like.",
        "most": "Do what is named next, or go on.",
        "stuck": "Look at the set-up, then go on.",
        "nothing": "Allow more gestures on the screen Set-up, or bring in recordings made elsewhere.",
    },
}
"""What to do after such an ending."""
MISSING = "{a} and {b}: {because} {next}"
DRIVE_CAUTION = (
    "The coil will sound through this output: take headphones off, turn speakers down, and plug nothing but "
    "the small coil in. Start with the output's volume low."
)
KEYS = (
    "Keys: y and n answer, v takes back the last take, p that was a pluck, o your own take, m it is moved, "
    "t a tag is on, s skips, q ends."
)
VERDICT = "The whole verdict: coilwise verdict {folder}. The page to print: coilwise report {folder}."
PAIR = "{a} and {b}: {word} ({percent})"
NOT_KNOWN = "not known yet"


TAG_PUT = (
    "The tag on {pickup} is on the lead that is under the tip's clip, as in {take}{others}. If the clips "
    "were moved in between, take the tag back with coilwise void. Now the clips may come off."
)
TAG_OTHERS = "; so {were} {others}, recorded with the clips left on"


def tag_text(pickup: str, *, take: str, sealed: Iterable[str]) -> str:
    """What a tag says: of which take, and which others it covers."""
    others = sorted(set(sealed) - {take})
    told = (
        TAG_OTHERS.format(were="was" if len(others) == 1 else "were", others=_and(others)) if others else ""
    )
    return TAG_PUT.format(pickup=pickup, take=take, others=told)


STAGES: dict[Stage, str] = {"found": "as found", "after": "after the work"}
STAGED = "{stage}: {progress}"
OWN_GESTURE = "Your own take: which gesture (nothing: leave it)"
OWN_STRING = "Which open string (nothing where none is played)"
OWN_INPUT = "What is on input {number} (nothing: not used)"
WATCHED = "{entry}: a {kind} was entered."
OVER_THERE = "Nobody records into this job any more."


def stage_text(stage: Stage, progress: str) -> str:
    """How far it is, and at which stage of the job."""
    return STAGED.format(stage=STAGES[stage], progress=progress)


def progress_text(accepted: int, to_go: int | None) -> str:
    """How far it is: takes that were accepted, and how many are still wanted, where that is known."""
    return f"{accepted} accepted" if to_go is None else f"{accepted} accepted, {to_go} to go"


def large_text(step: Step, moving: Moving | None = None) -> str:
    """What to do, in as few words as can be read from a metre away; ``moving``: hands first move that."""
    if moving is not None:
        return VOLUMES_BIG if moving == "selector" and step.volumes else MOVING_BIG[moving]
    if step.gesture == "switch" and step.volumes:
        return SWEEP_BIG.format(string=step.string)
    if step.kind == "split":
        return f"SPLIT {step.string}"
    return gesture_words(step.gesture).big.format(string=step.string, tapped=(step.tapped or "").upper())


def connections(step: Step) -> tuple[str, ...]:
    """What has to be plugged in or set, a line each."""
    if step.kind == "split":
        return ((SPLIT_BY_CLIPS if step.by_clips else SPLIT).format(on=on_words(step.inputs[0])),)
    if step.volumes:
        return (_volumes(step),)
    if step.gesture == "switch":
        first = step.inputs[0]
        return (SWITCH_FROM.format(on=first[0] if isinstance(first, tuple) else on_words(first)),)
    if len(step.inputs) == 1:
        return (ONE_INPUT.format(on=on_words(step.inputs[0])),)
    on = _and(step.inputs)
    anew = (TAG_FIRST.format(on=on), CLIPS_ANEW.format(on=on)) if step.anew else ()
    held = (HELD,) if step.kind == "paired" else ()
    each = tuple(
        EACH_INPUT.format(number=c + 1, on=on_words(i))
        for c, i in zip(step.columns, step.inputs, strict=True)
    )
    return anew + each + held


def to_set(step: Step, moving: Moving | None) -> tuple[str, ...]:
    """What has to be plugged in or set, a line each; a guitar that is not known to be plugged in, first."""
    plug_in = (PLUG_IN,) if moving == "plug in" and len(step.columns) == 1 else ()
    return (*plug_in, *connections(step))


def _volumes(step: Step) -> str:
    """Where the volumes stand as a take begins."""
    up, down = _up_and_down(step)
    return VOLUMES_AT.format(up=up, down=down) if down else VOLUMES_UP.format(up=up)


def _up_and_down(step: Step) -> tuple[str, str]:
    up, down = ([name for name, is_up in step.volumes if is_up == wanted] for wanted in (True, False))
    return _and(up), _and(down)


def instruction(step: Step) -> str:
    """What to do, in one sentence or two."""
    first = step.inputs[0]
    coil = f", coil {step.coil}" if step.coil is not None else ""
    how = gesture_words(step.gesture).how
    up, down = _up_and_down(step)
    if step.volumes and step.gesture in ("switch", "tap"):
        how = VOLUMES_HOW if step.gesture == "switch" else TAP_VOLUMES
    sentence = how.format(
        up=down,
        down=up,
        string=step.string,
        fret=f" at fret {step.fret}" if step.fret else "",
        tool=step.tool or TOOL,
        on=on_words(first) if step.tapped else f"{on_words(first)}{coil}",
        tapped=f"{step.tapped}{coil}",
        way="to " + ", then ".join(first[1:]) if isinstance(first, tuple) else "",
    )
    return sentence + (PART.format(part=step.part, parts=step.parts) if step.parts > 1 else "")


def question_text(question: BenchQuestion) -> str:
    """What is asked, in full."""
    return QUESTIONS[question.what].format(
        pickup=question.pickup, take=question.take, input=question.input, tool=question.tool
    )


def activity_text(activity: Activity | None, step: Step | None) -> str:
    """What the recording does at the moment; where nothing was heard, once more what to do."""
    if activity is None:
        return ""
    again = f" {instruction(step)}" if activity == "nothing heard" and step is not None else ""
    return ACTIVITIES[activity] + again


def note_lines(note: SessionNote, *, surface: Surface) -> tuple[str, ...]:
    """The sentences for something that happened."""
    match note:
        case InputOpened():
            return (LISTENING.format(input=plain(note.label), count=note.channels, rate=note.rate),)
        case SetupSeen():
            return (LOOKS_RIGHT,) if note.hearing.clear else setup_lines(note.hearing, surface=surface)
        case OtherWay() | NothingToKeep() | OwnTakeRefused():
            return (_step_sentence(note),)
        case _:
            return (_take_sentence(note),)


def _step_sentence(note: OtherWay | NothingToKeep | OwnTakeRefused) -> str:
    if isinstance(note, OtherWay):
        return OTHER_WAY.format(big=large_text(note.step), times=note.refused)
    return NOTHING_TO_KEEP if isinstance(note, NothingToKeep) else plain(note.why)


def _take_sentence(note: TakeAccepted | TakeRefused | TakeVoided | SamplesLost | TagPut | Answered) -> str:
    match note:
        case Answered():
            return ANSWERED.format(entry=note.entry)
        case TagPut():
            told = (tag_text(name, take=note.take, sealed=sealed) for name, sealed in note.sealed)
            return " ".join(told) or NOTHING_TO_TAG
        case TakeAccepted():
            return " ".join((ACCEPTED.format(id=note.take), *map(say, note.remarks)))
        case TakeRefused():
            return _refusal(note)
        case TakeVoided():
            return NOTHING_TO_VOID if note.take is None else VOIDED.format(id=note.take)
        case SamplesLost():
            return LOST_LATER.format(id=note.take)
        case _:
            assert_never(note)


def _refusal(note: TakeRefused) -> str:
    """Why a take does not count; one line where it was another string than the step wants."""
    for fault in note.faults:
        if isinstance(fault, SoundNote) and fault.code == "wrong string" and note.step is not None:
            return WRONG_STRING.format(id=note.take, heard=fault.fault.note_name, wanted=note.step.string)
    why = " ".join(map(say, note.faults))
    return REFUSED.format(id=note.take, why=why) if why else NO_SIGN.format(id=note.take)


def unfinished_plan(left: UnfinishedTake) -> str:
    """What an unfinished recording was to be."""
    if left.planned is None:
        return NOTHING_SAID
    return GESTURE_ON.format(gesture=left.planned.gesture, on=_and(left.planned.inputs))


def pair_line(pair: PairVerdict) -> str:
    """What is believed of one pair now."""
    if pair.p_in_phase is None:
        return PAIR.format(a=pair.a, b=pair.b, word=NOT_KNOWN, percent="nothing heard")
    p = pair.p_in_phase
    lean = "in phase" if p > 1 - p else "out of phase"
    word = f"{pair.standing}: {lean}" if pair.standing != "unsettled" else f"unsettled, leaning to {lean}"
    return PAIR.format(a=pair.a, b=pair.b, word=word, percent=percent_at_least(p))


def ending_lines(
    ending: Ending, verdict: Verdict, *, accepted: int, surface: Surface, folder: str | None = None
) -> tuple[str, ...]:
    """Why the session ended and what to do then, what is missing, and where the whole verdict is found.

    A terminal gets the verdict in short too; the page has a place of its own for that.
    """
    why = " ".join(filter(None, (ENDINGS[ending].format(count=accepted), THEN[surface].get(ending))))
    open_pairs = [p for p in verdict.pairs if p.standing != "settled" and p.next]
    missing = tuple(
        MISSING.format(a=p.a, b=p.b, because=text_of(p.because), next=text_of(p.next)) for p in open_pairs
    )
    return (
        why,
        *((headline(verdict),) if surface == "terminal" else ()),
        *(() if ending == "settled" else (*missing, *map(say, verdict.next))),
        *(() if folder is None else (VERDICT.format(folder=quote(folder)),)),
    )


def _and(inputs: Sequence[Input]) -> str:
    return " and ".join(on_words(i) for i in inputs)
