"""Plucks, presses or tool pulses one after another at one jack: relative polarity of their settings.

Task: (1) the log-likelihood ratio that two separate plucks have the same sign; (2) from the ratios of all
pairs of events to the log likelihood of every pattern of signs of their stations (one setting on one
channel). Shapes: a pluck is its partials referred to its onset; ``ratios`` (events, events), symmetric;
``station`` (events,) counts from 0; the table has one axis of length 2 for each station, index 0 for +1.
Units: natural logarithms. Sign: positive for "the same sign"; negating one pluck turns a ratio over; turning
all stations over changes no table.

(1) For a common unknown shift u in periods, A(u) = sum_n kappa_n cos(dphi_n - 2 pi n u), kappa_n growing with
both partials' levels and with the certainty of the place's sign, times that sign. The ratio integrates exp(A)
and exp(-A) over u. It holds the phase against the onset and the onset-free phi_2 - 2 phi_1. (2) An event's
own sign is its station's sign times ``gesture`` (a touch is opposite to a lift), turned over with probability
``flip_probability``. All patterns of own signs are summed exactly; pairs share events, so their ratios are
thinned to grow with the number of events and not with its square.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError
from dsp.model.settings import Place, harmonic_sign
from dsp.signal.onsets import Onset
from dsp.signal.pitch import Pitch

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_EVENTS = 13
"""Events summed over at once; more are dealt out in rounds that count as separate evidence."""


def station_table(
    ratios: Array,
    *,
    station: IntArray,
    gesture: IntArray,
    flip_probability: Array,
    stations: int | None = None,
) -> Array:
    """Log likelihood of each sign pattern of the stations, largest value 0.

    ``stations`` is how many there are, where not all of them have an event here.

    Raises
    ------
    SignalError
        If the shapes do not fit, or ``flip_probability`` is not within 0 to 1.

    """
    count = len(station)
    if ratios.shape != (count, count) or len(gesture) != count or len(flip_probability) != count:
        raise SignalError("ratios, stations, gestures and rates of turning must be of the same events")
    if np.any((flip_probability < 0) | (flip_probability > 1)):
        raise SignalError("a rate of turning lies within 0 to 1")
    table = station_likelihood(
        ratios,
        station=station,
        gesture=gesture,
        flip_probability=flip_probability,
        stations=int(station.max()) + 1 if stations is None else stations,
    )
    return np.asarray(table - table.max())


def station_likelihood(
    ratios: Array, *, station: IntArray, gesture: IntArray, flip_probability: Array, stations: int
) -> Array:
    """The same, up to a constant that does not depend on the probabilities of flips."""
    table = np.zeros((2,) * stations)
    for chosen in event_batches(station, most=MOST_EVENTS):
        table = table + _batch_table(
            ratios[np.ix_(chosen, chosen)],
            station[chosen],
            gesture[chosen],
            flip_probability[chosen],
            stations,
        )
    return table


def event_batches(station: IntArray, *, most: int = MOST_EVENTS) -> list[IntArray]:
    """Events in rounds of at most ``most``, every station spread evenly over the rounds."""
    rounds = -(-len(station) // most)
    place = np.zeros(len(station), dtype=np.int64)
    for k in range(int(station.max()) + 1):
        mine = np.flatnonzero(station == k)
        place[mine] = np.arange(len(mine)) % rounds
    return [np.flatnonzero(place == r) for r in range(rounds) if np.any(place == r)]


def _batch_table(
    ratios: Array, station: IntArray, gesture: IntArray, flip_probability: Array, stations: int
) -> Array:
    count = len(station)
    own = 1 - 2 * ((np.arange(2**count)[:, np.newaxis] >> np.arange(count)) & 1)
    coupling = np.triu(ratios, 1) * (2.0 / count)
    fit = np.einsum("ki,ij,kj->k", own, coupling, own, optimize=True) / 2
    rate = np.clip(flip_probability, 1e-9, 1 - 1e-9)
    straight, over = np.log1p(-rate), np.log(rate)
    table = np.zeros((2,) * stations)
    for pattern in np.ndindex(table.shape):
        signs = 1 - 2 * np.array(pattern)
        expected = signs[station] * gesture
        prior = np.where(own == expected, straight, over).sum(axis=1)
        table[pattern] = np.logaddexp.reduce(fit + prior)
    return table


SAME_STRING_PARTIALS = 5
OTHER_STRING_PARTIALS = 3
OTHER_STRING_WEIGHT = 0.5
PHASE_CONCENTRATION = (0.0, 1.4, 1.1, 0.8, 0.5, 0.35)
"""kappa of partials 1 to 5 at full level: how alike two plucks' phases are (assumed; dsp/model/calibration.py
maps the result)."""
SAME_PITCH = 0.01
"""Unnamed strings whose pitches are this close are taken for one."""
LEAST_PARTIAL_DB = -30.0
"""A partial this far below the strongest says nothing."""
SHIFT_PERIODS = 0.10
SHIFT_OUTLIERS = 0.06
MOST_NATS = 4.0
WORST_MISFIT = 0.5


@dataclass(frozen=True, eq=False)
class SequentialPluck:
    """One pluck or press as one setting gave it."""

    onset: Onset
    pitch: Pitch
    string: str | None
    fret: int
    place: Place


def sequential_ratio(a: SequentialPluck, b: SequentialPluck) -> float:
    """Log-likelihood ratio that two plucks have the same sign, within ``MOST_NATS`` either way."""
    same = a.string is not None and (a.string, a.fret) == (b.string, b.fret)
    same = same or (
        a.string is None and b.string is None and abs(a.pitch.f0_hz / b.pitch.f0_hz - 1) < SAME_PITCH
    )
    count = SAME_STRING_PARTIALS if same else OTHER_STRING_PARTIALS
    left, right = a.onset.partials.amplitudes, b.onset.partials.amplitudes
    count = min(count, len(left), len(right))
    if count == 0:
        return 0.0
    n = np.arange(1, count + 1)
    weight = (
        _relative_levels(left)[:count]
        * _relative_levels(right)[:count]
        * np.array(PHASE_CONCENTRATION)[1 : count + 1]
    )
    signs = [harmonic_sign(int(k), a.place, b.place, fret=max(a.fret, b.fret)) for k in n]
    weight = weight * np.array([h.sign * h.certainty for h in signs])
    if not same:
        weight = weight * OTHER_STRING_WEIGHT
    angle = np.angle(left[:count] * np.conj(right[:count]))
    shifts, log_prior = _shift_prior()
    agreement = np.cos(angle[:, np.newaxis] - 2 * np.pi * np.outer(n, shifts)).T @ weight
    ratio = _log_sum(agreement + log_prior) - _log_sum(-agreement + log_prior)
    return float(np.clip(ratio, -MOST_NATS, MOST_NATS))


def _relative_levels(amplitudes: NDArray[np.complex128]) -> Array:
    size = np.abs(amplitudes)
    db = 20 * np.log10(size / max(float(size.max()), 1e-30) + 1e-9)
    return np.asarray(np.clip(1 - db / LEAST_PARTIAL_DB, 0.0, 1.0))


def _shift_prior() -> tuple[Array, Array]:
    shifts = np.linspace(-0.5, 0.5, 121)
    narrow = np.exp(-0.5 * np.square(shifts / SHIFT_PERIODS))
    prior = (1 - SHIFT_OUTLIERS) * narrow / narrow.sum() + SHIFT_OUTLIERS / len(shifts)
    return shifts, np.log(prior)


def _log_sum(x: Array) -> float:
    top = float(x.max())
    return top + float(np.log(np.sum(np.exp(x - top))))
