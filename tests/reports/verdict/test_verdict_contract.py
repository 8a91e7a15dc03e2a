"""The verdict as JSON (sources R11), exit statuses, and one plain line where something is refused."""

from __future__ import annotations

import json

import pytest
from judging_jobs import LEADS, PLAIN, JobOnDisk, called, paired_job, run

from capture.takes.folder import JobFolder
from reports.render.exports import as_json
from reports.verdict.building import judge

TOP = {
    "format": int, "title": str, "stage": str, "reference": str, "pairs": list, "settings": list,
    "conflicts": list, "wiring": list, "takes": list,
}  # fmt: skip
PAIR = {
    "a": str, "b": str, "p_in_phase": (float, type(None)), "phase": (str, type(None)), "standing": str,
    "p_hum_cancels": (float, type(None)), "by": list,
}  # fmt: skip
SETTING = {"name": str, "sounds": str, "p_full": (float, type(None)), "hum": str}
CONFLICT = {"between": list, "pair": list, "likely_cause": str, "next": str}
WIRING = {
    "pickup": str, "exchange": (bool, type(None)), "turn_magnet": bool, "leads": dict, "why": str,
    "warnings": list,
}  # fmt: skip
TAKE = {"id": str, "used": bool, "faults": list}
SHAPES = {"pairs": PAIR, "settings": SETTING, "conflicts": CONFLICT, "wiring": WIRING, "takes": TAKE}


def printed(home):
    return json.loads(as_json(judge(JobFolder.open(home)).verdict))


def fits(found, shape):
    for key, kind in shape.items():
        assert isinstance(found[key], kind), (key, found[key])


def conform(found):
    """Every key of the contract is there, of its type, and nothing contradicts itself."""
    fits(found, TOP)
    assert found["format"] == 1
    assert found["stage"] in ("found", "after")
    for name, shape in SHAPES.items():
        for item in found[name]:
            fits(item, shape)
    for pair in found["pairs"]:
        sure = 0.5 if pair["p_in_phase"] is None else max(pair["p_in_phase"], 1 - pair["p_in_phase"])
        standing = "settled" if sure >= 0.99 else "likely" if sure >= 0.90 else "unsettled"
        assert pair["standing"] == standing
        assert (pair["phase"] is None) == (standing == "unsettled")
        if pair["phase"] is not None:
            assert pair["phase"] == ("in phase" if pair["p_in_phase"] > 0.5 else "out of phase")
        for word in pair["by"]:
            assert isinstance(word["method"], str)
            assert 0 <= word["p_in_phase"] <= 1
            assert word.get("takes") or word.get("entries")
    for setting in found["settings"]:
        assert setting["sounds"] in ("full", "thin", "unknown")
        assert setting["hum"] in ("cancels", "hums", "unknown")


def test_a_job_with_sound_meter_and_compass_keeps_the_contract(opposed, tmp_path):
    job = paired_job(
        tmp_path / "job", opposed, toml=opposed.toml + '[[setting]]\nname = "both"\non = ["bridge", "neck"]\n'
    )
    job.take(opposed.paired[0][:, :1] * 0, ["bridge"], string="D3")
    for name, reading in (("bridge", "rises"), ("neck", "falls")):
        job.meter(name, reading)
        job.log("pole", pickup=name, facing="north")
    found = printed(job.home)
    conform(found)
    (pair,) = found["pairs"]
    assert (pair["a"], pair["b"], found["reference"]) == ("bridge", "neck", "bridge")
    by = {w["method"]: w for w in pair["by"]}
    assert by["paired pluck"]["takes"] == ["t002", "t003"]
    assert by["meter swing"]["entries"] == ["m005", "m007"]
    assert [(t["id"], t["used"]) for t in found["takes"]] == [
        ("t001", True), ("t002", True), ("t003", True), ("t004", False),
    ]  # fmt: skip
    assert found["takes"][3]["faults"]
    assert found["settings"][0]["p_full"] == pytest.approx(pair["p_in_phase"])
    assert pair["p_hum_cancels"] is not None
    assert {r["pickup"] for r in found["wiring"]} == {"bridge", "neck"}


def test_a_new_job_keeps_the_contract_with_nulls(tmp_path):
    found = printed(JobOnDisk(tmp_path / "job", LEADS).home)
    conform(found)
    (pair,) = found["pairs"]
    assert (pair["p_in_phase"], pair["phase"], pair["p_hum_cancels"], pair["by"]) == (None, None, None, [])
    assert (found["settings"][0]["sounds"], found["settings"][0]["p_full"]) == ("unknown", None)
    assert next(r for r in found["wiring"] if r["pickup"] == "neck")["exchange"] is None
    assert (found["takes"], found["conflicts"]) == ([], [])


def test_one_pickup_alone_has_no_pair_and_is_no_fault(tmp_path):
    found = printed(JobOnDisk(tmp_path / "job", 'format = 1\n[[pickup]]\nname = "bridge"\n').home)
    conform(found)
    assert found["pairs"] == []


def test_the_reference_is_the_first_fitted_pickup(tmp_path):
    loose_first = PLAIN.replace('name = "bridge"', 'name = "bridge"\nfitted = false')
    assert printed(JobOnDisk(tmp_path / "fitted", loose_first).home)["reference"] == "neck"
    all_loose = loose_first.replace('name = "neck"', 'name = "neck"\nfitted = false')
    assert printed(JobOnDisk(tmp_path / "loose", all_loose).home)["reference"] == "bridge"


def three(home):
    """Bridge and neck share a setting; middle shares none and nothing is known of it."""
    extra = '[[pickup]]\nname = "middle"\n[[setting]]\nname = "both"\non = ["bridge", "neck"]\n'
    job = JobOnDisk(home, PLAIN + extra)
    job.meter("bridge", "rises")
    job.meter("neck", "rises")
    return job


def test_status_0_and_json_on_standard_output(tmp_path, capsys):
    """Only pairs that share a setting count for the status."""
    assert called("verdict", three(tmp_path / "job").home, "--json") == 0
    out, err = capsys.readouterr()
    assert err == ""
    found = json.loads(out)
    conform(found)
    assert [p["standing"] for p in found["pairs"]].count("unsettled") == 2


def test_status_3_where_a_pair_is_unsettled(tmp_path, capsys):
    job = three(tmp_path / "job")
    toml = job.home / "job.toml"
    toml.write_text(toml.read_text().split("[[setting]]")[0])  # without settings every pair counts
    assert called("verdict", job.home) == 3
    assert capsys.readouterr().err == ""


def missing_folder(home):
    return home / "nothing here"


def no_job(home):
    home.mkdir()
    return home


def file_for_folder(home):
    home.write_text("no folder", encoding="utf-8")
    return home


def broken_toml(home):
    return JobOnDisk(home, PLAIN + "[[pickup\n").home


def unknown_key(home):
    return JobOnDisk(home, PLAIN + "colour = 3\n").home


def broken_line(home):
    job = JobOnDisk(home)
    job.meter("bridge")
    (home / "bench.jsonl").write_text('{"kind": "me\n' + (home / "bench.jsonl").read_text())
    return home


def unknown_pickup(home):
    job = JobOnDisk(home)
    job.meter("brigde")
    return home


def toml_is_a_directory(home):
    job = JobOnDisk(home)
    (home / "job.toml").unlink()
    (home / "job.toml").mkdir()
    return job.home


def log_is_a_directory(home):
    job = JobOnDisk(home)
    (home / "bench.jsonl").unlink()
    (home / "bench.jsonl").mkdir()
    return job.home


AT_FAULT = {
    missing_folder: "nothing here",
    broken_toml: "job.toml",
    broken_line: "line 1",
    unknown_pickup: "brigde",
    log_is_a_directory: "bench.jsonl",
    no_job: "job.toml",
    file_for_folder: "job",
    unknown_key: "colour",
    toml_is_a_directory: "job.toml",
}


@pytest.mark.parametrize(("made", "where"), AT_FAULT.items(), ids=lambda v: getattr(v, "__name__", ""))
def test_status_2_and_one_line_that_says_what_and_where(made, where, tmp_path, capsys):
    assert called("verdict", made(tmp_path / "job")) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert err.startswith("coilwise: ")
    assert where in err
    assert len(err) > 30


def test_status_2_of_a_real_process(tmp_path):
    done = run("verdict", broken_line(tmp_path / "job"))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("coilwise: ")
    assert "line 1" in done.stderr


@pytest.mark.parametrize(
    "args", [("verdict",), ("verdict", "a", "b"), ("verdict", "--jsn", "a"), ("vredict",)]
)
def test_status_2_for_a_call_at_fault(args, capsys):
    assert called(*args) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "--help" in err


HELP = """
import sys
from reports.cli import main
try:
    main()
except SystemExit as left:
    print(left.code, sorted({"scipy", "librosa", "matplotlib", "numpy.testing"} & set(sys.modules)), sep="|")
"""


@pytest.mark.parametrize("args", [("--help",), ("verdict", "--help")])
def test_help_imports_nothing_heavy(args):
    """As DEVELOPERS.md, Conventions, has it."""
    done = run(*args, code=HELP)
    assert done.stdout.splitlines()[-1] == "0|[]"
    assert "Usage" in done.stdout
