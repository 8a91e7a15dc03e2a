"""A disk that fills up: every finished take stays, and of the running one what there was room for."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from capture_bench import JOB, RATE
from recorder_parts import PLUCK, names, sound

from capture import LogError, RecordingError
from capture.log import writing as log_writing
from capture.takes import folder as copying
from capture.takes.folder import JobFolder
from capture.takes.recorder import TakeWriter, recover_take, unfinished_takes


@pytest.fixture
def small_disk(tmp_path: Path):
    """A job on a disk of 256 kB."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("only root can mount a small disk")  # a disk of its own is a mount, in memory on Linux
    place = tmp_path / "disk"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)]
    if subprocess.run(words, check=False, capture_output=True).returncode:
        pytest.skip("a small disk cannot be mounted here")  # root of a container may not mount either
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
    with closing(TakeWriter(small_disk, rate=RATE, channels=2)) as writer:
        writer.write(sound(seed=1))
        first = writer.finish(PLUCK)
    before = (small_disk / "bench.jsonl").read_bytes()
    samples = sound(100_000, seed=2)
    with closing(TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK)) as writer:
        with pytest.raises(RecordingError, match=r"cannot be written \(No space left on device\)"):
            for start in range(0, len(samples), 480):
                writer.write(samples[start : start + 480])
        assert writer.frames > 20_000
    assert (small_disk / "bench.jsonl").read_bytes() == before
    assert JobFolder.open(small_disk).takes() == (first,)
    (left,) = unfinished_takes(small_disk)
    assert np.array_equal(sf.read(left.path)[0], samples[: left.frames])


def test_a_disk_that_is_full_when_the_take_is_to_be_logged(small_disk: Path):
    """The log's block is full, too: the take stays unfinished, under no name, and is taken in later."""
    (small_disk / "bench.jsonl").write_bytes(b"")
    with closing(TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK)) as writer:
        writer.write(sound())
        fill(small_disk)
        with pytest.raises((LogError, RecordingError), match="No space left on device"):
            writer.finish(PLUCK)
    assert [name for name in names(small_disk) if not name.startswith(".")] == []
    assert (small_disk / "bench.jsonl").read_bytes() == b""
    (small_disk / "filler").unlink()
    (left,) = unfinished_takes(small_disk)
    take = recover_take(left)
    assert (take.status, take.entry.id) == ("usable", "t001")
    assert np.array_equal(take.load().samples, sound())
    assert [t.status for t in JobFolder.open(small_disk).takes()] == ["usable"]


def test_a_disk_that_is_full_when_the_take_begins(small_disk: Path):
    fill(small_disk)
    with pytest.raises(RecordingError, match="No space left on device"):
        TakeWriter(small_disk, rate=RATE, channels=2, planned=PLUCK)
    (small_disk / "filler").unlink()
    assert unfinished_takes(small_disk) == ()


def test_a_log_that_cannot_be_written_leaves_no_name(folder: Path, monkeypatch):
    """Written, but not safely on the disk: the line is taken back, and the take stays unfinished."""
    log = folder / "bench.jsonl"
    log.write_bytes(b"")
    flush = os.fsync

    def refuse(handle):
        if os.path.samestat(os.fstat(handle), log.stat()):
            raise OSError(5, "Input/output error")
        flush(handle)

    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(sound())
        with monkeypatch.context() as patch:
            patch.setattr(log_writing.os, "fsync", refuse)
            with pytest.raises(LogError, match="Input/output error"):
                writer.finish(PLUCK)
        assert [name for name in names(folder) if not name.startswith(".")] == []
        assert log.read_bytes() == b""
        assert writer.finish(PLUCK).entry.id == "t001"
    assert unfinished_takes(folder) == ()


def test_no_links_and_no_room_leaves_no_half_copy(tmp_path: Path, monkeypatch):
    def no_links(source, target):
        raise OSError(1, "no links here")

    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(copying, "write_all", full)
    (tmp_path / "part.wav").write_bytes(b"whole")
    with pytest.raises(RecordingError, match="No space left"):
        copying.link_to_name(tmp_path / "part.wav", tmp_path / "t001.wav")
    assert [p.name for p in tmp_path.iterdir()] == ["part.wav"]
