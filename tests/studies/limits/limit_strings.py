"""Decisions from plucks: paired, in turn, and by the harmonics of a, b and both; see limit_methods.

Task: noisy takes of a trial to one number a method, positive for "agree", None where nothing is said.
Shapes: takes (frames, channels) at ``RATE``. ``shown``: rough onset and pitch of every take's pluck, from
the clean takes. Signs: as in limit_takes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from limit_takes import PROFILES, RATE, Trial
from numpy.typing import NDArray

from capture.job import note_hz
from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import PluckAnalysis, analyse_plucks
from dsp.methods.profile import PluckLevels, ProfilePluck, pluck_levels, profile_of
from dsp.methods.sequential import SequentialPluck, sequential_ratio, station_table
from dsp.model.calibration import STROKE_TURNED, TURN_SLOPE
from dsp.model.settings import Mix, Place, Source
from dsp.signal.codes import Fault
from dsp.signal.onsets import fine_onset
from dsp.signal.pitch import Pitch

Array = NDArray[np.float64]
Shown = list[tuple[int, Pitch] | None]
Said = dict[str, float | None]
Why = tuple[str, ...]
PAIRED = ("paired, places known", "paired, places unknown")


def plucks_in(trial: Trial, takes: Sequence[Array]) -> Shown:
    """Rough onset and pitch of the first pluck of every take."""
    found: Shown = []
    for x in takes:
        plucks = _heard(trial, x).plucks
        found.append((plucks[0].rough, plucks[0].pitch) if plucks else None)
    return found


def paired_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """One pluck on two inputs."""
    found = _heard(trial, takes[0])
    if not found.plucks:
        return dict.fromkeys(PAIRED), codes(found.faults)
    pluck = found.plucks[0]
    return _paired(trial, found.channels, (pluck.rough, pluck.pitch)), ()


def codes(faults: Sequence[Fault]) -> Why:
    """What a take was refused for."""
    return tuple(fault.code for fault in faults)


def paired_told(trial: Trial, takes: Sequence[Array], shown: Shown) -> Said:
    """The same, told where and what was plucked."""
    if shown[0] is None:
        return dict.fromkeys(PAIRED)
    return _paired(trial, tuple((takes[0] - takes[0].mean(axis=0)).T), shown[0])


def in_turn_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """Plucks or presses one after another: one a side, and all of them."""
    turns: list[SequentialPluck | None] = []
    why: Why = ()
    for (name, _), x in zip(trial.takes, takes, strict=True):
        found = _heard(trial, x)
        plucks = found.plucks
        why += codes(found.faults)
        onset = plucks[0].onsets[0] if plucks else None
        place = _place(trial, name)
        turns.append(
            None if onset is None else SequentialPluck(onset, plucks[0].pitch, trial.string, 0, place)
        )
    return _in_turn(trial, turns), why


def in_turn_told(trial: Trial, takes: Sequence[Array], shown: Shown) -> Said:
    """The same, told the rough onset and the pitch; the fine onset is still to be found."""
    turns: list[SequentialPluck | None] = []
    for (name, _), x, told in zip(trial.takes, takes, shown, strict=True):
        onset = None if told is None else fine_onset(x[:, 0] - x.mean(), rough=told[0], pitch=told[1])
        if onset is None or told is None:
            turns.append(None)
        else:
            turns.append(SequentialPluck(onset, told[1], trial.string, 0, _place(trial, name)))
    return _in_turn(trial, turns)


def profile_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """Harmonic profile of a, b and both."""
    levels: list[PluckLevels | None] = []
    why: Why = ()
    for x in takes:
        found = _heard(trial, x)
        why += codes(found.faults)
        one = found.plucks[0] if found.plucks else None
        levels.append(
            None
            if one is None
            else pluck_levels(found.channels[0], onset=one.rough, quiet=one.rough, pitch=one.pitch)
        )
    return _profile(trial, levels), why


def profile_told(trial: Trial, takes: Sequence[Array], shown: Shown) -> Said:
    """The same, told where and what was plucked."""
    return _profile(
        trial,
        [
            None
            if told is None
            else pluck_levels(x[:, 0] - x.mean(), onset=told[0], quiet=told[0], pitch=told[1])
            for x, told in zip(takes, shown, strict=True)
        ],
    )


def _heard(trial: Trial, x: Array) -> PluckAnalysis:
    return analyse_plucks(
        x,
        rate=RATE,
        channels=tuple(range(x.shape[1])),
        inputs_differ=True,
        named_hz=None if trial.string is None else note_hz(trial.string),
    )


def _place(trial: Trial, name: str) -> Place:
    return Place(trial.bench.pickup(name).centre_mm, trial.bench.scale_mm)


def _paired(trial: Trial, channels: Sequence[Array], told: tuple[int, Pitch]) -> Said:
    said: Said = {}
    for method in PAIRED:
        known = method == PAIRED[0]
        places = [_place(trial, name) if known else Place() for name in trial.pair]
        said[method] = paired_statistic(
            channels[0], channels[1], onset=told[0], pitch=told[1], place_a=places[0], place_b=places[1]
        ).value
    return said


def _in_turn(trial: Trial, turns: Sequence[SequentialPluck | None]) -> Said:
    one, *many = trial.bounds
    first, second = turns[:2]
    said: Said = {one: None if first is None or second is None else sequential_ratio(first, second)}
    if not many:
        return said
    said[many[0]] = None
    there = [(k % 2, turn) for k, turn in enumerate(turns) if turn is not None]
    if {side for side, _ in there} != {0, 1}:
        return said
    ratios = [[0.0 if a is b else TURN_SLOPE * sequential_ratio(a, b) for _, b in there] for _, a in there]
    table = station_table(
        np.array(ratios),
        station=np.array([side for side, _ in there]),
        gesture=np.ones(len(there), dtype=np.int64),
        flip_probability=np.full(len(there), STROKE_TURNED),
    )
    said[many[0]] = float(table[0, 0] - table[0, 1])
    return said


def _profile(trial: Trial, levels: Sequence[PluckLevels | None]) -> Said:
    said: Said = {}
    for method in PROFILES:
        known = method == PROFILES[0]
        sources = []
        for k, name in enumerate(trial.pair):
            coils = len(trial.bench.pickup(name).coils)
            sources.append(Source(k, _place(trial, name) if known else Place(), 2 if coils > 1 else 1))
        mixes = {"a": Mix((sources[0],)), "b": Mix((sources[1],)), "both": Mix(tuple(sources))}
        plucks = [
            ProfilePluck(level, mixes[name], trial.string, 0)
            for (name, _), level in zip(trial.takes, levels, strict=True)
            if level is not None
        ]
        table = profile_of(plucks, count=2).table if plucks else np.zeros((2, 2))
        value = float(table[0, 0] - table[0, 1])
        said[method] = value if value != 0 else None
    return said
