"""What lies between two inputs, from one signal on both: lag, sign, and phase against frequency.

Task: a split check (one pickup on both inputs) to an `InputPath`, and the angle that it gives to any partial
of another take. Shapes: two signals (frames,) at the analysis rate; points (points,). Units: seconds, Hz,
radians. Sign: an angle is that of the first input less that of the second, so a second input that comes later
by ``lag`` has 2 pi hz lag; negating one input turns ``sign`` over and nothing else; exchanging the inputs
negates lag and angles.

The lag is where the cross-correlation with even weight on all frequencies that both inputs hear is largest
(generalised cross-correlation with phase transform, sources D10), either sign. What is left of the angle
is read off in narrow bands, with the uncertainty that the coherence of a band allows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

BEFORE_S = 0.03
"""Of what comes before the onset on the louder input: the other one may come first."""
RINGING_S = 0.5
LONGEST_LAG_S = 0.025
"""Beyond, two plucks are too near each other; a link or a box that takes longer is found by ear."""
STEP_S = 1.0 / (4 * ANALYSIS_RATE)
CLEAR_DB = 12.0
"""A frequency counts where both inputs stand so far over their noise."""
LOWEST_HZ, HIGHEST_HZ = 28.0, 4000.0
BAND_RATIO = 1.10
STEEPEST_DB = 9.0
"""Between two points: a cut of the fourth order falls by 4 dB from band to band."""
NARROWEST_HZ = 5.0
BESIDE = 1.25
"""Two points whose frequencies differ by less have nothing between them that was missed."""
SURE_RAD = 0.2
"""A point whose angle is known no better says nothing."""
FLAT_RAD = 0.35
"""What is left of the angle stays below this everywhere: a plain lag. Two preamplifiers with couplings of 5
and 20 Hz differ by 0.35 at the lowest string of a bass."""
JOINED_RAD = 1.1
"""Between two points that differ by more, the angle is not known."""
LONGEST_OF_FILTER_S = 1.5e-3
"""Below, a lag with much left of the angle may stand for a filter alone."""
NEAR = 1.04
"""A frequency this near to a point has its angle."""


@dataclass(frozen=True, eq=False)
class InputPath:
    """How two inputs differ: the second comes ``lag_s`` later, and turned over where ``sign`` is -1.

    ``left`` (points,): the angle at ``hz`` that is left when both are taken out, ``left_error`` its standard
    deviation; ``level_db``: the level of the first input over that of the second; ``agrees``: which part of
    all that was heard the lag and the sign explain, 0 to 1.
    """

    lag_s: float
    lag_error_s: float
    sign: int
    agrees: float
    hz: Array
    left: Array
    left_error: Array
    level_db: Array

    @property
    def plain(self) -> bool:
        """Whether lag and sign are all there is."""
        return bool(len(self.hz) and np.max(np.abs(self.left) - 2 * self.left_error) < FLAT_RAD)

    @property
    def roughness(self) -> float:
        """How far angle and level jump between points; 1 is what no filter does, and 0 a plain path."""
        if self.plain or len(self.hz) < 2:
            return 0.0
        turn = np.abs(np.angle(np.exp(1j * np.diff(self.left)))) / JOINED_RAD
        step = np.abs(np.diff(self.level_db)) / STEEPEST_DB
        beside = np.diff(np.log(self.hz)) < np.log(BESIDE)
        return float(np.max(np.where(beside, np.maximum(turn, step), 0.0)))

    @property
    def most_turned(self) -> tuple[float, float]:
        """(Hz, radians) where most of the angle is left."""
        worst = int(np.argmax(np.abs(self.left)))
        return float(self.hz[worst]), float(self.left[worst])

    def angle_at(self, hz: Array) -> tuple[Array, Array]:
        """(angle, voice), each of the shape of ``hz``: what the path gives a partial, its sign left out.

        ``voice`` is 1 where the angle is known, 0 where it is not, and between them near the limit. A plain
        lag holds at every frequency.
        """
        lag = 2 * np.pi * np.asarray(hz) * self.lag_s
        if not len(self.hz):
            return lag, np.zeros(len(hz))
        if self.plain:
            return lag, np.ones(len(hz))
        left, voice = np.zeros(len(hz)), np.zeros(len(hz))
        for k, one in enumerate(hz):
            left[k], voice[k] = self._left_at(float(one))
        return lag + left, voice

    def _left_at(self, hz: float) -> tuple[float, float]:
        nearest = int(np.argmin(np.abs(np.log(self.hz / hz))))
        if max(self.hz[nearest] / hz, hz / self.hz[nearest]) < NEAR:
            return float(self.left[nearest]), 1.0
        above = int(np.searchsorted(self.hz, hz))
        if above in (0, len(self.hz)):
            return 0.0, 0.0
        a, b = above - 1, above
        turn = float(np.angle(np.exp(1j * (self.left[b] - self.left[a]))))
        part = float(np.log(hz / self.hz[a]) / np.log(self.hz[b] / self.hz[a]))
        return float(self.left[a] + part * turn), float(np.clip(2 * (1 - abs(turn) / JOINED_RAD), 0.0, 1.0))


def input_path(a: Array, b: Array, *, onset: int, quiet: int) -> InputPath | None:
    """How two inputs differ that carry one pluck; None where they have nothing in common.

    The noise of each is measured before sample ``quiet``; ``onset`` is that of the pluck.
    """
    start = max(0, onset - int(BEFORE_S * ANALYSIS_RATE))
    stop = onset + int(RINGING_S * ANALYSIS_RATE)
    size = 1 << int(np.ceil(np.log2(stop - start + 2 * LONGEST_LAG_S * ANALYSIS_RATE)))
    hz = np.asarray(np.fft.rfftfreq(size, 1 / ANALYSIS_RATE), dtype=np.float64)
    spectra = [_spectrum(x[start:stop], size) for x in (a, b)]
    floors = [_floor(x[: min(start, quiet)], stop - start, hz) for x in (a, b)]
    heard = (hz > LOWEST_HZ) & (hz < HIGHEST_HZ)
    for spectrum, floor in zip(spectra, floors, strict=True):
        heard &= np.abs(spectrum) ** 2 > 10 ** (CLEAR_DB / 10) * floor
    cross = spectra[0] * np.conj(spectra[1])
    if np.count_nonzero(heard) < 8 or not np.any(cross[heard]):
        return None
    lag, sign, agrees = _lag(np.where(heard, cross, 0.0), size)
    straight = sign * cross * np.exp(-2j * np.pi * hz * lag)
    lag += _fine_lag(straight[heard], hz[heard])
    path = _path(cross, spectra, hz, heard, lag=lag, sign=sign, agrees=agrees)
    if path.plain or abs(lag) > LONGEST_OF_FILTER_S:
        return path
    # what a filter does is no lag; its sign is that of the highest notes
    unmoved = _path(cross, spectra, hz, heard, lag=0.0, sign=1, agrees=agrees)
    top = unmoved.left[-max(1, len(unmoved.left) // 3) :]
    sign = 1 if not len(top) or float(np.sum(np.cos(top))) >= 0 else -1
    return unmoved if sign > 0 else _path(cross, spectra, hz, heard, lag=0.0, sign=-1, agrees=agrees)


def _path(
    cross: ComplexArray,
    spectra: list[ComplexArray],
    hz: Array,
    heard: NDArray[np.bool_],
    *,
    lag: float,
    sign: int,
    agrees: float,
) -> InputPath:
    """The path with a lag and a sign, and what they leave of the angle."""
    straight = sign * cross * np.exp(-2j * np.pi * hz * lag)
    points = _points(straight, spectra, hz, heard)
    return InputPath(lag, _lag_error(*points[:3]), sign, agrees, *points)


def _spectrum(piece: Array, size: int) -> ComplexArray:
    ramp = int(0.01 * ANALYSIS_RATE)
    window = np.ones(len(piece))
    fade = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    window[:ramp], window[-10 * ramp :] = fade, np.linspace(1.0, 0.0, 10 * ramp)
    return np.asarray(np.fft.rfft(piece * window, size))


def _floor(quiet: Array, length: int, hz: Array) -> Array:
    """Power of the noise in each bin of a stretch of ``length``, smooth; 0 where there is no quiet."""
    if len(quiet) < 0.02 * ANALYSIS_RATE:
        return np.zeros(len(hz))
    width = min(len(quiet), 1024)
    frames = np.lib.stride_tricks.sliding_window_view(quiet, width)[:: width // 2] * np.hanning(width)
    power = np.mean(np.abs(np.fft.rfft(frames, 1024, axis=1)) ** 2, axis=0) / np.sum(np.hanning(width) ** 2)
    return np.asarray(np.interp(hz, np.fft.rfftfreq(1024, 1 / ANALYSIS_RATE), power) * length)


def _lag(cross: ComplexArray, size: int) -> tuple[float, int, float]:
    """(lag, sign, part explained) at the largest peak of the whitened cross-correlation, either sign."""
    white = cross / np.maximum(np.abs(cross), 1e-300)
    fine = np.fft.irfft(white, 4 * size) * 4 * size / (2 * np.count_nonzero(cross))
    reach = int(LONGEST_LAG_S / STEP_S)
    around = np.concatenate([fine[-reach:], fine[: reach + 1]])
    best = int(np.argmax(np.abs(around)))
    # cross turns by +2 pi f lag, so the peak of its transform lies at minus the lag
    return -(best - reach) * STEP_S, (1 if around[best] > 0 else -1), float(abs(around[best]))


def _fine_lag(straight: ComplexArray, hz: Array) -> float:
    """What is left of the lag: the slope of the small angles, high frequencies first."""
    angle = np.angle(straight)
    near = np.abs(angle) < 1.0
    if np.count_nonzero(near) < 3:
        return 0.0
    f, y = hz[near], angle[near]
    return float(np.clip(np.sum(f * y) / np.sum(f * f) / (2 * np.pi), -2 * STEP_S, 2 * STEP_S))


def _points(
    straight: ComplexArray, spectra: list[ComplexArray], hz: Array, heard: NDArray[np.bool_]
) -> tuple[Array, Array, Array, Array]:
    """(Hz, angle left, its error, level in dB) of the bands whose angle is sure, each (points,)."""
    rows = []
    low = LOWEST_HZ
    while low < HIGHEST_HZ:
        high = max(low * BAND_RATIO, low + NARROWEST_HZ)
        k = np.flatnonzero((hz >= low) & (hz < high) & heard)
        if len(k) > 1:
            strength = np.abs(straight[k])
            total = complex(np.sum(straight[k]))
            powers = [float(np.sum(np.abs(s[k]) ** 2)) for s in spectra]
            coherence = min(abs(total) / max(np.sqrt(powers[0] * powers[1]), 1e-300), 1 - 1e-9)
            error = float(np.sqrt((1 - coherence**2) / (2 * coherence**2 * len(k)))) if coherence else np.inf
            if error < SURE_RAD:
                centre = float(np.sum(hz[k] * strength) / np.sum(strength))
                rows.append((centre, np.angle(total), error, 10 * np.log10(powers[0] / powers[1])))
        low = high
    points = np.array(rows, dtype=float).reshape(-1, 4).T
    return points[0], points[1], points[2], points[3]


def _lag_error(hz: Array, left: Array, error: Array) -> float:
    """Standard deviation of the lag by what is left of the angles."""
    if not len(hz):
        return LONGEST_LAG_S
    spread = np.square(left) + np.square(error)
    return float(np.sqrt(np.sum(spread * hz**2)) / np.sum(hz**2) / (2 * np.pi))
