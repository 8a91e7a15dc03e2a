"""Sentences about the inputs before anything is recorded: cautions, levels, findings and their remedies.

A finding is a code (`dsp.health.inputs.SetupFinding`) with a figure; its sentence names the input, the figure
and what to do. Where an option of a command or a field of the page is meant, each `Surface` has a remedy of
its own in `REMEDIES`. Levels are in dB re full scale, frequencies in Hz.
"""

from __future__ import annotations

import math
import shlex
from collections.abc import Iterable, Sequence
from pathlib import Path

from capture.audio.setup_check import Part, SetupProgress, SetupResult, is_hum_clear
from capture.audio.streams import LostSamples
from capture.log import AnyEntry, Take
from dsp.health.inputs import EMPTY_DB, HUM_DB, NEAR_FULL_SCALE, NOISE_DB, QuietLevels, SetupFinding
from dsp.signal.codes import SetupCode
from reports.messages import cautions
from reports.messages import page as page_words
from reports.messages.cautions import BEFORE
from reports.model.session import Surface

BEFORE_PLUGGING_IN = (cautions.AMPLIFIER, cautions.TINGLE, cautions.PHANTOM, cautions.THUMP)
NOTHING_WRONG = "Nothing wrong was heard."

SENTENCES: dict[SetupCode, str] = {
    "exact zeros": (
        "{Input}: exact zeros, no sound at all arrives, not even noise, though another input is alive. "
        "Switch this input on in the box's mixer or panel, or take another one of its inputs."
    ),
    "loud noise": (
        "{Input}: noise at {decibels} dB of full scale; it should stay below {noise_limit} dB. Keep volume "
        "full up and turn the gain of the input down, switch boost and effects off, push the plug home, move "
        "away from screens and power supplies, then try another lead."
    ),
    "much hum": (
        "{Input}: hum at {decibels} dB of full scale; it should stay below {hum_limit} dB. Turn the guitar "
        "until it hums least, move away from transformers, lamps and chargers, and see that the shield of "
        "the lead is whole and the ground of a loose pickup is on the sleeve. " + cautions.EARTH
    ),
    "offset": (
        "{Input}: an offset, it rests at {percent} of full scale and not at zero. Switch phantom power off, "
        "unplug, and look again: if the offset stays, the input is faulty, so take another; if it goes, "
        "look for a direct voltage on the lead."
    ),
    "one signal on both": (
        "Inputs {first} and {second}: one signal arrives on both. If one pickup is on both with a splitter, "
        "for the split check, that is right. Otherwise switch the box from mono or mix to stereo, switch its "
        "loopback off, and see that each pickup has a plug and an input of its own."
    ),
    "gain rides": (
        "{Input}: the gain rides, the noise climbs by {decibels} dB in a second by itself. Switch automatic "
        "gain and every sound enhancement off, in the settings of the system and of the box."
    ),
    "noise is cut off": (
        "{Input}: noise is cut off between sounds, {pattern}. Switch noise suppression, noise gate and "
        "voice enhancement off, in the settings of the system and of the box."
    ),
    "clips": (
        "{Input}: clips, the loudest reaches {percent} of full scale. Turn the gain down until a loud pluck "
        "stays at about half."
    ),
    "nothing plugged in": (
        "{Input}: as if nothing were plugged in, it stays at {decibels} dB of full scale, pluck or not. "
        "{check}"
    ),
}
ALL_ZEROS = (
    "{Inputs}: exact zeros, no sound at all arrives, not even noise. Most often the terminal may not use the "
    "microphone: allow it in the privacy settings of the system and {restart}. Else switch the input on, or "
    "take another: {list}."
)
CLIPS_EARLY = (
    "{Input}: clips, it is cut off flat at {percent} of full scale, so before the converter. Take an input "
    "for instruments, switch limiter and effects off, and turn down whatever stands between guitar and box."
)
NO_PLUCK = "{Input}: no pluck was heard, it stays at {decibels} dB of full scale. {check}"
NO_PLUCK_AT_ALL = (
    "{Inputs}: no pluck was heard. {again}, and pluck one string hard as soon as you are asked to. If you "
    "did: push the plug home, turn volume and gain up, and see that this is the input that is meant: {list}."
)
CHECK = (
    "If you did pluck: push the plug home, turn volume up, set the selector to a pickup that goes to this "
    "input, and turn the gain up. To use one input alone, take input 1 and {one_input}."
)
CHECK_ONLY = (
    "If you did pluck: push the plug home, turn volume up, set the selector to a pickup that goes to this "
    "input, turn the gain up, and see that it is the input that is meant: {list}."
)
REMEDIES: dict[Surface, dict[str, str]] = {
    "terminal": {
        "again": "Run it again",
        "list": "coilwise inputs lists them",
        "one_input": "say --inputs 1",
        "restart": "start the terminal anew",
    },
    "page": {
        "again": f'Press "{page_words.CHECK}" again',
        "list": f'the field "{page_words.INPUT_FIELD}" lists them',
        "one_input": f'choose 1 in the field "{page_words.HOW_MANY_FIELD}"',
        "restart": "start the terminal anew, and coilwise page in it",
    },
}
"""What to do where the way differs: an option of a command, or a field or a button of the page."""
LOST = (
    "Samples were lost while listening ({often}). Close other programs, plug the box into the computer "
    "itself and not through a hub, and set a larger buffer in its settings."
)
OTHER_MAINS = (
    "The mains hum at {measured} Hz, and job.toml says mains_hz = {stated}. If the job is done here, write "
    "mains_hz = {measured} into job.toml."
)


def finding_lines(hearing: SetupResult, *, surface: Surface) -> tuple[str, ...]:
    """A sentence for each thing that is wrong; what is the same on all inputs is said once."""
    findings = (_sentence(f, hearing, surface=surface) for f in hearing.findings)
    lines = list(dict.fromkeys(findings))
    if hearing.lost:
        lines.append(_lost_sentence(hearing.lost, rate=hearing.rate))
    if (other := hearing.other_mains_hz) is not None:
        lines.append(OTHER_MAINS.format(measured=other, stated=hearing.mains_hz))
    return tuple(lines) or (NOTHING_WRONG,)


def input_lines(hearing: SetupResult) -> tuple[str, ...]:
    """The levels of each input, a line an input."""
    return tuple(_levels(*both) for both in zip(hearing.levels, hearing.peaks_db, strict=True))


def _lost_sentence(lost: Sequence[LostSamples], *, rate: int) -> str:
    times = {1: "once", 2: "twice"}.get(len(lost), f"{len(lost)} times")
    seconds = sum(loss.frames for loss in lost) / rate
    return LOST.format(often=f"{times}, {seconds:.1f} s in all" if seconds else times)


def decibels(level: float) -> str:
    """A level in whole dB."""
    return f"{round(level)}" if math.isfinite(level) else "minus infinite"


def _sentence(finding: SetupFinding, hearing: SetupResult, *, surface: Surface) -> str:
    detail, channels, remedies = finding.detail or 0.0, hearing.channels, REMEDIES[surface]
    return _template(finding, hearing).format(
        Input=f"Input {finding.channel}",
        Inputs=_all_inputs(channels),
        decibels=decibels(detail),
        percent=f"{100 * detail:.0f} %",
        noise_limit=decibels(NOISE_DB),
        hum_limit=decibels(HUM_DB),
        first=f"{detail:.0f}",
        second=finding.channel,
        pattern="it comes and goes" if finding.detail is None else f"to nothing at all for {detail:.1f} s",
        check=(CHECK if channels > 1 else CHECK_ONLY).format(**remedies),
        **remedies,
    )


def _all_inputs(channels: int) -> str:
    numbers = [f"{number}" for number in range(1, channels + 1)]
    return f"Inputs {', '.join(numbers[:-1])} and {numbers[-1]}" if channels > 1 else "Input 1"


def _template(finding: SetupFinding, hearing: SetupResult) -> str:
    detail = finding.detail or 0.0
    on_all = sum(f.code == finding.code for f in hearing.findings) == hearing.channels
    if finding.code == "exact zeros" and on_all:
        return ALL_ZEROS
    if finding.code == "clips" and detail <= NEAR_FULL_SCALE:
        return CLIPS_EARLY
    if finding.code == "nothing plugged in" and detail >= EMPTY_DB:
        return NO_PLUCK_AT_ALL if on_all else NO_PLUCK
    return SENTENCES[finding.code]


BAR_FROM_DB = -80.0
BAR_WIDTH = 40
BOTH_INPUTS = 2
PART_INSTRUCTIONS: dict[Part, str] = {
    "quiet": "Keep still: strings damped.",
    "pluck": "Now pluck one string hard, once, and let it ring.",
}
SPLIT = (
    "{when}, once for this box: the split check, which tells whether both inputs have the same sign. Put one "
    "pickup into both inputs at once, with a Y-lead or a splitter, type\n  coilwise record {folder} --split\n"
    "and pluck one string, once."
)
NEXT, WHEN_RIGHT = "Next", "When that is put right"


def opening_lines() -> tuple[str, ...]:
    """Cautions before plugging in, then the questions that no listening answers."""
    first = tuple(f"Caution: {caution}" for caution in BEFORE_PLUGGING_IN)
    return (*first, "Nobody can hear these, so look:", *(f"  {question}" for question in BEFORE))


def level_lines(moment: SetupProgress) -> tuple[str, ...]:
    """What to do and for how long yet, then a bar with its figure for each input."""
    bars = (level_bar(f"Input {k}", peak) for k, peak in enumerate(moment.peaks_db, start=1))
    return (f"{PART_INSTRUCTIONS[moment.part]} {math.ceil(moment.left_s)} s", *bars)


def level_bar(name: str, peak_db: float) -> str:
    """One bar, from -80 dB to full scale."""
    share = min(1.0, max(0.0, 1 - peak_db / BAR_FROM_DB))
    filled = round(BAR_WIDTH * share)
    return f"{name} [{'#' * filled}{'.' * (BAR_WIDTH - filled)}] {_peak(peak_db)}"


def levels_in_words(moment: SetupProgress) -> str:
    """The same as one plain line, for where there is no terminal."""
    return ", ".join(f"input {k} {_peak(peak)}" for k, peak in enumerate(moment.peaks_db, start=1))


def setup_lines(
    hearing: SetupResult, *, surface: Surface = "terminal", split_check_in: Path | None = None
) -> tuple[str, ...]:
    """What is wrong and what to do, each input's levels, and the split check where it is still to be done.

    `split_check_in`: the job that has none yet (`lacks_split_check`).
    """
    split: tuple[str, ...] = ()
    if split_check_in is not None and hearing.channels >= BOTH_INPUTS:
        when = NEXT if hearing.clear else WHEN_RIGHT
        split = (SPLIT.format(when=when, folder=shlex.quote(str(split_check_in))),)
    return (*finding_lines(hearing, surface=surface), *input_lines(hearing), *split)


def lacks_split_check(entries: Iterable[AnyEntry]) -> bool:
    """Whether no split check stands in a log."""
    return not any(isinstance(entry, Take) and entry.is_split_check for entry in entries)


def _levels(level: QuietLevels, peak_db: float) -> str:
    if not math.isfinite(peak_db):
        return f"Input {level.channel}: nothing at all."
    hum = (
        f"hum {decibels(level.hum_db or 0.0)} dB at {level.mains_hz:.1f} Hz"
        if is_hum_clear(level)
        else "hardly any hum"
    )
    return (
        f"Input {level.channel}: noise {decibels(level.noise_db)} dB, {hum}, loudest {decibels(peak_db)} dB."
    )


def _peak(peak_db: float) -> str:
    return f"{decibels(peak_db)} dB" if math.isfinite(peak_db) else "nothing"
