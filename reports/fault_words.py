"""The words for what can be wrong with a take: one plain sentence and its remedy for each fault.

Task: from a measured fault (dsp.faults) to a sentence for the person at the bench. Nothing else words a
fault of a take's sound; faults of its file stand in capture.folder.
"""

from __future__ import annotations

from capture.bench_log import Take
from dsp.faults import Fault, FaultCode

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
}
OFFSET_TAKEN_OUT = "Offset: {input} rests at {percent} of full scale; it was taken out."
CLIPPED_PULSE = (
    "Clipped: {input} is cut off flat; the first swing still tells, so the take counts for "
    "less. Turn the gain down."
)
SOME_LEFT_OUT = "One of several was left out. "
TOGETHER = (
    "This take has several pickups on one channel. This version reads only one pickup a channel, so the take "
    "says nothing here."
)
NOT_READ_YET = "This version does not read {} takes; the recording is kept for one that does."
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
        "heard": fault.heard or "another note",
        "named": _named(entry),
        "gesture": entry.gesture if entry is not None else "gesture",
        "other": "lift" if entry is not None and entry.gesture == "touch" else "touch",
    }
    if remark and fault.code == "offset":
        return OFFSET_TAKEN_OUT.format(**words)
    if remark and fault.code == "clipped":
        return CLIPPED_PULSE.format(**words)
    said = SENTENCES[fault.code].format(**words)
    left_out = remark and fault.code not in ("no quiet before", "doubtful gesture")
    return SOME_LEFT_OUT + said if left_out else said


def _named(entry: Take | None) -> str:
    if entry is None or entry.string is None:
        return "the note that was named"
    return entry.string if not entry.fret else f"{entry.string} at fret {entry.fret}"
