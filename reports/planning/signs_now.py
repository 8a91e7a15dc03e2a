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
    """Signs relative to the first pickup of each group that evidence connects, the reference's first."""
    reference = job.reference.name
    s: dict[str, int | None] = {}
    w: dict[str, int | None] = {}
    group: dict[str, str] = {}
    for name in (reference, *(p.name for p in job.pickups if p.name != reference)):
        s[name], w[name], group[name] = 1, 1, name
        for first in (n for n in group if group[n] == n and n != name):
            leaning = _leaning(belief.in_phase(first, name))
            if leaning is not None:
                cancels = belief.hum_cancels(first, name)
                s[name], group[name] = leaning, first
                w[name] = _leaning(None if cancels is None else 1 - cancels)
                break
    coil_s: dict[CoilKey, int] = {}
    coil_w: dict[CoilKey, int] = {}
    for name, number in _split_coils(job):
        opposed = _leaning(belief.all_agree([(name, None, False), (name, number, False)])) == -1
        if opposed:
            coil_s[name, number] = -(s[name] or 1)
        winding = _coil_winding(job, belief, group[name], (name, number))
        if winding is not None:
            coil_w[name, number] = winding
    return SignsNow(s, w, group, coil_s, coil_w)


def _split_coils(job: Job) -> tuple[CoilKey, ...]:
    """The coils that a setting holds alone."""
    two = {p.name for p in job.pickups if p.coils > 1}
    return tuple(
        dict.fromkeys(
            (m.pickup, m.coil) for s in job.settings for m in s.on if m.coil is not None and m.pickup in two
        )
    )


def _coil_winding(job: Job, belief: Belief, first: str, coil: CoilKey) -> int | None:
    """The winding of a coil relative to the first pickup of its group, or to that pickup's split coil."""
    name, number = coil
    if first not in {p.name for p in job.pickups if p.coils > 1}:
        base: tuple[str, int | None, bool] = (first, None, False)
    else:
        base_coil = next((n for n in _split_coils(job) if n[0] == first), None)
        if base_coil is None:
            return None
        if base_coil == coil:
            return 1
        base = (*base_coil, False)
    cancels = belief.all_cancel([base, (name, number, False)])
    return None if cancels is None else _leaning(1 - cancels)


def _leaning(p: float | None) -> int | None:
    if p is None or max(p, 1 - p) < LIKELY_FROM:
        return None
    return 1 if p > 1 - p else -1
