"""Job folders from elsewhere: links, pipes, devices, endless files; and what a killed program left."""

from __future__ import annotations

import os
import re
import time
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from capture import JobError, LogError, RecordingError
from capture.disk import locks, reading, writing
from capture.disk.reading import IS_LINK, NO_FILE, NOT_LOADED, TWO_NAMES, open_plain
from capture.job.reading import MOST_BYTES, read_job
from capture.log import Pole, append_entry, new_entry, read_log
from capture.log.entries import TakeFields
from capture.takes.folder import COPYING, JobFolder
from capture.takes.part_files import PartFile
from capture.takes.recorder import TakeWriter, recover_take, set_aside, unfinished_takes
from dsp import CoilwiseError

POLE = new_entry(Pole, pickup="bridge", facing="north")
PLUCK = TakeFields("pluck", ("bridge", "neck"), string="A2")
posix = pytest.mark.skipif(os.name != "posix", reason="links and pipes as POSIX has them")


@pytest.fixture
def victim(tmp_path: Path) -> Path:
    """A file of the person's own, elsewhere."""
    path = tmp_path / "victim"
    path.write_text("mine")
    return path


@posix
def test_a_log_that_is_a_link_is_neither_read_nor_appended_to(folder: Path, victim: Path):
    (folder / "bench.jsonl").symlink_to(victim)
    with pytest.raises(LogError, match=f"cannot be read .{IS_LINK}"):
        JobFolder.open(folder)
    with pytest.raises(LogError, match=IS_LINK):
        append_entry(folder, POLE)
    assert victim.read_text() == "mine"


@posix
def test_what_has_another_name_elsewhere_is_not_written_to(folder: Path, tmp_path: Path):
    """A copy that shares its files with the job, or a folder from elsewhere; an empty file is a log too."""
    (tmp_path / "empty").touch()
    (folder / "bench.jsonl").hardlink_to(tmp_path / "empty")
    with pytest.raises(LogError, match=re.escape(TWO_NAMES)):
        append_entry(folder, POLE)
    (folder / "bench.jsonl").unlink()
    with closing(TakeWriter(folder, rate=48_000, channels=2, planned=PLUCK)) as writer:
        writer.write(np.zeros((480, 2), dtype=np.float32))
    (left,) = unfinished_takes(folder)
    with left.path.open("ab") as more:
        more.write(b"half a frame")
    (tmp_path / "theirs.wav").hardlink_to(left.path)
    theirs = (tmp_path / "theirs.wav").read_bytes()
    with pytest.raises(RecordingError, match=re.escape(TWO_NAMES)):
        recover_take(left)
    assert ((tmp_path / "theirs.wav").read_bytes(), (tmp_path / "empty").read_bytes()) == (theirs, b"")


@posix
def test_takes_that_lie_behind_a_link_are_told_and_nothing_is_written_there(folder: Path, recording):
    added = JobFolder.open(folder).add_take(recording, PLUCK)
    (folder / "takes").rename(folder / "elsewhere")
    (folder / "takes").symlink_to("elsewhere")
    (take,) = JobFolder.open(folder).takes()
    assert IS_LINK in take.problem.refusal.clause
    with pytest.raises(RecordingError, match=IS_LINK):
        JobFolder.open(folder).add_take(recording, PLUCK)
    with pytest.raises(RecordingError, match=IS_LINK):
        TakeWriter(folder, rate=48_000, channels=1)
    assert unfinished_takes(folder) == ()
    assert [p.name for p in (folder / "elsewhere").iterdir()] == [Path(added.entry.file).name]


@posix
def test_nothing_is_set_aside_through_a_link(folder: Path, tmp_path: Path):
    with closing(TakeWriter(folder, rate=48_000, channels=1)) as writer:
        writer.write(np.zeros((480, 1), dtype=np.float32))
    (tmp_path / "other").mkdir()
    (folder / "takes" / "set-aside").symlink_to(tmp_path / "other")
    (left,) = unfinished_takes(folder)
    with pytest.raises(RecordingError, match=IS_LINK):
        set_aside(left)
    assert list((tmp_path / "other").iterdir()) == []


@posix
@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_only_ordinary_files_are_opened(folder: Path, recording, kind: str, tmp_path: Path):
    JobFolder.open(folder).add_take(recording, PLUCK)
    for name in ("takes/t001.wav", "bench.jsonl", "job.toml"):
        kept = (folder / name).read_bytes()
        (folder / name).unlink()
        os.mkfifo(folder / name) if kind == "pipe" else (folder / name).symlink_to("/dev/zero")
        with pytest.raises(OSError, match=NO_FILE if kind == "pipe" else IS_LINK):
            open_plain(folder / name)
        if kind == "pipe" and name.startswith("takes"):
            (take,) = JobFolder.open(folder).takes()
            assert NO_FILE in take.problem.refusal.clause
        else:
            with pytest.raises(CoilwiseError):
                JobFolder.open(folder)
        (folder / name).unlink()
        (folder / name).write_bytes(kept)


def test_a_file_of_a_size_that_it_cannot_have_is_not_read(folder: Path):
    with (folder / "job.toml").open("r+b") as file:
        file.truncate(MOST_BYTES + 1)
    with pytest.raises(JobError, match="larger than"):
        read_job(folder)


def test_a_file_that_a_cloud_drive_has_not_loaded_is_told(folder: Path):
    (folder / "job.toml").rename(folder / ".job.toml.icloud")
    with pytest.raises(JobError, match=NOT_LOADED):
        read_job(folder)


def test_a_path_through_links_leads_to_a_job(folder: Path, tmp_path: Path):
    (tmp_path / "way").symlink_to(folder.parent, target_is_directory=True)
    assert append_entry(tmp_path / "way" / folder.name, POLE).id == "p001"


def test_nothing_is_appended_to_a_log_that_cannot_be_read(folder: Path, job):
    log = folder / "bench.jsonl"
    log.write_text('{"kind":"pole","id":"p001","pickup":"nowhere","facing":"north"}\n')
    with pytest.raises(LogError, match='line 1: no pickup "nowhere"'):
        append_entry(folder, POLE)
    assert log.read_text().count("\n") == 1


def test_a_log_that_is_held_is_not_waited_for_without_end(folder: Path, monkeypatch):
    append_entry(folder, POLE)
    monkeypatch.setattr("capture.log.writing.PATIENCE_S", 0.05)
    path = folder / "bench.jsonl"
    with path.open("rb") as other, locks.locked(other, path) as held:
        assert held
        with pytest.raises(LogError, match=r"another program has held it for 0\.05 s"):
            append_entry(folder, POLE)
    assert append_entry(folder, POLE).id == "p002"


def test_a_share_without_locks_is_locked_in_the_cache_folder(folder: Path, tmp_path, monkeypatch):
    def no_locks(stream, flags):
        if "cache" not in str(stream.name):
            raise locks.portalocker.LockException("Operation not supported")
        real(stream, flags)

    real = locks.portalocker.lock
    monkeypatch.setattr(locks, "user_cache_path", lambda *_, **__: tmp_path / "cache")
    monkeypatch.setattr(locks.portalocker, "lock", no_locks)
    path = folder / "bench.jsonl"
    assert append_entry(folder, POLE).id == "p001"
    with path.open("rb") as one, locks.locked(one, path) as first, locks.locked(one, path) as second:
        assert (first, second) == (True, False)
    assert append_entry(folder, POLE).id == "p002"


def test_what_a_killed_program_left_goes_with_the_next(folder: Path, recording, tmp_path, monkeypatch):
    """Copies that were not finished, part files that hold nothing, folders for uploads: but no recording."""
    takes = folder / "takes"
    takes.mkdir()
    (takes / f"{COPYING}abc.wav").write_bytes(b"half")
    long_ago = time.time() - 1000
    held = PartFile(takes, rate=48_000, channels=1, note={})
    left = PartFile(takes, rate=48_000, channels=1, note={})
    left.close()
    for path in takes.iterdir():
        os.utime(path, (long_ago, long_ago))
    (takes / "t001.wav").hardlink_to(takes / f"{COPYING}abc.wav")  # named, and killed before it was logged
    (folder / f".report.txt-0{writing.PART}").touch()
    os.utime(folder / f".report.txt-0{writing.PART}", (long_ago, long_ago))
    writing.replace_whole(folder / "report.txt", b"whole")
    assert [p.name for p in folder.glob(f".*{writing.PART}")] == []
    JobFolder.open(folder).add_take(recording, PLUCK)
    assert unfinished_takes(folder) == ()
    assert sorted(p.name for p in takes.iterdir()) == sorted(
        [held.path.name, held.path.name.replace(".wav", ".json"), "t001.wav"]
    )
    held.remove()
    monkeypatch.setattr(locks, "user_cache_path", lambda *_, **__: tmp_path / "cache")
    killed = locks.ScratchFolder("uploads")
    (killed.path / "kept.wav").write_bytes(b"upload")
    with locks.ScratchFolder("uploads") as mine:
        assert killed.path.exists()
        killed._mark.close()  # as the system does for a process that was killed
        with locks.ScratchFolder("uploads"):
            assert not killed.path.exists()
            assert mine.exists()


def test_a_note_that_cannot_be_written_anew_stays_as_it_was(folder: Path, monkeypatch):
    with closing(TakeWriter(folder, rate=48_000, channels=2, planned=PLUCK)) as writer:
        (note,) = (folder / "takes").glob("*.json")
        before = note.read_text()

        def full(*_):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(writing, "write_all", full)
        with pytest.raises(RecordingError, match="No space left"):
            writer.mark_dropped(7)
        assert note.read_text() == before
    assert len(list((folder / "takes").iterdir())) == 2


@pytest.mark.parametrize("order", [51, None])
def test_flushing_reaches_the_disk_where_that_is_an_order_of_its_own(tmp_path, monkeypatch, order):
    """macOS has F_FULLFSYNC; a drive that does not know it, and Windows without fcntl, get fsync."""
    given, synced = [], []
    fcntl = type("fcntl", (), {"F_FULLFSYNC": order, "fcntl": lambda *said: given.append(said)})
    if order is None:
        monkeypatch.setattr(writing.importlib, "import_module", lambda name: __import__(f"no_{name}"))
    else:
        monkeypatch.setattr(writing.importlib, "import_module", lambda name: fcntl)
    monkeypatch.setattr(writing.os, "fsync", synced.append)
    writing.flush(7)
    assert (given, synced) == (([(7, 51)], []) if order else ([], [7]))


def test_what_another_program_has_open_on_windows_is_tried_again(tmp_path, monkeypatch):
    """Put in its place, and read: at the third time, as when the other is done by then."""
    refusals = [PermissionError(13, "in use")] * 2
    monkeypatch.setattr(reading, "_OTHERS_S", 5.0)
    monkeypatch.setattr(reading, "os", SimpleNamespace(**{**vars(os), "name": "nt"}))

    def replaced(part, path, real=os.replace):
        if refusals:
            raise refusals.pop()
        real(part, path)

    monkeypatch.setattr(writing.os, "replace", replaced)
    writing.replace_whole(tmp_path / "report.txt", b"new")
    assert [p.read_bytes() for p in tmp_path.iterdir()] == [b"new"]
    with pytest.raises(PermissionError):
        monkeypatch.setattr(reading, "_OTHERS_S", 0.0)
        refusals.append(PermissionError(13, "in use"))
        writing.replace_whole(tmp_path / "report.txt", b"newer")
    assert [p.read_bytes() for p in tmp_path.iterdir()] == [b"new"]


def test_messages_quote_no_control_characters_and_are_not_endless(folder: Path):
    said = str(CoilwiseError("a\x1b[31m\nb " + "c" * 100_000 + " do this"))
    assert len(said) < 1500
    assert said.startswith("a\N{REPLACEMENT CHARACTER}[31m b c")
    assert said.endswith("do this")
    assert read_log(folder, read_job(folder)).entries == ()
