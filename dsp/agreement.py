"""Many separate takes, some of them turned over: what they say together of the settings they were made on.

Task: from the pairwise log-likelihood ratios of separate plucks or pulses to the log likelihood of every
pattern of signs of their stations (a station is one setting on one channel). Shapes: ``ratios`` is
(events, events), symmetric, positive for "the same sign"; ``station`` (events,) counts from 0; the
result has one axis of length 2 for each station, index 0 for +1. Units: natural logarithms, up to a
constant. Signs: only relations count, so turning all stations over changes nothing.

Each event's own sign is its station's sign times ``gesture`` (a touch is opposite to a lift), turned
over with probability ``turned``: a stroke the other way, a gesture with the wrong name. All patterns
of own signs are summed exactly. Pairs share events, so their ratios are thinned to grow with the
number of events, not with its square.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.errors import SignalError

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_AT_ONCE = 13
"""Events summed over at once; more are dealt out in rounds that count as separate evidence."""


def station_table(
    ratios: Array, *, station: IntArray, gesture: IntArray, turned: Array, stations: int | None = None
) -> Array:
    """Log likelihood of each sign pattern of the stations, largest value 0.

    ``stations`` is how many there are, where not all of them have an event here.

    Raises
    ------
    SignalError
        If the shapes do not fit, or ``turned`` is not within 0 to 1.

    """
    count = len(station)
    if ratios.shape != (count, count) or len(gesture) != count or len(turned) != count:
        raise SignalError("ratios, stations, gestures and rates of turning must be of the same events")
    if np.any((turned < 0) | (turned > 1)):
        raise SignalError("a rate of turning lies within 0 to 1")
    stations = int(station.max()) + 1 if stations is None else stations
    table = np.zeros((2,) * stations)
    for chosen in dealt_out(station, most=MOST_AT_ONCE):
        table = table + _one_round(
            ratios[np.ix_(chosen, chosen)], station[chosen], gesture[chosen], turned[chosen], stations
        )
    return np.asarray(table - table.max())


def dealt_out(station: IntArray, *, most: int = MOST_AT_ONCE) -> list[IntArray]:
    """Events in rounds of at most ``most``, every station spread evenly over the rounds."""
    rounds = -(-len(station) // most)
    place = np.zeros(len(station), dtype=np.int64)
    for k in range(int(station.max()) + 1):
        mine = np.flatnonzero(station == k)
        place[mine] = np.arange(len(mine)) % rounds
    return [np.flatnonzero(place == r) for r in range(rounds) if np.any(place == r)]


def _one_round(ratios: Array, station: IntArray, gesture: IntArray, turned: Array, stations: int) -> Array:
    count = len(station)
    own = 1 - 2 * ((np.arange(2**count)[:, np.newaxis] >> np.arange(count)) & 1)
    coupling = np.triu(ratios, 1) * (2.0 / count)
    fit = np.einsum("ki,ij,kj->k", own, coupling, own, optimize=True) / 2
    rate = np.clip(turned, 1e-9, 1 - 1e-9)
    straight, over = np.log1p(-rate), np.log(rate)
    table = np.zeros((2,) * stations)
    for pattern in np.ndindex(table.shape):
        signs = 1 - 2 * np.array(pattern)
        expected = signs[station] * gesture
        prior = np.where(own == expected, straight, over).sum(axis=1)
        table[pattern] = np.logaddexp.reduce(fit + prior)
    return table
