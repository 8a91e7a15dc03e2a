"""What limits work at a pickup's leads, and the warnings that a technician would give.

Task: shields and covers that are joined to a lead, fitted pickups, splits. Signs: none.
"""

from __future__ import annotations

from capture.job import Job, Pickup

SHIELD_ON_GROUND = (
    "The shield of {} is joined to its ground lead: separate it first, and put it to ground by itself. "
    "Otherwise it ends up on the hot side, hums, and mutes the guitar where it touches the strings."
)
BRAID_OPENED = (
    "{} has two leads, and its shield is one with the ground lead: a braid cannot simply be exchanged, or it "
    "is hot, hums, and mutes the guitar where it touches the strings. A technician has to open the pickup, "
    "take the coil's end off the braid inside and give it a lead of its own. If it is only a cover that is "
    "joined, separate it first and put it to ground by itself."
)
BRAID_STAYS = (
    "Do not exchange the leads of {} instead of the work at the others: it has two leads, and its shield is "
    "one with the ground lead."
)
SHIELD_UNKNOWN = (
    "It is not known whether the shield or cover of {} is joined to one of its leads: check with the meter "
    "before the leads are exchanged, and separate it if it is."
)
FITTED_GROUND = (
    "{} is fitted: look for a second path to ground (a cover, a plate, a common ground wire) "
    "before its leads are exchanged."
)
SPLIT_COIL = (
    "{} is split in {}: exchanging hot and ground also changes which coil is left there. "
    "The plan reckons with the other coil; check that its place under the strings is the one you want."
)


def braid_is_ground(pickup: Pickup) -> bool:
    """Whether the pickup has two leads of which the ground is shield as well, so that they cannot change."""
    return pickup.shield == "on ground" and pickup.link is None


def warnings_of_exchange(pickup: Pickup, job: Job, *, other_coil: bool) -> tuple[str, ...]:
    """What to mind when leads of a pickup are exchanged; ``other_coil``: a split leaves the other one."""
    said = []
    if braid_is_ground(pickup):
        said.append(BRAID_OPENED.format(pickup.name))
    elif pickup.shield == "on ground":
        said.append(SHIELD_ON_GROUND.format(pickup.name))
    elif pickup.shield is None:
        said.append(SHIELD_UNKNOWN.format(pickup.name))
    if pickup.fitted:
        said.append(FITTED_GROUND.format(pickup.name))
    split = [
        s.name for s in job.settings if any(m.pickup == pickup.name and m.coil is not None for m in s.on)
    ]
    if split and other_coil:
        said.append(SPLIT_COIL.format(pickup.name, ", ".join(f'"{s}"' for s in split)))
    return tuple(said)


def warnings_of_leaving(pickup: Pickup, *, others_exchanged: bool) -> tuple[str, ...]:
    """What to mind at a pickup that stays while another is exchanged."""
    return (BRAID_STAYS.format(pickup.name),) if others_exchanged and braid_is_ground(pickup) else ()
