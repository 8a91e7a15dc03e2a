"""Evidence from one output jack: switch takes, harmonic profiles, and hum.

Task: from the tables of single takes, and from the levels of many, to pieces of evidence in the ledger.
Signs: a table speaks of the signs with which its stations were heard (reports.belief.tables).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from capture.bench_log import Take
from dsp.humming.levels import hum_level_table
from dsp.humming.lines import hum_moves
from reports.belief.factors import Factor
from reports.belief.jack_groups import HumGroup, ProfileGroup, hum_groups, profile_groups
from reports.belief.ledger import Ledger, Piece
from reports.belief.runs import ClipRuns
from reports.belief.shown import shown_by
from reports.belief.tables import PROFILE, Array, Said, add_table, capacitive
from reports.heard import NO_RIG, HeardTake, Letter, Station
from reports.jack import settings_of

HUM_LEVEL = "hum level"
MOVED_HUM = 3.0
"""Nats: hum that rises and falls as the guitar is turned comes in through the coils."""


@dataclass(frozen=True, eq=False)
class JackReading:
    """What was read from the jack besides evidence: groups for losses, notes and drawings."""

    profiles: tuple[ProfileGroup, ...]
    hums: tuple[HumGroup, ...]


def read_jack(
    ledger: Ledger,
    heard: Sequence[HeardTake],
    *,
    kohm: Mapping[str, float],
    unsound: frozenset[str] = frozenset(),
) -> JackReading:
    """Add what the jack said; settings in ``unsound`` are left out of the profiles (reports.findings)."""
    runs = ClipRuns(ledger.wires.job)
    run_of = {take.entry.id: runs.of(take.entry) for take in heard}
    for take in (t for t in heard if not t.faults):
        for table in take.tables:
            _add(
                ledger,
                take.entry,
                table.stations,
                run=run_of[take.entry.id],
                method=table.method,
                letter=table.letter,
                log=table.log,
                takes=(take.entry.id,),
                settings=tuple(name for name, _ in settings_of(take.entry.inputs)),
            )
    profiles = profile_groups(ledger.wires, heard, kohm=kohm, unsound=unsound)
    for group in profiles:
        _add_group(ledger, group, run_of, method=PROFILE, letter="s", log=group.result.table)
    hums = hum_groups(ledger.wires, heard)
    for hum in hums:
        levels = hum_level_table(hum.with_mixes, count=hum.jack.count)
        _add_group(ledger, hum, run_of, method=HUM_LEVEL, letter="w", log=levels)
        _note_moving(ledger, hum)
    return JackReading(tuple(profiles), tuple(hums))


def _add_group(
    ledger: Ledger,
    group: ProfileGroup | HumGroup,
    run_of: Mapping[str, Mapping[str, int]],
    *,
    method: str,
    letter: Letter,
    log: Array,
) -> None:
    _add(
        ledger,
        group.first,
        group.jack.stations,
        run=run_of[group.first.id],
        method=method,
        letter=letter,
        log=log,
        takes=tuple(dict.fromkeys(group.takes)),
        settings=group.jack.settings,
    )


def _add(
    ledger: Ledger,
    entry: Take,
    stations: Sequence[Station],
    *,
    run: Mapping[str, int],
    method: str,
    letter: Letter,
    log: Array,
    takes: tuple[str, ...],
    settings: tuple[str, ...],
) -> None:
    shown = [shown_by(ledger, entry, s, run=run, letter=letter) for s in stations]
    each = tuple(s for s in shown if s is not None)
    if len(each) < len(shown):
        return
    one_string = entry.string is not None and letter == "s" and method != PROFILE
    add_table(
        ledger,
        Said(
            method,
            letter,
            each,
            log,
            takes,
            settings,
            _rig(entry),
            string=entry.string if one_string else None,
            reversed_axes=_reversed_axes(ledger, settings, stations),
        ),
    )


def _note_moving(ledger: Ledger, group: HumGroup) -> None:
    """Hum of one setting that differs between takes comes in through the coils."""
    for name in dict.fromkeys(group.settings):
        mine = [k for k, other in enumerate(group.settings) if other == name]
        if len(mine) > 1 and hum_moves([group.lines[k] for k in mine]):
            factor = Factor((capacitive(ledger, _rig(group.first)),), np.array([0.0, -MOVED_HUM]))
            takes = tuple(dict.fromkeys(group.takes[k] for k in mine))
            ledger.pieces.append(Piece(HUM_LEVEL, (factor,), frozenset(), takes=takes, about="w"))
            return


def _reversed_axes(ledger: Ledger, names: Iterable[str], stations: Sequence[Station]) -> tuple[bool, ...]:
    """For each station, whether a setting has it reversed."""
    turned = {
        (member.pickup, member.coil)
        for name in names
        if (setting := ledger.wires.job.setting(name)) is not None
        for member in setting.on
        if member.reversed
    }
    return tuple((s.pickup, s.coil) in turned for s in stations)


def _rig(entry: Take) -> str:
    return entry.rig or NO_RIG
