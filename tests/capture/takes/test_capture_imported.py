"""Recordings brought from elsewhere: cut where it sounds, samples untouched, refused in one line."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from capture import LogError, RecordingError
from capture.audio.files import audio_blocks, read_audio, read_stretch, wav_bytes
from capture.log import LeadsInput, TakeFields, Void, append_entry, new_entry
from capture.takes.folder import JobFolder
from capture.takes.imported import (
    CountsDiffer,
    Cut,
    CutError,
    NoOnset,
    PlayedItem,
    TakesOverlap,
    check_order,
    cut_takes,
    find_onsets,
    import_takes,
    number_onsets,
)
from dsp.live.gestures import plan_of

RATE = 48_000
NOISE = 3e-5


def struck(*times: float, length_s: float, channels: int = 1, rate: int = RATE, seed: int = 1) -> np.ndarray:
    """Decaying tones that begin at those seconds, over a little noise; (frames, channels)."""
    rng = np.random.default_rng(seed)
    x = NOISE * rng.standard_normal((int(length_s * rate), channels))
    for at in times:
        t = np.arange(len(x) - int(at * rate)) / rate
        tone = sum(np.sin(2 * np.pi * 147 * n * t + n) / n for n in range(1, 9))
        x[int(at * rate) :] += (0.15 * np.exp(-3.5 * t) * tone)[:, np.newaxis]
    return x


def written(path: Path, x: np.ndarray, *, rate: int = RATE, **said: str) -> Path:
    sf.write(path, x, rate, **{"subtype": "PCM_24", **said})
    return path


def item(inputs, count, string=None, fret=0):
    return PlayedItem(TakeFields("pluck", inputs, string, fret), count)


def brought(folder: Path, paths, order, *, gesture="pluck", left_out=(), **alike):
    job = JobFolder.open(folder)
    order = [replace(one, take=replace(one.take, gesture=gesture, **alike)) for one in order]
    what = check_order(job.job, paths, order)
    recordings = find_onsets(paths, order, gesture=what)
    cuts = cut_takes(
        number_onsets(recordings, gesture=what, left_out=left_out), recordings, order, gesture=what
    )
    return import_takes(job, cuts)


def log(folder: Path) -> list[dict[str, object]]:
    path = folder / "bench.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


TIMES = (1.0, 3.0, 5.5, 8.0, 14.0)
ORDER = (item(("neck",), 2, "D3"), item(("both",), 1, "D3", 5), item(("bridge",), 2))


@pytest.fixture(scope="module")
def struck_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("struck") / "long.wav", struck(*TIMES, length_s=15.0))


@pytest.fixture
def long(struck_once: Path, tmp_path: Path) -> Path:
    """A copy of this test's own."""
    return Path(shutil.copy(struck_once, tmp_path))


def test_one_long_recording(folder: Path, long: Path):
    takes = brought(folder, [long], ORDER, stage="after", rig="little recorder")
    entries = log(folder)
    assert [e["id"] for e in entries] == ["t001", "t002", "t003", "t004", "t005"]
    assert [e["inputs"] for e in entries] == [["neck"], ["neck"], ["both"], ["bridge"], ["bridge"]]
    assert [e.get("string") for e in entries] == ["D3", "D3", "D3", None, None]
    assert [e.get("fret") for e in entries] == [0, 0, 5, None, None]
    assert {(e["stage"], e["rig"], e["gesture"]) for e in entries} == {("after", "little recorder", "pluck")}
    whole, _ = sf.read(long, dtype="int32")
    for entry, taken, at in zip(entries, takes, TIMES, strict=True):
        path = folder / str(entry["file"])
        assert entry["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        stored, rate = sf.read(path, dtype="int32")
        assert (rate, sf.info(path).subtype) == (RATE, "PCM_24")
        start = round(at * RATE) - round((at - taken.cut.start / RATE) * RATE)
        np.testing.assert_array_equal(stored, whole[start : start + len(stored)])
        assert entry["from"] == f"long.wav {start / RATE:.2f}-{(start + len(stored)) / RATE:.2f} s"
        assert at - taken.cut.start / RATE == pytest.approx(0.5, abs=0.01)
        assert taken.take is not None
        assert taken.take.status == "usable"
    lengths = [sf.info(folder / str(e["file"])).duration for e in entries]
    # up to the quiet before the next, four seconds after the onset, the end of the file
    assert lengths == pytest.approx([2.0, 2.5, 2.5, 4.5, 1.5], abs=0.02)


def test_the_log_stays_without_warnings(folder: Path, long: Path):
    """Where a take came from is an extra key that this tool writes itself."""
    brought(folder, [long], ORDER)
    opened = JobFolder.open(folder)
    assert opened.log.warnings == ()
    assert opened.log.entries[0].entry.model_extra == {"from": "long.wav 0.50-2.50 s"}
    append_entry(folder, new_entry(Void, entry="t001"))
    assert log(folder)[0]["from"] == "long.wav 0.50-2.50 s"


def test_many_files_in_the_order_given(folder: Path, tmp_path: Path):
    paths = [
        written(tmp_path / name, struck(*times, length_s=6.0, seed=k))
        for k, (name, times) in enumerate([("b.wav", (1.0,)), ("a.flac", (1.5, 3.5)), ("c.wav", (2.0,))])
    ]
    brought(folder, paths, [item(("neck",), 3), item(("bridge",), 1)])
    assert [(e["inputs"], str(e["from"]).split()[0]) for e in log(folder)] == [
        (["neck"], "b.wav"),
        (["neck"], "a.flac"),
        (["neck"], "a.flac"),
        (["bridge"], "c.wav"),
    ]


def test_two_inputs_one_of_them_empty(folder: Path, tmp_path: Path):
    """The open input's thump at 4 s is none of the takes, for nothing is plugged into it."""
    x = np.hstack([struck(1.0, 6.0, length_s=9.0), struck(4.0, length_s=9.0, seed=2)])
    path = written(tmp_path / "box.wav", x)
    leads = LeadsInput(pickup="neck", hot="violet", ground="grey")
    brought(folder, [path], [item(("bridge", None), 1), item((leads, None), 1)])
    assert [e["inputs"] for e in log(folder)] == [
        ["bridge", None],
        [{"pickup": "neck", "hot": "violet", "ground": "grey"}, None],
    ]
    assert all(sf.info(folder / str(e["file"])).channels == 2 for e in log(folder))
    with pytest.raises(CutError) as refused:
        brought(folder, [path], [item(("bridge", "neck"), 2)])
    assert refused.value.problem == CountsDiffer((path,), found=3, played=2)


SUBTYPES = [
    pytest.param("WAV", "PCM_16", "PCM_24", "int32", id="16 bits"),
    pytest.param("AIFF", "PCM_24", "PCM_24", "int32", id="24 bits, big end first"),
    pytest.param("FLAC", "PCM_24", "PCM_24", "int32", id="FLAC"),
    pytest.param("WAV", "PCM_32", "PCM_32", "int32", id="32 bits"),
    pytest.param("WAV", "FLOAT", "FLOAT", "float32", id="float"),
    pytest.param("CAF", "DOUBLE", "DOUBLE", "float64", id="double"),
]


@pytest.mark.parametrize(("kind", "subtype", "kept", "dtype"), SUBTYPES)
def test_samples_are_kept_to_the_bit(tmp_path: Path, kind, subtype, kept, dtype):
    """Read back by libsndfile: every sample of the stretch as it was stored, floats beyond full scale too."""
    rng = np.random.default_rng(4)
    x = rng.uniform(-1, 1, (999, 3)) if dtype == "int32" else 3 * rng.standard_normal((999, 3))
    path = tmp_path / "whole"
    sf.write(path, x, 44_100, format=kind, subtype=subtype)
    part = tmp_path / "part.wav"
    part.write_bytes(wav_bytes(read_stretch(path, start=101, stop=766)))
    told = sf.info(part)
    assert (told.format, told.subtype, told.samplerate, told.channels) == ("WAV", kept, 44_100, 3)
    before, _ = sf.read(path, dtype=dtype)
    after, _ = sf.read(part, dtype=dtype)
    np.testing.assert_array_equal(after, before[101:766])
    assert not read_audio(part).truncated


def test_a_float_recording_gives_the_same_bytes_at_any_time(tmp_path: Path, monkeypatch):
    """libsndfile writes the time into float files; a hash of such a file would never come twice."""
    path = tmp_path / "x.wav"
    sf.write(path, struck(0.5, length_s=1.0), RATE, subtype="FLOAT")
    once = wav_bytes(read_stretch(path, start=0, stop=RATE))
    assert b"PEAK" in path.read_bytes()[:200]
    assert b"PEAK" not in once[:200]


def test_blocks_are_the_file(tmp_path: Path):
    path = written(tmp_path / "x.wav", struck(0.3, length_s=2.0, channels=2))
    blocks = list(audio_blocks(path, frames=10_007))
    assert [len(b) for b in blocks[:-1]] == [10_007] * 9
    np.testing.assert_allclose(np.concatenate(blocks), read_audio(path).samples, atol=1e-7)


def test_what_was_brought_is_not_brought_again(folder: Path, long: Path):
    brought(folder, [long], ORDER)
    first = everything(folder)
    again = brought(folder, [long], ORDER)
    assert [b.take for b in again] == [None] * 5
    assert [b.before.id for b in again if b.before] == ["t001", "t002", "t003", "t004", "t005"]
    assert everything(folder) == first


def test_what_was_entered_otherwise_is_refused_whole(folder: Path, long: Path):
    brought(folder, [long], ORDER)
    first = everything(folder)
    with pytest.raises(LogError, match=r"long\.wav .* s: is in the job as t001, entered otherwise; void"):
        brought(folder, [long], [item(("bridge",), 5, "D3")])
    assert everything(folder) == first


def test_a_stopped_run_goes_on_where_it_was(folder: Path, long: Path, monkeypatch):
    """The disk fills up at the third take: two are in; the next run brings the other three."""
    real, calls = JobFolder.add_take, []

    def full(self, *said, **named):
        calls.append(said)
        if len(calls) == 3:
            raise RecordingError("no space left on the device")
        return real(self, *said, **named)

    monkeypatch.setattr(JobFolder, "add_take", full)
    with pytest.raises(RecordingError, match="no space"):
        brought(folder, [long], ORDER)
    assert [e["id"] for e in log(folder)] == ["t001", "t002"]
    after = brought(folder, [long], ORDER)
    assert [b.before.id if b.before else None for b in after] == ["t001", "t002", None, None, None]
    assert [e["inputs"] for e in log(folder)] == [["neck"], ["neck"], ["both"], ["bridge"], ["bridge"]]


def test_the_same_seconds_of_a_file_of_that_name_are_told(folder: Path, tmp_path: Path, long: Path):
    """Other bytes, for it may be another session's file: brought in, and the person is told."""
    brought(folder, [long], ORDER)
    (tmp_path / "later").mkdir()
    later = written(tmp_path / "later" / "long.wav", struck(3.0, 9.0, length_s=11.0, seed=5))
    other = brought(folder, [later], [item(("neck",), 2, "D3")])
    assert [b.same_seconds for b in other] == [("t002", "t003"), ("t004",)]
    assert [b.take.entry.id for b in other if b.take] == ["t006", "t007"]
    renamed = written(tmp_path / "later.wav", struck(3.0, length_s=5.0, seed=6))
    assert [b.same_seconds for b in brought(folder, [renamed], [item(("neck",), 1)])] == [()]


def test_an_onset_that_is_left_out_still_ends_the_take_before_it(folder: Path, long: Path):
    takes = brought(folder, [long], [item(("neck",), 4)], left_out=[2])
    assert takes[0].cut.stop / RATE == pytest.approx(2.5, abs=0.02)
    assert [b.cut.onset.number for b in takes] == [1, 3, 4, 5]


def test_takes_never_share_a_frame(folder: Path, tmp_path: Path):
    times = np.cumsum([1.0, 0.5, 0.6, 0.8, 1.1, 3.0])
    path = written(tmp_path / "quick.wav", struck(*times, length_s=9.0))
    cuts = [b.cut for b in brought(folder, [path], [item(("neck",), 6)])]
    assert all(a.stop <= b.start for a, b in pairwise(cuts))
    assert all(c.start < c.onset.frame <= c.stop - plan_of("pluck").cut.least_s * RATE * 0.5 for c in cuts)


REFUSED = [
    pytest.param([item(("nekc",), 5)], 'no setting or pickup "nekc"; did you mean "neck"', id="name"),
    pytest.param([item(("neck",), 5, "C2")], 'no string "C2" on this guitar', id="string"),
    pytest.param([item((None,), 5)], "nothing was plugged in", id="nothing"),
    pytest.param([item(("neck", "bridge"), 5)], r"has 1 channel, .* names 2; .*neck\|nothing", id="channels"),
    pytest.param([item((("neck", "bridge"),), 5)], "goes with a switch take", id="list"),
    pytest.param([], "say what was played", id="empty order"),
]


@pytest.mark.parametrize(("order", "words"), REFUSED)
def test_refused_in_one_line_and_nothing_written(folder: Path, long: Path, order, words):
    before = everything(folder)
    with pytest.raises((LogError, RecordingError), match=words) as refused:
        brought(folder, [long], order)
    assert "\n" not in str(refused.value)
    assert everything(folder) == before


@pytest.mark.parametrize("count", [pytest.param(4, id="fewer"), pytest.param(6, id="more")])
def test_another_number_of_onsets_than_takes_is_refused_and_nothing_written(folder: Path, long: Path, count):
    before = everything(folder)
    with pytest.raises(CutError) as refused:
        brought(folder, [long], [item(("neck",), count)])
    assert refused.value.problem == CountsDiffer((long,), found=5, played=count)
    assert everything(folder) == before


def test_what_has_no_onset_is_refused(folder: Path, tmp_path: Path, long: Path):
    silent = written(tmp_path / "silent.wav", struck(length_s=3.0))
    with pytest.raises(CutError) as refused:
        brought(folder, [long, silent], [item(("neck",), 5)])
    assert refused.value.problem == NoOnset(silent)
    with pytest.raises(LogError, match=r"a hum take has no onset to cut at; .*coilwise take"):
        brought(folder, [long], ORDER, gesture="hum")
    with pytest.raises(LogError, match='"gesture" is "strum"'):
        brought(folder, [long], ORDER, gesture="strum")


def test_overlapping_cuts_are_refused(folder: Path, tmp_path: Path):
    path = written(tmp_path / "twice.wav", struck(1.0, 3.0, 3.3, length_s=6.0))
    with pytest.raises(CutError) as refused:
        brought(folder, [path], [item(("neck",), 3)])
    problem = refused.value.problem
    assert isinstance(problem, TakesOverlap)
    assert (problem.earlier.number, problem.later.number) == (2, 3)
    assert problem.apart_s == pytest.approx(0.3, abs=0.01)
    (first, second) = brought(folder, [path], [item(("neck",), 2)], left_out=[3])
    assert second.cut.start < second.cut.onset.frame < second.cut.stop
    assert first.cut.stop <= second.cut.start


def test_a_number_that_is_no_onset(folder: Path, long: Path):
    with pytest.raises(RecordingError, match="no onset 6 to leave out; 5 were found"):
        brought(folder, [long], ORDER, left_out=[6])


def test_files_that_cannot_be_brought(folder: Path, tmp_path: Path, long: Path):
    text = tmp_path / "notes.wav"
    text.write_text("neck first")
    short = tmp_path / "short.wav"
    short.write_bytes(long.read_bytes()[:-100_000])
    bad = struck(1.0, length_s=2.0)
    bad[7000] = np.nan
    broken = written(tmp_path / "broken.wav", bad, subtype="FLOAT")
    one = [item(("neck",), 1)]
    for path, words in [
        (text, "no audio that can be read"),
        (short, r"cut short, 14\.\d s of it can be read; .*save it anew"),
        (broken, "frame 7000 is no finite number"),
        (tmp_path / "gone.wav", "there is no such file"),
    ]:
        with pytest.raises(RecordingError, match=rf"{path.name}: .*{words}"):
            brought(folder, [path], one)
    with pytest.raises(RecordingError, match="is named twice"):
        brought(folder, [long, tmp_path / "." / "long.wav"], ORDER)
    assert log(folder) == []


def test_a_file_that_changes_meanwhile_is_refused(folder: Path, long: Path):
    job = JobFolder.open(folder)
    recordings = find_onsets([long], ORDER, gesture="pluck")
    cuts: tuple[Cut, ...] = cut_takes(
        number_onsets(recordings, gesture="pluck"), recordings, ORDER, gesture="pluck"
    )
    os.utime(long, (1, 1))
    with pytest.raises(RecordingError, match="changed while it was read; stop the recorder"):
        import_takes(job, cuts)
    assert log(folder) == []


def test_progress_reaches_the_end(tmp_path: Path, long: Path):
    told: list[float] = []
    other = written(tmp_path / "other.wav", struck(1.0, length_s=3.0))
    find_onsets([long, other], ORDER, gesture="pluck", progress=told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(18.0)
