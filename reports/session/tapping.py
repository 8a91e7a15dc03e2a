"""When a guided session asks for taps, and for which: where the list of the selector is in doubt.

Taps carry no sign and promise no bits by themselves: what they settle is whether the other takes are what
they are called. `tap_round` asks for the poles of each pickup at each position in doubt; a position that was
tapped once is not asked for again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from capture.job import Job
from capture.job.model import CoilNumber
from capture.log import Stage
from reports.evidence.results import TakeResult
from reports.inference.posterior import JobEvidence
from reports.inference.taps import list_errors
from reports.model.notes import HealthProblem, OnSettings
from reports.model.session import TOOL, Round, Step, with_volumes

A_TAP_S = 9.0
IN_DOUBT: Final = 0.05
"""An error of the list that is this probable puts its positions in doubt; without any sign of it, it is less
probable by ten times."""
BOTH_COILS: Final[tuple[CoilNumber, ...]] = (1, 2)


def positions_in_doubt(evidence: JobEvidence) -> tuple[str, ...]:
    """The positions of which the evidence so far doubts that they are what the job says."""
    doubted: dict[str, None] = {}
    for error in list_errors(evidence.posterior.graph):
        if isinstance(error.subject, OnSettings) and evidence.posterior.error_probability(error) >= IN_DOUBT:
            doubted |= dict.fromkeys(error.subject.names)
    for finding in evidence.health.findings:
        if isinstance(finding.what, HealthProblem) and finding.what.code == "twin settings":
            doubted |= dict.fromkeys(filter(None, (finding.pickup_or_setting, finding.what.other)))
    return tuple(doubted)


def tap_round(
    job: Job, positions: Collection[str], results: Sequence[TakeResult], *, stage: Stage, tool: str | None
) -> Round | None:
    """Taps on every pickup that comes out of the jack at each of these positions; None where none is left."""
    tapped = {t.setting for take in results if take.entry.stage == stage for t in take.taps}
    jack = [p for p in job.own_pickups if p.fitted or stage == "after"]
    names = [p.name for p in jack]
    steps: list[Step] = []
    for name in positions:
        setting = job.setting(name)
        if setting is None or name in tapped or not {m.pickup for m in setting.on} <= set(names):
            continue
        for pickup in jack:
            split = any(m.pickup == pickup.name and m.coil for s in job.settings for m in s.on)
            coils: tuple[CoilNumber | None, ...] = (
                BOTH_COILS if split and pickup.made.pole_has_coil else (None,)
            )
            steps += [
                with_volumes(
                    job,
                    Step(
                        "tap",
                        (name,),
                        tool=tool or TOOL,
                        coil=coil,
                        tapped=pickup.name,
                        kind="tap",
                        columns=(0,),
                        pickups=(pickup.name,),
                    ),
                )
                for coil in coils
            ]
    return Round(tuple(steps), A_TAP_S * len(steps)).numbered() if len(names) > 1 and steps else None
