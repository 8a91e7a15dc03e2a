"""Takes left in the middle, by a crash, a kill or a key: offered later, taken in or set aside, never lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from capture_bench import RATE
from recorder_parts import PLUCK, left_over, names, sound

from capture import LogError, RecordingError
from capture.log import LeadsInput, TakeFields
from capture.takes.folder import JobFolder
from capture.takes.recorder import TakeWriter, recover_take, set_aside, unfinished_takes

PLANS = [
    None,
    PLUCK,
    TakeFields("switch", (("bridge", "both", "neck"), None), string="A2", fret=0, rig="box"),
    TakeFields(
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
    (left,) = unfinished_takes(folder)
    assert (left.frames, left.seconds, left.rate, left.channels) == (4800, 0.1, RATE, 2)
    assert (left.planned, left.dropped) == (planned, False)
    assert left.at is not None and left.at.endswith("Z")
    if planned is None:
        with pytest.raises(LogError, match="say its gesture"):
            recover_take(left)
    take = recover_take(left, None if planned else PLUCK)
    assert (take.status, take.entry.id, take.entry.at) == ("usable", "t001", left.at)
    assert take.entry.inputs == (planned or PLUCK).inputs
    assert np.array_equal(take.load().samples, sound())
    assert names(folder) == ["t001.wav"]
    assert unfinished_takes(folder) == ()
    with pytest.raises(RecordingError, match="cannot be read"):
        recover_take(left, PLUCK)
    assert len(JobFolder.open(folder).takes()) == 1


def test_what_was_left_can_be_set_aside(folder: Path):
    left_over(folder, sound(), planned=PLUCK)
    (left,) = unfinished_takes(folder)
    (folder / "takes" / "t001.wav").hardlink_to(left.path)  # named, and killed before it was logged
    aside = set_aside(left)
    assert aside.parent == folder / "takes" / "set-aside"
    assert np.array_equal(sf.read(aside)[0], sound())
    assert json.loads(aside.with_suffix(".json").read_text())["planned"]["string"] == "D3"
    assert names(folder) == ["set-aside"]
    assert (unfinished_takes(folder), JobFolder.open(folder).takes()) == ((), ())
    left_over(folder, sound(), planned=PLUCK)
    assert recover_take(unfinished_takes(folder)[0]).entry.id == "t001"


@pytest.mark.parametrize("torn", [1, 5, 7])
def test_a_block_that_was_torn_costs_its_last_frame(folder: Path, torn):
    """Killed between the samples and the head, with half a frame at the end."""
    left_over(folder, sound())
    (part,) = (folder / "takes").glob(".*.part.wav")
    with part.open("ab") as stream:
        stream.write(b"\x55" * torn)
    (left,) = unfinished_takes(folder)
    assert left.frames == 4800 + torn // 6
    take = recover_take(left, PLUCK)
    assert (take.status, len(take.load().samples)) == ("usable", left.frames)
    assert np.array_equal(take.load().samples[:4800], sound())


@pytest.mark.parametrize(
    "note", [None, b"", b"[1]", b'{"at": 3, "planned": {"gesture": "strum"}, "dropped": "x"}']
)
def test_a_note_that_is_torn_or_gone_takes_nothing_with_it(folder: Path, note):
    left_over(folder, sound(), planned=PLUCK)
    (path,) = (folder / "takes").glob(".*.part.json")
    path.unlink() if note is None else path.write_bytes(note)
    (left,) = unfinished_takes(folder)
    assert (left.frames, left.planned, left.at, left.dropped) == (4800, None, None, False)
    assert recover_take(left, PLUCK).status == "usable"


def test_what_holds_no_frame_is_not_offered(folder: Path):
    TakeWriter(folder, rate=RATE, channels=2).close()
    (folder / "takes" / ".x.part.wav").write_bytes(b"RIFF")
    assert unfinished_takes(folder) == ()


def test_killed_between_name_and_log(folder: Path):
    """The take had its name, and the log did not know it yet: it gets that name again, once."""
    left_over(folder, sound(), planned=PLUCK)
    (left,) = unfinished_takes(folder)
    os.link(left.path, folder / "takes" / "t001.wav")
    assert recover_take(left).entry.id == "t001"
    assert names(folder) == ["t001.wav"]


def test_killed_between_log_and_the_end(folder: Path):
    """The take was logged, and its hidden name was left: it is no second take."""
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(sound())
        hidden = writer.path
        take = writer.finish(PLUCK)
    os.link(take.path, hidden)
    assert unfinished_takes(folder) == ()
    assert names(folder) == ["t001.wav"]
    assert JobFolder.open(folder).takes() == (take,)


def test_ctrl_c_loses_nothing(folder: Path):
    with pytest.raises(KeyboardInterrupt), closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(sound())
        raise KeyboardInterrupt
    assert unfinished_takes(folder)[0].frames == 4800


KILLED = """
import os, signal, sys
import numpy as np
from capture.log import TakeFields
from capture.takes.recorder import TakeWriter
x = np.load(sys.argv[2])
pluck = TakeFields("pluck", ("bridge", "neck"), string="D3")
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
    (left,) = unfinished_takes(folder)
    assert (left.frames, left.planned) == (4800, PLUCK)
    assert np.array_equal(recover_take(left).load().samples, samples)
    assert len(JobFolder.open(folder).takes()) == len(takes) + 1
