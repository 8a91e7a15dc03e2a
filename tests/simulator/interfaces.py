"""The audio interface: from volts at the jack to numbers between -1 and +1.

Task: gain, AC coupling, noise, offset, inversion, latency, clipping and quantisation of each channel.
Shapes: volts (frames, channels) in, full scale (frames, channels) out, float64.
Units: volts, Hz, frames; noise in full-scale RMS.
Signs: a channel that ``inverted`` turns everything over but its own offset.
Sources: AC coupling as a first-order high-pass, P6; all values assumed, as common small interfaces have.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from dsp import SignalError

Floats = NDArray[np.float64]

FEWEST_BITS, MOST_BITS = 2, 32


@dataclass(frozen=True)
class ChannelSpec:
    """One input; all values assumed."""

    gain: float = 1.0
    """Full scale per volt."""
    high_pass_hz: float = 7.0
    """Corner of the AC coupling; 0: none."""
    noise: float = 0.0
    """RMS of white noise, full scale."""
    offset: float = 0.0
    """DC offset of the converter, full scale."""
    inverted: bool = False
    latency_frames: int = 0
    """Comes so many frames later than the first channel would without latency."""

    def __post_init__(self) -> None:
        if self.high_pass_hz < 0 or self.noise < 0 or self.latency_frames < 0:
            raise SignalError("channel: high-pass, noise and latency must not be negative")


@dataclass(frozen=True)
class InterfaceSpec:
    """The inputs of one interface and its converter."""

    channels: tuple[ChannelSpec, ...] = (ChannelSpec(), ChannelSpec())
    bits: int | None = 24
    """Bits of the converter; None: not quantised."""
    clip: float = 1.0
    """The largest magnitude it gives."""

    def __post_init__(self) -> None:
        if not 0.0 < self.clip <= 1.0 or (
            self.bits is not None and not FEWEST_BITS <= self.bits <= MOST_BITS
        ):
            raise SignalError(f"interface: clipping level in (0, 1], bits {FEWEST_BITS} to {MOST_BITS}")


def high_pass(signal: Floats, *, corner_hz: float, rate: int) -> Floats:
    """First-order high-pass, at rest before the first frame (bilinear, corner kept)."""
    if corner_hz == 0.0:
        return signal
    warped = math.tan(math.pi * corner_hz / rate)
    b = np.array([1.0, -1.0]) / (1.0 + warped)
    a = np.array([1.0, (warped - 1.0) / (warped + 1.0)])
    return np.asarray(lfilter(b, a, signal - signal[0]), dtype=np.float64)


def quantise(signal: Floats, *, bits: int) -> Floats:
    """Round to the steps of a converter with ``bits`` bits over -1 to +1."""
    steps = 2.0 ** (bits - 1)
    return np.asarray(np.clip(np.round(signal * steps), -steps, steps - 1.0) / steps, dtype=np.float64)


def record(rng: np.random.Generator, volts: Floats, interface: InterfaceSpec, *, rate: int) -> Floats:
    """Record (frames, channels): one channel of the interface a column of ``volts``."""
    frames, count = volts.shape
    if count > len(interface.channels):
        raise SignalError(f"{count} signals for an interface with {len(interface.channels)} inputs")
    recorded = np.empty((frames, count))
    for k, channel in enumerate(interface.channels[:count]):
        heard = channel.gain * high_pass(volts[:, k], corner_hz=channel.high_pass_hz, rate=rate)
        heard = np.concatenate([np.zeros(channel.latency_frames), heard])[:frames]
        heard = (-1.0 if channel.inverted else 1.0) * heard
        heard = heard + channel.noise * rng.standard_normal(frames) + channel.offset
        heard = np.clip(heard, -interface.clip, interface.clip)
        recorded[:, k] = heard if interface.bits is None else quantise(heard, bits=interface.bits)
    return recorded
