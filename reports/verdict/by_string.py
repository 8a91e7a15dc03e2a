"""Pickups whose sign goes with the string: what is believed of a pair, and of a setting, string by string.

Poles that alternate, or two halves of which each lies under its own strings, have no one answer to "in
phase": there is one for each kind of string, and one word is said only where all of them agree. Which coil
and which pole lie under a string is data of the job (dsp.model.pickups); how coils are joined is evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import methodcaller

from capture.job import Job, Member
from capture.job.model import BASS_STRINGS, GUITAR_STRINGS
from reports.evidence.settings import members_under
from reports.inference.posterior import Assessment, Posterior
from reports.model.notes import Phase, Standing
from reports.model.verdict import StringPhase, standing_of

RANKS: tuple[Standing, ...] = ("unsettled", "likely", "settled")


def string_phases(job: Job, posterior: Posterior, members: Sequence[Member]) -> tuple[StringPhase, ...]:
    """Whether the members add on each string; nothing where all strings of all of them are alike."""
    pickups = [p for m in members if (p := job.pickup(m.pickup)) is not None]
    if not any(p.made.by_string for p in pickups):
        return ()
    over = {name for p in pickups for c in p.made.coils for name in c.under or ()}
    usual = BASS_STRINGS[1:5] if over & set(BASS_STRINGS) else GUITAR_STRINGS
    known: dict[tuple[tuple[str, int | None, bool], ...], Assessment | None] = {}
    rows = []
    for string in job.strings or usual:
        heard = members_under(job, members, string)
        if len(heard) < 2:
            continue
        if heard not in known:
            known[heard] = posterior.assess(methodcaller("all_agree", heard))
        rows.append(_row(string, known[heard]))
    return tuple(rows)


def _row(string: str, found: Assessment | None) -> StringPhase:
    if found is None:
        return StringPhase(string=string, p_in_phase=None, phase=None, standing="unsettled")
    phase: Phase = "in phase" if found.p > 1 - found.p else "out of phase"
    known = found.standing != "unsettled"
    return StringPhase(
        string=string, p_in_phase=found.p, phase=phase if known else None, standing=found.standing
    )


def strings_differ(rows: Sequence[StringPhase]) -> bool:
    """Whether one word cannot be said of all strings: some add and others oppose each other."""
    return len({row.phase for row in rows if row.phase is not None}) > 1


def least_standing(rows: Sequence[StringPhase]) -> Standing:
    """The standing of the answer that is least sure."""
    return min((row.standing for row in rows), key=RANKS.index, default=standing_of(None))


def strings_by_phase(rows: Sequence[StringPhase]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The strings on which they add, and those on which they oppose each other."""
    add = tuple(row.string for row in rows if row.phase == "in phase")
    return add, tuple(row.string for row in rows if row.phase == "out of phase")
