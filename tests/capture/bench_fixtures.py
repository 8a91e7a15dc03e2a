"""Fixtures of the bench: a job folder, its commands, a recording, and a stand-in for the audio library."""

from __future__ import annotations

from pathlib import Path

import pytest
from capture_bench import JOB, bench, write_audio
from sound_parts import fake_sounddevice

from capture.job import Job, read_job
from reports.cli.shared import run_plainly


@pytest.fixture
def folder(begun) -> Path:
    return begun(JOB)


@pytest.fixture
def job(folder: Path) -> Job:
    return read_job(folder)


@pytest.fixture
def call(capsys):
    def run(*words: object) -> tuple[int, str, str]:
        status = run_plainly(bench(), [str(word) for word in words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return write_audio(tmp_path / "pluck.wav")


@pytest.fixture
def fake(monkeypatch):
    """Sounddevice as a laptop with a box has it."""
    return fake_sounddevice(monkeypatch)
