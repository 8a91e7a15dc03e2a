"""Pitch and partials of one pluck: fundamental, inharmonicity, and the partials as complex amplitudes.

Task: a signal (frames,) at the analysis rate, from the onset on, to a `Pitch` (None where there is no tone),
and by least squares to the decaying `Partials` of a stretch. Shapes: frequencies, decays, amplitudes
(partials,). Units: Hz, 1/s, full scale 1.0; the inharmonicity B has none, f_n = n f0 sqrt(1 + B n^2) (sources
S6). Sign: an amplitude ``a`` stands for Re(a exp(2 pi i f (t - t_ref))); turning the signal over turns every
amplitude by half a turn. First estimate of the pitch: YIN (de Cheveigne and Kawahara), refined on the peaks
of the spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE, band
from dsp.signal.waves import least_squares, sum_of, sums_with, turns_of, waves

Array = NDArray[np.float64]

LOWEST_HZ = 28.0
HIGHEST_HZ = 1400.0
TONE_S = 0.5
"""How much of the ringing is looked at."""
ATTACK_S = 0.015
"""What is left out at the start: the pick itself."""
SAME_NOTE_CENTS = 70.0
"""Beyond this it is another note than the one named: a guitar on the bench may be 30 cents out."""
PARTIALS = 8
OCTAVES = (0.5, 2.0, 4.0)
MULTIPLES = (*OCTAVES, 1 / 3, 3.0, 5.0)
"""What an ear for pitch takes for the fundamental now and then."""

FEWEST_FOR_STIFFNESS = 3
STIFFEST = 2e-3
"""No guitar string is stiffer; a fit that says so has caught a wrong line."""

Match = Literal["as named", "octave", "other", "none"]


@dataclass(frozen=True)
class Pitch:
    """The fundamental and the stiffness, and how the note compares with the one that was named."""

    f0_hz: float
    stiffness: float
    match: Match

    def partial_hz(self, n: int) -> float:
        """Frequency of partial ``n``."""
        return float(n * self.f0_hz * np.sqrt(1 + self.stiffness * n * n))


def pitch_of(ringing: Array, *, named_hz: float | None = None) -> Pitch | None:
    """Pitch of a pluck from its ringing, shape (frames,); None where there is no tone.

    The note is the one YIN hears; where that is a multiple or a part of ``named_hz``, the named
    note stands if its own lines, the odd ones too, carry the sound and no lines lie between them.
    """
    tone = ringing[int(ATTACK_S * ANALYSIS_RATE) : int((ATTACK_S + TONE_S) * ANALYSIS_RATE)]
    if len(tone) < 0.12 * ANALYSIS_RATE or not np.any(tone):
        return None
    spectrum = _Spectrum.of(tone)
    detected = _detected_hz(tone, spectrum=spectrum)
    if named_hz is None:
        return None if detected is None else _fitted_pitch(spectrum, detected, match="none")
    return None if detected is None else _matched(spectrum, detected=detected, named_hz=named_hz)


def _matched(spectrum: _Spectrum, *, detected: float, named_hz: float) -> Pitch:
    """The heard note against the named one; a multiple that was heard by mistake is put right."""
    if _cents(detected, named_hz) < SAME_NOTE_CENTS:
        return _fitted_pitch(spectrum, detected, match="as named")
    for factor in MULTIPLES:
        if _cents(detected, named_hz * factor) < SAME_NOTE_CENTS:
            named = _nearest_line(spectrum, named_hz)
            if named is not None and spectrum.is_comb(named):
                return _fitted_pitch(spectrum, named, match="as named")
            return _fitted_pitch(spectrum, detected, match="octave" if factor in OCTAVES else "other")
    return _fitted_pitch(spectrum, detected, match="other")


@dataclass(frozen=True, eq=False)
class _Spectrum:
    """Magnitude spectrum of a tone in a Hann window, finely interpolated by zero padding."""

    magnitude: Array
    step_hz: float
    width_hz: float
    floor: float

    @classmethod
    def of(cls, tone: Array) -> _Spectrum:
        size = 1 << int(np.ceil(np.log2(len(tone) * 8)))
        spectrum = scipy.fft.rfft(tone * scipy.signal.windows.hann(len(tone)), size)
        magnitude = np.sqrt(np.square(spectrum.real) + np.square(spectrum.imag))
        top = int(5000 / ANALYSIS_RATE * size)
        return cls(
            magnitude, ANALYSIS_RATE / size, 2 * ANALYSIS_RATE / len(tone), float(np.median(magnitude[:top]))
        )

    def peak(self, hz: float, *, within_hz: float) -> tuple[float, float]:
        """(frequency, magnitude) of the largest value within ``within_hz`` of ``hz``."""
        low = max(1, int((hz - within_hz) / self.step_hz))
        high = min(len(self.magnitude) - 1, int((hz + within_hz) / self.step_hz) + 2)
        if high <= low:
            return hz, 0.0
        k = low + int(np.argmax(self.magnitude[low:high]))
        return k * self.step_hz, float(self.magnitude[k])

    def comb_power(self, f0: float, *, shift: float = 0.0) -> Array:
        """Power at (n + shift) f0 for the first partials."""
        within = min(0.12 * f0, max(self.width_hz, 0.02 * f0))
        return np.array(
            [self.peak((n + shift) * f0, within_hz=within)[1] ** 2 for n in range(1, PARTIALS + 1)]
        )

    def is_comb(self, f0: float) -> bool:
        """Whether lines stand at f0's multiples, odd ones too, and not between them."""
        on = self.comb_power(f0)
        between = self.comb_power(f0, shift=-0.5)
        odd = float(on[0] + on[2] + on[4])
        even = float(on[1] + on[3] + on[5])
        total = float(on.sum())
        strongest = float(self.magnitude[int(LOWEST_HZ / self.step_hz) :].max()) ** 2
        stands = on.max() > (8 * self.floor) ** 2 and on.max() > 0.03 * strongest
        return bool(
            stands
            and odd > 0.02 * even
            and float(between.sum()) < 0.25 * total
            and self._thirds(f0) < 0.25 * total
        )

    def _thirds(self, f0: float) -> float:
        return float(self.comb_power(f0, shift=-1 / 3).sum() + self.comb_power(f0, shift=-2 / 3).sum()) / 2


def _detected_hz(tone: Array, *, spectrum: _Spectrum) -> float | None:
    smooth = band(tone, low_hz=LOWEST_HZ * 0.7, high_hz=3000.0)
    frame = 2048
    if len(smooth) < frame + 512:
        frame = 1024
    lowest = max(LOWEST_HZ, 2.1 * ANALYSIS_RATE / frame)
    track = yin_track(smooth.astype(np.float32), frame=frame, lowest_hz=lowest)
    if not len(track):
        return None
    coarse = float(np.median(track))
    line = _nearest_line(spectrum, coarse)
    return coarse if line is None else line


HOP = 256
TROUGH = 0.1
"""The first dip of the difference function below it is the period."""


def yin_track(x: NDArray[np.float32], *, frame: int, lowest_hz: float) -> NDArray[np.float64]:
    """Return the pitch in Hz of each frame of ``x``, shape (frames,); a frame begins every `HOP` samples.

    YIN of de Cheveigne and Kawahara as librosa 0.11's yin has it, with which tests/dsp compares it; librosa
    itself is not used, because to load it takes seconds, and its compiler ten more the first time.
    """
    pieces = np.lib.stride_tricks.sliding_window_view(x, frame)[::HOP]
    shortest = int(np.floor(ANALYSIS_RATE / HIGHEST_HZ))
    longest = min(int(np.ceil(ANALYSIS_RATE / lowest_hz)), frame - 1)
    size = scipy.fft.next_fast_len(2 * frame - 1, real=True)
    spectrum = scipy.fft.rfft(pieces, n=size)
    alike = scipy.fft.irfft(spectrum.real**2 + spectrum.imag**2, n=size)[:, : longest + 1]
    energy = np.cumsum(np.square(pieces), axis=1)
    energy[:, 0] = 0.0  # as there
    difference = 2 * (alike[:, :1] - alike[:, 1:]) - energy[:, :longest]
    mean = np.cumsum(difference, axis=1) / np.arange(1, longest + 1)
    normed = difference[:, shortest - 1 :] / (mean[:, shortest - 1 :] + np.finfo(mean.dtype).tiny)
    before, here, after = normed[:, :-2], normed[:, 1:-1], normed[:, 2:]
    dips = np.zeros(normed.shape, dtype=bool)
    dips[:, 1:-1] = (here < before) & (here <= after)
    dips[:, 0] = normed[:, 0] < normed[:, 1]
    dips[:, -1] = normed[:, -1] < normed[:, -2]
    deep = dips & (normed < TROUGH)
    at = np.where(deep.any(axis=1), np.argmax(deep, axis=1), np.argmin(normed, axis=1))
    curve, slope = after + before - 2 * here, (after - before) / 2
    shift = np.zeros_like(normed)
    np.divide(-slope, curve, out=shift[:, 1:-1], where=np.abs(slope) < np.abs(curve))
    period = shortest + at + np.take_along_axis(shift, at[:, None], axis=1)[:, 0]
    return np.asarray(ANALYSIS_RATE / period, dtype=np.float64)


_NOTE_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_A4_HZ, _A4 = 440.0, 69
_OCTAVE = 12


def note_name(hz: float) -> str:
    """Return the name of the nearest note, as in "A2"."""
    number = round(_OCTAVE * np.log2(hz / _A4_HZ)) + _A4
    return f"{_NOTE_NAMES[number % _OCTAVE]}{number // _OCTAVE - 1}"


def _nearest_line(spectrum: _Spectrum, hz: float) -> float | None:
    """The fundamental near ``hz`` that the first partials agree on, or None where none stands there."""
    reach = 2 ** (SAME_NOTE_CENTS / 1200) - 1
    grid = hz * (1 + np.linspace(-reach, reach, 141))
    scores = np.zeros(len(grid))
    for n in range(1, 6):
        at = np.clip(np.round(n * grid / spectrum.step_hz).astype(int), 0, len(spectrum.magnitude) - 1)
        scores += np.log(spectrum.magnitude[at] / spectrum.floor + 1.0)
    best = int(np.argmax(scores))
    if best in (0, len(grid) - 1):
        return None
    return float(grid[best])


def _fitted_pitch(spectrum: _Spectrum, f0: float, *, match: Match) -> Pitch:
    """Robust fit of (f_n / n)^2 = f0^2 (1 + B n^2) to the peaks that stand out."""
    numbers, squares, weights = [], [], []
    for n in range(1, PARTIALS + 1):
        hz, magnitude = spectrum.peak(n * f0, within_hz=min(0.3 * f0, max(spectrum.width_hz, 0.012 * n * f0)))
        if magnitude > 6 * spectrum.floor:
            numbers.append(n)
            squares.append((hz / n) ** 2)
            weights.append(n * min(1.0, magnitude / (60 * spectrum.floor)))
    if not numbers:
        return Pitch(f0, 0.0, match)
    n2 = np.square(np.array(numbers, dtype=float))
    y, w = np.array(squares), np.array(weights)
    intercept, slope = float(np.average(y, weights=w)), 0.0
    for _ in range(4):
        if len(numbers) >= FEWEST_FOR_STIFFNESS:
            intercept, slope = _weighted_line(n2, y, w)
            if not 0 <= slope / intercept < STIFFEST:
                intercept, slope = float(np.average(y, weights=w)), 0.0
        off = np.abs(y - intercept - slope * n2)
        scale = max(1.5 * float(np.median(off)), 1e-5 * intercept)
        w = np.array(weights) / (1 + np.square(off / scale / 3))
    return Pitch(float(np.sqrt(intercept)), slope / intercept, match)


def _weighted_line(x: Array, y: Array, w: Array) -> tuple[float, float]:
    mx, my = np.average(x, weights=w), np.average(y, weights=w)
    slope = float(np.sum(w * (x - mx) * (y - my)) / max(float(np.sum(w * np.square(x - mx))), 1e-30))
    return float(my - slope * mx), slope


def _cents(a: float, b: float) -> float:
    return float(abs(1200 * np.log2(a / b)))


ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class Partials:
    """Partials 1..N of one pluck, referred to sample ``reference``.

    ``amplitudes`` and ``hz`` and ``decay`` (1/s) have shape (N,); ``misfit`` is the share of the fitted
    stretch's energy that the partials leave over.
    """

    hz: Array
    decay: Array
    amplitudes: ComplexArray
    reference: float
    misfit: float

    def waveform(self, start: int, stop: int) -> Array:
        """The partials' sum over samples ``start`` to ``stop``, shape (stop - start,)."""
        turns = turns_of(self.hz, decay=self.decay)
        return sum_of(self.amplitudes * np.exp(turns * (start - self.reference)), turns, stop - start)

    def referred_to(self, reference: float) -> Partials:
        """The same partials with their amplitudes taken at another sample."""
        turns = turns_of(self.hz, decay=self.decay)
        moved = self.amplitudes * np.exp(turns * (reference - self.reference))
        return Partials(self.hz, self.decay, moved, reference, self.misfit)


def fitted_partials(x: Array, *, start: int, stop: int, hz: Array, decay: Array) -> Partials:
    """Least-squares amplitudes of partials at ``hz`` over ``start`` to ``stop``, referred to ``start``."""
    piece = x[start:stop]
    turning = waves(turns_of(hz, decay=decay), len(piece))
    basis = np.concatenate([turning.real, -turning.imag]).T
    weights = least_squares(basis, piece, rcond=1e-6)
    energy = float(np.sum(np.square(piece)))
    left = float(np.sum(np.square(piece - basis @ weights)))
    count = len(hz)
    amplitudes = weights[:count] + 1j * weights[count:]
    return Partials(hz, decay, amplitudes, float(start), left / energy if energy else 1.0)


def decays(x: Array, *, start: int, hz: Array, period_s: float) -> Array:
    """Decay rate (1/s) of each partial, from its level in two windows after ``start``; shape of ``hz``."""
    width = int(max(4 * period_s, 0.05) * ANALYSIS_RATE)
    gap = int(0.10 * ANALYSIS_RATE)
    early = _levels(x[start : start + width], hz=hz)
    late = _levels(x[start + gap : start + gap + width], hz=hz)
    if early is None or late is None:
        return np.full(len(hz), 3.0)
    return np.asarray(np.clip(np.log(early / late) * ANALYSIS_RATE / gap, 0.0, 40.0))


def _levels(piece: Array, *, hz: Array) -> Array | None:
    if len(piece) < 0.04 * ANALYSIS_RATE:
        return None
    return np.asarray(np.abs(sums_with(piece * np.hanning(len(piece)), -turns_of(hz))) + 1e-15)
