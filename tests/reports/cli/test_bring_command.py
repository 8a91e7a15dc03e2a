"""``coilwise bring`` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
import typer
from svg_parts import described, parts

from capture.job import Job, read_job
from reports.cli import register
from reports.cli.shared import run_plainly

JOB = """\
format = 1
title = "Sunday"
strings = ["E2", "A2", "D3", "G3", "B3", "E4"]

[[pickup]]
name = "bridge"

[[pickup]]
name = "neck"
fitted = false
hot = "violet"
ground = "grey"

[[setting]]
name = "both"
on = ["bridge", "neck"]

[[setting]]
name = "position 2"
on = ["bridge", "neck"]
"""
RATE = 16_000
TIMES = (1.0, 3.0, 5.0, 7.0)


@pytest.fixture
def folder(begun) -> Path:
    return begun(JOB)


@pytest.fixture
def job(folder: Path) -> Job:
    return read_job(folder)


@pytest.fixture
def long(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    x = 3e-5 * rng.standard_normal(9 * RATE)
    for at in TIMES:
        t = np.arange(len(x) - int(at * RATE)) / RATE
        tone = sum(np.sin(2 * np.pi * 147 * n * t + n) / n for n in range(1, 9))
        x[int(at * RATE) :] += 0.15 * np.exp(-3.5 * t) * tone
    sf.write(tmp_path / "long.wav", x, RATE, subtype="PCM_24")
    return tmp_path / "long.wav"


@pytest.fixture
def call(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "140")
    app = typer.Typer(add_completion=False)
    register(app)

    def run(*words: object) -> tuple[int, str, str]:
        status = run_plainly(app, [str(word) for word in words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def log(folder: Path) -> list[dict[str, object]]:
    path = folder / "bench.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def test_a_dry_run_shows_and_changes_nothing(folder: Path, long: Path, tmp_path: Path, call):
    picture = tmp_path / "cuts.svg"
    before = sorted(folder.rglob("*"))
    order = ("--order", "neck 2, both E2 1, bridge 1", "--gesture", "pluck", "--string", "D3")
    status, out, err = call("bring", folder, long, *order, "--dry-run", "--picture", picture)
    assert (status, err) == (0, "")
    rows = [line.split(maxsplit=5) for line in out.splitlines() if "long.wav" in line]
    assert [(row[0], row[5].strip()) for row in rows] == [
        ("1", "neck, D3"),
        ("2", "neck, D3"),
        ("3", "both, E2"),
        ("4", "bridge, D3"),
    ]
    assert [float(row[2]) for row in rows] == pytest.approx(TIMES, abs=0.02)
    assert rows[0][4] == "0.50-2.50"
    assert "nothing was written down" in out
    assert sorted(folder.rglob("*")) == before
    assert "bridge, D3" in described(picture.read_text(encoding="utf-8"))[1]


def test_the_takes_are_in_and_told(folder: Path, long: Path, call):
    words = ("bring", folder, long, "--order", "neck 2, both 2", "--gesture", "pluck")
    status, out, _ = call(*words, "--stage", "after", "--rig", "box")
    assert status == 0
    assert "t001: neck, long.wav 0.50-2.50 s." in out
    assert [(e["id"], e["inputs"], e["stage"], e["rig"]) for e in log(folder)] == [
        ("t001", ["neck"], "after", "box"),
        ("t002", ["neck"], "after", "box"),
        ("t003", ["both"], "after", "box"),
        ("t004", ["both"], "after", "box"),
    ]
    status, out, _ = call(*words, "--stage", "after", "--rig", "box")
    assert "t004: was in already" in out
    assert len(log(folder)) == 4
    status, out, _ = call("list", folder)
    assert "Warning" not in out


def test_a_count_that_does_not_fit_lists_the_onsets(folder: Path, long: Path, tmp_path: Path, call):
    picture = tmp_path / "cuts.svg"
    order = ("--order", "neck 2, both 1", "--gesture", "pluck", "--picture", picture)
    status, out, err = call("bring", folder, long, *order)
    assert status == 2
    assert err.count("\n") == 1
    assert "4 onsets found, and the order has 3 takes" in err
    rows = [line.split(maxsplit=5) for line in out.splitlines() if "long.wav" in line]
    assert [float(row[2]) for row in rows] == pytest.approx(TIMES, abs=0.02)
    assert {row[3] for row in rows} <= {str(level) for level in range(-40, 0)}
    assert "onset-1" not in parts(picture.read_text(encoding="utf-8"))
    assert log(folder) == []
    status, _, err = call("bring", folder, long, *order, "--leave-out", "2")
    assert (status, "nothing is written over" in err) == (2, True)
    picture.unlink()
    status, out, _ = call("bring", folder, long, *order, "--leave-out", "2")
    assert status == 0
    assert [e["inputs"] for e in log(folder)] == [["neck"], ["neck"], ["both"]]
    assert "left out" in out


REFUSED = [
    (("--order", "nekc 4", "--gesture", "pluck"), 'no setting or pickup "nekc"; did you mean "neck"?'),
    (("--order", "neck 4", "--gesture", "hum"), "a hum take has no onset"),
    (("--order", "neck 4", "--gesture", "pluck", "--leave-out", "two"), '"two" is no number of an onset'),
    (("--order", "neck 4", "--gesture", "pluck", "--picture", "x.png"), "ends in .svg"),
    (("--order", "neck|nothing 4", "--gesture", "pluck"), "has 1 channel, and an item of the order names 2"),
]


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_refused_in_one_line(folder: Path, long: Path, call, words, said):
    status, out, err = call("bring", folder, long, *words)
    assert (status, out) == (2, "")
    assert err.startswith("coilwise: ")
    assert err.count("\n") == 1
    assert said in err
    assert log(folder) == []


def test_a_file_is_what_its_name_or_a_note_says_and_that_is_shown_first(folder: Path, long: Path, call):
    beside = long.parent
    for name in ("neck_D3_1.wav", "position 2 D3 pluck.wav", "third.wav"):
        (beside / name).write_bytes(long.read_bytes() + name.encode())
    files = [beside / "neck_D3_1.wav", beside / "position 2 D3 pluck.wav", beside / "third.wav"]
    status, _, err = call("bring", folder, *files, "--gesture", "pluck")
    assert (status, "third.wav: has 1 channel" in err) == (2, True)
    notes = beside / "notes.txt"
    notes.write_text("# of sunday\nthird.wav: both A2 fret 5, hum after\n", encoding="utf-8")
    words = ("bring", folder, *files, "--gesture", "pluck", "--notes", notes)
    status, out, _ = call(*words)
    assert status == 0
    assert "Nothing was written down" in out
    assert log(folder) == []
    status, out, _ = call(*words, "--yes")
    assert [
        (e["gesture"], e["inputs"], e.get("string"), e.get("fret", 0), e["stage"]) for e in log(folder)
    ] == [
        ("pluck", ["neck"], "D3", 0, "found"),
        ("pluck", ["position 2"], "D3", 0, "found"),
        ("hum", ["both"], "A2", 5, "after"),
    ]
    assert "t001" in out and ("accepted" in out or "does NOT count" in out)


def test_hum_is_brought_as_one_file_for_each_setting(folder: Path, long: Path, call):
    status, _, err = call("bring", folder, long, "--order", "neck 1, both 1", "--gesture", "hum")
    assert (status, "one file for each" in err) == (2, True)
    assert call("bring", folder, long, "--order", "neck 1", "--gesture", "hum")[0] == 0
    assert [e["gesture"] for e in log(folder)] == ["hum"]


def test_a_sweep_is_kept_whole_though_the_selector_clicks(folder: Path, long: Path, job: Job):
    """By construction: onsets on a string that rings on end no take; the next string does."""
    from capture.takes.imported import Cut, cut_takes, find_onsets, number_onsets
    from reports.entry.spelling import order_from, take_fields

    played = order_from("neck,both E2 1, neck>both E2 1", job, take_fields("switch"))
    assert {item.take.inputs for item in played} == {(("neck", "both"),)}
    heard = find_onsets([long], played, gesture="switch")
    onsets = number_onsets(heard, gesture="switch")
    wanted = [o.number for o in onsets][1::2]
    listed = number_onsets(heard, gesture="switch", left_out=wanted)
    cuts: tuple[Cut, ...] = cut_takes(listed, heard, played, gesture="switch")
    assert [round((c.stop - c.start) / RATE, 1) for c in cuts] == [4.0, 4.5]
