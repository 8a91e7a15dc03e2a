"""What each setting of the selector does as the guitar is wired.

Task: from belief to full or thin, hum cancels or hums, and the loss that was measured. Signs: ``p_full`` is
the probability that all members add, reversed ones turned over; hum cancels where as many single coils are
wound one way as the other. A whole pickup of two coils adds no hum of its own where its coils are joined as
meant, so it does not count among them; a setting of such pickups alone is left to say "unknown".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from capture.job import Job, Member, Setting
from reports.belief.jack_groups import ProfileGroup
from reports.belief.summing import Belief
from reports.jack import coil_of
from reports.losses import MeasuredLoss
from reports.verdict import LIKELY_FROM, Hum, SettingVerdict, Sounds, standing_of

PROFILE_NOTES = {
    "imbalanced": (
        "One of its pickups is much weaker than the other, so their harmonics tell little: raise it."
    ),
    "twin settings": (
        "By harmonics and level it cannot be told from one of its pickups alone: was the selector moved?"
    ),
    "fewer harmonics": "The places of the pickups are not known, so only the lower harmonics were compared.",
    "one source not heard alone": (
        "Not every pickup of it was plucked alone on the same string, so its harmonics were not compared."
    ),
}


@dataclass(frozen=True)
class Work:
    """What is done at the pickups: hot and ground exchanged, the magnet turned over."""

    exchanged: Mapping[str, bool]
    magnets: Mapping[str, bool] = field(default_factory=dict)

    def member(self, member: Member, coil: int | None, *, winding: bool) -> tuple[str, int | None, bool]:
        """A member of a setting after the work: pickup, coil that is left there, turned over or not.

        Of a pickup that is split, exchanging hot and ground leaves the other coil.
        """
        exchanged = self.exchanged.get(member.pickup, False)
        magnet = self.magnets.get(member.pickup, False) and not winding
        left = 3 - coil if exchanged and coil is not None else coil
        return member.pickup, left, member.reversed != (exchanged != magnet)


NO_WORK = Work({})
LOST_DB = -5.0
"""A fundamental this far down is not what a full setting gives."""
LOUDER_THAN_THIN = 2.0
SOUNDS_THIN = (
    "Its fundamental was measured {:.0f} dB below what the pickups alone predict, although they should add: "
    "compare the setting with job.toml."
)
SOUNDS_FULL = (
    "Its fundamental was measured at what the pickups give when they add, although they should oppose each "
    "other: compare the setting with job.toml."
)


def setting_verdicts(
    job: Job,
    belief: Belief,
    losses: Mapping[str, MeasuredLoss],
    *,
    notes: Mapping[str, tuple[str, ...]],
) -> tuple[SettingVerdict, ...]:
    """One row a setting of the job; ``notes``: what else is to be said of it."""
    return tuple(_row(s, job, belief, losses.get(s.name), notes.get(s.name, ())) for s in job.settings)


def profile_notes(groups: Sequence[ProfileGroup]) -> dict[str, tuple[str, ...]]:
    """What the harmonic profiles have to say of the settings of several pickups they were had from."""
    found: dict[str, tuple[str, ...]] = {}
    for group in groups:
        said = tuple(PROFILE_NOTES[code] for code in group.result.remarks if code in PROFILE_NOTES)
        for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True):
            if not mix.alone:
                found[name] = tuple(dict.fromkeys((*found.get(name, ()), *said)))
    return found


def p_full(setting: Setting, job: Job, belief: Belief, *, work: Work = NO_WORK) -> float | None:
    """P(all members add) after some work; None for one pickup alone and where nothing connects them."""
    members = [work.member(m, coil_of(job, m.pickup, m.coil), winding=False) for m in setting.on]
    return belief.all_agree(members) if len(members) > 1 else None


def p_hum_cancels(setting: Setting, job: Job, belief: Belief, *, work: Work = NO_WORK) -> float | None:
    """P(hum cancels in a setting) after some work; None where it is not known."""
    single = []
    for m in setting.on:
        pickup, coil = job.pickup(m.pickup), coil_of(job, m.pickup, m.coil)
        if pickup is not None and (pickup.coils == 1 or coil is not None):
            single.append(work.member(m, coil, winding=True))
    if not single:
        return None
    return 0.0 if len(single) % 2 else belief.all_cancel(single)


def sounds_of(p: float | None) -> Sounds:
    """Full, thin or not known."""
    if p is None or max(p, 1 - p) < LIKELY_FROM:
        return "unknown"
    return "full" if p > 1 - p else "thin"


def hum_of(p: float | None) -> Hum:
    """Cancels, hums or not known."""
    if p is None or max(p, 1 - p) < LIKELY_FROM:
        return "unknown"
    return "cancels" if p > 1 - p else "hums"


def _row(
    setting: Setting, job: Job, belief: Belief, loss: MeasuredLoss | None, notes: tuple[str, ...]
) -> SettingVerdict:
    full, quiet = p_full(setting, job, belief), p_hum_cancels(setting, job, belief)
    return SettingVerdict(
        name=setting.name,
        sounds=sounds_of(full),
        p_full=full,
        hum=hum_of(quiet),
        on=tuple(_member_label(m.pickup, m.coil, m.reversed) for m in setting.on),
        join=setting.join,
        aim=setting.aim,
        standing=standing_of(full) if len(setting.on) > 1 else None,
        loss_db=None if loss is None else loss.db,
        loss_error_db=None if loss is None else loss.error_db,
        p_hum_cancels=quiet,
        wanted_quiet=setting.quiet,
        notes=(*_notes(sounds_of(full), loss, members=len(setting.on)), *notes),
    )


def _notes(sounds: Sounds, loss: MeasuredLoss | None, *, members: int) -> tuple[str, ...]:
    """Where the measured level and the verdict do not go together; two members only, where it is plain."""
    if loss is None or members > len(("one", "other")):
        return ()
    if sounds == "full" and loss.db + 2 * loss.error_db < LOST_DB:
        return (SOUNDS_THIN.format(-loss.db),)
    if sounds == "thin" and loss.db - loss.error_db > -LOUDER_THAN_THIN:
        return (SOUNDS_FULL,)
    return ()


def _member_label(pickup: str, coil: int | None, reversed_: bool) -> str:
    label = pickup if coil is None else f"{pickup} (coil {coil})"
    return f"{label} reversed" if reversed_ else label
