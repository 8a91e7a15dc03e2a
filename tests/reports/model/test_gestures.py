"""The gesture table is closed, agrees with what other tables say, and costs no heavy import."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import get_args

from mypy import api

from dsp.live.gestures import ALL_GESTURES, WITH_ONSET, plan_of
from reports.messages.gestures import CHOICES, GOOD_FOR, gesture_words
from reports.model.gestures import PLUCKED, PULSED, ROWS, SESSION_GESTURES, WITH_TOOL, Analysis, gesture_row

ROOT = Path(__file__).resolve().parents[3]
CLOSED = ("dsp/live/gestures.py", "reports/model/gestures.py", "reports/messages/gestures.py")
"""Where a new gesture has to be said something of."""


def test_every_gesture_has_a_row_with_evidence_and_an_analysis():
    assert tuple(row.gesture for row in ROWS) == ALL_GESTURES
    for row in ROWS:
        assert row.evidence or row.in_turn
        assert row.analysis in get_args(Analysis)
        assert row.watch == plan_of(row.gesture)
        assert (row.watch.cut is None) == (row.watch.steady or row.watch.timed)


def test_the_sets_that_follow_from_it():
    assert WITH_TOOL == ("lift", "touch", "tap")
    assert (PLUCKED, PULSED) == (("pluck", "press"), ("lift", "touch"))
    assert SESSION_GESTURES == ("pluck", "switch", "press", "lift", "hum", "tap")
    assert WITH_ONSET == ("pluck", "press", "lift", "touch", "switch")
    assert {row.gesture for row in ROWS if row.at_poles} == {"lift", "touch", "drive", "tap"}


def test_every_gesture_has_its_words():
    assert tuple(CHOICES) == ALL_GESTURES
    assert tuple(GOOD_FOR) == SESSION_GESTURES
    for gesture in ALL_GESTURES:
        words = gesture_words(gesture)
        assert words.big and words.how
        assert bool(words.good_for) == (gesture_row(gesture).session_rank is not None)


def failing(place):
    """Status of the type check of the closed tables there, and those that it finds at fault."""
    environment = ["--strict", "--config-file=", f"--cache-dir={place / 'cache'}"]
    out, _, status = api.run([*environment, *(str(place / path) for path in CLOSED)])
    lines = [line for line in out.splitlines() if ": error: " in line]
    return status, {path for path in CLOSED if any(line.startswith(str(place / path)) for line in lines)}


def test_a_gesture_in_the_type_alone_does_not_pass_the_type_check(tmp_path):
    """As they are, and then with a gesture added: the second check reads the library from its cache."""
    for path in (*CLOSED, "dsp/__init__.py", *(str(Path(p).parent / "__init__.py") for p in CLOSED)):
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / path, tmp_path / path)
    (tmp_path / "reports" / "__init__.py").touch()
    assert failing(tmp_path) == (0, set())
    table = tmp_path / CLOSED[0]
    table.write_text(table.read_text().replace('Literal["pluck", ', 'Literal["strum", "pluck", ', 1))
    assert failing(tmp_path) == (1, set(CLOSED))


def test_the_table_loads_nothing_heavy():
    heavy = "import sys, reports.messages.gestures; print({'numpy', 'pydantic', 'scipy'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", heavy], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
