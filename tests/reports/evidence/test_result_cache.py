"""Results from the cache: the same verdict, and nothing served that is not exactly the same."""

from __future__ import annotations

import io
import math
import os
import pickle
import shutil
import subprocess
import sys
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from hypothesis import given, settings
from hypothesis import strategies as st
from new_jobs import create_job
from simulator.scenes import random_bench

import reports.evidence.analysis
from capture.audio.problems import FileProblem
from capture.job import Member, Pickup, Setting
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from reports.evidence import cache, store
from reports.evidence.cache import (
    ANALYSING_CODE,
    PACKAGES,
    CodecError,
    cache_key,
    decode,
    encode,
)
from reports.evidence.store import ENVIRONMENT_VARIABLE, Store, code_version
from reports.model.take_notes import FileNote
from reports.render.exports import as_json
from reports.verdict.building import judge

RATE = 16_000
KEY = "k" * 64


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> JobFolder:
    """One take of every kind, of a simulated bench."""
    rng = np.random.default_rng(7)
    bench = random_bench(rng, pickups=2, mains_hz=50)
    job = create_job(
        tmp_path_factory.mktemp("heard") / "job",
        title="every gesture",
        scale_mm=bench.scale_mm,
        mains_hz=50,
        pickups=[Pickup(name=p.name, centre_mm=p.centre_mm, coils=len(p.coils)) for p in bench.pickups],
        settings=[Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))],
    )

    def add(audio: np.ndarray, **said: object) -> None:
        path = job.path / "new.wav"
        sf.write(path, audio, RATE, subtype="PCM_24")
        job.add_take(path, TakeFields(**said))

    add(
        bench.split_check(rng, "bridge", "D3", rate=RATE), gesture="pluck", inputs=["bridge"] * 2, string="D3"
    )
    add(bench.paired(rng, "bridge", "neck", "D3", rate=RATE), gesture="pluck", inputs=["bridge", "neck"])
    for name, on in (("bridge", "bridge"), ("both", ("bridge", "neck"))):
        add(bench.pluck(rng, on, "D3", rate=RATE), gesture="pluck", inputs=[name], string="D3")
    add(bench.lift(rng, "neck", rate=RATE), gesture="lift", inputs=["neck"], tool="rod")
    add(bench.hum(rng, ["bridge"], rate=RATE, ringing_s=2.0), gesture="hum", inputs=["bridge"])
    add(bench.drive(rng, "bridge", rate=RATE), gesture="drive", inputs=["bridge"], coil=1)
    way = bench.switch(rng, ["bridge", "neck"], "A2", rate=RATE)
    add(way, gesture="switch", inputs=[("bridge", "neck")], string="A2")
    add(np.zeros((RATE, 1)), gesture="pluck", inputs=["neck"], string="D3")
    return JobFolder.open(job.path)


@pytest.fixture(scope="module")
def judged_before(folder, tmp_path_factory) -> tuple[str, Path]:
    """The verdict of a first judging, and the shelf that it filled: hearing is dear."""
    shelf = tmp_path_factory.mktemp("judged") / "shelf"
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv(ENVIRONMENT_VARIABLE, str(shelf))
        return as_json(judge(folder).verdict), shelf


@pytest.fixture
def place(judged_before, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shelf of this test's own, as the first judging left it."""
    shutil.copytree(judged_before[1], tmp_path / "shelf")
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, str(tmp_path / "shelf"))
    return tmp_path / "shelf"


def same(a: object, b: object) -> bool:
    """Equal to the last bit, type by type."""
    if isinstance(a, np.ndarray):
        return (
            isinstance(b, np.ndarray)
            and a.dtype == b.dtype
            and np.array_equal(a, b, equal_nan=a.dtype.kind in "fc")
        )
    if is_dataclass(a):
        return type(a) is type(b) and all(same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(same, a, b))
    both_nan = isinstance(a, float) and isinstance(b, float) and math.isnan(a) and math.isnan(b)
    return a == b or both_nan


def test_what_was_heard_comes_back_to_the_last_bit(folder):
    heard = cache.take_results(folder)
    kinds = [f.name for f in fields(heard[0]) if any(getattr(h, f.name) for h in heard if f.name != "entry")]
    assert {"paired", "single", "pulses", "plucks", "hums", "tables", "drives", "switch", "faults"} <= set(
        kinds
    )
    for one in heard:
        assert same(one, decode(encode(one, key=KEY), key=KEY, entry=one.entry))


def test_the_second_verdict_is_the_first_and_hears_nothing(folder, judged_before, place, monkeypatch):
    first, _ = judged_before
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, "off")
    without = as_json(judge(folder).verdict)
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, str(place))
    monkeypatch.setattr(reports.evidence.analysis, "analyse_take", _must_not_hear)
    assert as_json(judge(folder).verdict) == first == without


def _must_not_hear(*_: object) -> None:
    raise AssertionError("this was heard before")


def test_several_at_once_hear_the_same_in_the_same_order(folder, monkeypatch):
    monkeypatch.setattr(cache, "LEAST_AT_ONCE", 1)
    alone, together = cache.take_results(folder), cache.take_results(folder, workers=2)
    assert [h.entry.id for h in together] == [t.entry.id for t in folder.takes()]
    assert all(map(same, alone, together))


def test_another_take_entry_job_or_code_is_another_key(folder, monkeypatch):
    job, take = folder.job, folder.takes()[1]
    keys = [cache_key(job, take)]
    keys.append(cache_key(job.model_copy(update={"mains_hz": 60}), take))
    keys.append(cache_key(job.model_copy(update={"scale_mm": 640.0}), take))
    keys.append(cache_key(job, replace(take, entry=take.entry.model_copy(update={"fret": 1}))))
    keys.append(cache_key(job, replace(take, digest="0" * 64)))
    monkeypatch.setattr("reports.evidence.cache.code_version", lambda *_: "another")
    keys.append(cache_key(job, take))
    assert None not in keys
    assert len(set(keys)) == len(keys)
    assert cache_key(job.model_copy(update={"title": "other"}), take) == keys[-1]


@pytest.fixture(scope="module")
def tree(tmp_path_factory) -> Path:
    """A copy of the product's code."""
    copied = tmp_path_factory.mktemp("tree")
    for package in ("dsp", "capture", "reports"):
        shutil.copytree(store.ROOT / package, copied / package, ignore=shutil.ignore_patterns("__pycache__"))
    return copied


@pytest.mark.parametrize(
    ("path", "counts"),
    [
        ("dsp/signal/pitch.py", True),
        ("capture/audio/files.py", True),
        ("reports/evidence/analysis.py", True),
        ("reports/model/notes.py", True),
        ("reports/messages/faults.py", False),
        ("reports/page/screens/play.py", False),
        ("reports/render/text.py", False),
        ("reports/cli/verdict.py", False),
    ],
)
def test_the_key_covers_what_analyses_and_nothing_that_shows(tree, path, counts):
    before = code_version(ANALYSING_CODE, PACKAGES)
    assert before == code_version.__wrapped__(ANALYSING_CODE, PACKAGES, root=tree)
    whole = (tree / path).read_bytes()
    (tree / path).write_bytes(whole + b"\n# a comment\n")
    changed = code_version.__wrapped__(ANALYSING_CODE, PACKAGES, root=tree)
    (tree / path).write_bytes(whole)
    assert (changed != before) == counts


LOADED = """
import sys
import reports.evidence.analysis, reports.evidence.cache
for name, module in sorted(sys.modules.items()):
    if name.split(".")[0] in ("dsp", "capture", "reports") and module.__file__.endswith(".py"):
        print(module.__file__)
"""


def test_the_key_covers_every_module_that_analyses():
    done = subprocess.run(
        [sys.executable, "-c", LOADED], cwd=store.ROOT, capture_output=True, text=True, check=True
    )
    loaded = {Path(line).resolve().relative_to(store.ROOT) for line in done.stdout.split()}
    covered = {Path(part) for part in ANALYSING_CODE}
    packages = {
        Path("reports/__init__.py"),
        Path("reports/model/__init__.py"),
        Path("capture/takes/__init__.py"),
    }
    assert {path for path in loaded if not covered & {path, *path.parents}} <= packages


def test_what_is_spoiled_is_heard_anew(folder, judged_before, place):
    """Cut off, with bits that are others, empty, or another take's: in turn over the files of the shelf."""
    first, _ = judged_before
    files = sorted(place.glob("*/*"))
    whole = {path: path.read_bytes() for path in files}
    assert len(files) == len(folder.takes()) > 4
    for k, path in enumerate(files):
        raw = whole[path]
        changed = bytes(byte ^ (at % 50 == 0) for at, byte in enumerate(raw))
        path.write_bytes((raw[: len(raw) // 2], changed, b"", whole[files[k - 1]])[k % 4])
    assert as_json(judge(folder).verdict) == first
    assert {path: path.read_bytes() for path in files} == whole
    assert as_json(judge(folder).verdict) == first


def test_a_recording_that_changed_is_never_served(folder, place):
    take = folder.takes()[1]
    whole = take.path.read_bytes()
    try:
        take.path.write_bytes(whole[:-3] + b"abc")
        (word,) = (t for t in judge(folder).verdict.takes if t.id == take.entry.id)
        assert not word.used
        assert word.faults == (FileNote(FileProblem("hash mismatch")),)
    finally:
        take.path.write_bytes(whole)


class Trap:
    """Runs what it likes where somebody unpickles it."""

    def __reduce__(self):
        return (os.abort, ())


def test_bytes_from_elsewhere_run_nothing(folder):
    entry = folder.takes()[0].entry
    out = io.BytesIO()
    np.savez(out, text=np.array([Trap()], dtype=object))
    for raw in (pickle.dumps(Trap()), out.getvalue()):
        with pytest.raises(CodecError):
            decode(raw, key=KEY, entry=entry)


@settings(max_examples=40)
@given(st.binary(max_size=300))
def test_any_bytes_are_no_heard_take(folder, raw):
    with pytest.raises(CodecError):
        decode(raw, key=KEY, entry=folder.takes()[0].entry)


def test_a_shelf_that_cannot_be_written_keeps_nothing_and_breaks_nothing(folder, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, str(tmp_path / "file"))
    assert [h.entry.id for h in cache.take_results(folder)] == [t.entry.id for t in folder.takes()]
    assert (tmp_path / "file").read_text() == "in the way"


def test_the_oldest_go_where_there_is_too_much(tmp_path):
    store = Store(tmp_path, most_bytes=10_000)
    for k in range(10):
        key = f"{k:064x}"
        store.put(key, bytes(2000))
        os.utime(store._path(key), (k, k))
    store.get(f"{0:064x}")
    store.prune()
    left = [k for k in range(10) if store.get(f"{k:064x}") is not None]
    assert left == [0, 7, 8, 9]
