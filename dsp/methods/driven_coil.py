"""Winding sense from a small driven coil held over a pickup.

Task: the waveform to play, and the sign with which it comes back. Shapes: waveform (frames,), one channel
(frames,) at its own rate. Units: full scale 1.0, Hz, seconds, radians; ratios in natural logarithms.
Sign: with phi_n the phase of line n, 2 phi_1 - phi_2 (the angle of the bispectrum) does not depend on when
the take began and turns by half when the signal is turned over; between two takes with one rig, coil and
face, no turn means that the windings agree. Source: R7.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError
from dsp.signal.codes import Fault
from dsp.signal.faults import recording_faults, refusals_and_remarks
from dsp.signal.mains import NOMINAL_HZ
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, checked

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

DRIVE_HZ = 190.0
"""With its second harmonic, 380 Hz: 10 Hz and more from every multiple of 50 and 60 Hz, half a tone below G3
and a third above E3, and 5 Hz and more from the partials of open strings (sources S5), which ring along."""
SECOND_AMPLITUDE = 0.5
"""Second harmonic against the fundamental, in amplitude; induction doubles it, as it grows with Hz."""
DRIVE_S = 3.0
SHORTEST_S = 1.5
FADE_S = 0.1
"""No click at either end: a click moves the driver and scares the person."""
LEVEL = 0.25
"""Peak re full scale: loud in headphones that are left plugged in, and no more than a small coil can bear."""
FRAME_S = 0.4
"""Frames between which the hand may move; a Hann window of that length keeps lines 5 Hz apart."""
HOP_S = 0.1
"""Both lines turn by whole turns from frame to frame."""
FRAMES_ALIKE = 2.5
"""So many frames in a row say as much as one."""
MAINS_REACH_HZ = 60.0
"""Mains lines so near to one of the drive's are fitted beside it."""
AROUND_HZ = (-34.0, -26.0, -15.0, 15.0, 26.0, 34.0)
"""Where the noise is measured: beside the mains lines."""
OFF_TURNS = 0.05
"""How far the fundamental may turn from frame to frame: half a hertz. A string that rings is further off."""
LEAST_POWER = 1e-16
"""-160 dB: keeps ratios finite in a recording without noise."""
FRAME_SNR = 20.0
"""Power over noise of the fundamental in a frame that counts: noise alone gets there in e^-20."""
FEWEST_FRAMES = 8
"""Frames: 1.1 s of drive."""
SECOND_SNR = 12.0
"""Power over noise of the second harmonic, all frames together, below which the angle is not told."""
HAND_RAD = 0.2
"""What circuits and hands turn 2 phi_1 - phi_2 by, one standard deviation (0.003 on simulated benches, whose
coil does not heed the pickup; assumed to be far worse in the world)."""
OUTLIER_SHARE = 0.03
"""A take that is not what it was entered as: coil beside the pickup, waveform distorted."""
MOST_NATS = 4.0
"""Nats: no single pair of takes is certain."""


@dataclass(frozen=True, eq=False)
class DriveAnalysis:
    """``turn``: exp(i (2 phi_1 - phi_2)) times how steady it was (0 to 1); None with a fault.

    ``error_rad``: one standard deviation of its angle from noise; ``level_db``: RMS of both lines, dB re full
    scale.
    """

    turn: complex | None
    error_rad: float
    level_db: float
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def drive_waveform(*, rate: int, seconds: float = DRIVE_S, level: float = LEVEL) -> Array:
    """The waveform to play, shape (frames,), peak ``level``, faded in and out.

    Raises
    ------
    SignalError
        If ``level`` is not above 0 and at most ``LEVEL``, or if it is too short to be heard.

    """
    if not 0 < level <= LEVEL:
        raise SignalError(f"a drive level of {level}: above 0 and at most {LEVEL} of full scale")
    if seconds < SHORTEST_S:
        raise SignalError(f"{seconds} s of drive is too short: {SHORTEST_S} s at least")
    t = np.arange(round(seconds * rate)) / rate
    angle = 2 * np.pi * DRIVE_HZ * t
    wave = np.cos(angle) + SECOND_AMPLITUDE * np.cos(2 * angle)
    edge = np.clip(np.minimum(t, t[-1] - t) / FADE_S, 0.0, 1.0)
    return np.asarray(level / (1 + SECOND_AMPLITUDE) * wave * np.sin(0.5 * np.pi * edge) ** 2)


def analyse_drive(x: Array, *, rate: int, mains_hz: int | None = None) -> DriveAnalysis:
    """Analyse one channel of one drive take, shape (frames,); ``mains_hz`` None: 50 and 60 are taken out.

    Raises
    ------
    SignalError
        If the samples cannot be worked on (dsp.signal.samples.checked).

    """
    samples = checked(x, rate=rate)
    faults, remarks = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=False, channels=(0,))
    )
    if faults:
        return DriveAnalysis(None, math.inf, -math.inf, faults, remarks)
    first, second, noise = _line_amplitudes(at_analysis_rate(samples[:, 0], rate=rate), mains_hz=mains_hz)
    counted = np.abs(first) ** 2 > FRAME_SNR * noise[0]
    if np.count_nonzero(counted) < FEWEST_FRAMES or _off_pitch(first, counted):
        return DriveAnalysis(None, math.inf, -math.inf, (Fault("no drive", 1),), remarks)
    power = float(np.mean(np.abs(first[counted]) ** 2 + np.abs(second[counted]) ** 2)) / 2
    level = 10 * math.log10(power)
    frames = int(np.count_nonzero(counted))
    clear_1 = float(np.sum(np.abs(first[counted]) ** 2)) / noise[0] / FRAMES_ALIKE
    clear_2 = (float(np.sum(np.abs(second[counted]) ** 2)) / noise[1] - frames) / FRAMES_ALIKE
    if clear_2 < SECOND_SNR:
        weak = Fault("drive too weak", 1, detail=level)
        return DriveAnalysis(None, math.inf, level, (weak,), remarks)
    product = first[counted] ** 2 * np.conj(second[counted])
    turn = complex(np.sum(product) / np.sum(np.abs(product)))
    error = math.sqrt(4 / (2 * clear_1) + 1 / (2 * clear_2))
    return DriveAnalysis(turn, error, level, (), remarks)


def drive_ratio(a: DriveAnalysis, b: DriveAnalysis) -> float:
    """Log ratio that two takes came out with the same winding sign: same rig, same coil, same face down.

    Negating either recording turns it over; 0 where either is at fault or the angle lies between.
    """
    if a.turn is None or b.turn is None:
        return 0.0
    between = float(np.angle(a.turn * np.conj(b.turn)))
    steady = min(abs(a.turn), abs(b.turn))
    spread = math.sqrt(a.error_rad**2 + b.error_rad**2 + HAND_RAD**2)
    same, other = (
        _wrapped_density(between, spread=spread),
        _wrapped_density(abs(between) - math.pi, spread=spread),
    )
    share = OUTLIER_SHARE
    ratio = math.log((1 - share) * same + share) - math.log((1 - share) * other + share)
    return float(np.clip(steady * ratio, -MOST_NATS, MOST_NATS))


def _wrapped_density(angle: float, *, spread: float) -> float:
    """Density of an angle re an even one: a normal one, wrapped."""
    round_it = (angle - 2 * math.pi, angle, angle + 2 * math.pi)
    return math.sqrt(2 * math.pi) / spread * sum(math.exp(-0.5 * (one / spread) ** 2) for one in round_it)


def _off_pitch(first: ComplexArray, counted: NDArray[np.bool_]) -> bool:
    """Whether the line at the drive's fundamental is another tone nearby."""
    follow = counted[1:] & counted[:-1]
    step = complex(np.sum(first[1:][follow] * np.conj(first[:-1][follow])))
    return abs(float(np.angle(step))) > 2 * math.pi * OFF_TURNS


def _line_amplitudes(
    x: Array, *, mains_hz: int | None
) -> tuple[ComplexArray, ComplexArray, tuple[float, float]]:
    """Amplitudes of both lines frame by frame, and the power that noise gives such an amplitude."""
    size, hop = round(FRAME_S * ANALYSIS_RATE), round(HOP_S * ANALYSIS_RATE)
    frames = np.reshape(
        np.lib.stride_tricks.sliding_window_view(np.pad(x, (0, max(0, size - len(x)))), size)[::hop],
        (-1, size),
    )
    t = np.arange(size) / ANALYSIS_RATE
    window = np.hanning(size)
    drive = (DRIVE_HZ, 2 * DRIVE_HZ)
    angles = 2 * np.pi * np.outer(t, (*drive, *_mains_beside(mains_hz)))
    basis = np.concatenate([np.cos(angles), -np.sin(angles), np.ones((size, 1))], axis=1)
    root = np.sqrt(window)[:, np.newaxis]
    fit = np.linalg.pinv(basis * root, rcond=1e-6) * root.T
    weights = frames @ fit.T
    lines = weights[:, :2] + 1j * weights[:, angles.shape[1] : angles.shape[1] + 2]
    left = frames - weights @ basis.T
    noise = []
    for hz in drive:
        beside = np.exp(-2j * np.pi * np.outer(t, hz + np.array(AROUND_HZ))) * window[:, np.newaxis]
        power = np.abs(left @ beside * 2 / window.sum()) ** 2
        noise.append(float(np.mean(np.median(power, axis=0))) / math.log(2) + LEAST_POWER)
    return lines[:, 0], lines[:, 1], (noise[0], noise[1])


def _mains_beside(mains_hz: int | None) -> tuple[float, ...]:
    """Mains lines near the drive's."""
    grids = NOMINAL_HZ if mains_hz is None else (mains_hz,)
    lines = {float(n * hz) for hz in grids for n in range(1, 20)}
    near = {hz for hz in lines if min(abs(hz - DRIVE_HZ), abs(hz - 2 * DRIVE_HZ)) < MAINS_REACH_HZ}
    return tuple(sorted(near))
