"""What an ohmmeter should read at the jack of a closed guitar, and what its reading means.

Task: from the resistances of pickups and coils to that of a setting, with the volume pot full up across it,
and from a reading to a `JackReading`. Units: kilo-ohm. Reversed leads read the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from capture.job import Job, Setting
from capture.job.model import Join, Member
from reports.model.lead_notes import JackReading, JackReadingCode
from reports.model.plan import CoilKey
from reports.ohms.readings import BODY_KOHM, DIFFERS_SHARE, FINGERS_FROM_KOHM, JOINED_KOHM, parallel

AS_WELL = 0.03
"""Explanations that lie no further apart than two meters do are both named."""
TYPED_IN_OHMS_FROM = 1000.0
"""A reading of a thousand kilo-ohm and more, that is a pickup's in ohms, was typed in ohms."""
POT_AT_LEAST = 0.8
"""A pot within its 20 per cent."""


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
    members = [_member_kohm(job, m, kohm_by_pickup, kohm_by_coil or {}) for m in setting.on]
    return _setting_kohm(members, join=setting.join, volume_kohm=volume_kohm)


def kohm_without_each(
    job: Job, setting: Setting, kohm_by_pickup: Mapping[str, float], *, volume_kohm: float | None = None
) -> dict[str, float]:
    """What the meter would read with one member of a parallel setting missing, by that member's pickup."""
    if setting.join != "parallel" or len(setting.on) == 1:
        return {}
    members = [_member_kohm(job, m, kohm_by_pickup, {}) for m in setting.on]
    result = {}
    for k, member in enumerate(setting.on):
        rest = [*members[:k], *members[k + 1 :]]
        kohm = _setting_kohm(rest, join=setting.join, volume_kohm=volume_kohm)
        if kohm is not None:
            result[member.pickup] = kohm
    return result


def jack_reading(
    expected: float,
    read: float | None,
    *,
    volume_kohm: float | None = None,
    without: Mapping[str, float] | None = None,
) -> JackReading:
    """What a reading at the jack means; ``read`` None is open, ``without`` as from `kohm_without_each`."""
    missing = () if read is None else _missing(read, without or {})
    code: JackReadingCode
    if read is not None and read >= TYPED_IN_OHMS_FROM and _near(read / 1000, expected):
        code = "typed in ohms"
    elif read is None or (volume_kohm is None and read >= FINGERS_FROM_KOHM):
        code = "open"
    elif read <= JOINED_KOHM:
        code = "short"
    elif _near(read, expected):
        code = "as expected"
    elif volume_kohm is not None and read >= volume_kohm * POT_AT_LEAST:
        code = "volume pot alone"
    elif missing:
        code = "pickup missing"
    elif read < expected:
        code = "low by hands" if _near(read, parallel(expected, BODY_KOHM)) else "low"
    else:
        code = "high" if without else "high alone"
    return JackReading(code, expected, read, missing)


def _setting_kohm(members: Sequence[float | None], *, join: Join, volume_kohm: float | None) -> float | None:
    each = [kohm for kohm in members if kohm is not None]
    if len(each) < len(members):
        return None
    kohm = sum(each) if join == "series" else parallel(*each)
    return kohm if volume_kohm is None else parallel(kohm, volume_kohm)


def _member_kohm(
    job: Job, member: Member, by_pickup: Mapping[str, float], by_coil: Mapping[CoilKey, float]
) -> float | None:
    pickup = job.pickup(member.pickup)
    if member.coil is None or (pickup is not None and pickup.coils == 1):
        return by_pickup.get(member.pickup)
    return by_coil.get((member.pickup, member.coil))


def _missing(read: float, without: Mapping[str, float]) -> tuple[str, ...]:
    """Whose absence explains a reading: the nearest, and others that explain it about as well."""
    off = {name: abs(read - kohm) / kohm for name, kohm in without.items() if _near(read, kohm)}
    least = min(off.values(), default=0.0)
    return tuple(name for name, distance in off.items() if distance <= least + AS_WELL)


def _near(read: float, expected: float) -> bool:
    return abs(read - expected) <= DIFFERS_SHARE * expected
