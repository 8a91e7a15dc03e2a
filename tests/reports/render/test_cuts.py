"""``coilwise bring`` as a person calls it, its order as it is spelt, and its picture."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import soundfile as sf
import typer
from svg_parts import described, parts, place, text_place, texts

from capture import LogError
from capture.job import Job, read_job
from capture.log import LeadsInput, TakeFields
from capture.takes.imported import PlayedItem
from dsp.live.onset_stream import Envelope
from reports.cli import register
from reports.cli.shared import run_plainly
from reports.entry.spelling import order_from
from reports.render.cuts import MOST_MARKS, Mark, Strip, bring_figure

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


ALIKE = TakeFields("pluck", ())


def item(inputs, count, string=None, fret=0):
    return PlayedItem(TakeFields("pluck", inputs, string, fret), count)


SPELT = [
    ("neck 5", [item(("neck",), 5)]),
    ("neck 5, both 5,bridge 5", [item((n,), 5) for n in ("neck", "both", "bridge")]),
    ("neck D3 5", [item(("neck",), 5, "D3")]),
    ("neck D3/5 2", [item(("neck",), 2, "D3", 5)]),
    ("position 2 3", [item(("position 2",), 3)]),
    ("position 2 A2 3", [item(("position 2",), 3, "A2")]),
    ("bridge|neck 5", [item(("bridge", "neck"), 5)]),
    ("neck|nothing G3 1", [item(("neck", None), 1, "G3")]),
    ("neck | position 2 1", [item(("neck", "position 2"), 1)]),
    ("bridge>both>neck A2 3", [item((("bridge", "both", "neck"),), 3, "A2")]),
    ("neck:violet/grey 1", [item((LeadsInput(pickup="neck", hot="violet", ground="grey"),), 1)]),
]


@pytest.mark.parametrize(("text", "played"), SPELT)
def test_an_order_as_it_is_spelt(job: Job, text, played):
    assert list(order_from(text, job, ALIKE)) == played


def test_string_and_fret_for_items_that_do_not_say(job: Job):
    assert order_from("neck 1, both E2 2, neck E2/3 1", job, replace(ALIKE, string="D3", fret=7)) == (
        item(("neck",), 1, "D3", 7),
        item(("both",), 2, "E2", 0),
        item(("neck",), 1, "E2", 3),
    )


MISSPELT = [
    ("", "an empty item"),
    ("neck 5,,both 5", "an empty item"),
    ("neck", 'order item "neck": does not say how many'),
    ("neck five", "does not say how many"),
    ("neck -1", "does not say how many"),
    ("5", "does not say how many"),
    ("neck 0", "0 in a row cannot be"),
    ("neck 99999999999999999999", "in a row cannot be"),
    ("neck D3/x 5", '"D3/x" is no string and fret'),
    ("neck:violet 5", "spell leads as"),
]


@pytest.mark.parametrize(("text", "words"), MISSPELT)
def test_an_order_that_is_not_understood(job: Job, text, words):
    with pytest.raises(LogError, match=words):
        order_from(text, job, ALIKE)


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


def strip(*marks: Mark, seconds: float = 20.0, name: str = "long.wav") -> Strip:
    peaks = np.full((int(seconds / 0.02), 2), 1e-3, dtype=np.float32)
    return Strip(name, seconds, Envelope(0.02, peaks), marks)


TAKEN = Mark(1, 2.0, (1.5, 4.0), "neck, D3")
LEFT = Mark(2, 5.0, None, "left out")
LAST = Mark(3, 8.0, (7.5, 12.0), "both, D3")


def test_the_picture_tells_takes_from_the_rest_without_colour():
    svg = bring_figure((strip(TAKEN, LEFT, LAST),))
    found = parts(svg)
    assert {"cuts-onset-1", "cuts-onset-3", "cuts-no-take-2", "cuts-take-1", "cuts-take-3"} <= set(found)
    assert not {"cuts-onset-2", "cuts-no-take-1", "cuts-take-2"} & set(found)
    assert [t for t in texts(svg) if t[:2] in ("1 ", "2 ", "3 ")] == [
        "1 neck, D3",
        "2 left out",
        "3 both, D3",
    ]
    title, told = described(svg)
    assert title == "long.wav: where it is cut"
    assert told == "1 neck, D3 at 2.00 s; 3 both, D3 at 8.00 s; 1 onsets that are no takes."
    assert place(svg, "cuts-onset-1")[0] < place(svg, "cuts-no-take-2")[0] < place(svg, "cuts-onset-3")[0]


def test_onsets_stand_where_they_are_in_time():
    """Halfway between two others in time is halfway on paper."""
    svg = bring_figure((strip(TAKEN, LEFT, LAST),))
    first, middle, last = (place(svg, f"cuts-{n}")[0] for n in ("onset-1", "no-take-2", "onset-3"))
    assert middle - first == pytest.approx((last - first) / 2, abs=0.5)


def test_many_onsets_take_several_rows_and_no_name_leaves_the_page():
    marks = [Mark(n, 3.0 * n, (3.0 * n - 0.5, 3.0 * n + 2), "a very long setting, D3") for n in range(1, 26)]
    svg = bring_figure((strip(*marks, seconds=90.0),))
    assert sum("envelope" in name for name in parts(svg)) == -(-25 // MOST_MARKS)
    width = float(ElementTree.fromstring(svg).attrib["viewBox"].split()[2])
    for mark in marks:
        x, _ = text_place(svg, f"{mark.number} a very long setting, D3")
        assert 0 <= x < width - 80


def test_an_empty_hour_between_two_onsets_is_not_drawn():
    svg = bring_figure((strip(TAKEN, Mark(2, 3500.0, (3499.5, 3504.0), "both"), seconds=3600.0),))
    assert sum("envelope" in name for name in parts(svg)) == 2
    assert bring_figure((strip(TAKEN),)) == bring_figure((strip(TAKEN),))


def test_names_that_could_break_the_page_do_not():
    svg = bring_figure((strip(Mark(1, 2.0, (1.5, 4.0), "<b>$x$ & \x1b[1m"), name="<script>.wav"),))
    assert "<script>" not in svg
    assert any("<b>$x$ &" in text for text in texts(svg))
