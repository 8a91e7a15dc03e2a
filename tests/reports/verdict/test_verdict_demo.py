"""The demo job: its conflict, its report, and that a report changes nothing.

The truth is that of tests/demo/make_demo.py.
"""

from __future__ import annotations

import hashlib
import json
import shutil

import pytest
from judging_jobs import DEMO, JobOnDisk, called

from capture.takes.folder import JobFolder
from reports.messages.summary import headline
from reports.model.notes import BenchError, LostHeadline, OnPickups
from reports.render.exports import as_json
from reports.render.report import write_report
from reports.verdict.building import judge


def copied(home):
    shutil.copytree(DEMO, home, ignore=shutil.ignore_patterns("report"))
    return home


@pytest.fixture(scope="session")
def judged():
    return judge(JobFolder.open(DEMO))


def test_the_demo_names_the_meter_leads_on_neck(judged):
    verdict = judged.verdict
    (pair,) = verdict.pairs
    assert pair.phase == "out of phase"
    assert verdict.conflicts
    for conflict in verdict.conflicts:
        assert conflict.pair == ("bridge", "neck")
        first, *others = conflict.likely_cause.errors
        assert first == BenchError("meter leads", OnPickups(("neck",)))
        assert all("bridge" not in repr(other) for other in others)
        assert (conflict.next.error, conflict.next.take_back) == (first, ("m002", "m003"))
    by = {w.method: w.p_in_phase for w in pair.by}
    for conflict in verdict.conflicts:
        one, other = conflict.between
        assert "meter swing" in (one, other)
        assert (by[one] > 0.5) != (by[other] > 0.5)
    assert by["meter swing"] > 0.9
    assert by["paired pluck"] < 0.1
    assert by["lift"] < 0.1
    assert [t.id for t in verdict.takes if not t.used] == ["t004"]


def test_without_the_meter_there_is_no_conflict_and_the_answer_is_surer(judged, tmp_path):
    home = copied(tmp_path / "job")
    log = home / "bench.jsonl"
    kept = [x for x in log.read_text().splitlines() if json.loads(x)["kind"] != "meter"]
    log.write_text("\n".join(kept) + "\n")
    verdict = judge(JobFolder.open(home)).verdict
    assert verdict.conflicts == ()
    assert (verdict.pairs[0].phase, verdict.pairs[0].standing) == ("out of phase", "settled")
    assert verdict.pairs[0].p_in_phase < judged.verdict.pairs[0].p_in_phase


def test_without_its_recordings_nothing_is_said_of_phase_and_nothing_is_planned(tmp_path, capsys):
    home = copied(tmp_path / "job")
    (home / "takes").rename(home / "unplugged")
    verdict = judge(JobFolder.open(home)).verdict
    assert len(verdict.missing) == 14
    assert verdict.headline == LostHeadline(verdict.missing)
    assert "t001" in verdict.missing
    assert "phase" not in headline(verdict)
    assert verdict.wiring == verdict.proof == verdict.nearest == ()
    assert called("verdict", home) == 3
    assert "exchange hot" not in capsys.readouterr().out.lower()
    assert called("summary", home) == 2
    assert "FAILED" in capsys.readouterr().out


def test_one_changed_recording_stops_the_plan(judged, tmp_path):
    home = copied(tmp_path / "job")
    (home / "takes" / "t002.flac").write_bytes((home / "takes" / "t003.flac").read_bytes())
    verdict = judge(JobFolder.open(home)).verdict
    assert verdict.missing == ("t002",)
    assert verdict.wiring == ()
    assert judged.verdict.missing == ()


def hashes(home):
    files = [p for p in sorted(home.rglob("*")) if p.is_file() and "report" not in p.parts]
    return {str(p.relative_to(home)): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def test_report_writes_three_files_and_changes_nothing_else(judged, tmp_path, capsys):
    home = copied(tmp_path / "job")
    before = hashes(home)
    assert called("report", home) == 3
    assert sorted(p.name for p in (home / "report").iterdir()) == [
        "report-found.html",
        "report-found.txt",
        "verdict-found.json",
    ]
    assert hashes(home) == before
    capsys.readouterr()
    assert called("verdict", home, "--json") == 3
    said = json.loads(capsys.readouterr().out)
    assert json.loads((home / "report" / "verdict-found.json").read_text()) == said
    assert said["pairs"] == json.loads(as_json(judged.verdict))["pairs"]
    assert "neck" in (home / "report" / "report-found.html").read_text()
    assert "OUT OF PHASE" in (home / "report" / "report-found.txt").read_text().upper()


def test_writing_the_report_twice_gives_the_same_text_and_no_leftovers(judged, tmp_path):
    write_report(judged, tmp_path / "report")
    first = (tmp_path / "report" / "report-found.txt").read_text()
    page = write_report(judged, tmp_path / "report")
    assert page.name == "report-found.html"
    assert (tmp_path / "report" / "report-found.txt").read_text() == first
    assert len(list((tmp_path / "report").iterdir())) == 3


def test_a_pickup_with_a_script_for_a_name_is_escaped(opposed, tmp_path):
    evil = "<script>alert(1)</script>"
    job = JobOnDisk(tmp_path / "job", opposed.toml.replace('"neck"', f'"{evil}"').replace("Test bench", evil))
    job.take(opposed.paired[0], ["bridge", evil], string="D3")
    page = write_report(judge(JobFolder.open(job.home)), tmp_path / "report").read_text()
    assert evil not in page
    assert "<script" not in page.lower()
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
