"""bench.jsonl written: appending, ids, what a killed writer leaves; and any log read or refused."""

from __future__ import annotations

import json
import multiprocessing
from pathlib import Path

import pytest
from capture_bench import EXAMPLES, JOB, METER, TAKE, write_log
from hypothesis import given, settings
from hypothesis import strategies as st

from capture import CoilwiseError, JobError, LogError
from capture.job import Job, parse_job
from capture.log import (
    Change,
    LeadsInput,
    Meter,
    Ohms,
    Pole,
    Take,
    Void,
    append_entry,
    new_entry,
    read_log,
)


@pytest.mark.parametrize("torn", [json.dumps(TAKE)[:-9].encode(), b'{"kind": "\xc3', b"\x00\x00\x00"])
def test_killed_while_appending_nothing_is_lost(folder: Path, job: Job, torn):
    path = folder / "bench.jsonl"
    path.write_bytes(json.dumps(METER).encode() + b"\n" + torn)
    before = path.read_bytes()
    append_entry(folder, new_entry(Pole, pickup="bridge", facing="north"))
    append_entry(folder, new_entry(Pole, pickup="bridge", facing="south"))
    assert path.read_bytes().startswith(before + b"\n{")
    log = read_log(folder, job)
    assert [(e.entry.id, e.line) for e in log.entries] == [("m001", 1), ("p001", 3), ("p002", 4)]
    assert [w.partition(":")[0] for w in log.warnings] == ["bench.jsonl line 2"]


@pytest.mark.parametrize(
    ("entry", "first"),
    [
        (new_entry(Meter, pickup="bridge", move="away", reading="falls", red="ground"), "m001"),
        (new_entry(Ohms, pickup="bridge", between=("hot", "ground"), kohm=6.0), "r001"),
        (new_entry(Pole, pickup="bridge", facing="north"), "p001"),
        (new_entry(Change, pickup="neck", leads={"grey": "hot", "violet": "ground"}), "c001"),
        (new_entry(Take, file="takes/a.wav", gesture="hum", inputs=("neck", None)), "t001"),
    ],
)
def test_each_kind_has_its_next_free_id(folder: Path, job: Job, entry, first):
    written = [append_entry(folder, entry).id for _ in range(2)]
    assert written == [first, f"{first[0]}002"]
    write_log(folder, *(folder / "bench.jsonl").read_text().splitlines(), {**METER, "id": f"{first[0]}041"})
    assert append_entry(folder, entry).id == f"{first[0]}042"
    assert append_entry(folder, new_entry(Void, entry=first)).id == "v001"
    assert next(e for e in read_log(folder, job).entries if e.entry.id == first).voided


def test_a_written_line_says_what_was_said_and_no_more(folder: Path):
    append_entry(folder, new_entry(Take, file="takes/a.wav", gesture="hum", inputs=("neck", None)))
    assert (folder / "bench.jsonl").read_text() == (
        '{"kind": "take", "id": "t001", "file": "takes/a.wav", "gesture": "hum", "inputs": ["neck", null]}\n'
    )


def test_unknown_keys_survive_being_written_again(folder: Path, job: Job, tmp_path: Path):
    write_log(folder, {**METER, "weather": {"dry": [1, None]}})
    entry = read_log(folder, job).entries[0].entry
    assert entry.extra_keys == ("weather",)
    assert entry.line() == {**METER, "weather": {"dry": [1, None]}}


def test_what_does_not_fit_is_not_appended(folder: Path):
    with pytest.raises(LogError, match='there is no entry "t001" to void'):
        append_entry(folder, new_entry(Void, entry="t001"))
    with pytest.raises(LogError, match='no pickup "nck"; did you mean "neck"'):
        append_entry(folder, new_entry(Pole, pickup="nck", facing="north"))
    with pytest.raises(LogError, match="leads out of the job folder"):
        append_entry(folder, new_entry(Take, file="../a.wav", gesture="hum", inputs=("neck",)))
    append_entry(folder, new_entry(Pole, id="p001", pickup="bridge", facing="north"))
    with pytest.raises(LogError, match='the id "p001" is taken'):
        append_entry(folder, new_entry(Pole, id="p001", pickup="bridge", facing="north"))
    with pytest.raises(LogError, match="neither text nor number"):
        append_entry(folder, new_entry(Pole, pickup="bridge", facing="north", note=float("nan")))
    assert len((folder / "bench.jsonl").read_text().splitlines()) == 1


def test_no_job_no_log(tmp_path: Path):
    with pytest.raises(JobError, match=r"there is no job\.toml here"):
        append_entry(tmp_path, new_entry(Pole, pickup="bridge", facing="north"))
    assert list(tmp_path.iterdir()) == []


def _append_many(folder: Path) -> None:
    for _ in range(10):
        append_entry(folder, new_entry(Pole, pickup="bridge", facing="north"))


def test_two_processes_write_one_log(folder: Path, job: Job):
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_append_many, args=(folder,)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    log = read_log(folder, job)
    assert [e.entry.id for e in log.entries] == [f"p{n:03d}" for n in range(1, 21)]


words = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=12)
entries = st.one_of(
    st.builds(
        lambda **said: new_entry(Take, **said),
        file=st.just("takes/a.wav"),
        gesture=st.sampled_from(["pluck", "press", "lift", "touch", "hum", "drive"]),
        inputs=st.lists(
            st.sampled_from(
                ["bridge", "neck", "both", LeadsInput(pickup="neck", hot="grey", ground="brown"), None]
            ),
            min_size=1,
            max_size=3,
        )
        .filter(any)
        .map(tuple),
        string=st.sampled_from(["B1", "F#3", None]),
        fret=st.integers(0, 36),
        rig=words | st.none(),
    ),
    st.builds(
        lambda **said: new_entry(Meter, **said),
        pickup=st.sampled_from(["bridge", "neck"]),
        move=st.sampled_from(["away", "toward"]),
        reading=st.sampled_from(["rises", "falls", "unclear"]),
        red=st.sampled_from(["hot", "ground"]),
        kohm=st.floats(0, 1e6) | st.none(),
        tool=words | st.none(),
        note=words | st.floats(allow_nan=False, allow_infinity=False) | st.booleans(),
    ),
)


@given(st.lists(entries, max_size=5))
@settings(max_examples=40, deadline=None)
def test_what_is_appended_is_read_back(tmp_path_factory, appended):
    folder = tmp_path_factory.mktemp("job")
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    written = [append_entry(folder, entry) for entry in appended]
    read = read_log(folder, parse_job(JOB))
    assert [e.entry for e in read.entries] == written
    assert [{**e.line(), "id": ""} for e in written] == [{**e.line(), "id": ""} for e in appended]


@given(st.binary(max_size=300))
@settings(max_examples=100, deadline=None)
def test_any_bytes_are_a_log_or_refused(tmp_path_factory, raw):
    folder = tmp_path_factory.mktemp("job")
    (folder / "bench.jsonl").write_bytes(raw)
    try:
        read_log(folder, parse_job(JOB))
    except CoilwiseError as error:
        assert str(error).startswith("bench.jsonl line ")
        assert "\n" not in str(error)


EXAMPLE_TEXT = "\n".join(json.dumps(e) for e in EXAMPLES) + "\n"


@given(st.integers(0, len(EXAMPLE_TEXT)), st.integers(0, 12), st.text(max_size=6))
@settings(max_examples=150, deadline=None)
def test_a_mutated_log_is_read_or_refused(tmp_path_factory, place, length, text):
    folder = tmp_path_factory.mktemp("job")
    mutated = EXAMPLE_TEXT[:place] + text + EXAMPLE_TEXT[place + length :]
    (folder / "bench.jsonl").write_bytes(mutated.encode("utf-8", "surrogatepass"))
    try:
        log = read_log(folder, parse_job(JOB))
    except CoilwiseError as error:
        assert str(error).startswith("bench.jsonl line ")
    else:
        assert len(log.entries) + len(log.warnings) >= len(EXAMPLES) - 2
