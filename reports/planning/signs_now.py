"""The signs that a plan starts from: what is at least likely of every pickup, and of its coils where heard.

Task: from belief to signs. Signs: ``s`` and ``w`` (dsp/signs.py) as the guitar is wired now, relative to the
first pickup of each group that evidence connects; None where a winding is not at least likely. Of a pickup
of two coils ``w`` means nothing as a whole: its coils are wound opposite to each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from capture.job import Job, Setting
from reports.belief.summing import Belief
from reports.verdict import LIKELY_FROM

CoilKey = tuple[str, int]


@dataclass(frozen=True)
class SignsNow:
    """What is believed: ``s`` and ``w`` relative to the first pickup of the ``group``.

    Between groups nothing is known; None where a winding is not at least likely. ``coil_s`` and ``coil_w``
    are what was heard of single coils (pickup, number); what is left out follows from the pickup.
    """

    s: Mapping[str, int | None]
    w: Mapping[str, int | None]
    group: Mapping[str, str]
    coil_s: Mapping[CoilKey, int] = field(default_factory=dict)
    coil_w: Mapping[CoilKey, int] = field(default_factory=dict)

    def not_joined(self, settings: Sequence[Setting], *, reference: str) -> set[str]:
        """Pickups that share a setting with one of another group, those of the reference's group left out."""
        return {
            m.pickup
            for setting in settings
            if len({self.group[m.pickup] for m in setting.on}) > 1
            for m in setting.on
            if self.group[m.pickup] != self.group[reference]
        }


def signs_now(job: Job, belief: Belief) -> SignsNow:
    """Signs relative to the first pickup of each group that evidence connects, the reference's first.

    Windings are relative to the first coil of each group that stands alone somewhere: a pickup of one coil,
    or a coil that a setting splits.
    """
    reference = job.reference.name
    s: dict[str, int | None] = {}
    group: dict[str, str] = {}
    for name in (reference, *(p.name for p in job.pickups if p.name != reference)):
        s[name], group[name] = 1, name
        for first in (n for n in group if group[n] == n and n != name):
            leaning = _leaning(belief.in_phase(first, name))
            if leaning is not None:
                s[name], group[name] = leaning, first
                break
    coil_s: dict[CoilKey, int] = {}
    for name, number in _split_coils(job):
        if _leaning(belief.all_agree([(name, None, False), (name, number, False)])) == -1:
            coil_s[name, number] = -(s[name] or 1)
    w: dict[str, int | None] = dict.fromkeys(s)
    coil_w: dict[CoilKey, int] = {}
    for (name, coil), winding in _windings(job, belief, group).items():
        if coil is None:
            w[name] = winding
        else:
            coil_w[name, coil] = winding
    return SignsNow(s, w, group, coil_s, coil_w)


def _windings(job: Job, belief: Belief, group: Mapping[str, str]) -> dict[tuple[str, int | None], int]:
    """The winding of every coil that stands alone, relative to the first such one of its group."""
    split = _split_coils(job)
    single = {p.name for p in job.pickups if p.coils == 1}
    alone: dict[str, list[tuple[str, int | None]]] = {}
    for name, first in group.items():
        coils: list[tuple[str, int | None]] = [(name, None)] if name in single else []
        alone.setdefault(first, []).extend([*coils, *(c for c in split if c[0] == name)])
    found: dict[tuple[str, int | None], int] = {}
    for base, *others in (coils for coils in alone.values() if coils):
        found[base] = 1
        for coil in others:
            cancels = belief.all_cancel([(*base, False), (*coil, False)])
            winding = None if cancels is None else _leaning(1 - cancels)
            if winding is not None:
                found[coil] = winding
    return found


def _split_coils(job: Job) -> tuple[CoilKey, ...]:
    """The coils that a setting holds alone."""
    two = {p.name for p in job.pickups if p.coils > 1}
    return tuple(
        dict.fromkeys(
            (m.pickup, m.coil) for s in job.settings for m in s.on if m.coil is not None and m.pickup in two
        )
    )


def _leaning(p: float | None) -> int | None:
    if p is None or max(p, 1 - p) < LIKELY_FROM:
        return None
    return 1 if p > 1 - p else -1
