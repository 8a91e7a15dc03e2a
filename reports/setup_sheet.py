"""What a person reads while the inputs are listened to, and after it, as text.

Task: `opening_lines` before anything is plugged in, `level_lines` while it is listened to, `setup_lines` for
what was heard. Units: dB re full scale, Hz. Signs: none. Wording of what is wrong: reports.setup_words.
"""

from __future__ import annotations

import math
import shlex
from collections.abc import Iterable
from pathlib import Path

from capture.bench_log import AnyEntry, Take
from capture.setup_listening import Moment, Part, SetupHearing, hum_tells
from dsp.setup_check import QuietLevels
from reports.questions import BEFORE
from reports.setup_words import (
    BEFORE_PLUGGING_IN,
    NOTHING_WRONG,
    OTHER_MAINS,
    decibels,
    finding_sentences,
    lost_sentence,
)

BAR_FROM_DB = -80.0
BAR_WIDTH = 40
BOTH_INPUTS = 2
DO: dict[Part, str] = {
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
    cautions = tuple(f"Caution: {caution}" for caution in BEFORE_PLUGGING_IN)
    return (*cautions, "Nobody can hear these, so look:", *(f"  {question}" for question in BEFORE))


def level_lines(moment: Moment) -> tuple[str, ...]:
    """What to do and for how long yet, then a bar with its figure for each input."""
    bars = (level_bar(f"Input {k}", peak) for k, peak in enumerate(moment.peaks_db, start=1))
    return (f"{DO[moment.part]} {math.ceil(moment.left_s)} s", *bars)


def level_bar(name: str, peak_db: float) -> str:
    """One bar, from -80 dB to full scale."""
    share = min(1.0, max(0.0, 1 - peak_db / BAR_FROM_DB))
    filled = round(BAR_WIDTH * share)
    return f"{name} [{'#' * filled}{'.' * (BAR_WIDTH - filled)}] {_peak(peak_db)}"


def levels_in_words(moment: Moment) -> str:
    """The same as one plain line, for where there is no terminal."""
    return ", ".join(f"input {k} {_peak(peak)}" for k, peak in enumerate(moment.peaks_db, start=1))


def setup_lines(hearing: SetupHearing, *, split_check_in: Path | None = None) -> tuple[str, ...]:
    """What is wrong and what to do, each input's levels, and the split check where it is still to be done.

    `split_check_in`: the job that has none yet (`lacks_split_check`).
    """
    lines = [*finding_sentences(hearing.findings, channels=hearing.channels)]
    if hearing.lost:
        lines.append(lost_sentence(hearing.lost, rate=hearing.rate))
    if (other := hearing.other_mains_hz) is not None:
        lines.append(OTHER_MAINS.format(heard=other, said=hearing.mains_hz))
    wrong = lines or [NOTHING_WRONG]
    levels = [_levels(*both) for both in zip(hearing.levels, hearing.peaks_db, strict=True)]
    offered = split_check_in is not None and hearing.channels >= BOTH_INPUTS
    when = NEXT if hearing.clear else WHEN_RIGHT
    split = [SPLIT.format(when=when, folder=shlex.quote(str(split_check_in)))] if offered else []
    return (*wrong, *levels, *split)


def lacks_split_check(entries: Iterable[AnyEntry]) -> bool:
    """Whether no split check stands in a log."""
    return not any(isinstance(entry, Take) and entry.is_split_check for entry in entries)


def _levels(level: QuietLevels, peak_db: float) -> str:
    if not math.isfinite(peak_db):
        return f"Input {level.channel}: nothing at all."
    hum = (
        f"hum {decibels(level.hum_db or 0.0)} dB at {level.mains_hz:.1f} Hz"
        if hum_tells(level)
        else "hardly any hum"
    )
    return (
        f"Input {level.channel}: noise {decibels(level.noise_db)} dB, {hum}, loudest {decibels(peak_db)} dB."
    )


def _peak(peak_db: float) -> str:
    return f"{decibels(peak_db)} dB" if math.isfinite(peak_db) else "nothing"
