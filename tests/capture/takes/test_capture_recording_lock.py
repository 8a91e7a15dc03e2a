"""One recorder a job: the second is told who records, and nothing stays held once that has ended."""

from __future__ import annotations

from pathlib import Path

import pytest

from capture.takes.recording_lock import AlreadyRecordingError, is_recording, recording


def test_the_second_is_told_who_records(folder: Path):
    assert not is_recording(folder)
    with recording(folder, who="page"):
        assert is_recording(folder)
        again = recording(folder, who="terminal")
        with pytest.raises(AlreadyRecordingError, match=r"the bench page .* records into this job"):
            again.__enter__()
    with recording(folder, who="terminal"):
        assert is_recording(folder)
    assert not is_recording(folder)
