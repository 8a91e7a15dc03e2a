"""A stop button that was forgotten: the part with the gesture is heard, and that is said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from capture.log.entries import TakeFields
from capture.takes.folder import JobFolder
from dsp.live.gestures import LONGEST_TAKE_S
from reports.evidence.analysis import analyse_take
from reports.messages.sentences import say
from reports.model.take_notes import LongTakeNote

RATE = 16_000
PLUCKED_S, WHOLE_S = 125.0, 140


@pytest.fixture(scope="module")
def long(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two minutes of next to nothing on two inputs, then one pluck of A2."""
    path = tmp_path_factory.mktemp("long") / "long.flac"
    t = np.arange(2 * RATE) / RATE
    partials = np.stack([np.exp(-3 * n * t) * np.sin(2 * np.pi * 110 * n * t) for n in (1, 2, 3, 4)], axis=1)
    pluck = partials @ [[0.2, 0.3], [0.2, 0.1], [0.1, 0.02], [0.1, -0.03]]
    rng = np.random.default_rng(1)
    with sf.SoundFile(path, "w", RATE, 2, "PCM_16", format="FLAC") as file:
        for second in range(WHOLE_S):
            block = 1e-4 * rng.standard_normal((RATE, 2))
            beginning = second - int(PLUCKED_S)
            if 0 <= beginning < 2:
                block += pluck[beginning * RATE : (beginning + 1) * RATE]
            file.write(block)
    return path


def test_the_part_with_the_pluck_is_heard(folder: Path, job, long: Path):
    take = JobFolder.open(folder).add_take(long, TakeFields("pluck", ("bridge", "neck"), string="A2"))
    audio = take.load()
    assert len(audio.samples) <= LONGEST_TAKE_S * RATE
    assert audio.part.start_s == pytest.approx(PLUCKED_S - 2, abs=0.1)
    result = analyse_take(job, take)
    assert len(result.paired) == 1
    (note,) = [n for n in result.remarks if isinstance(n, LongTakeNote)]
    assert say(note).startswith("140 s long, and no gesture is: heard was 123 to 140 s alone.")


def test_hum_is_heard_from_the_beginning(folder: Path, long: Path):
    take = JobFolder.open(folder).add_take(long, TakeFields("hum", ("bridge", "neck")))
    part = take.load().part
    assert (part.start_s, part.stop_s, part.whole_s) == (0, LONGEST_TAKE_S, WHOLE_S)
