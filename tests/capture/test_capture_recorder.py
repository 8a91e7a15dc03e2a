"""Takes recorded into the job: exact, whole or offered later, never written over, whatever happens."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from capture_bench import JOB, RATE
from hypothesis import given
from hypothesis import strategies as st

from capture import copying, entering, log_writing
from capture.audio_files import probe, sha256_of
from capture.bench_log import LeadsInput, read_log
from capture.errors import JobError, LogError, RecordingError
from capture.folder import JobFolder
from capture.part_files import PartFile
from capture.recorder import Said, TakeWriter, set_aside, take_in, unfinished

PLUCK = Said("pluck", ("bridge", "neck"), string="D3")
FULL = 1 << 23


def sound(frames: int = 4800, *, channels: int = 2, seed: int = 1) -> np.ndarray:
    """Samples as a 24-bit converter gives them."""
    whole = np.random.default_rng(seed).integers(1 - FULL, FULL, (frames, channels))
    return (whole / FULL).astype(np.float32)


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in (folder / "takes").iterdir())


def left_over(folder: Path, samples: np.ndarray, *, planned: Said | None = None) -> None:
    writer = TakeWriter(folder, rate=RATE, channels=samples.shape[1], planned=planned)
    writer.write(samples)
    writer.close()


def test_a_take_is_recorded_exactly_and_logged(folder: Path):
    samples = sound()
    with TakeWriter(folder, rate=44_100, channels=2, planned=PLUCK) as writer:
        for start in range(0, len(samples), 441):
            writer.write(samples[start : start + 441])
        said = Said(
            "lift",
            ["bridge", LeadsInput(pickup="neck", hot="violet", ground="orange")],
            stage="after",
            rig="box",
            tool="steel rod",
            coil=2,
            anew=True,
        )
        take = writer.finish(said)
    assert (take.status, take.entry.id, take.path) == ("usable", "t001", folder / "takes" / "t001.wav")
    line = json.loads((folder / "bench.jsonl").read_text())
    assert line.pop("at").endswith("Z")
    assert line == {
        "kind": "take",
        "id": "t001",
        "file": "takes/t001.wav",
        "sha256": sha256_of(take.path),
        "gesture": "lift",
        "inputs": ["bridge", {"pickup": "neck", "hot": "violet", "ground": "orange"}],
        "stage": "after",
        "rig": "box",
        "tool": "steel rod",
        "coil": 2,
        "anew": True,
    }
    audio = take.load()
    assert (audio.rate, audio.subtype, audio.truncated) == (44_100, "PCM_24", False)
    assert np.array_equal(audio.samples, samples)
    assert JobFolder.open(folder).takes() == (take,)
    assert names(folder) == ["t001.wav"]


@given(
    whole=st.lists(st.integers(-FULL, FULL - 1), min_size=1, max_size=30), channels=st.sampled_from([1, 2, 3])
)
def test_every_sample_of_24_bits_comes_back(whole, channels):
    samples = np.repeat(np.array(whole)[:, np.newaxis], channels, axis=1) / FULL
    with tempfile.TemporaryDirectory() as place:
        part = PartFile(Path(place) / "takes", rate=RATE, channels=channels, note={})
        part.write(samples.astype(np.float32))
        part.complete()
        read, rate = sf.read(part.path, always_2d=True)
        assert (rate, probe(part.path).truncated) == (RATE, False)
        assert np.array_equal(read, samples)
        assert os.path.getsize(part.path) % 2 == 0  # RIFF: chunks have an even size
        part.remove()
        assert list((Path(place) / "takes").iterdir()) == []


def test_what_is_beyond_full_scale_is_cut_at_it(folder: Path):
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(np.array([[1.5, -1.5], [1.0, -1.0]]))
        take = writer.finish(PLUCK)
    top = (FULL - 1) / FULL
    assert np.array_equal(take.load().samples, [[top, -1.0], [top, -1.0]])


def test_the_file_can_be_read_while_it_is_written(folder: Path):
    samples = sound()
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        for upto in (1000, 4800):
            writer.write(samples[writer.frames : upto])
            assert np.array_equal(sf.read(writer.path)[0], samples[:upto])
        assert unfinished(folder) == ()  # it is being recorded just now


def test_the_end_can_be_left_away(folder: Path):
    samples = sound()
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(samples)
        take = writer.finish(PLUCK, keep_to=1001)
    assert np.array_equal(take.load().samples, samples[:1001])


REFUSED = [
    (Said("pluck", ("bridge",)), RecordingError, "2 channels recorded, 1 named in inputs"),
    (Said("pluck", ("bridge", "mid")), LogError, 'no setting or pickup "mid"'),
    (Said("switch", ("bridge", "neck")), LogError, "a switch take needs"),
    (Said("pluck", ("bridge", "neck"), string="A4"), LogError, 'no string "A4" on this guitar'),
]


@pytest.mark.parametrize(("said", "error", "words"), REFUSED)
def test_what_would_not_be_logged_is_refused_before_it_is_recorded(folder: Path, said, error, words):
    with pytest.raises(error, match=words):
        TakeWriter(folder, rate=RATE, channels=2, planned=said)
    assert not (folder / "takes").exists()


@pytest.mark.parametrize(("said", "error", "words"), REFUSED)
def test_what_is_said_wrongly_afterwards_can_be_said_again(folder: Path, said, error, words):
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound())
        with pytest.raises(error, match=words):
            writer.finish(said)
        assert read_log(folder, JobFolder.open(folder).job).entries == ()
        assert writer.finish(PLUCK).status == "usable"
        with pytest.raises(RecordingError, match="finished or left before"):
            writer.finish(PLUCK)


def test_nothing_recorded_is_no_take(folder: Path):
    with (
        TakeWriter(folder, rate=RATE, channels=2) as writer,
        pytest.raises(RecordingError, match="nothing was"),
    ):
        writer.finish(PLUCK)
    assert unfinished(folder) == ()


def test_no_folder_no_take(tmp_path: Path):
    with pytest.raises(JobError):
        TakeWriter(tmp_path, rate=RATE, channels=2, planned=PLUCK)


def test_takes_that_lie_outside_through_a_link_are_not_written(folder: Path, tmp_path: Path):
    (tmp_path / "outside").mkdir()
    (folder / "takes").symlink_to(tmp_path / "outside")
    with pytest.raises(LogError, match="leads out of the job folder"):
        TakeWriter(folder, rate=RATE, channels=2)
    assert list((tmp_path / "outside").iterdir()) == []


@pytest.mark.parametrize("samples", [np.array([[np.nan, 0.0]]), np.array([[0.0, np.inf]]), np.zeros((3, 1))])
def test_what_is_no_sound_is_not_written(folder: Path, samples):
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound(10))
        with pytest.raises(RecordingError):
            writer.write(samples)
        assert writer.frames == 10


# Never over another


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_lies_where_the_take_would_go_stays(folder: Path, monkeypatch, links):
    if not links:

        def no_links(source, target):
            raise OSError(1, "no links here")

        monkeypatch.setattr(os, "link", no_links)
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        (folder / "takes" / "t001.flac").write_bytes(b"somebody else's")
        writer.write(sound())
        assert writer.finish(PLUCK).entry.id == "t002"
    assert (folder / "takes" / "t001.flac").read_bytes() == b"somebody else's"
    assert names(folder) == ["t001.flac", "t002.wav"]


def test_a_name_taken_at_the_last_moment_is_not_written_over(folder: Path, monkeypatch):
    """Somebody without our lock puts a file there after the id was chosen."""
    monkeypatch.setattr(entering, "free_take_id", lambda log: "t001")
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        (folder / "takes" / "t001.wav").write_bytes(b"somebody else's")
        writer.write(sound())
        with pytest.raises(RecordingError, match="there is a file of that name, and it stays as it is"):
            writer.finish(PLUCK)
    assert (folder / "takes" / "t001.wav").read_bytes() == b"somebody else's"
    (left,) = unfinished(folder)
    assert left.frames == 4800


def test_two_recorders_in_one_job(folder: Path):
    with (
        TakeWriter(folder, rate=RATE, channels=2) as one,
        TakeWriter(folder, rate=RATE, channels=2) as other,
    ):
        one.write(sound(seed=1))
        other.write(sound(seed=2))
        takes = [other.finish(PLUCK), one.finish(PLUCK)]
    assert [t.entry.id for t in takes] == ["t001", "t002"]
    for take, seed in zip(takes, (2, 1), strict=True):
        assert np.array_equal(take.load().samples, sound(seed=seed))


# Dropped samples


@pytest.mark.parametrize(
    ("marks", "logged"),
    [([120], 120), ([120, 30], 150), ([True], True), ([True, 30], 30), ([False, 0], None)],
)
def test_dropped_samples_keep_the_take_out(folder: Path, marks, logged):
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        for mark in marks:
            writer.write(sound(100), dropped=mark)
        take = writer.finish(PLUCK)
    assert json.loads((folder / "bench.jsonl").read_text()).get("dropped") == logged
    opened = JobFolder.open(folder)
    assert opened.log.warnings == ()
    assert opened.takes() == (take,)
    if logged is None:
        assert (take.status, take.problem) == ("usable", None)
    else:
        assert (take.status, take.problem) == ("refused", "samples lost")
        with pytest.raises(RecordingError, match="Samples were lost while it was recorded"):
            take.load()


def test_an_unfinished_take_remembers_that_samples_were_lost(folder: Path):
    with TakeWriter(folder, rate=RATE, channels=2, planned=PLUCK) as writer:
        writer.write(sound(100), dropped=7)
    (left,) = unfinished(folder)
    assert left.dropped == 7
    assert take_in(left).problem == "samples lost"


# Left behind


PLANS = [
    None,
    PLUCK,
    Said("switch", (("bridge", "both", "neck"), None), string="A2", fret=0, rig="box"),
    Said(
        "lift",
        (None, LeadsInput(pickup="neck", hot="violet", ground="grey")),
        tool="rod",
        coil=1,
        stage="after",
    ),
]


@pytest.mark.parametrize("planned", PLANS)
def test_what_was_left_is_offered_with_what_it_was_to_be(folder: Path, planned):
    left_over(folder, sound(), planned=planned)
    (left,) = unfinished(folder)
    assert (left.frames, left.seconds, left.rate, left.channels) == (4800, 0.1, RATE, 2)
    assert (left.planned, left.dropped) == (planned, False)
    assert left.at is not None and left.at.endswith("Z")
    if planned is None:
        with pytest.raises(LogError, match="say its gesture"):
            take_in(left)
    take = take_in(left, None if planned else PLUCK)
    assert (take.status, take.entry.id, take.entry.at) == ("usable", "t001", left.at)
    assert take.entry.inputs == (planned or PLUCK).inputs
    assert np.array_equal(take.load().samples, sound())
    assert names(folder) == ["t001.wav"]
    assert unfinished(folder) == ()
    with pytest.raises(RecordingError, match="cannot be read"):
        take_in(left, PLUCK)
    assert len(JobFolder.open(folder).takes()) == 1


def test_what_was_left_can_be_set_aside(folder: Path):
    left_over(folder, sound(), planned=PLUCK)
    (left,) = unfinished(folder)
    aside = set_aside(left)
    assert aside.parent == folder / "takes" / "set-aside"
    assert np.array_equal(sf.read(aside)[0], sound())
    assert json.loads(aside.with_suffix(".json").read_text())["planned"]["string"] == "D3"
    assert names(folder) == ["set-aside"]
    assert (unfinished(folder), JobFolder.open(folder).takes()) == ((), ())
    left_over(folder, sound(), planned=PLUCK)
    assert take_in(unfinished(folder)[0]).entry.id == "t001"


@pytest.mark.parametrize("torn", [1, 5, 7])
def test_a_block_that_was_torn_costs_its_last_frame(folder: Path, torn):
    """Killed between the samples and the head, with half a frame at the end."""
    left_over(folder, sound())
    (part,) = (folder / "takes").glob(".*.part.wav")
    with part.open("ab") as stream:
        stream.write(b"\x55" * torn)
    (left,) = unfinished(folder)
    assert left.frames == 4800 + torn // 6
    take = take_in(left, PLUCK)
    assert (take.status, len(take.load().samples)) == ("usable", left.frames)
    assert np.array_equal(take.load().samples[:4800], sound())


@pytest.mark.parametrize(
    "note", [None, b"", b"[1]", b'{"at": 3, "planned": {"gesture": "strum"}, "dropped": "x"}']
)
def test_a_note_that_is_torn_or_gone_takes_nothing_with_it(folder: Path, note):
    left_over(folder, sound(), planned=PLUCK)
    (path,) = (folder / "takes").glob(".*.part.json")
    path.unlink() if note is None else path.write_bytes(note)
    (left,) = unfinished(folder)
    assert (left.frames, left.planned, left.at, left.dropped) == (4800, None, None, False)
    assert take_in(left, PLUCK).status == "usable"


def test_what_holds_no_frame_is_not_offered(folder: Path):
    TakeWriter(folder, rate=RATE, channels=2).close()
    (folder / "takes" / ".x.part.wav").write_bytes(b"RIFF")
    assert unfinished(folder) == ()


def test_killed_between_name_and_log(folder: Path):
    """The take had its name, and the log did not know it yet: it gets that name again, once."""
    left_over(folder, sound(), planned=PLUCK)
    (left,) = unfinished(folder)
    os.link(left.path, folder / "takes" / "t001.wav")
    assert take_in(left).entry.id == "t001"
    assert names(folder) == ["t001.wav"]


def test_killed_between_log_and_the_end(folder: Path):
    """The take was logged, and its hidden name was left: it is no second take."""
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound())
        hidden = writer.path
        take = writer.finish(PLUCK)
    os.link(take.path, hidden)
    assert unfinished(folder) == ()
    assert names(folder) == ["t001.wav"]
    assert JobFolder.open(folder).takes() == (take,)


@pytest.mark.parametrize("holds", [True, False])
def test_a_take_is_abandoned(folder: Path, holds):
    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound())
        writer.abandon(holds_gesture=holds)
    assert len(unfinished(folder)) == holds
    assert holds or names(folder) == []
    assert JobFolder.open(folder).log.entries == ()


def test_ctrl_c_loses_nothing(folder: Path):
    with pytest.raises(KeyboardInterrupt), TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound())
        raise KeyboardInterrupt
    assert unfinished(folder)[0].frames == 4800


KILLED = """
import os, signal, sys
import numpy as np
from capture.recorder import Said, TakeWriter
x = np.load(sys.argv[2])
pluck = Said("pluck", ("bridge", "neck"), string="D3")
writer = TakeWriter(sys.argv[1], rate=48000, channels=2, planned=pluck)
if sys.argv[3] == "finished":
    writer.write(-x)
    writer.finish(pluck)
    writer = TakeWriter(sys.argv[1], rate=48000, channels=2, planned=pluck)
for start in range(0, len(x), 480):
    writer.write(x[start:start + 480])
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX")
@pytest.mark.parametrize("before", ["finished", "nothing"])
def test_kill_9_leaves_every_finished_take_and_the_running_one_unfinished(
    folder: Path, tmp_path: Path, before
):
    samples = sound()
    np.save(tmp_path / "x.npy", samples)
    words = [sys.executable, "-c", KILLED, str(folder), str(tmp_path / "x.npy"), before]
    assert subprocess.run(words, check=False).returncode == -9
    takes = JobFolder.open(folder).takes()
    assert [t.status for t in takes] == (["usable"] if before == "finished" else [])
    assert all(np.array_equal(t.load().samples, -samples) for t in takes)
    (left,) = unfinished(folder)
    assert (left.frames, left.planned) == (4800, PLUCK)
    assert np.array_equal(take_in(left).load().samples, samples)
    assert len(JobFolder.open(folder).takes()) == len(takes) + 1


# A full disk


@pytest.fixture
def small_disk(tmp_path: Path):
    """A job on a disk of 256 kB."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("only root can mount a small disk")
    place = tmp_path / "disk"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)]
    if subprocess.run(words, check=False, capture_output=True).returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        (place / "job.toml").write_text(JOB, encoding="utf-8")
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def fill(place: Path) -> None:
    with (place / "filler").open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(b"\0" * 4096)
        except OSError:
            return


def test_a_full_disk_keeps_every_finished_take_and_what_there_was_room_for(small_disk: Path):
    with TakeWriter(small_disk, rate=RATE, channels=2) as writer:
        writer.write(sound(seed=1))
        first = writer.finish(PLUCK)
    before = (small_disk / "bench.jsonl").read_bytes()
    samples = sound(100_000, seed=2)
    with TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK) as writer:
        with pytest.raises(RecordingError, match=r"cannot be written \(No space left on device\)"):
            for start in range(0, len(samples), 480):
                writer.write(samples[start : start + 480])
        assert writer.frames > 20_000
    assert (small_disk / "bench.jsonl").read_bytes() == before
    assert JobFolder.open(small_disk).takes() == (first,)
    (left,) = unfinished(small_disk)
    assert np.array_equal(sf.read(left.path)[0], samples[: left.frames])


def test_a_disk_that_is_full_when_the_take_is_to_be_logged(small_disk: Path):
    """The log's block is full, too: the take stays unfinished, under no name, and is taken in later."""
    (small_disk / "bench.jsonl").write_bytes(b"")
    with TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK) as writer:
        writer.write(sound())
        fill(small_disk)
        with pytest.raises((LogError, RecordingError), match="No space left on device"):
            writer.finish(PLUCK)
    assert [name for name in names(small_disk) if not name.startswith(".")] == []
    assert (small_disk / "bench.jsonl").read_bytes() == b""
    (small_disk / "filler").unlink()
    (left,) = unfinished(small_disk)
    take = take_in(left)
    assert (take.status, take.entry.id) == ("usable", "t001")
    assert np.array_equal(take.load().samples, sound())
    assert [t.status for t in JobFolder.open(small_disk).takes()] == ["usable"]


def test_a_disk_that_is_full_when_the_take_begins(small_disk: Path):
    fill(small_disk)
    with pytest.raises(RecordingError, match="No space left on device"):
        TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK)
    (small_disk / "filler").unlink()
    assert unfinished(small_disk) == ()


def test_a_log_that_cannot_be_written_leaves_no_name(folder: Path, monkeypatch):
    """Written, but not safely on the disk: the line is taken back, and the take stays unfinished."""
    log = folder / "bench.jsonl"
    log.write_bytes(b"")
    flush = os.fsync

    def refuse(handle):
        if os.path.samestat(os.fstat(handle), log.stat()):
            raise OSError(5, "Input/output error")
        flush(handle)

    with TakeWriter(folder, rate=RATE, channels=2) as writer:
        writer.write(sound())
        with monkeypatch.context() as patch:
            patch.setattr(log_writing.os, "fsync", refuse)
            with pytest.raises(LogError, match="Input/output error"):
                writer.finish(PLUCK)
        assert [name for name in names(folder) if not name.startswith(".")] == []
        assert log.read_bytes() == b""
        assert writer.finish(PLUCK).entry.id == "t001"
    assert unfinished(folder) == ()


def test_no_links_and_no_room_leaves_no_half_copy(tmp_path: Path, monkeypatch):
    def no_links(source, target):
        raise OSError(1, "no links here")

    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(copying.shutil, "copyfileobj", full)
    (tmp_path / "part.wav").write_bytes(b"whole")
    with pytest.raises(RecordingError, match="No space left"):
        copying.place(tmp_path / "part.wav", tmp_path / "t001.wav")
    assert [p.name for p in tmp_path.iterdir()] == ["part.wav"]
