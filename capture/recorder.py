"""Takes recorded straight into the job: written as they come, named when whole, logged after that.

Task: a `TakeWriter` is fed with blocks and finished with what was `Said` about them. Whatever ends the
program leaves every finished take as it was and at most the running one `unfinished`: those are offered at
the next start, to be taken in or set aside. Nothing is written over; only a take that holds no gesture is
thrown away.

Shapes: (frames, channels), full scale 1.0, with the sign they came with; files are 24-bit WAV.
"""

from __future__ import annotations

from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from capture.closing import ClosedAtEnd
from capture.entering import TAKES
from capture.errors import RecordingError
from capture.folder import TakeFile
from capture.log_checks import path_in
from capture.log_writing import now
from capture.part_files import PartFile
from capture.said import Said, checked, entered
from capture.unfinished import Unfinished, set_aside, take_in, unfinished

__all__ = ["Said", "TakeWriter", "Unfinished", "set_aside", "take_in", "unfinished"]


class TakeWriter(ClosedAtEnd):
    """A take that is being recorded into a job folder.

    As a context manager it never loses anything: left by an error, by Ctrl-C or just so, what was written
    stays unfinished and is offered later.
    """

    def __init__(
        self, folder: str | PathLike[str], *, rate: int, channels: int, planned: Said | None = None
    ) -> None:
        """Begin a take; `planned` is what it is going to be, and is refused now rather than afterwards.

        Raises
        ------
        JobError
            The folder is no job.
        LogError
            What is planned does not fit the job.
        RecordingError
            The folder cannot be written.

        """
        self._folder, self._at, self._dropped = Path(folder), now(), 0
        self._marked = self._closed = False
        path_in(self._folder, f"{TAKES}/x")
        note: dict[str, Any] = {"at": self._at}
        if planned is not None:
            note["planned"] = checked(self._folder, planned, channels)
        self._part = PartFile(self._folder / TAKES, rate=rate, channels=channels, note=note)

    @property
    def frames(self) -> int:
        """How many frames are in the file."""
        return self._part.frames

    @property
    def path(self) -> Path:
        """The hidden file; another name of the take once it is finished."""
        return self._part.path

    def write(self, samples: npt.NDArray[np.floating], *, dropped: int | bool = False) -> None:
        """Append (frames, channels); `dropped` says that samples are missing, and how many if that is known.

        Raises
        ------
        RecordingError
            The disk is full or gone; what was written stays.

        """
        if dropped:
            self.mark_dropped(dropped)
        self._part.write(samples)

    def mark_dropped(self, frames: int | bool = True) -> None:
        """Enter the take as one with missing samples; frames add up."""
        self._marked = True
        self._dropped += 0 if frames is True else int(frames)
        self._part.mark(dropped=self._dropped or True)

    def finish(self, said: Said, *, keep_to: int | None = None) -> TakeFile:
        """Flush, name and log the take; `keep_to` leaves away what comes after so many frames.

        Raises
        ------
        RecordingError
            No sound, other channels than inputs, or the folder cannot be written. It stays unfinished.
        LogError
            What is said does not fit the job, or cannot be logged. It stays unfinished.

        """
        if self._closed:
            raise RecordingError(f"{self.path}: this take was finished or left before")
        checked(self._folder, said, self._part.channels)
        if not self.frames or keep_to == 0:
            raise RecordingError(f"{self.path}: nothing was recorded; check the input, then record again")
        if keep_to is not None:
            self._part.cut(keep_to)
        self._part.complete()
        keys = said.keys() | {"at": self._at} | ({"dropped": self._dropped or True} if self._marked else {})
        take = entered(self._folder, self.path, keys)
        self._closed = True
        self._part.remove()
        return take

    def abandon(self, *, holds_gesture: bool = False) -> None:
        """End without logging; the file stays, unfinished, only if it holds a gesture."""
        if not self._closed and not holds_gesture:
            self._closed = True
            self._part.remove()
        self.close()

    def close(self) -> None:
        """Let go; what is not finished is offered later."""
        if not self._closed:
            self._closed = True
            self._part.close()
