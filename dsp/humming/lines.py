"""Mains lines as complex numbers, and hum takes: strings damped, nothing moves.

Task: amplitudes of mains lines 1, 2, 3, 5 and 7 on one or several stretches that share one clock, the mains
frequency left free; whether hum is all that sounds. Shapes: a signal (frames,) at the analysis rate, a
recording (frames, channels) at its own; amplitudes (lines,) complex. Units: full scale 1.0, Hz, dB, seconds,
samples. Signs: an amplitude ``a`` of line n stands for Re(a exp(2 pi i n f (t - t_ref))); turning the signal
over turns every amplitude by half a turn.

Sources: those of dsp.humming.fitting; that magnetic hum rises and falls as the guitar is turned: design,
section 3.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE, at_analysis_rate, checked
from dsp.faults import OFFSET_FAULT, Fault, recording_faults
from dsp.humming.fitting import NOMINAL_HZ, NUMBERS, SHORTEST_S, Piece, clock_error, likeliest_hz

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


CLEAR_HUM = 45.0
"""``HumLines.clearness`` from which on there is hum: four hundred stretches of noise alone reached 36."""
QUARTERS = 4
UNSTEADY_DB = 3.0
"""Hum whose level moves so much within a take: the guitar or a hand moves."""
STEADY_ENOUGH = 150.0
"""The level of a quarter is known to half a decibel from here on."""
SOUNDS_HZ = (60.0, 1400.0)
"""Where strings are looked for."""
STANDS_OUT = 300.0
"""Power of a string's partial over the median around: the largest of noise reaches 20."""
AS_LOUD = 0.35
"""A partial of this part of the strongest line's amplitude is no hum take."""
MAINS_WIDTH_HZ = 3.0
LOWEST_AMPLITUDE = 3e-5
"""-90 dB re full scale: what sounds below that is nobody's string."""
CLEAR_LINE = 4.0
"""Standard deviations from which on a line's level is told."""
MOVES_DB = 6.0
"""So much does magnetic hum of one setting change when the guitar is turned: half the field."""


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

    def referred_to(self, reference: float, *, rate: int = ANALYSIS_RATE) -> HumLines:
        """The same lines with their phases taken at another sample."""
        turns = np.array(self.numbers) * self.fundamental_hz * (reference - self.reference) / rate
        moved = np.asarray(self.amplitudes * np.exp(2j * np.pi * turns))
        return replace(self, amplitudes=moved, reference=reference)


def hum_lines(
    x: Array,
    *,
    start: int,
    stop: int,
    mains_hz: int | None,
    fundamental_hz: float | None = None,
    rate: int = ANALYSIS_RATE,
) -> HumLines | None:
    """Mains lines of samples ``start`` to ``stop``, referred to their middle; None where it is too short.

    ``mains_hz`` None tries 50 and 60; with ``fundamental_hz`` the mains frequency is known already.
    """
    return lines_together(
        [x], stretches=[(start, stop)], mains_hz=mains_hz, fundamental_hz=fundamental_hz, rate=rate
    )[0]


def lines_together(
    signals: Sequence[Array],
    *,
    stretches: Sequence[tuple[int, int]],
    mains_hz: int | None,
    fundamental_hz: float | None = None,
    partials_hz: Sequence[float] | None = None,
    reference: float | None = None,
    rate: int = ANALYSIS_RATE,
) -> tuple[HumLines | None, ...]:
    """Mains lines of several stretches with one common mains frequency: one signal or one a stretch.

    ``partials_hz``: a string that rings in them; its partials are fitted beside the lines. ``reference``
    None: each stretch is referred to its own middle.
    """
    whole = list(signals) * len(stretches) if len(signals) == 1 else list(signals)
    pieces = [
        Piece.of(x, start=start, stop=stop, partials_hz=tuple(partials_hz or ()), rate=rate)
        for x, (start, stop) in zip(whole, stretches, strict=True)
    ]
    there = [piece for piece in pieces if piece is not None]
    if not there:
        return (None,) * len(stretches)
    nominal = NOMINAL_HZ if mains_hz is None else (mains_hz,)
    hz = fundamental_hz if fundamental_hz is not None else likeliest_hz(there, nominal)
    fits = [None if piece is None else piece.fitted(hz) for piece in pieces]
    unsure = clock_error(there, [fit for fit in fits if fit is not None])
    found: list[HumLines | None] = []
    for piece, fit in zip(pieces, fits, strict=True):
        if piece is None or fit is None:
            found.append(None)
            continue
        lines = HumLines(hz, NUMBERS, fit[0], fit[1], piece.centre, piece.seconds, piece.centre, unsure)
        found.append(lines if reference is None else lines.referred_to(reference, rate=rate))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class HumHearing:
    """Lines of each channel asked for, in order (None: nothing usable), and what is wrong."""

    channels: tuple[HumLines | None, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def hear_hum(
    samples: Array,
    *,
    rate: int,
    channels: tuple[int, ...],
    mains_hz: int | None = None,
    may_cancel: tuple[int, ...] = (),
) -> HumHearing:
    """Mains lines of the ``channels`` (columns counted from 0) of one take.

    ``may_cancel``: channels on which hum may well be gone (several pickups together, a whole humbucker):
    there "too little hum" is a remark, since the silence is the finding.

    Raises
    ------
    SignalError
        If the samples cannot be worked on (dsp.conditioning.checked).

    """
    samples = checked(samples, rate=rate)
    found = recording_faults(samples, rate=rate, inputs_differ=False, channels=channels)
    faults = [fault for fault in found if not small_offset(fault)]
    remarks = [fault for fault in found if small_offset(fault)]
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
        if heard is None:
            faults.append(Fault("too little hum", column + 1))
            continue
        if sounds_besides(signals[column], heard) or _unsteady(signals[column], heard):
            faults.append(Fault("strings not damped", column + 1))
        if heard.clearness < CLEAR_HUM:
            little = remarks if column in may_cancel else faults
            little.append(Fault("too little hum", column + 1, detail=heard.clearness))
    return HumHearing(tuple(lines[column] for column in channels), tuple(faults), tuple(remarks))


def small_offset(fault: Fault) -> bool:
    """Whether it is an offset that can be taken out."""
    return fault.code == "offset" and (fault.detail or 0.0) <= OFFSET_FAULT


def sounds_besides(x: Array, lines: HumLines, *, rate: int = ANALYSIS_RATE) -> bool:
    """Whether ``x`` (frames,) holds a tone that is no multiple of the mains and not far below the hum."""
    windowed = x * np.hanning(len(x))
    size = 1 << int(np.ceil(np.log2(2 * len(x))))
    amplitude = np.abs(np.fft.rfft(windowed, size)) * 4 / len(x)
    hz = np.arange(len(amplitude)) * rate / size
    width = max(MAINS_WIDTH_HZ, 3 * rate / len(x))
    off = np.abs(hz - lines.fundamental_hz * np.round(hz / lines.fundamental_hz))
    looked = (hz > SOUNDS_HZ[0]) & (hz < SOUNDS_HZ[1]) & (off > width)
    if not looked.any():
        return False
    largest = float(amplitude[looked].max())
    usual = float(np.median(amplitude[looked]))
    strongest = float(np.abs(lines.amplitudes).max())
    return largest > max(AS_LOUD * strongest, LOWEST_AMPLITUDE) and largest**2 > STANDS_OUT * usual**2


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
    levels = [one.level_db() for one in quarters if one is not None and one.clearness > STEADY_ENOUGH]
    return len(levels) == QUARTERS and max(levels) - min(levels) > UNSTEADY_DB


def hum_moves(levels: Sequence[HumLines]) -> bool:
    """Whether one setting's hum rose or fell by 6 dB or more from take to take, as magnetic hum does.

    Judged by the strongest line that all takes share, where it is clear.
    """
    if len(levels) <= 1:
        return False
    sizes = np.array([np.abs(one.amplitudes) for one in levels])
    clear = np.all([sizes[k] > CLEAR_LINE * one.error for k, one in enumerate(levels)], axis=0)
    if not clear.any():
        return False
    line = int(np.argmax(np.where(clear, sizes.mean(axis=0), 0.0)))
    return bool(20 * np.log10(sizes[:, line].max() / sizes[:, line].min()) >= MOVES_DB)
