"""Every place of a job folder, with every kind of thing in it that a folder from elsewhere may have there.

Whatever is done to such a job ends at once, is refused in one line where it is refused, and reads and writes
nothing outside the folder.
"""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Callable
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pytest

from capture.disk.reading import read_plain, require_own
from capture.disk.writing import replace_whole
from capture.log import Pole, append_entry, new_entry
from capture.log.entries import TakeFields
from capture.takes.folder import JobFolder
from capture.takes.part_files import NOTE, PART
from capture.takes.recorder import TakeWriter, recover_take, set_aside, unfinished_takes
from capture.takes.recording_lock import HOLDER, LOCK, holder_of, is_recording, recording
from dsp import CoilwiseError
from reports.render.parts import PAGE, REPORT

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links and pipes as POSIX has them")
PLUCK = TakeFields("pluck", ("bridge", "neck"), string="A2")
SECRET = "nobody else's"
AT_ONCE_S = 20
"""An operation takes milliseconds; whoever waits for a pipe waits for ever."""

KINDS: dict[str, Callable[[Path, Path], object]] = {
    "link to a file outside": lambda place, outside: place.symlink_to(outside / "file"),
    "link to a folder outside": lambda place, outside: place.symlink_to(outside),
    "pipe": lambda place, outside: os.mkfifo(place),
    "folder": lambda place, outside: place.mkdir(),
    "another name of a file outside": lambda place, outside: os.link(outside / "theirs", place),
    "endless file": lambda place, outside: (place.touch(), os.truncate(place, 1 << 40)),
}


@pytest.fixture
def whole(folder: Path, recording) -> tuple[Path, tuple[str, ...]]:
    """A job with a take, an unfinished recording and a report; and all its places."""
    JobFolder.open(folder).add_take(recording, PLUCK)
    with closing(TakeWriter(folder, rate=48_000, channels=2, planned=PLUCK)) as writer:
        writer.write(np.zeros((480, 2), dtype=np.float32))
    (folder / REPORT).mkdir()
    (folder / REPORT / PAGE.format("found")).write_text("report")
    (folder / "takes" / "set-aside").mkdir()
    (folder / "takes" / LOCK).touch()
    (folder / "takes" / HOLDER).touch()
    return folder, tuple(str(p.relative_to(folder)) for p in sorted(folder.rglob("*")))


def read(home: Path, recording: Path) -> None:
    for take in JobFolder.open(home).takes():
        if take.status != "refused":
            take.load()


def enter(home: Path, recording: Path) -> None:
    append_entry(home, new_entry(Pole, pickup="bridge", facing="north"))


def take_in(home: Path, recording: Path) -> None:
    JobFolder.open(home).add_take(recording, PLUCK)


def record(home: Path, recording: Path) -> None:
    with closing(TakeWriter(home, rate=48_000, channels=2)) as writer:
        writer.write(np.zeros((480, 2), dtype=np.float32))


def hold(home: Path, recording_: Path) -> None:
    assert not is_recording(home)
    assert SECRET not in holder_of(home)
    with recording(home, who="terminal"):
        assert is_recording(home)


def recover(home: Path, recording: Path) -> None:
    for left in unfinished_takes(home):
        recover_take(left)


def put_aside(home: Path, recording: Path) -> None:
    for left in unfinished_takes(home):
        set_aside(left)


def report(home: Path, recording: Path) -> None:
    replace_whole(require_own(home, REPORT, PAGE.format("found")), b"new")


def show(home: Path, recording: Path) -> None:
    assert SECRET.encode() not in read_plain(require_own(home, REPORT, PAGE.format("found")), most_bytes=1000)


@contextmanager
def at_once():
    def late(*_):
        raise AssertionError("it waits")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(AT_ONCE_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_outside_is_touched_and_nothing_is_waited_for(kind, whole, recording, tmp_path):
    folder, places = whole
    assert {p.rpartition(".")[2] for p in places if p.endswith((PART, NOTE))} == {"wav", "json"}
    outside = tmp_path / "outside"
    outside.mkdir()
    os.mkfifo(outside / "pipe")
    (outside / "file").write_text(SECRET)
    (outside / "theirs").touch()
    for place in places:
        for work in (read, enter, take_in, record, hold, recover, put_aside, report, show):
            shutil.copytree(folder, home := tmp_path / "copy")
            if (home / place).is_dir():
                shutil.rmtree(home / place)
            else:
                (home / place).unlink()
            KINDS[kind](home / place, outside)
            with at_once():
                try:
                    work(home, recording)
                except (CoilwiseError, OSError) as refusal:
                    assert "\n" not in str(refusal)
            assert sorted(p.name for p in outside.iterdir()) == ["file", "pipe", "theirs"], (place, work)
            assert (outside / "file").read_text() == SECRET, (place, work)
            assert (outside / "theirs").read_bytes() == b"", (place, work)
            shutil.rmtree(home)
