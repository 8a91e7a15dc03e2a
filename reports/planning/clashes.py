"""Which aims cannot be met together: a smallest set of them.

Task: from demands that no plan meets to the fewest of them that no plan meets. Exact: sets are tried by
size, and those that a plan already found meets are passed over. Signs: as in model.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from reports.planning.model import Demand, Place, Plan, outcome
from reports.planning.search import best, meets_all


def smallest_clash(places: Sequence[Place], demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """A smallest set of demands that no plan meets together; empty where all can be met."""
    if meets_all(places, demands) is not None:
        return ()
    met_together = [_met_by(places, demands, best(places, demands).plan)]
    for size in range(1, len(demands) + 1):
        for chosen in combinations(range(len(demands)), size):
            if any(set(chosen) <= met for met in met_together):
                continue
            few = [demands[k] for k in chosen]
            found = meets_all(places, few)
            if found is None:
                return tuple(few)
            met_together.append(_met_by(places, demands, found.plan))
    return tuple(demands)


def _met_by(places: Sequence[Place], demands: Sequence[Demand], plan: Plan) -> set[int]:
    kept = set()
    for k, demand in enumerate(demands):
        aim, hum = outcome(places, demand, plan)
        if aim and not (demand.quiet and hum is False):
            kept.add(k)
    return kept
