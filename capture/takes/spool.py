"""The sound of a session, kept for a while: what was passed over can still become a take.

`Spool` holds the last `KEPT_S` of a stream in memory, every channel of it, and the frames at which something
was heard that was taken for no gesture. `keep_last` makes a take of the latest of these, or of the loudest
that began lately. It ends with the session; a take that was made is as safe as any other. Blocks are
(frames, channels), full scale 1.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from capture.log.entries import TakeFields
from capture.takes.folder import TakeFile
from capture.takes.recorder import TakeWriter
from dsp.live.gestures import plan_for

Samples = npt.NDArray[np.float32]

KEPT_S = 90.0
"""Two channels at 96 kHz are 70 MB."""
LATELY_S = 15.0
"""A pluck that somebody asks for was played so lately."""
PART_S = 0.05
OVERLAP_S = 0.3
"""Of a take that began before: the same sound is no second one."""


@dataclass
class Spool:
    """Blocks as they came, at most `KEPT_S` of them."""

    rate: int
    _blocks: deque[tuple[int, Samples, bool]] = field(default_factory=deque)
    _marks: deque[int] = field(default_factory=lambda: deque(maxlen=20))
    _taken: int = 0

    def add(self, start: int, samples: Samples, dropped: bool) -> None:
        """Keep a block; the oldest go."""
        self._blocks.append((start, samples, dropped))
        while start - self._blocks[0][0] > KEPT_S * self.rate:
            self._blocks.popleft()

    def mark(self, frame: int) -> None:
        """Something was heard at this frame of the stream and passed over."""
        self._marks.append(frame)

    def taken(self, stop: int) -> None:
        """What came before this frame is in a take already."""
        self._taken = max(self._taken, stop)

    @property
    def stop(self) -> int:
        """One past the last frame that is kept."""
        return self._blocks[-1][0] + len(self._blocks[-1][1]) if self._blocks else 0

    def latest(self) -> int | None:
        """Where the latest gesture of which there is no take yet may have begun."""
        since = max(self._taken - round(OVERLAP_S * self.rate), self.stop - round(LATELY_S * self.rate))
        marks = [m for m in self._marks if m >= since]
        return marks[-1] if marks else self._loudest(since)

    def _loudest(self, since: int) -> int | None:
        samples, first, _ = self.between(since, self.stop)
        part = round(PART_S * self.rate)
        if len(samples) < 2 * part:
            return None
        whole = samples[: len(samples) // part * part].reshape(-1, part, samples.shape[1])
        level = np.sqrt(np.mean(np.square(whole, dtype=np.float64), axis=1)).max(axis=1)
        return first + int(np.argmax(np.diff(level, prepend=level[:1]))) * part

    def between(self, start: int, stop: int) -> tuple[Samples, int, bool]:
        """What is kept between two frames, (frames, channels), its first frame, whether samples are lost."""
        parts, first, lost = [], None, False
        for begin, samples, dropped in self._blocks:
            low, high = max(0, start - begin), min(len(samples), stop - begin)
            if low < high:
                parts.append(samples[low:high])
                lost = lost or (dropped and first is not None)
                first = begin + low if first is None else first
        return (np.concatenate(parts) if parts else np.zeros((0, 1), np.float32)), first or 0, lost


def keep_last(
    spool: Spool, folder: Path, fields: TakeFields, *, columns: Sequence[int]
) -> tuple[TakeFile, tuple[int, int], int] | None:
    """Make a take of the latest gesture: the take, where it lies in the stream, its onset; or None.

    Raises
    ------
    RecordingError, LogError
        The folder cannot be written.

    """
    plan = plan_for(fields.gesture)
    at = spool.latest()
    if at is None:
        return None
    start = max(at - round(plan.preroll_s * spool.rate), 0)
    length = plan.longest_s if plan.dies else plan.rings_s
    samples, first, lost = spool.between(start, at + round(length * spool.rate))
    if not len(samples):
        return None
    kept = np.ascontiguousarray(samples[:, list(columns)])
    with closing(TakeWriter(folder, rate=spool.rate, channels=len(columns), planned=fields)) as writer:
        writer.write(kept, dropped=lost)
        take = writer.finish(fields)
    spool.taken(first + len(kept))
    return take, (first, first + len(kept)), at - first
