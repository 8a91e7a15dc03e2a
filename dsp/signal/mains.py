"""Mains lines: measured where nothing moves, taken out of the whole take.

Task: on the quiet before an onset, fit mains lines 1 to 10 with one common frequency that usually differs
from the nominal one by two parts in a thousand at most, and rarely by one in a hundred, and subtract those
that stand out. Shapes: a
signal (frames,) at the analysis rate. Units: Hz, full scale 1.0. Signs: subtraction only.

Source: 50 Hz within 1 % for 99.5 % of a year, EN 50160 as quoted by instrument makers' manuals
(sources F2); in practice within some hundredths of a hertz over seconds (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]

NOMINAL_HZ = (50, 60)
LINES = 10
FREEDOM = 0.002
STEPS = 9
RARE_FREEDOM = 0.0105
"""F2's 1 %, and a little."""
RARE_S = 0.8
"""What is searched that widely is no longer than this."""
RARE_TURNS = 0.2
"""From step to step of that search the seventh line, often a strong one, turns by so much."""
RARE_GAIN = 12.0
"""A rare frequency has to explain the quiet better than the usual ones by so many nats: below that it may be
noise, and hum that is taken out at a wrong frequency comes back later in the take."""
THIN_RATE = 2000
SHORTEST_S = 0.10
LINE_SNR = 3.0


@dataclass(frozen=True)
class MainsLines:
    """The lines that stand out: their common fundamental and complex amplitudes at sample 0."""

    fundamental_hz: float
    amplitudes: dict[int, complex]

    def waveform(self, frames: int) -> Array:
        """The hum itself over ``frames`` samples, shape (frames,)."""
        t = np.arange(frames) / ANALYSIS_RATE
        out = np.zeros(frames)
        for n, amplitude in self.amplitudes.items():
            out += np.real(amplitude * np.exp(2j * np.pi * n * self.fundamental_hz * t))
        return out


def mains_lines(quiet: Array, *, mains_hz: int | None = None) -> MainsLines | None:
    """Fit mains lines on a stretch where nothing moves; None where none stand out.

    ``quiet`` begins at sample 0 of the take. ``mains_hz`` None tries both 50 and 60.
    """
    if len(quiet) < SHORTEST_S * ANALYSIS_RATE:
        return None
    x = quiet - np.mean(quiet)
    fundamental = _likeliest_hz(x, NOMINAL_HZ if mains_hz is None else (mains_hz,))
    basis = _basis(len(x), fundamental=fundamental)
    weights = np.linalg.lstsq(basis, x, rcond=None)[0]
    misfit = float(np.sum(np.square(x - basis @ weights)))
    freedom = max(1, len(x) - len(weights))
    error = np.sqrt(2 * misfit / freedom / len(x) * 2)
    pairs = weights.reshape(-1, 2)
    amplitudes = {
        n: complex(c, -s)
        for n, (c, s) in enumerate(pairs, start=1)
        if np.hypot(c, s) > LINE_SNR * error and n * fundamental < ANALYSIS_RATE / 2
    }
    return MainsLines(fundamental, amplitudes) if amplitudes else None


def without_mains(x: Array, *, quiet: Array, mains_hz: int | None = None) -> Array:
    """Return ``x`` less the mains lines that stand out on ``quiet`` (the first samples of ``x``)."""
    lines = mains_lines(quiet, mains_hz=mains_hz)
    return x if lines is None else x - lines.waveform(len(x))


def _likeliest_hz(x: Array, nominal: tuple[int, ...]) -> float:
    """The fundamental whose lines, fitted together, hold most of the power of a thinned copy of ``x``."""
    step = max(1, ANALYSIS_RATE // THIN_RATE)
    window = np.hanning(max(3, 2 * step + 1))
    thin = np.convolve(x, window / window.sum(), mode="valid")[::step]
    usual = max(_peak(thin, hz, within=FREEDOM, steps=STEPS, step=step) for hz in nominal)
    short = thin[: int(RARE_S * ANALYSIS_RATE / step)]
    turns = 2 * RARE_FREEDOM * 7 * max(nominal) * len(short) * step / ANALYSIS_RATE
    steps = max(STEPS, 1 + int(np.ceil(turns / RARE_TURNS)))
    _, coarse = max(_peak(short, hz, within=RARE_FREEDOM, steps=steps, step=step) for hz in nominal)
    rare = _peak(thin, coarse, within=2 * RARE_FREEDOM / steps, steps=STEPS, step=step)
    total = float(thin @ thin)
    if total == 0:
        return usual[1]
    gain = (
        0.5 * len(thin) * np.log(max(total - usual[0], 1e-12 * total) / max(total - rare[0], 1e-12 * total))
    )
    return rare[1] if gain > RARE_GAIN else usual[1]


def _peak(x: Array, middle_hz: float, *, within: float, steps: int, step: int) -> tuple[float, float]:
    """(power held, fundamental) of the best near ``middle_hz``, between the steps by a parabola."""
    parts = np.linspace(-within, within, steps)
    power = np.array([_power_held(x, middle_hz * (1 + float(part)) * step) for part in parts])
    k = int(np.clip(np.argmax(power), 1, steps - 2))
    left, middle, right = power[k - 1 : k + 2]
    bend = left - 2 * middle + right
    shift = float(np.clip(0.5 * (left - right) / bend, -1, 1)) if bend < 0 else 0.0
    return float(power[k]), middle_hz * (1 + float(parts[k] + shift * (parts[1] - parts[0])))


def _power_held(x: Array, fundamental: float) -> float:
    """Power of ``x`` that the lines of one fundamental hold, fitted together: they leak into each other."""
    basis = _basis(len(x), fundamental=fundamental)
    along = x @ basis
    return float(along @ np.linalg.solve(basis.T @ basis, along))


def _basis(frames: int, *, fundamental: float) -> Array:
    """Cosine and sine of every line, (frames, 2 * lines): each line is a power of the first."""
    turn = np.exp(2j * np.pi * fundamental / ANALYSIS_RATE * np.arange(frames))
    power = turn.copy()
    rows = np.empty((LINES, 2, frames))
    for row in rows:
        row[0], row[1] = power.real, power.imag
        power *= turn
    return rows.reshape(2 * LINES, frames).T
