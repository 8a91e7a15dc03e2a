"""The sentences for notes on pairs, settings and the job as a whole (reports.model.notes).

`advice_sentence` is the way from a note to its text; the tables have a template for every code of their kind.
"""

from __future__ import annotations

from collections.abc import Iterable
from shlex import quote
from typing import assert_never

from reports.messages.cautions import QUESTIONS
from reports.messages.commands import quoted, voids
from reports.model.notes import (
    AdviceNote,
    BenchError,
    CheckError,
    CoilsNotJoined,
    CorrectList,
    CorrectMains,
    EnterFrets,
    ErrorKind,
    ErrorSubject,
    HumLeft,
    HumLeftBasis,
    InputsCompared,
    LikelyCause,
    ListContradicted,
    ListHeadline,
    LostHeadline,
    NameLeads,
    NotSettled,
    OneErrorLeft,
    OnInput,
    OnPickups,
    OnReading,
    OnRig,
    OnSettings,
    OnString,
    OnTool,
    PhaseHeadline,
    PromisedHeadline,
    ProveStage,
    PutRecordingsBack,
    Question,
    RecordAfterWork,
    RecordHum,
    RecordPair,
    SettingCode,
    SettingRemark,
    SignsByString,
    StopHere,
    TakeBack,
    TappedCoil,
    WireThenRecord,
)

ERRORS: dict[ErrorKind, str] = {
    "clips": "the clips of the audio lead were {probably}the other way round on {on}",
    "clip habit": "the clips were {probably}put on the same wrong way each time on {on}",
    "one clip-up for both": (
        "the clips of the audio lead, on which the meter hung too, were {probably}the other way round on {on}"
    ),
    "colours": (
        "hot and ground of {on} were {probably}read the wrong way round, at the meter and at the clips alike"
    ),
    "tag": "the tag {probably}went on the wrong lead of {on}",
    "clip-up not said": "the clips on {on} {probably}came off and went on again, and that was not entered",
    "meter leads": "the meter leads were {probably}the other way round on {on}",
    "misread swing": "the meter's swing on {on} was {probably}misread",
    "hand": "the string was {probably}plucked the other way each time on {on}",
    "turned stroke": "a stroke on {on} {probably}went the other way",
    "turned press": "the string was {probably}pulled up, not pressed, on {on}",
    "hand throughout": (
        "the hand {probably}went the other way each time on {on}, in plucks and presses alike, or another "
        "person played it"
    ),
    "magnetised tool": "the tool ({on}) is {probably}magnetised",
    "magnetised drawer": "the tools {on} are {probably}magnetised by one magnet",
    "channels": "one of the two inputs {probably}inverts ({on})",
    "late input": "one input {probably}comes later than the other ({on})",
    "compass": "the compass had {probably}turned over when {on} was read",
    "sideways string": "the string was {probably}moving sideways ({on})",
    "sideways ringing": "the string was {probably}moving sideways when the selector was moved ({on})",
    "strings beside poles": "the strings {probably}run beside the poles of {on} and were moving sideways",
    "poles alternate": (
        "the magnets of {on} {probably}face up and down by turns, so that each second string has the other "
        "sign"
    ),
    "halves opposed": "the two halves of {on} {probably}oppose each other",
    "one pickup twice": "both inputs {probably}carried the same pickup ({on}), or one bled into the other",
    "channels misplaced": (
        "the inputs {probably}do not hold two pickups at the places that were entered ({on}): some of each "
        "is on the other's input, the coils within one oppose each other, or a place is wrong"
    ),
    "work": "the leads of {on} were {probably}soldered other than the log says",
    "no work": "{on} was {probably}turned over during the work",
    "work not entered": "{on} was {probably}exchanged during the work, and no change was entered",
    "unnamed change": (
        "the change at {on} {probably}gave its leads names and exchanged nothing (they had none before)"
    ),
    "inner joint": "the two coils of {on} {probably}oppose each other",
    "coil's face": "the driven coil was {probably}held the other way up over {on}",
    "inner winding": "the two coils of {on} {probably}have the same winding sense as connected",
    "selector list": "the list of the selector's positions is {probably}not as job.toml has it ({on})",
    "settings": "the selector's position {on} is {probably}not what job.toml says",
    "pickup names": "two pickups were {probably}taken for each other in the takes ({on})",
    "same setting twice": "the same thing was {probably}on the jack for {on} both",
    "profile": "the harmonics of {on} {probably}misled",
    "clip lead": "the clip lead was {probably}wired the other way round, red on the sleeve ({on})",
    "late path": "what makes {on} come late {probably}turns it over as well",
    "held over the strings": "{on} was {probably}held over the strings from above, so that they left it",
    "other recorder": "a recorder {probably}turned its takes over ({on})",
    "shelf coil": (
        "what another job found of {on} and the reference coil {probably}does not hold here: another coil, "
        "or other leads"
    ),
    "capacitive hum": "the hum {probably}comes in by capacitance and not through the coils ({on})",
    "hum levels": "the hum {probably}changed with the setting for another reason than the windings ({on})",
    "field differs": "the mains field {probably}points the other way at {on}, near a transformer",
    "field differs everywhere": (
        "the mains field {probably}points the other way at {on} wherever the guitar was recorded"
    ),
}
"""What has happened; {on} is what it is on."""

SIGNS_BY_STRING = {
    "poles alternate": (
        "The sign goes with the string: each second string has the other sign at {}. Its magnets probably "
        "face "
        "up and down by turns, so it is neither in phase nor out of phase with a pickup whose magnets all "
        "face "
        "one way."
    ),
    "halves opposed": (
        "The sign goes with the string: low and high strings have opposite signs at {}. Its two halves "
        "probably "
        "oppose each other."
    ),
}
CHECKS: dict[ErrorKind, str] = {
    "clips": (
        "If the clips on {0} are still on, put a tag on the lead under the tip's clip and enter it (coilwise "
        "tag): then no colour is read again. If they are off, read its leads anew, clip on again, record one "
        "more take (enter it with --clips-anew), and put the tag on then."
    ),
    "colours": (
        "Put a tag on the lead of {0} under the tip's clip before it comes off (coilwise tag), trace its "
        "leads to the coil, or have someone else read them, then measure once more."
    ),
    "tag": "Clip {} on again with the tagged lead on the tip, and record one more take, entered so.",
    "clip-up not said": (
        "Record one more take of {} through the clips as they are, and enter the tag once more for that take."
    ),
    "clip habit": (
        "Exchange the clips on {} on purpose, enter the leads so, and record one more take (with "
        "--clips-anew); "
        "or put a tag on the lead under the tip's clip before it comes off."
    ),
    "one clip-up for both": (
        "Take the clips off {}, read its leads anew, clip on again and record one more take (enter it with "
        "--clips-anew)."
    ),
    "meter leads": (
        "Look which meter lead is on hot at {0}. Black: {back} with --red ground. Red: exchange the leads, "
        "read once more, and enter that with --red ground --clips-anew."
    ),
    "misread swing": (
        "Read the swing at {} once more, on a fixed range, pulling the tool away slowly and then fast."
    ),
    "hand": (
        "Record {} once more, pushing the string towards the body and letting go, or pull a steel tool off "
        "its pole."
    ),
    "turned stroke": "Record {} once more, plucked downwards and towards the body.",
    "turned press": "Record {} once more, pushing the string towards the body and letting go.",
    "hand throughout": (
        "Record {} with another pickup on two inputs at once, with a switch take, or pull a steel tool off "
        "its pole: none of these asks which way the hand went."
    ),
    "magnetised drawer": (
        "Hold a staple to the tip of each tool ({}): one that lifts it is magnetised. Enter it with coilwise "
        'check FOLDER tool --tool NAME --staple lifted, or --staple "not lifted".'
    ),
    "magnetised tool": (
        "Hold a staple to the tip of the tool ({0}) and enter what it does: coilwise check FOLDER tool "
        '--tool "{0}" --staple "not lifted" (or lifted). Or record one more lift on each with another tool.'
    ),
    "channels": "Do a split check now: record one pickup into both inputs at once, with {} as it is.",
    "late input": "Do a split check now: record one pickup into both inputs at once, with {} as it is.",
    "compass": "Check the compass against a magnet you know, and read the pole once more at {}.",
    "sideways string": "Pluck another string too, pushed towards the body (heard so far: {}).",
    "sideways ringing": (
        "Record one more switch take on another string, pushed towards the body and moved sooner (heard so "
        "far: {})."
    ),
    "strings beside poles": (
        "Look from above whether the strings run over the poles of {}; then record presses (push a string "
        "towards the body and let go), or pull a steel tool off a pole of each pickup."
    ),
    "poles alternate": (
        "Pluck two strings that lie beside each other over {0}, such as D3 and G3; where these disagree, "
        "hold a "
        "compass over each pole of {0}: do the magnets take turns?"
    ),
    "halves opposed": (
        "Pluck one low and one high string over {0}; where these disagree, look how its two halves are "
        "joined."
    ),
    "one pickup twice": (
        "Tap each pickup's cover alone to see that each moves its own input, then record once more ({0}). If "
        "one pickup was on both inputs on purpose, as for a split check, enter the take so, with --instead."
    ),
    "channels misplaced": (
        "Measure again from the saddle to the middle of each pickup ({0}). Then pluck with one plug out at a "
        "time: its input must be silent, or pan knobs, a mixer or the wiring mixes the two. If both is in "
        "order, record each coil of a pickup with two alone: they may oppose each other."
    ),
    "work": "Open the joint at {} and compare it with the log.",
    "no work": "Compare the wiring of {} with what was found.",
    "work not entered": (
        "Compare the wiring of {0} with what was found. If its leads were exchanged, enter that (coilwise "
        "change FOLDER {0} LEAD=hot LEAD=ground --before ENTRY, with the leads as they are now and the first "
        "entry after the work)."
    ),
    "unnamed change": (
        "Record one pluck of {0} and another pickup with --stage after: that does not depend on names."
    ),
    "inner joint": "Record the two coils of {} one after the other.",
    "coil's face": "Hold the driven coil over {} once more, the marked face down, and record again.",
    "inner winding": "Record hum on each coil of {} alone and on both.",
    "selector list": (
        "Tap the poles of each pickup with a steel tool in each position of the selector ({}), a take each "
        "(--gesture tap --on POSITION --tapped PICKUP); where another pickup answers, correct the settings "
        "in job.toml, or take out with coilwise void what was entered under a wrong name, and pluck each "
        "position anew."
    ),
    "settings": (
        "Tap each pickup's cover with a screwdriver in each position of the selector ({}), and correct the "
        "settings in job.toml if another one answers."
    ),
    "pickup names": (
        "Tap the poles of each pickup ({}) with a steel tool to see which input it moves, take the takes out "
        "with coilwise void if they were entered under wrong names, and record them anew."
    ),
    "same setting twice": (
        "Tap the covers of {} with a screwdriver to see which answers in which position, and record again."
    ),
    "profile": (
        "Record a switch take through {} on A2 or D3, one more where there is one: it does not rest on the "
        "harmonics' levels."
    ),
    "clip lead": (
        "Prove the clip lead ({}): ohmmeter from the tip to the red clip, near 0 ohm (enter it with coilwise "
        "check FOLDER clip-lead --tip red), or a split check through it."
    ),
    "late path": (
        "Record {} straight by cable, without link, pedal or a second box, and name that as another rig; or "
        "do the split check through what makes it late."
    ),
    "held over the strings": (
        "Hold {} between strings and body, as it will sit, and record once more; how it was held is entered "
        "with coilwise check FOLDER held. Or pull a steel tool off its pole and record that."
    ),
    "other recorder": "Record one pickup once more on each recorder, the same way ({}), or all on one.",
    "shelf coil": (
        "Lift the steel tool off a pole of {0} and off the reference coil in this job, three times each: "
        "then nothing from another job is needed."
    ),
    "capacitive hum": (
        "Take the hands off the strings and all metal, turn the guitar by a quarter turn about a level axis "
        "(one that lies flat is stood on its edge) to where it hums least, and record hum once more on the "
        "same settings, with --where saying how it lies ({})."
    ),
    "hum levels": (
        "Record hum of both pickups at once on two inputs, or move the selector during a take of hum; hands "
        "off, and nothing switched on or off meanwhile ({})."
    ),
    "field differs": (
        "Move the guitar, a metre or more from every transformer and beyond one end of it, and record hum "
        "once more, with --where saying where it is ({})."
    ),
    "field differs everywhere": (
        "Record hum of {} once more in another room, or hold a driven coil over each pickup."
    ),
}
"""What tells whether it has happened."""

NOT_SETTLED = {
    "no evidence": "Nothing yet connects them.",
    "too little evidence": "What was heard and measured so far leans too little to either side.",
    "hears no string": (
        "One of them is a dummy coil, which hears hum alone; what is asked of the two is whether their hum "
        "cancels."
    ),
    "list contradicted": (
        "Taps contradict the list of the selector, and what was recorded through it is not used."
    ),
    "recorded otherwise": (
        "What was recorded of them came through recorders that are not known to agree, and is not compared."
    ),
    "active stage": (
        "One of them was heard through an active stage, and nothing says yet whether that stage inverts; a "
        "lift through it does not tell."
    ),
    "contradictions": "What was heard and measured contradicts itself; until that is cleared it is not "
    "settled.",
    "little care": (
        "So much in this job contradicts itself that mistakes of the hand must be more frequent here than "
        "usual."
    ),
    "from before the work": (
        "This is from before the work, carried over by what was entered since; nothing that was heard or "
        "measured after it tells yet, so it is likely at most."
    ),
    "leads not named": (
        "What was found before does not carry over: its leads had no names in job.toml, so nothing says "
        "which of them is hot now."
    ),
    "recordings lost": "This rests on what is left: recordings of the job are missing or changed.",
}
ONE_ERROR_LEFT = "One thing could still turn it over: {}."
BETWEEN_TAKES = (
    "two of the takes contradict each other: one was probably entered wrongly or its pickup mistaken"
)
JOIN_FIRST = "The coils of {} are not joined yet; how is told lead by lead."
NOT_JOINED = "The coils of {} are not joined yet."
RECORD_PAIR = {
    "paired or in turn": (
        "Record one pluck with {a} on input 1 and {b} on input 2, or one pluck each in turn on the same "
        "string; for two loose, healthy, passive pickups the meter's swing is quicker."
    ),
    "switch": (
        "Pluck A2 or D3 over the neck, wait half a second, move the selector from {a} to {b} in one go, and "
        "let it ring on for a second and a half (a switch take); twice, on two strings."
    ),
    "volumes": (
        "Pluck D3 two times on each of {a}, both and {b}, going round: the volume of what is heard full up, "
        "the other all the way down. Or, with {a} alone, pluck A2, half a second later turn {b} full up, "
        "half a second after that {a} all the way down, and let it ring (a switch take)."
    ),
    "one recorder": (
        "Record {a} and {b} on one recorder, in files of one rate, depth and format. Where the files were "
        "only converted, say so: coilwise check FOLDER same-path, with one take of each."
    ),
    "after the work": (
        "Record one pluck with {a} on input 1 and {b} on input 2, or one switch take from {a} to {b}, and "
        "enter it with --stage after; or read the meter's swing at both once more, with --stage after."
    ),
    "sweep again": (
        "Look whether the selector went as the sweeps of {a} and {b} are listed. One that went backwards, "
        "or began elsewhere, is entered anew with its true list and --instead. If all are right, "
        "record one more sweep on another string, a second on each position."
    ),
    "lift both": (
        "Lift the same steel tool off {a} and off {b}, three times each, on the same input; one of them is a "
        "coil of the shelf and has no strings."
    ),
    "two more": "Record two more takes of {a} and {b} on another string, plucked towards the body.",
}
PROVE_STAGE = (
    "Prove the active stage of {0}: record one pluck with its leads before the stage on input 1 and what "
    "comes out of it on input 2, after a split check; or throw its bypass while a string rings (a switch "
    "take, on two strings); or put a known signal through it, and enter what you found with coilwise check "
    "FOLDER bypass --pickup {1}, and --inverts or --no-inverts."
)
INPUTS_COMPARED = {
    "opposite": (
        "Your inputs are opposite: input {number} of {rig} comes turned over against input 1 (split check "
        "{takes}). That is taken out of what was recorded on both."
    ),
    "alike": "Inputs 1 and {number} of {rig} agree (split check {takes}).",
    "not clear": (
        "Whether inputs 1 and {number} of {rig} agree is not clear from the split check {takes}: do it once "
        "more, with one pluck of D3 or G3."
    ),
    "opposite, doubted": (
        "Split check {takes} heard input {number} of {rig} turned over against input 1, and the rest of the "
        "job speaks against that: do it once more, with one pluck of D3 or G3."
    ),
    "alike, doubted": (
        "Split check {takes} heard inputs 1 and {number} of {rig} agree, and the rest of the job speaks "
        "against that: do it once more, with one pluck of D3 or G3."
    ),
}
NAME_LEADS = (
    'Write into job.toml which lead of {0} was under the tip\'s clip when it was recorded (hot = "LEAD", '
    'ground = "LEAD"): then what was found carries over. Or record one pluck of {0} and another pickup with '
    "--stage after."
)
WIRE_THEN_RECORD = (
    "Wire {} as its leads are told, log it with coilwise change, and record it with --stage after, to see "
    "that it came out so."
)
RECORD_AFTER_WORK = (
    "The log says that the leads of {} were changed. Once it is soldered, record each pickup at the "
    "jack with --stage after, to see that it came out as planned."
)
RECORD_HUM = (
    '"{}" is meant to be quiet, and its hum is not known: damp the strings, take the hands off, and record '
    "hum on each of its pickups alone and on this setting, a metre or more from every transformer."
)
RECORD_HUM_AGAIN = (
    '"{}" is meant to be quiet, and its hum is not settled: move the guitar, a metre or more from '
    "every transformer and beyond one end of it, hands off, and record hum once more on each of its pickups "
    "alone and on this setting, with --where saying where it is."
)
PUT_BACK = (
    "Put the recordings back as they were (is the disk plugged in?): {}. Those that are gone for good are "
    "taken out with coilwise void."
)

CORRECT_MAINS = (
    "Put mains_hz = {hz} into job.toml (or leave mains_hz out), and ask for the verdict again: {hz} Hz is "
    "heard in {takes}, and the recordings are fine."
)

ENTER_FRETS = (
    "Is a capo on? {takes} sound {frets} {word} above what was entered. Take it off and play them again; or "
    "take them back ({back}) and enter them with --fret {frets}: the recordings are fine."
)

SETTING_REMARKS: dict[SettingCode, str] = {
    "measured thin": (
        "Its fundamental was measured {:.0f} dB below what the pickups alone predict, although they should "
        "add: compare the setting with job.toml."
    ),
    "measured full": (
        "Its fundamental was measured at what the pickups give when they add, although they should oppose "
        "each other: compare the setting with job.toml."
    ),
    "imbalanced": (
        "One of its pickups is much weaker than the other, so their harmonics tell little: raise it."
    ),
    "twin settings": (
        "By harmonics and level it cannot be told from one of its pickups alone: was the selector moved?"
    ),
    "fewer harmonics": "The places of the pickups are not known, so only the lower harmonics were compared.",
    "one source not heard alone": (
        "Not every pickup of it was plucked alone on the same string, so its harmonics were not compared."
    ),
    "tapped as listed": "Taps were heard on just the pickups that job.toml has on here.",
}

HUM_LEFT: dict[HumLeftBasis, str] = {
    "heard": "Its hum was {lines} below that of its louder pickup alone, as recorded.",
    "turns": (
        "Its hum should lie {lines} below that of its louder pickup alone, reckoned from the turns in "
        "job.toml."
    ),
    "levels": (
        "Its hum should lie {lines} below that of its louder pickup alone, reckoned from how loud each hums "
        "alone, as if both had one wire and one shape."
    ),
    "ohms": (
        "Its hum should lie {lines} below that of its louder pickup alone, reckoned from the resistances, as "
        "if both had one wire and one shape (turns in job.toml, or hum of each alone, would tell better)."
    ),
}
MOST_BELOW_DB = 40.0
"""Two coils are never so alike that more could be promised."""

TAKEN_BACK = "take the readings back ({}), and enter them anew"
ENTERED_ANEW = "enter the readings anew"
IF_SO = " If it was so, take what is wrong back ({}), and enter it anew."
TAKE_BACK = "Take back what contradicts the rest: {}. {}"
EVERYTHING_ELSE = "All the others say otherwise."
SPOILED = "By all the rest, {}."
STOP_HERE = (
    "Stop here; use the meter. More takes of this kind settle nothing: put red on hot of {0} and of {1} in "
    "turn, pull one steel tool off each pole, and solder so that both swing the same way. Enter what you "
    "read with coilwise meter, and void the takes that it contradicts."
)
LOST = "Recordings of this job are missing or changed ({}), so there is no answer."
LISTED = (
    "The selector's list cannot be as job.toml has it: {}. So whatever was recorded through it may be of "
    "other pickups. If the list were right: {}"
)
LISTED_AS = {
    "full": '"{}" is far too weak for pickups that add up, as these should',
    "thin": '"{}" is far too strong for pickups that oppose each other, as these should',
    "unknown": '"{}" is not what its pickups give',
}
PROMISED = "{} That is with the leads as changed in the log; it has not been heard yet."


def advice_sentence(note: AdviceNote) -> str:
    """The sentence for a note."""
    match note:
        case NotSettled():
            return NOT_SETTLED[note.code]
        case OneErrorLeft():
            return ONE_ERROR_LEFT.format(_error(note.error, probably=""))
        case CoilsNotJoined():
            return (JOIN_FIRST if note.planned else NOT_JOINED).format(note.pickup)
        case RecordPair():
            return RECORD_PAIR[note.code].format(a=note.a, b=note.b)
        case ProveStage():
            return PROVE_STAGE.format(note.pickup, quote(note.pickup))
        case CheckError():
            return _check(note)
        case TakeBack():
            why = EVERYTHING_ELSE if note.error is None else SPOILED.format(_error(note.error))
            return TAKE_BACK.format(voids(note.entries), why)
        case StopHere():
            return STOP_HERE.format(note.a, note.b)
        case InputsCompared():
            return INPUTS_COMPARED[note.code].format(
                number=note.number, rig=note.rig, takes=", ".join(note.takes)
            )
        case NameLeads():
            return NAME_LEADS.format(note.pickup)
        case WireThenRecord():
            return WIRE_THEN_RECORD.format(note.pickup)
        case RecordAfterWork():
            return RECORD_AFTER_WORK.format(", ".join(note.pickups))
        case RecordHum():
            return (RECORD_HUM_AGAIN if note.again else RECORD_HUM).format(note.setting)
        case PutRecordingsBack():
            return PUT_BACK.format(", ".join(note.takes))
        case CorrectMains():
            return CORRECT_MAINS.format(hz=note.hz, takes=", ".join(note.takes))
        case EnterFrets():
            return ENTER_FRETS.format(
                takes=", ".join(note.takes),
                frets=note.frets,
                word="fret" if note.frets == 1 else "frets",
                back=voids(note.takes),
            )
        case LikelyCause():
            return ", or ".join(dict.fromkeys(map(_error, note.errors))) or BETWEEN_TAKES
        case HumLeft():
            return _hum_left(note)
        case SettingRemark():
            return SETTING_REMARKS[note.code].format(note.below_db)
        case PhaseHeadline():
            return _phase_headline(note)
        case PromisedHeadline():
            return PROMISED.format(_phase_headline(note.headline))
        case ListHeadline():
            return LISTED.format(
                "; ".join(LISTED_AS[sounds].format(name) for name, sounds in note.settings),
                _phase_headline(note.headline),
            )
        case LostHeadline():
            return LOST.format(", ".join(note.takes))
        case Question():
            return QUESTIONS[note.code]
        case SignsByString():
            return SIGNS_BY_STRING[note.code].format(" or ".join(note.pickups))
        case ListContradicted():
            return _list_contradicted(note)
        case CorrectList():
            return _correct_list(note)
        case _:
            assert_never(note)


def _error(error: BenchError, *, probably: str = "probably ") -> str:
    return ERRORS[error.kind].format(on=_subject(error.subject), probably=probably)


def _subject(subject: ErrorSubject) -> str:
    """What an error is on, as the templates of errors and checks have it."""
    match subject:
        case OnPickups():
            return " and ".join(subject.names)
        case OnString():
            return f"{subject.string} at {subject.pickup}"
        case OnReading():
            return f"{subject.pickup} ({subject.entry})"
        case OnInput():
            return f"input {subject.number} of {subject.rig}"
        case OnRig():
            return subject.rig
        case OnTool():
            return subject.tool
        case OnSettings():
            return quoted(subject.names, ", ")
        case _:
            assert_never(subject)


def _hum_left(note: HumLeft) -> str:
    lines = " and ".join(
        f"{'more than ' if db < -MOST_BELOW_DB else ''}{min(-db, MOST_BELOW_DB):.0f} dB at {hz} Hz"
        for hz, db in note.lines
    )
    return HUM_LEFT[note.basis].format(lines=lines)


def _check(note: CheckError) -> str:
    subjects = dict.fromkeys(_subject(e.subject) for e in (note.error, *note.also))
    check, on = CHECKS[note.error.kind], " and ".join(subjects)
    if "{back}" in check:
        back = TAKEN_BACK.format(voids(note.take_back)) if note.take_back else ENTERED_ANEW
        return check.format(on, back=back)
    return check.format(on) + (IF_SO.format(voids(note.take_back)) if note.take_back else "")


HUM_OF_PAIR = {
    "cancels": "Hum cancels between {}; one of them hears no string.",
    "hums": "Hum does not cancel between {}; one of them hears no string.",
    "unknown": "Whether hum cancels between {} is not known yet; one of them hears no string.",
}


def _phase_headline(note: PhaseHeadline) -> str:
    if not note.pairs:
        return "There is no pair of pickups to compare."
    heard = [p for p in note.pairs if p.about == "strings"]
    if not heard:
        return " ".join(HUM_OF_PAIR[p.hum].format(f"{p.a} and {p.b}") for p in note.pairs)
    names = {pair: f"{pair.a} and {pair.b}" for pair in heard}
    divided = [f"{names[p]} on {', '.join(p.oppose)}" for p in heard if p.oppose]
    not_settled = [names[p] for p in heard if p.phase is None and not p.oppose]
    opposed = [
        names[p] + ("" if p.standing == "settled" else f" ({p.standing})")
        for p in heard
        if p.phase == "out of phase"
    ]
    opposed += divided
    if len(not_settled) == len(heard):
        return "Which pickups are in phase is not settled yet."
    if not opposed and not not_settled:
        sure = all(p.standing == "settled" for p in heard)
        return "All pickups are in phase." if sure else "All pickups are in phase, as far as is likely."
    sentences = [f"Out of phase: {'; '.join(opposed)}."] if opposed else []
    return " ".join(sentences + ([f"Not settled yet: {'; '.join(not_settled)}."] if not_settled else []))


NOT_LISTED = "Not what job.toml says: taps are heard on {}{}."
HEARD_NOWHERE = "nothing"
NOT_HEARD = ", and not on {}"
CORRECT_LIST = (
    "Correct in job.toml what is on at {}, or, where its name is a pickup's, void what was recorded on that "
    "position, taps too, and enter it under the position that it was. Then tap once more. A pickup whose "
    "taps are heard nowhere: measure it with the ohmmeter."
)
FROM_THE_WRONG_END = "The positions of the selector fit if they are counted from its other end. "


def _list_contradicted(note: ListContradicted) -> str:
    off = NOT_HEARD.format(_coils(note.off)) if note.off else ""
    return NOT_LISTED.format(_coils(note.on) or HEARD_NOWHERE, off)


def _coils(coils: Iterable[TappedCoil]) -> str:
    return ", ".join(c.pickup if c.coil is None else f"{c.pickup} (coil {c.coil})" for c in coils)


def _correct_list(note: CorrectList) -> str:
    said = CORRECT_LIST.format(quoted(note.settings, ", "))
    return f"{FROM_THE_WRONG_END}{said}" if note.mirrored else said
