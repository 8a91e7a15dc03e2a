"""What can be wrong with a take or a setting: one plain sentence and its remedy for each code.

Asked for through reports.messages.sentences.say, by the notes of reports.model.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.audio.problems import ProblemCode, channels_differ
from dsp.signal.codes import FaultCode, HealthCode
from reports.messages.wording import SECTIONS
from reports.model.notes import HealthProblem, HealthRemedy, PlaceCode, PlaceProblem, PlaceRemedy
from reports.model.rig_notes import OtherRecorderNote
from reports.model.take_notes import (
    AnyTakeNote,
    FileNote,
    IdleTagNote,
    InputCode,
    InputNote,
    LongTakeNote,
    MeterLeadsNote,
    NoStringNote,
    NotAsListedNote,
    NotComparedNote,
    OutvotedNote,
    ShortStretchNote,
    SoundNote,
    TakeCode,
    TakeNote,
)

SENTENCES: dict[FaultCode, str] = {
    "no numbers": (
        "Not a number: {input} holds samples that are no numbers (NaN or infinity). Export the "
        "recording again as 24-bit WAV."
    ),
    "exact zeros": (
        "Exact zeros: {input} holds nothing at all, not even noise. Allow the recorder the use of"
        " the microphone or line input, check which input is chosen, and record again."
    ),
    "silent": "Silent: {input} stays below -80 dB of full scale. Check plug, clips and volume knob, turn the "
    "gain up, and record again.",
    "clipped": "Clipped: {input} is cut off flat at its loudest. Turn the input gain down and record again.",
    "offset": (
        "Offset: {input} does not rest at zero but at {percent} of full scale. Unplug and look "
        "for a direct voltage on the lead or a faulty input, then record again."
    ),
    "gap": "Gap: samples are missing on {input} while the string rings. Close other programs, use a larger "
    "buffer, and record again.",
    "same signal twice": "Same signal twice: both inputs carry one signal, although two pickups are named. "
    "Record in stereo, with one pickup on each input.",
    "too quiet": (
        "Too quiet: on {input} the pluck stands only {decibels} dB above the noise and hum. Turn "
        "the gain up, move away from the source of the hum, pluck harder, and record again."
    ),
    "hum of the hand": "Only the hum that a hand brings is on {input}, and no pull: rest the tool on the "
    "pole before it says Now, and pull it away then.",
    "no onset": "No onset: nothing clear enough begins on {input}. Start the recording, wait half a second, "
    "then play, and let it ring.",
    "cut off at the start": "Cut off at the start: it already sounds when the recording begins. Start the "
    "recording, wait half a second, then play.",
    "cut off at the end": (
        "Cut off at the end: the recording stops too soon after the gesture. Let it ring for a "
        "second before you stop."
    ),
    "wrong string": (
        "Wrong string: {heard} ({hertz} Hz) sounds, not {named}. Play the string that is named, "
        "tune it, or void this take and enter it as what it is."
    ),
    "wrong octave": (
        "Wrong octave: {heard} ({hertz} Hz) sounds, not {named}. Play the open string, or enter "
        "the fret, and record again."
    ),
    "overlapping": (
        "Overlapping plucks: one pluck begins while another still rings. Damp the strings, wait "
        "until it is quiet, then pluck once."
    ),
    "unclear onset": (
        "Unclear onset: the start of the pluck does not fit one string ringing on. Damp the other"
        " strings, pluck once and cleanly, and record again."
    ),
    "other gesture": (
        "Other gesture: the pulse on {input} looks like a {other}, not a {gesture}. If so, void "
        "the take and enter it as a {other}; otherwise record it again."
    ),
    "doubtful gesture": (
        "The pulse on {input} has more the shape of a {other} than of a {gesture}, so the take counts "
        "for less. If it was a {other}, void the take and enter it as that."
    ),
    "no quiet before": (
        "No quiet before the pluck: the noise could not be measured. Wait half a second before you pluck."
    ),
    "not switched": (
        "Not switched: nothing changes while it sounds. Either the selector was not moved, or the settings "
        "of the list give the same thing. Check the list, and record again, moving the selector in one go."
    ),
    "too few steps": (
        "Too few steps: the selector was heard to move {steps} and the list of settings has more. Void the "
        "take and enter it with the settings it went through, or record again."
    ),
    "too many steps": (
        "Too many steps: the selector was heard to move {steps} and the list of settings has fewer. Void the "
        "take and enter it with the settings it went through, or record again."
    ),
    "switched in the attack": (
        "Switched in the attack: the selector moved before the pluck had settled. Pluck, wait half a second "
        "to a second, then move the selector in one go."
    ),
    "steps by clicks": (
        "When the selector moved is told by its clicks alone: little changes there. The take counts for less."
    ),
    "string died": (
        "String died: too little of the string is left after the selector moved. Pluck harder, take a longer "
        "string (E2 or A2), move the selector sooner, and let it ring on."
    ),
    "beating null": (
        "Beating: the string was near silence of its own beating when the selector moved, so its phase says "
        "nothing there. Move the selector a little sooner or later, or pluck another string."
    ),
    "partials in mains": (
        "Some of the string's partials lie under the mains hum and say nothing; the others still count. "
        "Another string may be clear of it."
    ),
    "too little hum": (
        "Too little hum: {input} holds no mains hum that stands out, so it says nothing. Turn the guitar "
        "about a level axis until it hums more (one that lies flat is stood on its edge), or put a "
        "transformer a metre beyond one end of it, and record again."
    ),
    "other mains": (
        "{hertz} Hz is heard on {input}, the job says {not_heard}: the recording is fine. Put mains_hz = "
        "{hertz} into job.toml, or leave mains_hz out, and ask for the verdict again."
    ),
    "strings not damped": (
        "Strings not damped: something else than hum sounds on {input}. Damp the strings, keep still, and "
        "record again."
    ),
    "no drive": (
        "No drive: the coil's tone is not heard on {input}. Check that the coil is plugged into the output "
        "and held over the pickup, and record again."
    ),
    "drive too weak": (
        "Drive too weak: the coil's tone hardly stands out on {input}. Hold the coil closer, centred over "
        "the pickup, and record again."
    ),
    "one tap alone": (
        "One tap alone: {input} holds one knock that stands out, and that can be anything. Tap the same "
        "poles three to five times, about twice a second, and record again."
    ),
    "taps ring on": (
        "Rings on: what was heard on {input} dies too slowly for a tap of the tool. Damp the strings, tap "
        "the poles alone, and record again."
    ),
}
_REMARKS: dict[FaultCode, str] = {
    "offset": "Offset: {input} rests at {percent} of full scale; it was taken out.",
    "clipped": (
        "Clipped: {input} is cut off flat; the first swing still tells, so the take counts for less. Turn "
        "the gain down."
    ),
    "too little hum": (
        "Hardly any hum on {input}: it cancels there, or there was little to begin with; the takes of the "
        "single pickups tell which."
    ),
}
"""Of faults that are said otherwise where the take still counts."""
SOME_LEFT_OUT = "One of several was left out. "
INFORM = frozenset(
    {
        *("no quiet before", "doubtful gesture", "beating null", "partials in mains", "too little hum"),
        "steps by clicks",
    }
)
"""Remarks that say something of the whole take, not of one of several plucks."""
_FILE: dict[ProblemCode, str] = {
    "missing": "The file is not there; put it back, or void the take.",
    "hash mismatch": (
        "The audio is not what was logged (its hash differs), so it is not used; put the recording back as it"
        " was, or record again."
    ),
    "unreadable": "{clause}.",
    "channels": "{clause}.",
    "truncated": "Cut off before its end; record again, and let it ring out.",
    "duplicate audio": "The same audio as {same_as}, so it counts once, as {same_as}{differently}.",
    "samples lost": (
        "Samples were lost while it was recorded, so it is not used; close other programs, then record again."
    ),
}
_ENTERED_DIFFERENTLY = "; they were entered differently: void the wrong one"
_ENTRY: dict[TakeCode, str] = {
    "several pickups together": (
        "Several pickups together on one channel of a take like this say nothing of each other. Record "
        "plucks on this setting at one input alone, or a switch take through it."
    ),
    "leads or a list of settings": (
        "Hum is compared between settings, so name a setting or a pickup for each input, not leads or a list."
    ),
    "nothing plugged in": (
        "The entry says that nothing was plugged in, so there is nothing to compare. Void the take and enter "
        "it with what was on each input."
    ),
    "no list of settings": (
        "A switch take needs one list of settings, in the order the selector went through them. Void the "
        "take and enter it with that list."
    ),
    "list of one setting": (
        "A switch take tells by what changes from one setting to another, and its list names one. Void the "
        "take and enter it with all settings that the selector went through, in order."
    ),
    "not from one alone to another": (
        "With a volume each and no selector, a sweep begins on one pickup alone and ends on another alone, "
        "and its list says otherwise. Void the take and enter it with all settings that it went through, in "
        "order."
    ),
    "no magnetic pickup": (
        "A piezo or a microphone stands to a magnetic pickup by no one sign, so this take says nothing of "
        "it. Pluck it and a magnetic pickup on two inputs at once: that tells where they add."
    ),
    "pulse on several inputs": (
        "Which pickup? The tool shows on more than one input, so it is not clear whose pole it was on. Plug "
        "in one pickup at a time. If a string was plucked, enter it with --gesture pluck --instead."
    ),
    "compressed with loss": (
        "Compressed with loss: it counts, but as another rig than files of another kind, and what the coder "
        "left out is gone. Bring the original, if there is one."
    ),
    "sound where nothing was plugged in": (
        "An input on which nothing was plugged in, as it is entered, carries the pluck nearly as loud as the "
        "others. If a pickup was on it, enter the take anew with that pickup and --instead: two pickups in "
        "one pluck tell the most."
    ),
    "leads not known": (
        "The leads on the clips are not those of this pickup in job.toml, so the take says nothing here. "
        "Enter the pickup's hot, ground and link leads, or void the take."
    ),
    "string not named": (
        "The sign of this pickup goes with the string, and this take does not say which, or says one that "
        "does not lie over the coil that was on. Void it and enter it with the string that was played, or "
        "whose pole the tool was on."
    ),
    "hears no string": (
        "A dummy coil has no magnet and hears no string and no tool; only hum, or a driven coil over it, "
        "tells how it is wound."
    ),
    "coil not named": (
        "A driven coil over a pickup with two coils reads the one it is held over: void the take and enter "
        "it with that coil."
    ),
    "taps need one position": (
        "Taps tell what one position of the selector puts on the jack, so name one setting or pickup for "
        "each input, not leads or a list. Void the take and enter it so."
    ),
    "tapped pickup not named": (
        "The entry does not say which pickup's poles were tapped: void the take and enter it with that "
        "pickup."
    ),
    "taps not compared": (
        "These taps say nothing by themselves: what is on is told by what is far louder. Tap the same poles "
        "on another position of the selector too, and another pickup's poles on this one."
    ),
}
_NOT_COMPARED = (
    'The pluck is not compared, because something other than phase is wrong with {setting}: see "{section}".'
)
_NOT_AS_LISTED = 'Not used: taps showed that {setting} is not what job.toml says. See "{section}".'
_COMPASS_BOTH_WAYS = (
    "{entry}: compass readings of {pickup} contradict each other, so that none of them is used; read it once "
    "more, and void the one that was wrong, or name the string over the pole of each, if the poles differ"
)
_METER_STRING = (
    "{entry}: the poles of {pickup} differ from string to string, and the reading does not say over which "
    "string the tool was, so it is not used; void it and enter it with that string"
)
_METER_LEADS = (
    "{entry}: the meter's leads are not on leads of {pickup} that job.toml names, so the reading is not "
    "used; enter the pickup's leads, or void the reading"
)


def sound_fault(note: SoundNote, *, each: bool = False) -> str:
    """The sentence for one fault of a take's sound, or for a remark on it; ``each``: every input has it."""
    fault = note.fault
    detail = fault.detail or 0.0
    fields = {
        "input": "each input"
        if each
        else "the recording"
        if fault.channel is None
        else f"input {fault.channel}",
        "percent": f"{100 * detail:.3g} %",
        "decibels": f"{detail:.0f}",
        "hertz": f"{detail:.0f}",
        "not_heard": f"{50 + 60 - detail:.0f}",
        "steps": {0: "not at all", 1: "once", 2: "twice"}.get(round(detail), f"{detail:.0f} times"),
        "heard": fault.note_name or "another note",
        "named": _named(note),
        "gesture": note.gesture,
        "other": "lift" if note.gesture == "touch" else "touch",
    }
    if note.remark and fault.code in _REMARKS:
        return _REMARKS[fault.code].format(**fields)
    other_entry = _ENTERED_OTHERWISE.get((fault.code, note.gesture), "")
    if fault.code == "wrong string" and (note.remark or not _near_mains(detail)):
        other_entry = ""
    if fault.code == "strings not damped" and note.gesture == "switch" and note.string is not None:
        other_entry = ""
    one_of_several = note.remark and fault.code not in INFORM
    return (SOME_LEFT_OUT if one_of_several else "") + SENTENCES[fault.code].format(**fields) + other_entry


_ENTERED_OTHERWISE: dict[tuple[str, str], str] = {
    ("strings not damped", "switch"): (
        " If a string was plucked and rang on, the take needs its name: enter it with --string and --instead."
    ),
    ("no onset", "pluck"): " If hum was recorded, enter it with --gesture hum --instead.",
    ("strings not damped", "hum"): " If a string was played, enter it as what it is, with --instead.",
    ("wrong string", "pluck"): (
        " That is the pitch of mains hum, and perhaps no string sounded: if a tool was pulled off a "
        "pole, enter the take as a lift, with --gesture lift --instead."
    ),
    ("overlapping", "pluck"): (
        " If the selector was moved while the string rang, enter it with --gesture switch, the settings it "
        "went through, and --instead."
    ),
}
"""What a take probably was that was entered as another gesture; by fault and gesture."""
MAINS_PITCHES_HZ = (50.0, 60.0, 100.0, 120.0)
MAINS_SHARE = 0.02


def _near_mains(hz: float) -> bool:
    return any(abs(hz / mains - 1) < MAINS_SHARE for mains in MAINS_PITCHES_HZ)


def _named(note: SoundNote) -> str:
    if note.string is None:
        return "the note that was named"
    return note.string if not note.fret else f"{note.string} at fret {note.fret}"


def file_fault(note: FileNote) -> str:
    """The sentence for what is wrong with a take's file."""
    problem = note.problem
    clause = "" if problem.refusal is None else problem.refusal.clause
    if problem.code == "channels":
        clause = channels_differ(problem.channels, problem.inputs)
    return _FILE[problem.code].format(
        clause=f"{clause[:1].upper()}{clause[1:]}",
        same_as=problem.same_as,
        differently="" if problem.entered_alike else _ENTERED_DIFFERENTLY,
    )


_BRIEFLY: dict[str, str] = {
    "missing": "its file is missing",
    "hash mismatch": "its file was changed",
    "unreadable": "cannot be read",
    "channels": "other channels than inputs",
    "truncated": "its file is cut off",
}
"""Of codes that say less by themselves than a person needs."""


WRONG_STRING_BUT_HUM = "no such string: the pitch of mains hum, perhaps a lift"


def in_brief(note: AnyTakeNote) -> str:
    """What is wrong with a take in a word or two, where the sentence finds no room."""
    match note:
        case FileNote() if note.problem.same_as:
            return f"the same audio as {note.problem.same_as}"
        case SoundNote(fault=fault) if fault.code == "wrong string" and _near_mains(fault.detail or 0.0):
            return WRONG_STRING_BUT_HUM
        case SoundNote() | FileNote() | TakeNote() | InputNote():
            return _BRIEFLY.get(note.code, note.code)
        case NotComparedNote() | NotAsListedNote():
            return f'see "{SECTIONS["findings"]}"'
        case _:
            return ""


def entry_fault(note: TakeNote) -> str:
    """The sentence for an entry that does not say enough."""
    return _ENTRY[note.code]


NO_STRING = (
    "No string is named: whether the right one sounded is not checked, and plucks without a name count as "
    "one string, which tells less than two. Heard is {heard} ({hertz} Hz): enter it anew with --string and "
    "--instead."
)
NO_STRING_BUT_HUM = (
    "No string is named, and what is heard is {hertz} Hz, the pitch of mains hum: if a string sounded, enter "
    "it anew with --string and --instead; if a tool was pulled off a pole, as a lift, with --gesture lift "
    "--instead."
)


def no_string(note: NoStringNote) -> str:
    """The sentence for a pluck without a string, and what it costs."""
    said = NO_STRING_BUT_HUM if _near_mains(note.hz) else NO_STRING
    return said.format(heard=note.heard, hertz=f"{note.hz:.0f}")


def not_compared(note: NotComparedNote) -> str:
    """The sentence for a pluck that is not compared."""
    return _NOT_COMPARED.format(setting=note.setting, section=SECTIONS["findings"])


_OUTVOTED = (
    "It says the opposite of {a} and {b} than {others} do. One string in twenty misleads; it counts with the "
    "others, and is outvoted."
)


def outvoted(note: OutvotedNote) -> str:
    """The sentence for a switch take that all others are against."""
    return _OUTVOTED.format(a=note.a, b=note.b, others=", ".join(note.others))


_LONG_TAKE = (
    "{whole:.0f} s long, and no gesture is: heard was {start:.0f} to {stop:.0f} s alone. Stop the recorder "
    "after the gesture; a long recording of many is cut with coilwise bring."
)


SHORT_STRETCH = (
    "Too short on {settings} ({shortest:.1f} s): a position must ring for half a second to tell much. "
    "Move the selector more slowly there, or split the way into two sweeps of fewer positions."
)


def short_stretch(note: ShortStretchNote) -> str:
    """The sentence for positions of a sweep that rang too shortly."""
    return SHORT_STRETCH.format(settings=", ".join(note.settings), shortest=note.shortest_s)


def long_take(note: LongTakeNote) -> str:
    """The sentence for a recording of which a part was heard."""
    return _LONG_TAKE.format(whole=note.whole_s, start=note.start_s, stop=note.stop_s)


def not_as_listed(note: NotAsListedNote) -> str:
    """The sentence for a take through a setting that is not as listed."""
    return _NOT_AS_LISTED.format(setting=note.setting, section=SECTIONS["findings"])


OTHER_RECORDER = (
    "{takes} {were} recorded otherwise ({made}) than {others} ({others_made}): another rig until a split "
    "check or you say so, and not compared one after another. Record both pickups on one recorder, with a "
    "split check on each that two inputs were used of; or, where files were only converted, say so: coilwise "
    "check FOLDER same-path --take {one} --take {other}"
)


def other_recorder(note: OtherRecorderNote) -> str:
    """What follows from files that are written otherwise."""
    return OTHER_RECORDER.format(
        takes=_runs(note.takes),
        were="was" if len(note.takes) == 1 else "were",
        made=note.made,
        others=_runs(note.others),
        others_made=note.others_made,
        one=note.others[0],
        other=note.takes[0],
    )


def _runs(takes: Sequence[str]) -> str:
    """Ids in words: three and more in a row as "t004 to t006"."""
    rows: list[list[str]] = []
    for take in takes:
        last = rows[-1][-1] if rows else ""
        follows = last[1:].isdigit() and take[1:].isdigit() and int(take[1:]) == int(last[1:]) + 1
        if follows and take[0] == last[0]:
            rows[-1].append(take)
        else:
            rows.append([take])
    words = [w for row in rows for w in ([f"{row[0]} to {row[-1]}"] if len(row) > MOST_SPELT else row)]
    return ", ".join(words)


MOST_SPELT = 2
"""So many ids in a row are spelt; more are a range."""


_SPLIT = "the split check (one pickup into both inputs at once)"
_INPUT: dict[InputCode, str] = {
    "lag taken out": (
        "Input {later} comes {ms} ms later than input {other}. This is taken out of all plucks on both "
        "inputs of this rig; repeat the split check at the end to see that it stayed."
    ),
    "phase taken out": (
        "The two inputs turn the phase of low notes differently, by {degrees} degrees near {hz} Hz: a low "
        "cut is probably on at one of them. This is taken out of plucks on both inputs of this rig where it"
        " was measured. Better turn the low cut off on both and begin a new rig."
    ),
    "not one signal": (
        "Neither in step nor opposed: the two inputs do not carry one signal here, although the entry names"
        " one pickup for both. Join both leads to that one pickup and make the split check again."
    ),
    "lag wanders": (
        "Input {later} came later than input {other} by {ms} ms in one split check and by {most_ms} ms in "
        "another, so plucks on both inputs say nothing. Use two inputs of one box, straight by cable, and "
        "record them again as another rig."
    ),
    "one input late": (
        "One input comes later than the other: the partials of these plucks fit a lag of about {ms} ms far "
        "better than none. Not counted. Make {split} twice with everything as it is, or use two inputs of "
        "one box, straight by cable."
    ),
    "late after the split check": (
        "One input comes later than the other, and not as the split check has it: the partials of these "
        "plucks fit some other lag far better. Not counted. A pickup whose own tone is turned down sounds "
        "like that, dull beside the other: turn every knob full up and pluck again. Else the lag wanders "
        "from take to take, as between two boxes with clocks of their own or over a wireless link: use two "
        "inputs of one box, straight by cable."
    ),
    "low cut": (
        "The two inputs turn the phase of low notes differently: the partials of these plucks fit a steep "
        "low cut near {hz} Hz on input {later} far better than none. Not counted. Turn the low cut off, or "
        "make {split} on these strings."
    ),
    "phase not known here": (
        "The two inputs turn the phase of low notes differently, and the split check does not say how at "
        "the partials of this string. Not counted. Make {split} on this string."
    ),
    "silent split check": (
        "The split check is silent, although {pickup} sounds through one input alone: one of the two leads "
        "is probably made up the other way round and shorts the pickup, as the sleeves of both inputs are "
        "joined. Measure each lead with the ohmmeter: 0 ohms from the tip of its plug to its hot clip."
    ),
}
"""How two inputs differ, for each code of an `InputNote`."""


def input_note(note: InputNote) -> str:
    """The sentence for how two inputs differ, or what a take suffers from it."""
    return _INPUT[note.code].format(
        later=note.later,
        other=note.other,
        ms=f"{note.ms:.1f}",
        most_ms=f"{note.most_ms:.1f}",
        hz=f"{note.hz:.0f}",
        degrees=f"{abs(note.degrees):.0f}",
        pickup=note.pickup,
        split=_SPLIT,
    )


IDLE_TAGS = {
    "take voided": (
        "{entry}: the tag on {pickup} says nothing, since its take {take} is voided; enter the tag once more "
        "for another take through the same clips."
    ),
    "coil alone": (
        "{entry}: the tag on {pickup} says nothing, since {take} was not of its hot and ground; a tag is for "
        "the two outer leads of a pickup whose coils are joined."
    ),
}


def warning_sentence(note: MeterLeadsNote | OtherRecorderNote | IdleTagNote) -> str:
    """The sentence for a warning of the verdict."""
    if isinstance(note, IdleTagNote):
        return IDLE_TAGS[note.code].format(entry=note.entry, pickup=note.pickup, take=note.take)
    return meter_leads(note) if isinstance(note, MeterLeadsNote) else other_recorder(note)


def meter_leads(note: MeterLeadsNote) -> str:
    """The line for a meter reading that could not be placed."""
    if note.compass:
        return _COMPASS_BOTH_WAYS.format(entry=note.entry, pickup=note.pickup)
    if note.string:
        return _METER_STRING.format(entry=note.entry, pickup=note.pickup)
    return _METER_LEADS.format(entry=note.entry, pickup=note.pickup)


_HEALTH: dict[HealthCode, tuple[str, str]] = {
    "fundamental missing": (
        "Thin by itself: its fundamental is about {db} dB weaker than the rest of its sound explains. That "
        "is no matter of phase: a capacitor in series, or a coil that is open.",
        "Measure it with the ohmmeter from hot to ground, and look for a capacitor in its lead.",
    ),
    "open coil": (
        "Nearly dead by itself, about {db} dB weaker than the others and thin: the coil is probably open, "
        "and what is heard comes through by capacitance.",
        "Measure it with the ohmmeter: no reading means an open coil or a broken lead.",
    ),
    "shorted coil": (
        "Nearly dead by itself, about {db} dB weaker than the others and dull: the coil is probably shorted.",
        "Measure it with the ohmmeter: far too few ohms mean a short in the coil, the lead or the switch.",
    ),
    "far weaker": (
        "About {db} dB weaker than {other}: more than makers' differences explain. That is no matter of "
        "phase.",
        "See that its volume knob is full up, raise the pickup, and measure it with the ohmmeter.",
    ),
    "dull": (
        "Dull: its treble is about {db} dB weaker than it should be. A tone or volume knob is probably not "
        "full up.",
        "Turn volume and tone full up and record again.",
    ),
    "twin settings": (
        "It cannot be told from {other} by harmonics or level. Either the selector was not moved, or both "
        "positions put the same thing on the jack. This is not taken for in phase.",
        "Tap each pickup's poles with a steel tool in both positions (a take of the gesture tap tells which "
        "one is on), and record again.",
    ),
    "hums although it has two coils": (
        "It hums, although it has two coils: about {db} dB over {other}. It may be split by accident, or its "
        "coils may be joined the wrong way.",
        "Look at the split switch, and measure both coils with the ohmmeter.",
    ),
}
"""What is wrong with a setting, and what to do, for each code of dsp.health."""


def health_problem(note: HealthProblem) -> str:
    """The sentence for what is not as it should be; levels are said as magnitudes, in whole dB."""
    other = f'"{note.other}"' if note.other else "the others"
    return _HEALTH[note.code][0].format(db=f"{abs(note.detail_db):.0f}", other=other)


def health_remedy(note: HealthRemedy) -> str:
    """The sentence for what to do about it."""
    return _HEALTH[note.code][1]


_PLACES: dict[PlaceCode, tuple[str, str]] = {
    "from the nut": (
        "{typed} from the bridge is under the fretboard: it was probably measured from the nut. It is not "
        "used.{heard}",
        "Measure from the bridge saddle to the pickup's centre, and correct centre_mm in job.toml.",
    ),
    "exchanged": (
        "{typed} from the bridge does not go with its name: the distances were probably written beside the "
        "wrong pickups. They are not used.{heard}",
        "Measure from the bridge saddle to the pickup's centre, and correct centre_mm in job.toml.",
    ),
    "wrong way round": (
        "By the places that they are heard at, the two pickups answer by each other's names. Their phase is "
        "the same by either name.",
        "Tap the poles of each with a steel tool to see which one answers, before any lead is exchanged.",
    ),
}
"""What is wrong with where a pickup sits, and what to do."""
_HEARD_AT = " It sounds as if it sat about {} mm from the bridge."


def place_sentence(note: PlaceProblem | PlaceRemedy) -> str:
    """The sentence for a pickup that is not where the job says, or for what to do about it."""
    if isinstance(note, PlaceRemedy):
        return _PLACES[note.code][1]
    typed = "" if note.typed_mm is None else f"{note.typed_mm:g} mm"
    heard = "" if note.heard_mm is None else _HEARD_AT.format(f"{note.heard_mm:g}")
    return _PLACES[note.code][0].format(typed=typed, heard=heard)
