"""The words for what can be wrong with a take: one plain sentence and its remedy for each fault.

Task: from a measured fault (dsp.signal.faults) to a sentence for the person at the bench. Nothing else words
a fault of a take's sound; faults of its file stand in capture.takes.folder.
"""

from __future__ import annotations

from capture.log import Take
from dsp.signal.codes import Fault, FaultCode, HealthCode
from reports.model.notes import HealthProblem, HealthRemedy

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
        "Too little hum: {input} holds no mains hum that stands out, so it says nothing. Hold the guitar "
        "near a mains transformer, turn it until it hums, and record again."
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
}
OFFSET_TAKEN_OUT = "Offset: {input} rests at {percent} of full scale; it was taken out."
CLIPPED_PULSE = (
    "Clipped: {input} is cut off flat; the first swing still tells, so the take counts for "
    "less. Turn the gain down."
)
LITTLE_HUM = (
    "Hardly any hum on {input}: it cancels there, or there was little to begin with; the takes of the single "
    "pickups tell which."
)
SOME_LEFT_OUT = "One of several was left out. "
INFORM = frozenset(
    {"no quiet before", "doubtful gesture", "beating null", "partials in mains", "too little hum"}
)
"""Remarks that say something of the whole take, not of one of several plucks."""
TOGETHER = (
    "Several pickups together on one channel of a take like this say nothing of each other. Record plucks on "
    "this setting at one input alone, or a switch take through it."
)
LEADS_AND_SETTINGS = (
    "Hum is compared between settings, so name a setting or a pickup for each input, not leads or a list."
)
NO_LIST = (
    "A switch take needs one list of settings, in the order the selector went through them. Void the take "
    "and enter it with that list."
)
SEVERAL_PULSES = (
    "Which pickup? The tool shows on more than one input, so it is not clear whose pole it "
    "was on. Plug in one pickup at a time."
)


def fault_sentence(fault: Fault, *, entry: Take | None = None, remark: bool = False) -> str:
    """The sentence for one fault; ``remark``: the take still counts."""
    detail = fault.detail or 0.0
    words = {
        "input": "the recording" if fault.channel is None else f"input {fault.channel}",
        "percent": f"{100 * detail:.3g} %",
        "decibels": f"{detail:.0f}",
        "hertz": f"{detail:.0f}",
        "steps": {0: "not at all", 1: "once", 2: "twice"}.get(round(detail), f"{detail:.0f} times"),
        "heard": fault.note_name or "another note",
        "named": _named(entry),
        "gesture": entry.gesture if entry is not None else "gesture",
        "other": "lift" if entry is not None and entry.gesture == "touch" else "touch",
    }
    if remark and fault.code == "offset":
        return OFFSET_TAKEN_OUT.format(**words)
    if remark and fault.code == "clipped":
        return CLIPPED_PULSE.format(**words)
    if remark and fault.code == "too little hum":
        return LITTLE_HUM.format(**words)
    said = SENTENCES[fault.code].format(**words)
    left_out = remark and fault.code not in INFORM
    return SOME_LEFT_OUT + said if left_out else said


def _named(entry: Take | None) -> str:
    if entry is None or entry.string is None:
        return "the note that was named"
    return entry.string if not entry.fret else f"{entry.string} at fret {entry.fret}"


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
        "Tap each pickup's cover in both positions, and record again.",
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
