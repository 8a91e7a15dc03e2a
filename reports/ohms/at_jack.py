"""What an ohmmeter should read at the jack of a closed guitar, and what its reading says.

Task: from the resistances of pickups to that of a setting, the volume pot full up across it, and from a
reading to one sentence. Units: kilohms. Shapes: none. Signs: none: reversed leads read the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from capture.job import Job, Setting
from capture.job.model import Join, Member
from reports.messages import leads as words
from reports.ohms.readings import BODY_KOHM, DIFFERS_SHARE, FINGERS_FROM_KOHM, JOINED_KOHM, across

AS_WELL = 0.03
"""Explanations that lie no further apart than two meters do are both named."""
TYPED_IN_OHMS_FROM = 1000.0
"""A reading of a thousand kilo-ohm and more, that is a pickup's in ohms, was typed in ohms."""
POT_AT_LEAST = 0.8
"""A pot within its 20 per cent."""

CoilKey = tuple[str, int]


def expected_kohm(
    job: Job,
    setting: Setting,
    kohm_by_pickup: Mapping[str, float],
    *,
    volume_kohm: float | None = None,
    kohm_by_coil: Mapping[CoilKey, float] | None = None,
) -> float | None:
    """What the meter should read; None where a member's resistance is not known.

    ``kohm_by_coil`` is asked for members that are one coil of two. ``volume_kohm``: the pot, full up.
    """
    each = [_of_member(job, m, kohm_by_pickup, kohm_by_coil or {}) for m in setting.on]
    return _together(each, join=setting.join, volume_kohm=volume_kohm)


def without_each(
    job: Job,
    setting: Setting,
    kohm_by_pickup: Mapping[str, float],
    *,
    volume_kohm: float | None = None,
    kohm_by_coil: Mapping[CoilKey, float] | None = None,
) -> dict[str, float]:
    """What the meter would read with one member of a parallel setting missing, by that member's pickup."""
    if setting.join != "parallel" or len(setting.on) == 1:
        return {}
    each = [_of_member(job, m, kohm_by_pickup, kohm_by_coil or {}) for m in setting.on]
    found = {}
    for k, member in enumerate(setting.on):
        rest = [*each[:k], *each[k + 1 :]]
        kohm = _together(rest, join=setting.join, volume_kohm=volume_kohm)
        if kohm is not None:
            found[member.pickup] = kohm
    return found


def what_it_says(
    expected: float,
    read: float | None,
    *,
    volume_kohm: float | None = None,
    without: Mapping[str, float] | None = None,
) -> str:
    """One sentence on a reading at the jack; ``read`` None is open."""
    if read is not None and read >= TYPED_IN_OHMS_FROM and _near(read / 1000, expected):
        return words.JACK_IN_OHMS.format(read, read / 1000)
    if read is None or (volume_kohm is None and read >= FINGERS_FROM_KOHM):
        return words.JACK_OPEN.format(expected)
    missing = _missing(read, without or {})
    if read <= JOINED_KOHM:
        said = words.JACK_SHORT
    elif _near(read, expected):
        said = words.JACK_AS_EXPECTED
    elif volume_kohm is not None and read >= volume_kohm * POT_AT_LEAST:
        said = words.JACK_POT_ALONE
    elif missing is not None:
        said = words.JACK_MISSING
    elif read < expected:
        said = words.JACK_HANDS if _near(read, across(expected, BODY_KOHM)) else words.JACK_LOW
    else:
        said = words.JACK_HIGH if without else words.JACK_HIGH_ALONE
    return said.format(read, expected, missing)


def _together(each: Sequence[float | None], *, join: Join, volume_kohm: float | None) -> float | None:
    known = [k for k in each if k is not None]
    if len(known) < len(each):
        return None
    kohm = sum(known) if join == "series" else across(*known)
    return kohm if volume_kohm is None else across(kohm, volume_kohm)


def _of_member(
    job: Job, member: Member, by_pickup: Mapping[str, float], by_coil: Mapping[CoilKey, float]
) -> float | None:
    pickup = job.pickup(member.pickup)
    if member.coil is None or (pickup is not None and pickup.coils == 1):
        return by_pickup.get(member.pickup)
    return by_coil.get((member.pickup, member.coil))


def _missing(read: float, without: Mapping[str, float]) -> str | None:
    """Whose absence explains a reading: the nearest, and others that explain it about as well."""
    off = {name: abs(read - kohm) / kohm for name, kohm in without.items() if _near(read, kohm)}
    least = min(off.values(), default=0.0)
    return " or ".join(name for name, far in off.items() if far <= least + AS_WELL) or None


def _near(read: float, expected: float) -> bool:
    return abs(read - expected) <= DIFFERS_SHARE * expected
