"""Whether what begins is a string that was struck: it rises out of what sounds, at once, and then rings.

Task: keep the levels of the last seconds in hops, and decide, `DECIDED_S` after something began, whether it
was a string. A hand's thump, a click, a contact and a plug have died by then; a hum that begins goes on but
is gone once the hop a mains period before is taken away; a string that beats, or whose neighbour was stopped,
does not rise at once. Shapes: pieces (channels, frames) of one hop, band-limited; levels (channels,).
Units: frames, seconds, dB re full scale. Sign: turning a channel over changes nothing.

Levels are of the signal less itself one mains period before, of 50 or of 60 Hz, whichever leaves less where
it was quiet: steady hum is gone, and a string is not.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

LOW_HZ = 80.0
"""Below this a hand, or a string that is pushed aside, is loud; of a low string the rest lies above."""
PERIODS_S = (1 / 50, 1 / 60)
HOP_S = 0.01
DECIDED_S = 0.42
RINGS_FROM_S = 0.22
PART_S = 0.05
"""Whether it rings is asked of each such part from `RINGS_FROM_S` to `DECIDED_S`: a contact that bounces is
heard in some of them, a string in all."""
SURE_PARTS = 2
"""So many are enough where something louder comes before `DECIDED_S`: a selector that pops."""
ATTACK_S = 0.1
"""So soon after it begins it is as loud as it gets; a beat takes longer."""
RISES_DB = 3.0
"""So much over what sounded just before it rings on: a string that was stopped, or not touched, does not."""
STANDS_OUT_DB = 10.0
"""While something still rings that was to be damped, a take of what begins is of use from here on."""
OVER_QUIET_DB = 6.0
"""So much over the loudest of what was quiet: a voice, a beat of the hum."""
DIES_DB = 30.0
"""It does not fall by so much from its attack until it is decided."""
SWELLS_DB = 6.0
BEFORE_S = 0.3
QUIET_SHARE = 0.85
"""Quiet is as loud as this share of its hops stays: a voice counts, a contact or a thump does not."""
FEWEST = 6
RESTS_S = 4.0
"""So long is remembered of what was quiet: a voice that comes and goes has come in it."""
LATER_DB = 8.0
BUMP_S = 0.2
"""A thump or a contact has died so long after it began."""
RESTED_S = 0.2
"""Of what was found to be quiet: before that the string may still have died away under the hum."""
GUARD_HOPS = 3
AGAIN_DB = 6.0
AGAIN_S = 0.04
LOWEST = 1e-16


@dataclass
class Attack:
    """Something that begins at frame ``at``, hop ``hop`` of the levels.

    ``before`` is the power of what sounded just before, and ``quiet`` the loudest of what was quiet, 0 where
    nothing was; (mains, channels).
    """

    at: int
    hop: int
    before: Array
    quiet: Array
    loudest: Array | None = None
    late: bool = False

    def rose_again(self, level: Array) -> bool:
        """Whether it has become so much louder since, that what began was a bump before it."""
        again = self.loudest is not None and bool(np.any(level > self.loudest + AGAIN_DB))
        self.loudest = level if self.loudest is None else np.maximum(self.loudest, level)
        return again and self.late


@dataclass
class AttackLevels:
    """Powers of the last seconds without hum; feed it each hop once."""

    rate: int
    channels: int
    _count: int = 0
    _rested: int | None = None
    _sos: Array = field(init=False)
    _state: Array = field(init=False)
    _history: Array = field(init=False)
    _powers: deque[Array] = field(init=False)

    def __post_init__(self) -> None:
        self._lags = tuple(round(p * self.rate) for p in PERIODS_S)
        self._sos = scipy.signal.butter(2, LOW_HZ, "highpass", fs=self.rate, output="sos")
        self._state = np.zeros((len(self._sos), self.channels, 2))
        self._history = np.zeros((self.channels, max(self._lags)))
        self._powers = deque(maxlen=round((RESTS_S + 1.0) / HOP_S))

    def feed(self, piece: Array) -> None:
        """Take in one hop, (channels, frames)."""
        frames = piece.shape[1]
        piece, self._state = scipy.signal.sosfilt(self._sos, piece, axis=1, zi=self._state)
        whole = np.concatenate([self._history, piece], axis=1)
        last = whole.shape[1] - frames
        left = [whole[:, last:] - whole[:, last - lag : last - lag + frames] for lag in self._lags]
        self._powers.append(np.maximum([np.mean(np.square(x), axis=1) for x in left], LOWEST))
        self._history = whole[:, -max(self._lags) :]
        self._count += 1

    def rest(self, since_s: float) -> None:
        """It is quiet, and was for so long."""
        self._rested = self._count - round(min(since_s, RESTED_S) / HOP_S)

    def begin(self, at: int, *, over: Attack | None = None) -> Attack:
        """Something begins with the hop that was fed last; ``over``: in place of what began before it."""
        if over is not None:
            return replace(over, at=at, hop=self._count, loudest=None, late=False)
        powers = np.array(self._powers)[:-GUARD_HOPS]
        before = powers[-round(BEFORE_S / HOP_S) :].mean(axis=0)
        quiet = np.zeros_like(before)
        if self._rested is not None:
            rested = min(self._count - self._rested, round(RESTS_S / HOP_S)) - GUARD_HOPS
            quiet = np.quantile(powers[-max(rested, FEWEST) :], QUIET_SHARE, axis=0)
        return Attack(at, self._count, before, quiet)

    def rise_db(self, attack: Attack, *, cut_short: bool = False) -> float | None:
        """By how much what rings on stands out; -infinity where nothing does, None while that is open.

        ``cut_short``: something louder begins with the hop that was fed last, so that what came before it has
        to do; None where that is too little.
        """
        since = self._count - attack.hop
        attack.late = since * HOP_S >= AGAIN_S
        if since * HOP_S < DECIDED_S and not cut_short:
            return None
        powers = np.array(self._powers)[-since - 1 :]
        each = round(PART_S / HOP_S)
        parts = powers[round(RINGS_FROM_S / HOP_S) : -1 if cut_short else None]
        parts = parts[: len(parts) // each * each].reshape(-1, each, *powers.shape[1:]).mean(axis=1)
        if len(parts) < SURE_PARTS:
            return None
        peak = powers[: round(ATTACK_S / HOP_S)].max(axis=0)
        pick = (np.argmin(attack.before, axis=0), np.arange(self.channels))
        low, high = parts.min(axis=0)[pick], parts.max(axis=0)[pick]
        before, loudest = attack.before[pick], peak[pick]
        strikes = (
            (low > attack.quiet[pick] * _ratio(OVER_QUIET_DB))
            & (loudest < low * _ratio(DIES_DB))
            & (high < loudest * _ratio(SWELLS_DB))
        )
        if not np.any(strikes) and not cut_short:
            if (later := self._rises_later(parts, attack)) is not None:
                hops = round(RINGS_FROM_S / HOP_S) + later * each - each // 2
                attack.at, attack.hop = attack.at + hops * round(HOP_S * self.rate), attack.hop + hops
                return None
            self._forget(attack, since)
        return float(np.max(np.where(strikes, 10 * np.log10(low / before), -np.inf)))

    def _rises_later(self, parts: Array, attack: Attack) -> int | None:
        """The part from which on something else sounds, that began while a bump before it was looked at."""
        each = np.arange(self.channels)
        mains = np.argmin(attack.before, axis=0)
        over = np.any(parts[:, mains, each] > attack.before[mains, each] * _ratio(LATER_DB), axis=1)
        quiet = np.flatnonzero(~over)
        if not len(quiet) or quiet[-1] == len(over) - 1:
            return None
        return int(quiet[-1]) + 1

    def _forget(self, attack: Attack, since: int) -> None:
        """A bump that was passed over is no measure of how quiet it is; what goes on after it is."""
        first = len(self._powers) - since - 1
        for k in range(max(0, first - 1), min(first + round(BUMP_S / HOP_S), len(self._powers))):
            self._powers[k] = attack.before


def _ratio(decibels: float) -> float:
    return float(10 ** (decibels / 10))
