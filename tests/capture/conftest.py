"""The job folder that every test here starts from."""

from __future__ import annotations

from pathlib import Path

import pytest
from capture_bench import JOB

from capture.job import Job, read_job


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    home = tmp_path / "job"
    home.mkdir()
    (home / "job.toml").write_text(JOB, encoding="utf-8")
    return home


@pytest.fixture
def job(folder: Path) -> Job:
    return read_job(folder)
