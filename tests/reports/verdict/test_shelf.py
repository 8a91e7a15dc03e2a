"""The bench's reference coil: two jobs compare through it, a row of pickups is sorted, a doubt stays."""

import json

import numpy as np
import pytest
from judging_jobs import JobOnDisk, called, recorded

from capture import JobError, LogError
from capture.job import parse_job
from capture.takes.folder import JobFolder
from reports.evidence.shelf import MOST_DAYS, shelf_doubt
from reports.render.exports import as_json
from reports.render.labels import labels_page, labels_text
from reports.verdict.shelf import batch_of

COIL = '[[pickup]]\nname = "coil"\nshelf = "coil A"\n'
LOOSE = '[[pickup]]\nname = "{0}"\nfitted = false\nhot = "violet"\nground = "grey"\nshield = "own lead"\n'
MONDAY = f"format = 1\ntitle = 'Monday'\n{COIL}{LOOSE.format('neck')}"
THURSDAY = (
    f"format = 1\ntitle = 'Thursday'\n[[pickup]]\nname = 'bridge'\n{COIL}{LOOSE.format('neck')}"
    "[[setting]]\nname = 'both'\non = ['bridge', 'neck']\n"
)
ROD = {"gesture": "lift", "tool": "steel rod", "rig": "box"}


def lifts(job, name, of, *, sign=1, day="2026-11-23", **said):
    """Three lifts; ``of``: which of two with one sign; each with noise of its own, so that none is a copy."""
    by_turns = recorded(in_phase=True).in_turn["lift"]
    for take in range(3):
        audio = by_turns[of + 2 * (take % 2)][1]
        noise = 2e-6 * np.random.default_rng([of, take, job.entries]).standard_normal(audio.shape)
        job.take(sign * audio + noise, [name], at=f"{day}T10:00:00Z", **{**ROD, **said})


def sure_tool(job):
    job.log("check", what="tool", tool="steel rod", staple="not lifted")
    job.log("check", what="clip lead", tip="red", kohm=0.0)


def monday(home, *, sign):
    job = JobOnDisk(home, MONDAY)
    lifts(job, "coil", 0)
    lifts(job, "neck", 1, sign=sign)
    job.log("tag", pickup="neck", take=f"t{job.entries:03d}")
    sure_tool(job)
    return job


def thursday(home, *, sign):
    job = JobOnDisk(home, THURSDAY.replace('"violet"', '"tagged"').replace('"grey"', '"other"'))
    lifts(job, "coil", 1, day="2026-11-26")
    lifts(job, "bridge", 0, sign=sign, day="2026-11-26")
    sure_tool(job)
    return job


def pair_of(verdict, *names):
    return next(p for p in verdict["pairs"] if {p["a"], p["b"]} == set(names))


@pytest.mark.parametrize(("first", "second"), [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_mondays_pickup_and_thursdays_guitar_compare_and_a_negated_one_flips(tmp_path, capsys, first, second):
    before, after = monday(tmp_path / "m", sign=first), thursday(tmp_path / "t", sign=second)
    assert pair_of(json.loads(as_json(after.verdict)), "bridge", "neck")["p_in_phase"] is None
    assert called(*["shelf", str(after.home), "neck", "--from", str(before.home)]) == 0
    capsys.readouterr()
    line = json.loads((after.home / "bench.jsonl").read_text().splitlines()[-1])
    assert (line["what"], line["hot"], line["ground"]) == ("shelf", "tagged", "other")
    assert line["opposed"] == (first < 0)
    verdict = json.loads(as_json(after.verdict))
    pair = pair_of(verdict, "bridge", "neck")
    assert pair["phase"] == ("in phase" if first * second > 0 else "out of phase")
    assert pair["standing"] == "settled"
    assert "reference coil" in [b["method"] for b in pair_of(verdict, "coil", "neck")["by"]]
    assert any("coil A" in w for w in verdict["warnings"])
    rows = {row["pickup"]: row for row in verdict["wiring"]}
    assert not rows["coil"]["exchange"] and rows["neck"]["exchange"] == (first * second < 0)


def test_what_is_too_old_or_of_other_leads_says_nothing(tmp_path):
    assert shelf_doubt(0, brought=1e-4) < shelf_doubt(100, brought=1e-4) < 0.01
    assert shelf_doubt(3, brought=1e-4, other=("tool",)) > shelf_doubt(3, brought=1e-4) + 5e-4
    assert shelf_doubt(MOST_DAYS + 1, brought=1e-4) is None
    job = thursday(tmp_path / "t", sign=1)
    said = {"what": "shelf", "pickup": "neck", "shelf": "coil A", "opposed": False, "doubt": 1e-3}
    old = {**said, "seen": "2025-01-01", "at": "2026-11-26T10:00:00Z", "hot": "tagged", "ground": "other"}
    job.log("check", **old)
    verdict = json.loads(as_json(job.verdict))
    assert pair_of(verdict, "bridge", "neck")["p_in_phase"] is None
    assert any("too old" in w for w in verdict["warnings"])
    job.log("check", **{**old, "seen": "2026-11-26", "hot": "red"})
    with pytest.raises(LogError, match='"red" or "other"'):
        JobFolder.open(job.home)


def test_a_row_is_sorted_and_what_does_not_fit_is_said(tmp_path, capsys):
    names = ("01", "02", "03", "04")
    job = JobOnDisk(tmp_path / "row", f"format = 1\n{COIL}{''.join(LOOSE.format(n) for n in names)}")
    lifts(job, "coil", 0)
    for name, sign in zip(names, (1, 1, -1, 1), strict=True):
        lifts(job, name, 1, sign=sign * (0.2 if name == "04" else 1.0))
        job.log("ohms", pickup=name, between=["violet", "grey"], kohm=5.0 if name == "02" else 7.1)
    sure_tool(job)
    batch = batch_of(JobFolder.open(job.home))
    assert [r.phase for r in batch.rows] == ["in phase", "in phase", "out of phase", "in phase"]
    assert all(r.standing == "likely" for r in batch.rows)  # clips on loose leads, and no tag
    codes = {r.pickup: [m.code for m in r.misfits] for r in batch.rows}
    assert codes == {"01": [], "02": ["resistance"], "03": ["opposed to the row"], "04": ["weak"]}
    text, page = labels_text(batch), labels_page(batch)
    assert "tried with a staple" in text and "not tried" not in text
    assert "OPPOSES coil A" in text and "OPPOSES coil A" in page and "fits the row" in page
    assert called(*["batch", str(job.home)]) == 0
    assert "labels.html" in capsys.readouterr().out


def test_a_row_is_begun_and_only_what_is_missing_is_asked_for(tmp_path, capsys, monkeypatch):
    from reports.session.rows import row_steps

    monkeypatch.chdir(tmp_path)
    begun = ["batch", "row", "--count", "2", "--shelf", "coil A", "--hot", "white", "--ground", "black"]
    assert called(*begun) == 0
    capsys.readouterr()
    steps = row_steps(JobFolder.open(tmp_path / "row"), tool="steel rod")
    assert [s.inputs[0] for s in steps] == ["coil"] * 3 + ["01"] * 3 + ["02"] * 3 + ["coil"]
    assert called(*["batch", "row"]) == 3
    assert "NOT TOLD" in capsys.readouterr().out


def test_a_session_lifts_the_coil_and_plucks_it_never():
    from reports.session.choosing import wanted_of
    from reports.session.rounds import rounds

    offered = [step for one in rounds(parse_job(THURSDAY), inputs=2) for step in one.steps]
    with_coil = [step for step in offered if "coil" in step.pickups]
    assert {s.gesture for s in with_coil} == {"lift"} and {"pluck"} < {s.gesture for s in offered}
    assert wanted_of(parse_job(MONDAY)).pairs == (("coil", "neck"),)
    with pytest.raises(JobError, match="no selector"):
        parse_job(THURSDAY.replace("['bridge', 'neck']", "['bridge', 'coil']"))


def test_one_tool_that_was_not_tried_settles_nothing_in_a_row(tmp_path):
    job = JobOnDisk(tmp_path / "row", MONDAY)
    lifts(job, "coil", 0)
    lifts(job, "neck", 1)
    job.log("tag", pickup="neck", take=f"t{job.entries:03d}")
    job.log("check", what="clip lead", tip="red", kohm=0.0)
    batch = batch_of(JobFolder.open(job.home))
    assert batch.rows[0].standing == "likely" and "not tried with a staple" in labels_text(batch)
