"""Why recordings cannot be cut: the command names its option and the path, the page neither."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from capture.audio.files import AudioHeader
from capture.takes.imported import CountsDiffer, ImportedFile, NoOnset, NumberedOnset, TakesOverlap
from dsp.live.onset_stream import Envelope
from reports.messages.imported import cut_problem

LONG, OTHER = Path("/elsewhere/long.wav"), Path("/elsewhere/other.wav")
FILE = ImportedFile(
    LONG,
    AudioHeader(1000, 1, 20_000, "WAV", "PCM_24", truncated=False),
    (),
    Envelope(0.01, np.zeros((1, 1), np.float32)),
    (0, 0),
)
OVERLAP = TakesOverlap(
    NumberedOnset(2, FILE, 3000, -20.0, None, left_out=False),
    NumberedOnset(3, FILE, 3300, -20.0, None, left_out=False),
)


@pytest.mark.parametrize("problem", [NoOnset(LONG), CountsDiffer((LONG,), 3, 2), OVERLAP])
def test_the_page_names_no_option_and_no_folder(problem):
    sentence = cut_problem(problem, surface="page")
    assert "--" not in sentence and "/" not in sentence and "{" not in sentence


def test_the_command_names_its_option_and_the_path():
    assert cut_problem(CountsDiffer((LONG,), 3, 2), surface="terminal") == (
        f"{LONG}: 3 onsets found, and the order has 2 takes; correct the order, or name those that are none"
        ' with "--leave-out" and their numbers'
    )
    assert cut_problem(CountsDiffer((LONG, OTHER), 3, 2), surface="terminal").startswith("2 recordings: 3")
    assert cut_problem(OVERLAP, surface="terminal") == (
        f"{LONG}: onsets 2 and 3 at 3.00 s lie 0.30 s apart, so their takes would overlap; leave one out"
        " (--leave-out 3), or both"
    )
    assert cut_problem(NoOnset(LONG), surface="terminal").startswith(f"{LONG}: no onset found in it;")
