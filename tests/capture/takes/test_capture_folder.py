"""Takes: copied byte for byte, never written over, each problem named, one read at a time."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest
from capture_bench import TAKE, noise, write_audio, write_log
from new_jobs import create_job

from capture import JobError, LogError, RecordingError
from capture.audio.files import sha256_of
from capture.audio.problems import FileProblem, Refusal
from capture.job import Pickup
from capture.log import LeadsInput, TakeFields, Void, append_entry, new_entry
from capture.takes import folder as copying
from capture.takes import folder as folder_module
from capture.takes.folder import JobFolder


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return write_audio(tmp_path / "my take.WAV")


def test_a_take_is_copied_and_logged(folder: Path, recording: Path):
    added = JobFolder.open(folder).add_take(
        recording,
        TakeFields(
            "pluck",
            ("bridge", LeadsInput(pickup="neck", hot="violet", ground="grey")),
            string="D3",
            fret=5,
            stage="after",
            rig="box",
        ),
        at="2026-11-25T10:12:00Z",
    )
    assert (added.status, added.problem) == ("usable", None)
    assert added.path == folder / "takes" / "t001.wav"
    assert added.path.read_bytes() == recording.read_bytes()
    assert json.loads((folder / "bench.jsonl").read_text()) == {
        "kind": "take",
        "id": "t001",
        "file": "takes/t001.wav",
        "sha256": sha256_of(recording),
        "gesture": "pluck",
        "inputs": ["bridge", {"pickup": "neck", "hot": "violet", "ground": "grey"}],
        "string": "D3",
        "fret": 5,
        "stage": "after",
        "rig": "box",
        "at": "2026-11-25T10:12:00Z",
    }
    (take,) = JobFolder.open(folder).takes()
    assert take == added
    np.testing.assert_allclose(take.load().samples, noise(), atol=2**-15)
    assert sorted(p.name for p in (folder / "takes").iterdir()) == ["t001.wav"]


def test_the_time_is_now_where_none_is_given(folder: Path, recording: Path):
    added = JobFolder.open(folder).add_take(recording, TakeFields("hum", ("neck", None)))
    assert added.entry.at.endswith("Z")
    assert (added.entry.string, added.entry.fret, added.entry.stage) == (None, 0, "found")


def test_a_file_that_lies_where_a_take_would_go_stays(folder: Path, recording: Path):
    (folder / "takes").mkdir()
    (folder / "takes" / "t001.flac").write_bytes(b"left by a killed recorder")
    added = JobFolder.open(folder).add_take(recording, TakeFields("hum", ("bridge", "neck")))
    assert added.entry.id == "t002"
    assert (folder / "takes" / "t001.flac").read_bytes() == b"left by a killed recorder"


@pytest.mark.parametrize("links", [True, False])
def test_placing_never_writes_over(tmp_path: Path, monkeypatch, links):
    if not links:

        def refuse(source, target):
            raise FileExistsError if os.path.exists(target) and links else OSError(1, "no links here")

        monkeypatch.setattr(os, "link", refuse)
    source, target = tmp_path / "a.wav", tmp_path / "takes" / "t001.wav"
    source.write_bytes(b"first")
    part, _ = copying.copy_beside(source, target)
    copying.link_to_name(part, target)
    assert target.read_bytes() == b"first"
    source.write_bytes(b"second")
    part, _ = copying.copy_beside(source, target)
    with pytest.raises(RecordingError, match="there is a file of that name, and it stays as it is"):
        copying.link_to_name(part, target)
    assert target.read_bytes() == b"first"


def test_what_cannot_be_copied_leaves_no_trace(tmp_path: Path):
    (tmp_path / "takes").mkdir()
    with pytest.raises(RecordingError, match="cannot be copied to"):
        copying.copy_beside(tmp_path / "nowhere.wav", tmp_path / "takes" / "t001.wav")
    assert list((tmp_path / "takes").iterdir()) == []


def test_a_disk_that_fills_up_leaves_neither_piece_nor_line(folder: Path, recording: Path, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copying.os, "fsync", full)
    with pytest.raises(RecordingError, match="No space left on device"):
        JobFolder.open(folder).add_take(recording, TakeFields("hum", ("bridge", "neck")))
    assert list((folder / "takes").iterdir()) == []
    assert (folder / "bench.jsonl").read_text() == ""


def test_a_recording_that_still_grows_is_not_taken(folder: Path, recording: Path, monkeypatch):
    monkeypatch.setattr(folder_module, "sha256_of", lambda path: "0" * 64)
    with pytest.raises(RecordingError, match="changed while it was copied; stop the recorder"):
        JobFolder.open(folder).add_take(recording, TakeFields("hum", ("bridge", "neck")))
    assert list((folder / "takes").iterdir()) == []


NOT_ADDED = [
    ({"inputs": ["bridge"]}, RecordingError, "2 channels in the file, 1 input named; name what was on each"),
    ({"inputs": ["bridge", "mid"]}, LogError, 'no setting or pickup "mid"'),
    ({"gesture": "strum"}, LogError, '"gesture" is "strum"'),
    ({"string": "A4"}, LogError, 'no string "A4" on this guitar'),
    ({"string": "X"}, LogError, '"string" is "X", which is no note name'),
    ({"fret": -2}, LogError, '"fret" is -2'),
    ({"coil": 3}, LogError, '"coil" is 3, and no pickup of this take has more than 2'),
    ({"stage": "later"}, LogError, '"stage" is "later"'),
    ({"gesture": "switch"}, LogError, "a switch take needs"),
    ({"at": "noon"}, LogError, '"at" is "noon", which is no time'),
]


@pytest.mark.parametrize(("said", "error", "words"), NOT_ADDED)
def test_what_is_wrong_is_not_added(folder: Path, recording: Path, said, error, words):
    fields = {"gesture": "pluck", "inputs": ("bridge", "neck"), **said}
    at = fields.pop("at", None)
    with pytest.raises(error, match=words):
        JobFolder.open(folder).add_take(recording, TakeFields(**fields), at=at)
    assert not (folder / "takes").exists()


def test_no_audio_is_not_added(folder: Path, tmp_path: Path):
    (tmp_path / "a.wav").write_text("hello")
    with pytest.raises(RecordingError, match="is no audio"):
        JobFolder.open(folder).add_take(tmp_path / "a.wav", TakeFields("hum", ("bridge",)))
    assert not (folder / "takes").exists()


def test_takes_that_lie_outside_through_a_link_are_not_written(folder: Path, recording: Path, tmp_path: Path):
    (tmp_path / "outside").mkdir()
    (folder / "takes").symlink_to(tmp_path / "outside")
    with pytest.raises(LogError, match="leads out of the job folder"):
        JobFolder.open(folder).add_take(recording, TakeFields("hum", ("bridge", "neck")))
    assert list((tmp_path / "outside").iterdir()) == []


def test_the_same_audio_twice_counts_once(folder: Path, recording: Path):
    job = JobFolder.open(folder)
    job.add_take(recording, TakeFields("pluck", ("bridge", "neck")))
    again = job.add_take(recording, TakeFields("pluck", ("bridge", "neck")))
    assert again.status == "refused"
    assert again.problem == FileProblem("duplicate audio", same_as="t001", entered_alike=True)
    other = job.add_take(recording, TakeFields("pluck", ("neck", "bridge")))
    assert other.problem == FileProblem("duplicate audio", same_as="t001", entered_alike=False)
    takes = JobFolder.open(folder).takes()
    assert takes[0].problem is None
    assert takes[1:] == (again, other)
    with pytest.raises(RecordingError, match=r"t002 \(takes/t002.wav\): .* duplicate audio"):
        again.load()


def test_a_voided_twin_does_not_count(folder: Path, recording: Path):
    job = JobFolder.open(folder)
    job.add_take(recording, TakeFields("pluck", ("bridge", "neck")))
    job.add_take(recording, TakeFields("pluck", ("neck", "bridge")))
    append_entry(folder, new_entry(Void, entry="t001", why="wrong way round"))
    (take,) = JobFolder.open(folder).takes()
    assert (take.entry.id, take.status) == ("t002", "usable")


def _problem(folder: Path, **said):
    write_log(folder, {**TAKE, **said})
    (take,) = JobFolder.open(folder).takes()
    return take


def test_a_missing_file(folder: Path):
    take = _problem(folder)
    assert (take.status, take.problem) == ("refused", FileProblem("missing"))
    with pytest.raises(RecordingError, match=r"t001 \(takes/t001.wav\): .* missing"):
        take.load()


def test_a_hash_that_does_not_match(folder: Path):
    (folder / "takes").mkdir()
    write_audio(folder / "takes" / "t001.wav", channels=1)
    take = _problem(folder, sha256="0" * 64)
    assert (take.status, take.problem) == ("refused", FileProblem("hash mismatch"))
    with pytest.raises(RecordingError, match="hash mismatch"):
        take.load()


def test_no_hash_is_no_fault(folder: Path):
    (folder / "takes").mkdir()
    write_audio(folder / "takes" / "t001.wav", channels=1)
    assert _problem(folder).status == "usable"


def test_a_file_that_is_no_audio(folder: Path):
    (folder / "takes").mkdir()
    (folder / "takes" / "t001.wav").write_text("hello")
    take = _problem(folder)
    assert take.status == "refused"
    assert take.problem == FileProblem("unreadable", refusal=Refusal("no audio"))


def test_channels_that_are_not_as_many(folder: Path):
    (folder / "takes").mkdir()
    write_audio(folder / "takes" / "t001.wav", channels=2)
    take = _problem(folder)
    assert (take.status, take.problem) == ("refused", FileProblem("channels", channels=2, inputs=1))


@pytest.mark.parametrize("suffix", ["wav", "flac", "aiff"])
def test_a_take_that_was_cut_off_is_marked_and_can_be_read(folder: Path, suffix):
    (folder / "takes").mkdir()
    path = write_audio(folder / "takes" / f"t001.{suffix}", channels=1, frames=48_000)
    os.truncate(path, path.stat().st_size // 2)
    take = _problem(folder, file=f"takes/t001.{suffix}")
    assert (take.status, take.problem) == ("marked", FileProblem("truncated"))
    audio = take.load()
    assert audio.truncated
    assert 10_000 < len(audio.samples) < 48_000


def test_looking_at_the_takes_reads_none(folder: Path, recording: Path, monkeypatch):
    job = JobFolder.open(folder)
    for seed in range(3):
        write_audio(recording, seed=seed)
        job.add_take(recording, TakeFields("pluck", ("bridge", "neck")))
    read = []
    original = folder_module.read_audio
    monkeypatch.setattr(folder_module, "read_audio", lambda path: read.append(path.name) or original(path))
    takes = JobFolder.open(folder).takes()
    assert (len(takes), read) == (3, [])
    takes[1].load()
    assert read == ["t002.wav"]


def test_a_new_folder(tmp_path: Path):
    job = create_job(tmp_path / "new", title="x", pickups=[Pickup(name="bridge")], mains_hz=50)
    assert (job.job.title, job.job.mains_hz, job.log.entries, job.takes()) == ("x", 50, (), ())
    with pytest.raises(JobError, match="holds something already"):
        create_job(tmp_path / "new", title="y", pickups=[Pickup(name="bridge")])


def test_a_name_without_an_ending_gets_one(folder: Path, tmp_path: Path):
    path = write_audio(tmp_path / "take", format="FLAC")
    added = JobFolder.open(folder).add_take(path, TakeFields("hum", ("bridge", "neck")))
    assert added.entry.file == "takes/t001.flac"
