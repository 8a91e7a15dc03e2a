"""Remarks on what the readings of one pickup show together: loose and joined leads, the shield, a tap.

Task: from the structures that are left to sentences. Shapes: none. Units: kilohms. Signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from capture.bench_log import Ohms
from capture.job import Pickup
from reports.coils import coil_words as words
from reports.coils.fitting import Fit
from reports.coils.limits import FINGERS_FROM_KOHM, OHMS_TYPED_FROM, OHMS_TYPED_TO
from reports.coils.structures import Pair, is_shield


def remarks_together(
    pickup: Pickup,
    answers: Sequence[Fit],
    mine: Sequence[Ohms],
    pairs: Sequence[Pair],
    leads: Sequence[str],
    *,
    dummy: bool,
    wrong: bool,
) -> tuple[str, ...]:
    """All that is worth saying; ``pairs`` are the leads of ``mine`` by their colours.

    ``dummy``: one coil has no magnet; ``wrong``: some reading contradicts the others.
    """
    said = [words.FINGERS.format(e.id, e.kohm, *e.between) for e in mine if _by_hands(e.kohm)]
    one, name = answers[0].structure, pickup.name
    if len(answers) > 1:
        every = len({frozenset(p) for p in pairs}) == len(list(combinations(leads, 2)))
        return (*said, *((words.STILL_OPEN.format(name),) if every and not wrong else ()))
    said += _of_leads(one.loose, one.joined, faults=one.faults)
    if len(one.coils) == 1 and pickup.coils > 1 and one.faults == 0:
        said.append(words.ONLY_TWO.format(*one.ends(0)))
    if len(one.coils) > 1 and one.meeting:
        outer = one.coils[0][0:0] + tuple(k for c in one.coils for k in c if one.points[k] not in one.meeting)
        ends = [one.points[k][0] for k in outer]
        said.append(words.TAPPED.format(" to ".join(ends), words.both(one.meeting[0])))
    if pickup.coils < len(one.coils) and not one.meeting:
        said.append(words.COILS_DIFFER.format(name, pickup.coils, len(one.coils)))
    if dummy and len(one.coils) > 1:
        said.append(words.DUMMY)
    if one.shield_on is not None:
        said.append(words.SHIELD_ON.format(one.shield_on))
    if not any(is_shield(lead) for lead in leads) and pickup.shield is None and one.coils:
        said.append(
            words.SHIELD_NOT_MEASURED.format(" and to ".join(one.ends(k)[0] for k in range(len(one.coils))))
        )
    return tuple(said)


def _of_leads(loose: tuple[str, ...], joined: tuple[tuple[str, ...], ...], *, faults: int) -> list[str]:
    said = [words.LEADS_JOINED.format(words.both(p)) for p in joined]
    if loose and faults == 0:
        said.append(words.SHIELD_ELSEWHERE.format(words.both(loose)))
    elif loose:
        said.append(words.NO_PATH.format(words.both(loose)))
    return said


def _by_hands(kohm: float | None) -> bool:
    return kohm is not None and kohm >= FINGERS_FROM_KOHM and not OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO
