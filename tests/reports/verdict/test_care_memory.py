"""Care that a machine learns from jobs it checked: only where the person agreed, never more than they say."""

from __future__ import annotations

import json
import stat

import pytest
from judging_jobs import LEADS, JobOnDisk, called

from capture.takes.folder import JobFolder
from reports.inference.error_priors import usual_care
from reports.page.server.controller import PageController
from reports.render.exports import summary_row
from reports.session.options import RecordingOptions
from reports.verdict.building import judge
from reports.verdict.care_memory import (
    LEAST,
    MOST_JOBS,
    NONE_REMEMBERED,
    CareMemory,
    JobCare,
    RememberedCare,
    at_least,
    care_of_job,
)

RISES, FALLS = (("bridge", "rises"), ("neck", "rises")), (("bridge", "rises"), ("neck", "falls"))
EXCHANGED = {"grey": "hot", "violet": "ground"}


def job_at(home, *, misread=0, after=RISES, number=1):
    """Out of phase as found, exchanged, and metered after the work: two readings a side, some misread."""
    job = JobOnDisk(home, LEADS)
    for k in range(2):
        for name, reading in FALLS:
            job.meter(name, reading, tool="rod", at=f"2026-11-2{k}T10:{number:02d}:00Z")
    for _ in range(misread):
        job.meter("neck", "rises", tool="rod")
    job.log("change", pickup="neck", leads=EXCHANGED)
    for name, reading in after * 2 + (FALLS if misread > 1 else ()):
        job.meter(name, reading, stage="after", tool="rod")
    return job


def judged(job, **given):
    return judge(JobFolder.open(job.home), **given)


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Where this test's machine would remember; nobody has agreed yet."""
    monkeypatch.setenv("COILWISE_CARE", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    """What a job that agrees with itself says of care, and what one says that contradicts itself."""
    places = tmp_path_factory.mktemp("said")
    jobs = (job_at(places / "clean"), job_at(places / "contradicts", misread=2))
    return [care_of_job("0" * 16, judged(job).posterior) for job in jobs]


def many(one, count):
    return RememberedCare(tuple(one.model_copy(update={"job": f"{k:016x}"}) for k in range(count)))


def in_phase(job, remembered):
    return judged(job, care=remembered.known).verdict.pairs[0].p_in_phase


def test_jobs_without_contradiction_make_careless_rarer_and_a_borderline_pair_surer(said, tmp_path):
    clean, contradicts = said
    assert clean.careless < 0 < contradicts.careless
    assert contradicts.careful < 0 < clean.careful
    job = job_at(tmp_path / "job")
    p = [in_phase(job, r) for r in (many(contradicts, 5), NONE_REMEMBERED, many(clean, 5))]
    assert p == sorted(p)
    assert p[0] < p[1] - 0.005
    assert p[2] > p[1] + 0.001
    assert many(clean, 5).known.prior["careless"] < 0.1 < many(contradicts, 5).known.prior["careless"]


def test_the_likelihoods_of_jobs_multiply(said):
    """By hand: prior times the likelihood of each, over their sum."""
    clean, contradicts = said
    both = RememberedCare((clean, contradicts.model_copy(update={"job": "1" * 16})))
    weights = {"careful": 0.2, "usual": 0.7, "careless": 0.1}
    for one in said:
        weights = {c: w * 2.718281828459045 ** one.log_likelihood[c] for c, w in weights.items()}
    for level, weight in weights.items():
        assert both.learned[level] == pytest.approx(weight / sum(weights.values()))


@pytest.mark.parametrize("which", [0, 1])
def test_nobody_is_ever_certain(said, which):
    known = many(said[which], MOST_JOBS).known
    assert min(known.prior.values()) == pytest.approx(LEAST)
    assert sum(known.prior.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("p", "floored"),
    [
        ((0.2, 0.7, 0.1), (0.2, 0.7, 0.1)),
        ((0.98, 0.0195, 0.0005), (0.96, 0.02, 0.02)),
        ((0.9795, 0.0204, 0.0001), (0.96, 0.02, 0.02)),
        ((0.0, 0.5, 0.5), (0.02, 0.49, 0.49)),
    ],
)
def test_what_is_raised_the_others_give(p, floored):
    levels = ("careful", "usual", "careless")
    got = at_least(dict(zip(levels, p, strict=True)), 0.02)
    assert tuple(got[c] for c in levels) == pytest.approx(floored)


def test_without_consent_nothing_is_written(place, tmp_path, capsys):
    job = job_at(tmp_path / "job")
    called("verdict", job.home)
    called("report", job.home)
    called("care")
    said = capsys.readouterr()
    assert not place.exists()
    assert "Nothing is remembered" in said.out
    assert said.err == ""


def test_a_job_counts_once_and_never_for_itself(place, tmp_path, capsys):
    called("care", "--remember")
    job = job_at(tmp_path / "job")
    first = judged(job).verdict
    for _ in range(2):
        called("verdict", job.home, "--json")
    out = capsys.readouterr().out
    assert json.loads(out[out.rindex('{\n  "format"') :])["care"] == {
        "careful": first.care.careful,
        "usual": first.care.usual,
        "careless": first.care.careless,
        "from_jobs": 0,
    }
    kept = CareMemory.default().read()
    assert [j.careless for j in kept.jobs] == [
        pytest.approx(care_of_job("0" * 16, judged(job).posterior).careless)
    ]
    job.home.rename(tmp_path / "moved")
    called("report", tmp_path / "moved", "--to", tmp_path / "report")
    assert len(CareMemory.default().read().jobs) == 1
    other = job_at(tmp_path / "other", number=2)
    capsys.readouterr()
    called("verdict", other.home, "--all")
    assert "known from 1 job checked after soldering on this machine" in " ".join(
        capsys.readouterr().out.split()
    )
    assert len(CareMemory.default().read().jobs) == 2
    called("care")
    assert "from 2 jobs checked after soldering" in capsys.readouterr().out


def test_the_file_says_nothing_of_the_job(place, tmp_path):
    called("care", "--remember")
    called("verdict", job_at(tmp_path / "somebody's guitar").home)
    (file,) = place.iterdir()
    told = json.loads(file.read_text())
    assert told["format"] == 1
    assert [set(line) for line in told["jobs"]] == [{"job", "careful", "careless"}]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_what_was_not_checked_after_the_work_says_nothing(place, tmp_path):
    called("care", "--remember")
    promised = job_at(tmp_path / "promised", after=())
    called("verdict", promised.home)
    assert CareMemory.default().read() == NONE_REMEMBERED


def test_a_job_that_did_not_come_out_counts_too(place, tmp_path):
    """Else only jobs without contradiction counted, and every bench looked careful."""
    called("care", "--remember")
    wrong = job_at(tmp_path / "wrong", after=FALLS)
    assert wrong.verdict.came_out.code == "not as planned"
    called("verdict", wrong.home)
    (job,) = CareMemory.default().read().jobs
    assert job.careless > 0 > job.careful


def test_a_job_that_contradicts_itself_later_says_so(place, tmp_path):
    called("care", "--remember")
    job = job_at(tmp_path / "job")
    called("verdict", job.home)
    (before,) = CareMemory.default().read().jobs
    for _ in range(2):
        job.meter("neck", "falls", stage="after", tool="rod")
    assert job.verdict.came_out.code != "as planned"
    called("verdict", job.home)
    (now,) = CareMemory.default().read().jobs
    assert now.job == before.job
    assert now.careless > 0 > before.careless


def test_the_newest_jobs_count():
    care = NONE_REMEMBERED
    for k in range(MOST_JOBS + 3):
        care = care.with_job(JobCare(job=f"{k:016x}", careful=0.1, careless=-1.0))
    assert [int(j.job, 16) for j in care.jobs] == list(range(3, MOST_JOBS + 3))
    again = care.with_job(JobCare(job=f"{5:016x}", careful=-0.5, careless=2.0))
    assert [j.job for j in again.jobs] == [j.job for j in care.jobs]
    assert sum(j.careless > 0 for j in again.jobs) == 1


def test_forgetting_removes_the_file_and_the_consent(place, tmp_path, capsys):
    called("care", "--remember")
    job = job_at(tmp_path / "job")
    called("verdict", job.home)
    called("care", "--forget")
    assert list(place.iterdir()) == []
    called("verdict", job.home)
    assert list(place.iterdir()) == []
    assert called("care", "--forget") == 0
    assert "Nothing was remembered" in capsys.readouterr().out
    assert called("care", "--remember", "--forget") == 2


BROKEN = {
    "no json": "{",
    "no object": "[]",
    "newer": '{"format": 2, "jobs": []}',
    "no version": '{"jobs": []}',
    "unknown key": '{"format": 1, "jobs": [], "title": "x"}',
    "not finite": '{"format": 1, "jobs": [{"job": "0123456789abcdef", "careful": 0.0, "careless": NaN}]}',
    "too sure": '{"format": 1, "jobs": [{"job": "0123456789abcdef", "careful": 0.0, "careless": -1e9}]}',
    "no number": '{"format": 1, "jobs": [{"job": "0123456789abcdef", "careful": 0.0, "careless": "1"}]}',
    "no bytes of text": b"\xff\xfe",
}


@pytest.mark.parametrize("text", [pytest.param(t, id=k) for k, t in BROKEN.items()])
def test_a_file_that_is_not_ours_is_complained_of_in_one_line_and_not_used(place, tmp_path, capsys, text):
    place.mkdir()
    raw = text if isinstance(text, bytes) else text.encode()
    (place / "care.json").write_bytes(raw)
    job = JobOnDisk(tmp_path / "job", LEADS)
    for name, reading in RISES:
        job.meter(name, reading)
    called("verdict", job.home, "--json")
    said = capsys.readouterr()
    assert json.loads(said.out)["care"]["from_jobs"] == 0
    assert said.err.count("\n") == 1
    assert "care.json" in said.err
    assert ("newer coilwise" in said.err) == ("2," in str(text))
    assert called("care") == called("care", "--remember") == 2
    assert (place / "care.json").read_bytes() == raw
    called("care", "--forget")
    assert not (place / "care.json").exists()


def test_a_folder_that_cannot_be_written_is_one_line(place, tmp_path, capsys):
    place.write_text("a file where the folder would be")
    assert called("care", "--remember") == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_switched_off_nothing_is_remembered(monkeypatch, capsys):
    monkeypatch.setenv("COILWISE_CARE", "off")
    assert called("care", "--remember") == 2
    assert "COILWISE_CARE" in capsys.readouterr().err


def test_the_archive_and_the_page_begin_with_what_is_remembered(place, tmp_path, said):
    place.mkdir()
    lines = [j.model_dump() for j in many(said[0], 5).jobs]
    (place / "care.json").write_text(json.dumps({"format": 1, "jobs": lines}))
    home = job_at(tmp_path / "job").home
    row = summary_row(home, remembered=CareMemory.default().read())
    page = PageController(home, options=RecordingOptions(), jobs_folder=tmp_path).judge().verdict
    assert row.verdict.care == page.care
    assert page.care.from_jobs == 5
    assert json.loads((place / "care.json").read_text())["jobs"] == lines


def test_judging_looks_nothing_up(place, tmp_path, said):
    """Whatever the machine remembers, a verdict begins with the usual care unless it is given another."""
    place.mkdir()
    lines = [j.model_dump() for j in many(said[1], 5).jobs]
    (place / "care.json").write_text(json.dumps({"format": 1, "jobs": lines}))
    job = job_at(tmp_path / "job")
    assert CareMemory.default().read().known.prior["careless"] > usual_care()["careless"]
    assert judged(job).posterior.care_prior == usual_care()
    assert judged(job).verdict.care.from_jobs == 0
