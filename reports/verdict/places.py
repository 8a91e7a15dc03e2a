"""What the places say to a person: places that cannot be, and a list that is not as the job says.

From what was heard (reports.inference.places) to findings, which are no matter of phase, and to conflicts
between the places and what the takes are entered as. Units: mm from the bridge. Sign: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from capture.job import Job
from capture.log import AnyEntry
from reports.evidence.settings import impossible_places
from reports.inference.evidence_graph import Evidence, LatentError
from reports.inference.places import PlacesHeard
from reports.inference.posterior import Posterior
from reports.model.gestures import PLACES
from reports.model.notes import CheckError, LikelyCause, PlaceCode, PlaceProblem, PlaceRemedy, StopHere
from reports.model.verdict import Conflict, Finding
from reports.verdict.rechecked import was_checked

TOLD = 0.5
"""A list, a position or a name that is wrong so probably is told as a conflict."""
TURNED_NATS = 7.0
"""From here on it is said that two pickups answer by each other's names: odds of a thousand, against some
hundreds that the list is right."""
SURE_MM, FEWEST_NOTES = 12.0, 4
"""Where a pickup is heard is said where its place is known so well, by so many notes."""


def place_findings(job: Job, heard: PlacesHeard) -> tuple[Finding, ...]:
    """Places that cannot be, and two pickups that answer by each other's names."""
    return tuple(_findings(job, heard))


def _findings(job: Job, heard: PlacesHeard) -> Iterator[Finding]:
    impossible = impossible_places(job)
    for pickup in (p for p in job.pickups if p.name in impossible):
        estimate = heard.estimates.get(pickup.name)
        sure = estimate is not None and estimate.error_mm < SURE_MM and estimate.notes >= FEWEST_NOTES
        mm = round(estimate.mm) if estimate is not None and sure else None
        yield _finding(pickup.name, impossible[pickup.name], pickup.centre_mm, mm)
    if heard.turned_nats > TURNED_NATS:
        yield _finding(" and ".join(p.name for p in job.pickups), "wrong way round", None, None)


def _finding(name: str, code: PlaceCode, typed_mm: float | None, heard_mm: float | None) -> Finding:
    return Finding(
        pickup_or_setting=name, what=PlaceProblem(code, typed_mm, heard_mm), next=PlaceRemedy(code)
    )


def place_conflicts(posterior: Posterior, *, entries: Sequence[AnyEntry] = ()) -> list[Conflict]:
    """The list, positions and names that the places contradict, each on the first pair it bears on.

    ``entries``: the log. Where taps told already, more of them do not, and the meter decides.
    """
    evidence = posterior.graph.evidence
    said = [e for piece in evidence if piece.method == PLACES for f in piece.factors for e in f.variables]
    conflicts = []
    for error in dict.fromkeys(said):
        if not isinstance(error, LatentError) or posterior.error_probability(error) < TOLD:
            continue
        rests = [p for p in evidence if len(p.pickups) > 1 and _rests_on(p, error)]
        if rests:
            first, second = sorted(rests[0].pickups)[:2]
            conflicts.append(
                Conflict(
                    between=(PLACES, rests[0].method),
                    pair=(first, second),
                    likely_cause=LikelyCause((error.error,)),
                    next=StopHere(first, second) if was_checked(error, entries) else CheckError(error.error),
                )
            )
    return conflicts


def _rests_on(piece: Evidence, error: LatentError) -> bool:
    return any(error in f.variables for f in piece.factors)
