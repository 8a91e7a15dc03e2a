"""Takes recorded into the job: exact, logged, never written over, and kept out where samples were lost."""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from capture_bench import RATE
from hypothesis import given
from hypothesis import strategies as st
from recorder_parts import FULL, PLUCK, names, sound

from capture import JobError, LogError, RecordingError
from capture.audio.files import probe, sha256_of
from capture.audio.problems import FileProblem
from capture.log import LeadsInput, TakeFields, read_log
from capture.takes import folder as entering
from capture.takes.folder import JobFolder
from capture.takes.part_files import PartFile
from capture.takes.recorder import TakeWriter, recover_take, unfinished_takes


def test_a_take_is_recorded_exactly_and_logged(folder: Path):
    samples = sound()
    with closing(TakeWriter(folder, rate=44_100, channels=2, planned=PLUCK)) as writer:
        for start in range(0, len(samples), 441):
            writer.write(samples[start : start + 441])
        said = TakeFields(
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
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(np.array([[1.5, -1.5], [1.0, -1.0]]))
        take = writer.finish(PLUCK)
    top = (FULL - 1) / FULL
    assert np.array_equal(take.load().samples, [[top, -1.0], [top, -1.0]])


def test_the_file_can_be_read_while_it_is_written(folder: Path):
    samples = sound()
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        for upto in (1000, 4800):
            writer.write(samples[writer.frames : upto])
            assert np.array_equal(sf.read(writer.path)[0], samples[:upto])
        assert unfinished_takes(folder) == ()  # it is being recorded just now


def test_the_end_can_be_left_away(folder: Path):
    samples = sound()
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(samples)
        take = writer.finish(PLUCK, keep_to=1001)
    assert np.array_equal(take.load().samples, samples[:1001])


REFUSED = [
    (TakeFields("pluck", ("bridge",)), RecordingError, "2 channels recorded, 1 input named"),
    (TakeFields("pluck", ("bridge", "mid")), LogError, 'no setting or pickup "mid"'),
    (TakeFields("switch", ("bridge", "neck")), LogError, "a switch take needs"),
    (TakeFields("pluck", ("bridge", "neck"), string="A4"), LogError, 'no string "A4" on this guitar'),
]


@pytest.mark.parametrize(("said", "error", "words"), REFUSED)
def test_what_would_not_be_logged_is_refused_before_it_is_recorded(folder: Path, said, error, words):
    with pytest.raises(error, match=words):
        TakeWriter(folder, rate=RATE, channels=2, planned=said)
    assert not (folder / "takes").exists()


@pytest.mark.parametrize(("said", "error", "words"), REFUSED)
def test_what_is_said_wrongly_afterwards_can_be_said_again(folder: Path, said, error, words):
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        writer.write(sound())
        with pytest.raises(error, match=words):
            writer.finish(said)
        assert read_log(folder, JobFolder.open(folder).job).entries == ()
        assert writer.finish(PLUCK).status == "usable"
        with pytest.raises(RecordingError, match="finished or left before"):
            writer.finish(PLUCK)


def test_nothing_recorded_is_no_take(folder: Path):
    with (
        closing(TakeWriter(folder, rate=RATE, channels=2)) as writer,
        pytest.raises(RecordingError, match="nothing was"),
    ):
        writer.finish(PLUCK)
    assert unfinished_takes(folder) == ()


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
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
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
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        (folder / "takes" / "t001.flac").write_bytes(b"somebody else's")
        writer.write(sound())
        assert writer.finish(PLUCK).entry.id == "t002"
    assert (folder / "takes" / "t001.flac").read_bytes() == b"somebody else's"
    assert names(folder) == ["t001.flac", "t002.wav"]


def test_a_name_taken_at_the_last_moment_is_not_written_over(folder: Path, monkeypatch):
    """Somebody without our lock puts a file there after the id was chosen."""
    monkeypatch.setattr(entering, "free_take_id", lambda log: "t001")
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
        (folder / "takes" / "t001.wav").write_bytes(b"somebody else's")
        writer.write(sound())
        with pytest.raises(RecordingError, match="there is a file of that name, and it stays as it is"):
            writer.finish(PLUCK)
    assert (folder / "takes" / "t001.wav").read_bytes() == b"somebody else's"
    (left,) = unfinished_takes(folder)
    assert left.frames == 4800


def test_two_recorders_in_one_job(folder: Path):
    with (
        closing(TakeWriter(folder, rate=RATE, channels=2)) as one,
        closing(TakeWriter(folder, rate=RATE, channels=2)) as other,
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
    with closing(TakeWriter(folder, rate=RATE, channels=2)) as writer:
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
        assert (take.status, take.problem) == ("refused", FileProblem("samples lost"))
        with pytest.raises(RecordingError, match="samples lost"):
            take.load()


def test_an_unfinished_take_remembers_that_samples_were_lost(folder: Path):
    with closing(TakeWriter(folder, rate=RATE, channels=2, planned=PLUCK)) as writer:
        writer.write(sound(100), dropped=7)
    (left,) = unfinished_takes(folder)
    assert left.dropped == 7
    assert recover_take(left).problem == FileProblem("samples lost")
