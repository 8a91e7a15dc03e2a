"""Mains lines as complex amplitudes, and takes of hum alone.

Task: amplitudes of mains lines 1, 2, 3, 5 and 7 on one or several stretches that share one mains frequency,
with the partials of a ringing string fitted beside them; whether hum is all that sounds in a take.
Shapes: signal (frames,) at the analysis rate, recording (frames, channels) at its own; amplitudes and errors
(lines,). Units: full scale 1.0, Hz, dB, seconds, samples.
Sign: an amplitude ``a`` of line n stands for Re(a exp(2 pi i n f (t - t_ref))); turning the signal over turns
every amplitude by half a turn.
Sources: T5 (lines, window).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.codes import Fault
from dsp.signal.faults import recording_faults, refusals_and_remarks
from dsp.signal.mains import NOMINAL_HZ, THIN_RATE, mains_frequency, thinned
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, checked
from dsp.signal.waves import sums_with, turns_of, waves

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

NUMBERS = (1, 2, 3, 5, 7)
"""The lines that carry hum (sources T5); the others are weak in a magnetic field."""
SHORTEST_S = 0.12
"""Six periods of 50 Hz: below that a window as sharp as this one mixes the lines."""
RIDGE = 1e-9
"""Keeps the least squares defined where a partial lies on a line; such a line is not used."""
KAISER_BETA = 7.0
"""Sidelobes 51 dB down."""
LOBE = 2.5
"""Half width of that window's main lobe, in units of one over its length."""
AROUND = (2.6, 3.2, 3.8, 4.4, 5.0)
"""Where the noise around a line is measured, in the same units."""
BETWEEN_LINES = 0.45
"""At most so far from a line, in spacings of the lines: the next one leaks beyond."""
FAITH = 0.01
"""No amplitude is better than this part of itself: mains lines waver."""
MOST_CLEAR = len(NUMBERS) / (2 * FAITH**2)
"""No clearness (`HumLines`) is greater, since no amplitude is better."""
PARTIAL_LEFT = 0.1
"""Part of a partial that its fit leaves: it beats and glides."""
CLOCK_HZ = 0.005
"""The mains frequency wanders so much within a take (common practice: some thousandths of a hertz)."""


@dataclass(frozen=True, eq=False)
class HumStretch:
    """One stretch, thinned, with its window; ``t`` counts seconds from ``centre``."""

    x: Array
    t: Array
    window: Array
    centre: float
    partials_hz: tuple[float, ...]

    @classmethod
    def of(cls, x: Array, *, start: int, stop: int, partials_hz: tuple[float, ...]) -> HumStretch | None:
        """Samples ``start`` to ``stop`` of ``x``; None where they are too few."""
        start, stop = max(0, start), min(len(x), stop)
        if stop - start < SHORTEST_S * ANALYSIS_RATE:
            return None
        step = ANALYSIS_RATE // THIN_RATE
        thin = thinned(x[start:stop] - np.mean(x[start:stop]))
        centre = (start + stop) / 2
        t = (start + step * np.arange(len(thin)) - centre) / ANALYSIS_RATE
        window = _window(len(thin))
        below = tuple(hz for hz in partials_hz if hz < 0.45 * THIN_RATE)
        return cls(thin, t, window, centre, below)

    @property
    def seconds(self) -> float:
        """Its length."""
        return float(len(self.t) * (self.t[1] - self.t[0]))

    @property
    def alike(self) -> tuple[int, float, tuple[float, ...]]:
        """What two stretches share for which one fit does, signals apart."""
        return len(self.t), float(self.t[0]), self.partials_hz


Fit = tuple[ComplexArray, Array]
"""Amplitudes and errors, (lines,), referred to the middle of a stretch."""


def fits_of(pieces: Sequence[HumStretch], hz: float) -> list[Fit]:
    """The lines of each stretch at a mains frequency; stretches of one length are fitted together."""
    found: dict[int, Fit] = {}
    for alike in dict.fromkeys(piece.alike for piece in pieces):
        places = [k for k, piece in enumerate(pieces) if piece.alike == alike]
        signals = np.stack([pieces[k].x for k in places])
        found |= dict(zip(places, _fitted(signals, pieces[places[0]], hz), strict=True))
    return [found[k] for k in range(len(pieces))]


def _fitted(signals: Array, like: HumStretch, hz: float) -> list[Fit]:
    """The lines of ``signals``, (signals, samples), that lie as one stretch does."""
    lines_hz, partials_hz = hz * np.array(NUMBERS), np.array(like.partials_hz)
    basis, weights = _solved(signals, like, lines_hz, partials_hz)
    count = len(NUMBERS)
    amplitudes = np.asarray(weights[:, :count] - 1j * weights[:, count : 2 * count])
    of_partials = weights[:, 2 * count : -1].reshape(len(signals), -1, 4)
    beside = _beside_lines(signals - weights @ basis.T, like, lines_hz)
    apart_hz = np.subtract.outer(lines_hz, partials_hz)
    power = np.mean(np.square(np.abs(beside)), axis=2) / 2 + np.square(FAITH * np.abs(amplitudes))
    if len(partials_hz):
        size = np.square(PARTIAL_LEFT) * np.sum(np.square(of_partials[:, :, :2]), axis=2)
        power += size @ np.square(_leaks(apart_hz, like)).T
    covered = (np.abs(apart_hz) < LOBE / like.seconds).any(axis=1)
    return list(zip(amplitudes, np.where(covered, np.inf, np.sqrt(power)), strict=True))


def _beside_lines(signals: Array, like: HumStretch, lines_hz: Array) -> ComplexArray:
    """Amplitudes of signals on both sides of each line, (signals, lines, places)."""
    off = np.array(AROUND) / like.seconds
    off = off * min(1.0, BETWEEN_LINES * lines_hz[0] / off[-1])
    beside = np.add.outer(lines_hz, np.concatenate([-off, off]))
    sums = sums_with(like.window * signals, -turns_of(beside.ravel(), rate=THIN_RATE))
    return np.asarray(2 * sums.reshape(len(signals), *beside.shape) / np.sum(like.window))


def _leaks(off_hz: Array, like: HumStretch) -> Array:
    """What the window lets through of waves so far off, as a part of them."""
    sums = sums_with(like.window, -turns_of(off_hz.ravel(), rate=THIN_RATE))
    return np.asarray(np.abs(sums).reshape(off_hz.shape) / np.sum(like.window))


def _solved(signals: Array, like: HumStretch, lines_hz: Array, partials_hz: Array) -> tuple[Array, Array]:
    """Windowed least squares: cosines, sines of the lines, then each partial with its growth, then 1.

    The basis (samples, columns) and the weights (signals, columns).
    """
    turns = turns_of(np.concatenate([lines_hz, partials_hz]), rate=THIN_RATE)
    turning = waves(turns, len(like.t)) * np.exp(turns * like.t[0] * THIN_RATE)[:, np.newaxis]
    lines, partials = turning[: len(lines_hz)], turning[len(lines_hz) :]
    steady = np.stack([partials.real, partials.imag], axis=1)
    growth = 2 * like.t / like.seconds
    growing = np.concatenate([steady, steady * growth], axis=1).reshape(-1, len(like.t))
    columns = np.concatenate([lines.real, lines.imag, growing, np.ones((1, len(like.t)))])
    weighed = columns * like.window
    square = weighed @ columns.T
    square += RIDGE * np.trace(square) / len(square) * np.eye(len(square))
    return columns.T, np.linalg.solve(square, weighed @ signals.T).T


@lru_cache(maxsize=32)
def _window(length: int) -> Array:
    return np.asarray(scipy.signal.windows.kaiser(length, KAISER_BETA))


def clock_error(pieces: Sequence[HumStretch], fits: Sequence[Fit]) -> float:
    """One standard deviation of the common mains frequency, Hz, from the lines' clearness."""
    known = 0.0
    numbers = np.array(NUMBERS)
    for piece, (amplitudes, errors) in zip(pieces, fits, strict=True):
        clear = np.where(np.isfinite(errors), np.abs(amplitudes) / np.maximum(errors, 1e-30), 0.0)
        known += float(np.sum((numbers * clear * piece.seconds) ** 2))
    return float(np.hypot(CLOCK_HZ, 0.7 / np.sqrt(known) if known > 0 else 1.0))


LEAST_HUM_POWER = 45.0
"""``HumLines.clearness`` from which on there is hum: four hundred stretches of noise alone reached 36."""
OTHER_MAINS = 10.0
"""Lines of the other mains frequency are what is heard from so many times the clearness of those looked for:
the two have no line among the first seven in common."""
QUARTERS = 4
UNSTEADY_DB = 3.0
"""Hum whose level moves so much within a take: the guitar or a hand moves."""
QUARTER_HUM_POWER = 150.0
"""The level of a quarter is known to half a decibel from here on."""
SOUNDS_HZ = (60.0, 1400.0)
"""Where strings are looked for."""
TONE_OVER_MEDIAN = 300.0
"""Power of a string's partial over the median around: the largest of noise reaches 20."""
TONE_OVER_LINE = 0.35
"""A partial of this part of the strongest line's amplitude is no hum take."""
MAINS_WIDTH_HZ = 3.0
LOWEST_AMPLITUDE = 3e-5
"""-90 dB re full scale: what sounds below that is nobody's string."""


@dataclass(frozen=True, eq=False)
class HumLines:
    """Mains lines of one stretch, (lines,), referred to sample ``reference``.

    ``error``: one standard deviation of an amplitude's real or imaginary part from the noise around the
    line, infinite where a string's partial covers it. ``centre``: the middle sample of the stretch.
    """

    fundamental_hz: float
    numbers: tuple[int, ...]
    amplitudes: ComplexArray
    error: Array
    reference: float
    seconds: float
    centre: float
    fundamental_error_hz: float

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Lines that no partial covers, (lines,)."""
        return np.isfinite(self.error)

    @property
    def clearness(self) -> float:
        """Power of each line over the noise that would pass for it, added up; about 5 for noise."""
        use = self.usable
        return float(np.sum(np.abs(self.amplitudes[use]) ** 2 / (2 * self.error[use] ** 2 + 1e-30)))

    def level_db(self) -> float:
        """RMS of all lines together, noise taken off, in dB re full scale; minus infinity for none."""
        use = self.usable
        power = float(np.sum(np.abs(self.amplitudes[use]) ** 2 - 2 * self.error[use] ** 2)) / 2
        return 10 * float(np.log10(power)) if power > 0 else -float("inf")

    def referred_to(self, reference: float) -> HumLines:
        """The same lines with their phases taken at another sample."""
        turns = np.array(self.numbers) * self.fundamental_hz * (reference - self.reference) / ANALYSIS_RATE
        moved = np.asarray(self.amplitudes * np.exp(2j * np.pi * turns))
        return replace(self, amplitudes=moved, reference=reference)


def lines_together(
    signals: Sequence[Array],
    *,
    stretches: Sequence[tuple[int, int]],
    mains_hz: int | None,
    fundamental_hz: float | None = None,
    partials_hz: Sequence[float] | None = None,
    reference: float | None = None,
) -> tuple[HumLines | None, ...]:
    """Mains lines of several stretches with one common mains frequency: one signal or one a stretch.

    ``partials_hz``: a string that rings in them; its partials are fitted beside the lines. ``reference``
    None: each stretch is referred to its own middle.
    """
    whole = list(signals) * len(stretches) if len(signals) == 1 else list(signals)
    pieces = [
        HumStretch.of(x, start=start, stop=stop, partials_hz=tuple(partials_hz or ()))
        for x, (start, stop) in zip(whole, stretches, strict=True)
    ]
    there = [piece for piece in pieces if piece is not None]
    if not there:
        return (None,) * len(stretches)
    nominal = NOMINAL_HZ if mains_hz is None else (mains_hz,)
    hz = fundamental_hz
    if hz is None:
        hz = mains_frequency([piece.x for piece in there], nominal, partials_hz=partials_hz or ())
    fits = fits_of(there, hz)
    unsure = clock_error(there, fits)
    each = iter(fits)
    found: list[HumLines | None] = []
    for piece in pieces:
        if piece is None:
            found.append(None)
            continue
        lines = HumLines(hz, NUMBERS, *next(each), piece.centre, piece.seconds, piece.centre, unsure)
        found.append(lines if reference is None else lines.referred_to(reference))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class HumAnalysis:
    """Lines of each channel asked for, in order (None: nothing usable), and what is wrong."""

    channels: tuple[HumLines | None, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def analyse_hum(
    samples: Array,
    *,
    rate: int,
    channels: tuple[int, ...],
    mains_hz: int | None = None,
    may_cancel: tuple[int, ...] = (),
) -> HumAnalysis:
    """Mains lines of the ``channels`` (columns counted from 0) of one take.

    ``may_cancel``: channels on which hum may well be gone (several pickups together, a whole humbucker):
    there "too little hum" is a remark, since the silence is the finding.

    Raises
    ------
    SignalError
        If the samples cannot be worked on (dsp.signal.samples.checked).

    """
    samples = checked(samples, rate=rate)
    refusals, small = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=False, channels=channels)
    )
    faults, remarks = list(refusals), list(small)
    spoiled = {fault.channel for fault in faults}
    fine = [column for column in channels if column + 1 not in spoiled]
    signals = {column: at_analysis_rate(samples[:, column], rate=rate) for column in fine}
    frames = next((len(x) for x in signals.values()), 0)
    lines = dict.fromkeys(channels, None) | dict(
        zip(
            fine,
            lines_together(
                [signals[column] for column in fine], stretches=[(0, frames)] * len(fine), mains_hz=mains_hz
            ),
            strict=True,
        )
    )
    for column in fine:
        heard = lines[column]
        other = other_mains([signals[column]], [(0, frames)], heard, mains_hz=mains_hz)
        if other is not None:
            faults.append(Fault("other mains", column + 1, detail=other))
            continue
        if heard is None:
            faults.append(Fault("too little hum", column + 1))
            continue
        if has_other_tone(signals[column], heard) or _unsteady(signals[column], heard):
            faults.append(Fault("strings not damped", column + 1))
        if heard.clearness < LEAST_HUM_POWER:
            little = remarks if column in may_cancel else faults
            little.append(Fault("too little hum", column + 1, detail=heard.clearness))
    return HumAnalysis(tuple(lines[column] for column in channels), tuple(faults), tuple(remarks))


def other_mains(
    signals: Sequence[Array],
    stretches: Sequence[tuple[int, int]],
    heard: HumLines | None,
    *,
    mains_hz: int | None,
) -> float | None:
    """The other nominal mains frequency in Hz, where it is what is heard and ``mains_hz`` is not; else None.

    ``heard``: the clearest lines at ``mains_hz`` of these stretches.
    """
    own = 0.0 if heard is None else heard.clearness
    if mains_hz is None or OTHER_MAINS * own > MOST_CLEAR:
        return None
    (other,) = (hz for hz in NOMINAL_HZ if hz != mains_hz)
    there = [one for one in lines_together(signals, stretches=stretches, mains_hz=other) if one is not None]
    clearest = max((one.clearness for one in there), default=0.0)
    return float(other) if clearest >= max(LEAST_HUM_POWER, OTHER_MAINS * own) else None


def has_other_tone(x: Array, lines: HumLines) -> bool:
    """Whether ``x`` (frames,) holds a tone that is no multiple of the mains and not far below the hum."""
    windowed = x * np.hanning(len(x))
    size = 1 << int(np.ceil(np.log2(2 * len(x))))
    first, last = (int(edge * size / ANALYSIS_RATE) for edge in SOUNDS_HZ)
    hz = np.arange(first, last + 1) * ANALYSIS_RATE / size
    width = max(MAINS_WIDTH_HZ, 3 * ANALYSIS_RATE / len(x))
    off = np.abs(hz - lines.fundamental_hz * np.round(hz / lines.fundamental_hz))
    looked = (hz > SOUNDS_HZ[0]) & (hz < SOUNDS_HZ[1]) & (off > width)
    if not looked.any():
        return False
    amplitude = np.abs(scipy.fft.rfft(windowed, size)[first : last + 1][looked]) * 4 / len(x)
    largest = float(amplitude.max())
    usual = float(np.median(amplitude))
    strongest = float(np.abs(lines.amplitudes).max())
    return (
        largest > max(TONE_OVER_LINE * strongest, LOWEST_AMPLITUDE)
        and largest**2 > TONE_OVER_MEDIAN * usual**2
    )


def _unsteady(x: Array, lines: HumLines) -> bool:
    length = len(x) // QUARTERS
    if length < SHORTEST_S * ANALYSIS_RATE:
        return False
    quarters = lines_together(
        [x],
        stretches=[(k * length, (k + 1) * length) for k in range(QUARTERS)],
        mains_hz=None,
        fundamental_hz=lines.fundamental_hz,
    )
    levels = [one.level_db() for one in quarters if one is not None and one.clearness > QUARTER_HUM_POWER]
    return len(levels) == QUARTERS and max(levels) - min(levels) > UNSTEADY_DB
