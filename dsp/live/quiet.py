"""Whether it is quiet between two takes, and whether hands have moved a plug: blocks in, yes or no out.

Task: `QuietWatch` says when what sounds has fallen to the bench's own floor and stays there; `MoveWatch` when
a plug, a clip or the selector was moved, or the strings were tapped twice, and it was quiet for a while
after. The floor is whatever does not fall any more: hum and noise, also of a setting that was not heard
before. Shapes: blocks (frames, channels) of any length, which change nothing. Units: seconds, dB re full
scale. Sign: turning a channel over changes nothing.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

BAND_HZ = (20.0, 4000.0)
PART_S = 0.1
"""Five periods of 50 Hz and six of 60 Hz: steady hum has one level."""
STAYS_S = 0.5
NEAR_DB = 6.0
"""So near to a floor that is known, and for `STAYS_S`, is quiet."""
STEADY_S = 1.5
STEADY_DB = 4.0
FALLS_DB_PER_S = 1.5
"""Where no floor is known: within this for so long, and falling no faster; strings fall by 4 dB a second and
more."""
AT_MOST_S = 12.0
"""A voice, a loose contact: it gets no quieter, and the person is not kept waiting for it."""
LOWEST_DB = -92.0
HOP_S = 0.01
BANG_DB = 10.0
"""What a contact does rises by so much over the second before within a hop or two."""
BANG_BEFORE_S = 1.0
APART_S = 0.12
"""So soon after another it is the same: contacts bounce."""
BANGS = 2
"""A plug goes out and in, strings are tapped twice; one bang alone is a hand that comes down."""
LOUD = 0.15
"""Of full scale: only a contact is so loud over strings that ring; softer may be the hand that damps."""
MOVED_QUIET_S = 2.0


class _Parts:
    """Levels of a stream in parts of one length, band-limited; state is kept from block to block."""

    def __init__(self, *, rate: int, channels: int, part_s: float) -> None:
        self._frames = round(part_s * rate)
        high = min(BAND_HZ[1], 0.45 * rate)
        self._sos = scipy.signal.butter(2, (BAND_HZ[0], high), "bandpass", fs=rate, output="sos")
        self._state = np.zeros((len(self._sos), channels, 2))
        self._rest = np.zeros((channels, 0))

    def feed(self, samples: NDArray[np.floating]) -> tuple[Array, Array]:
        """(levels in dB, peaks) of the parts that are complete now, each (parts, channels)."""
        block = np.ascontiguousarray(np.asarray(samples, dtype=np.float64).T)
        filtered, self._state = scipy.signal.sosfilt(self._sos, block, axis=1, zi=self._state)
        whole = np.concatenate([self._rest, filtered], axis=1)
        count = whole.shape[1] // self._frames
        self._rest = whole[:, count * self._frames :]
        each = whole[:, : count * self._frames].reshape(len(whole), count, self._frames)
        levels = 10 * np.log10(np.maximum(np.mean(np.square(each), axis=2), 1e-16))
        return np.maximum(levels, LOWEST_DB).T, np.abs(each).max(axis=2, initial=0.0).T


class QuietWatch:
    """Feed it blocks; `rests` once it is quiet."""

    def __init__(self, *, rate: int, channels: int, floor_db: Sequence[float] | None = None) -> None:
        """Begin to listen; ``floor_db``: the bench's own floor on what is plugged in, where it is known."""
        self._parts = _Parts(rate=rate, channels=channels, part_s=PART_S)
        self._known = None if floor_db is None else np.asarray(floor_db, dtype=np.float64)
        self._levels: deque[Array] = deque(maxlen=round(AT_MOST_S / PART_S))
        self.rests = False
        self.rests_since_s = 0.0
        """How long it was quiet when that was found."""

    def feed(self, samples: NDArray[np.floating]) -> None:
        """Take in the next block, (frames, channels)."""
        for level in self._parts.feed(samples)[0]:
            self._levels.append(level)
            self.rests = self.rests or self._is_quiet()

    @property
    def floor_db(self) -> tuple[float, ...]:
        """Level of each channel over the last half second."""
        last = np.array(self._levels)[-round(STAYS_S / PART_S) :]
        return tuple(float(x) for x in last.mean(axis=0))

    def _is_quiet(self) -> bool:
        levels = np.array(self._levels)
        few, many = round(STAYS_S / PART_S), round(STEADY_S / PART_S)
        if self._known is not None and len(levels) >= few and np.all(levels[-few:] < self._known + NEAR_DB):
            self.rests_since_s = STAYS_S
            return True
        if len(levels) < many:
            return False
        self.rests_since_s = STEADY_S
        last = levels[-many:]
        t = np.arange(many) * PART_S
        slopes = np.polyfit(t, last, 1)[0]
        falls = np.any((slopes < -FALLS_DB_PER_S) & (last.mean(axis=0) > LOWEST_DB + NEAR_DB))
        return (
            bool(np.all(np.ptp(last, axis=0) < STEADY_DB) and not falls) or len(levels) == self._levels.maxlen
        )


class MoveWatch:
    """Feed it blocks; `moved` once hands have moved something and let go."""

    def __init__(self, *, rate: int, channels: int) -> None:
        self._rate, self._channels = rate, channels
        self._parts = _Parts(rate=rate, channels=channels, part_s=HOP_S)
        self._levels: deque[Array] = deque(maxlen=round(BANG_BEFORE_S / HOP_S))
        self._quiet = QuietWatch(rate=rate, channels=channels)
        self._bangs = self._count = 0
        self._last: int | None = None
        self.moved = False

    @property
    def disturbed(self) -> bool:
        """Whether anything was heard yet that hands do."""
        return self._last is not None

    @property
    def quiet_s(self) -> float:
        """How long nothing was heard that hands do."""
        return (self._count - (self._last or 0)) * HOP_S

    def feed(self, samples: NDArray[np.floating]) -> None:
        """Take in the next block, (frames, channels)."""
        self._quiet.feed(samples)
        for level, peak in zip(*self._parts.feed(samples), strict=True):
            self._count += 1
            self._hear(level, peak)
            self._levels.append(level)
        self.moved = self._bangs >= BANGS and self.quiet_s >= MOVED_QUIET_S

    def _hear(self, level: Array, peak: Array) -> None:
        if len(self._levels) < round(BANG_BEFORE_S / HOP_S) // 2:
            return
        usual = np.median(np.array(self._levels), axis=0)
        bang = level > usual + BANG_DB
        if not np.any(bang) or not (self._quiet.rests or np.any(bang & (peak > LOUD))):
            return
        if self._last is None or (self._count - self._last) * HOP_S > APART_S:
            self._bangs += 1
        self._last = self._count
