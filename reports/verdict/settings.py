"""What each selector setting does: full or thin, hum, the measured loss; found, planned and after the work.

``p_full`` is the probability that all members add, reversed ones turned over. Hum cancels where as many
single coils are wound one way as the other; a whole pickup of two coils adds no hum of its own, by how it is
built. A loss is the fundamental in dB against what the pickups alone predict if
they add (negative: lost), with one standard deviation; it is a measurement to look at, no evidence. What
stands as "after" is from takes and readings after the work alone, or a plan would confirm itself.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np

from capture.job import Job, Member, Setting
from dsp.methods.profile import fundamental_loss
from dsp.model.settings import Mix, weights_of
from reports.evidence.leads import LeadHistory
from reports.evidence.results import TakeResult
from reports.evidence.settings import (
    coil_of,
    hum_weights,
    jack_mixes,
    named_settings,
    strings_heard_by,
)
from reports.inference.jack import ProfileGroup
from reports.inference.meter import COMPASS
from reports.inference.posterior import Posterior
from reports.messages.blends import network_label
from reports.model.notes import (
    BenchError,
    CheckError,
    Hum,
    HumBasis,
    LikelyCause,
    OnSettings,
    SettingCode,
    SettingRemark,
    Sounds,
    Standing,
    StopHere,
)
from reports.model.verdict import Conflict, ListCheck, SettingVerdict, StageRow, WiringRow, likely_sign
from reports.model.work_notes import SettingResult, WorkResult
from reports.plan.search import planned_settings
from reports.plan.wiring import WiringPlan
from reports.verdict.by_string import string_phases

SWITCH_ERROR_DB = 2.0
"""One string through all settings: what is left is how the pickups load each other (assumed)."""


@dataclass(frozen=True)
class MeasuredLoss:
    """The loss of one setting's fundamental, with its error."""

    db: float
    error_db: float


def measured_losses(
    job: Job, results: Sequence[TakeResult], groups: Sequence[ProfileGroup]
) -> dict[str, MeasuredLoss]:
    """The loss of each setting of several pickups that could be had, all takes weighed together."""
    each: dict[str, list[MeasuredLoss]] = defaultdict(list)
    for take in results:
        for name, loss in _switch_losses(job, take):
            each[name].append(loss)
    for group in groups:
        for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True):
            measured = None if mix.alone else fundamental_loss(group.plucks, mix)
            if measured is not None:
                each[name].append(MeasuredLoss(measured.loss_db, measured.error_db))
    return {name: _weighted_mean(losses) for name, losses in each.items()}


def _switch_losses(job: Job, take: TakeResult) -> list[tuple[str, MeasuredLoss]]:
    """Losses from one switch take: settings of several pickups whose pickups were in the list alone too."""
    if take.switch is None or take.faults or not take.switch.levels_db:
        return []
    jack = jack_mixes(
        job,
        named_settings(take.entry.inputs),
        stage=take.entry.stage,
        fret=take.entry.fret,
        string=take.entry.string,
    )
    alone = {
        mix.sources[0].sign: level
        for mix, level in zip(jack.mixes, take.switch.levels_db, strict=True)
        if mix.alone and not math.isnan(level)
    }
    losses = []
    for name, mix, level in zip(jack.settings, jack.mixes, take.switch.levels_db, strict=True):
        if mix.alone or math.isnan(level) or any(s.sign not in alone for s in mix.sources):
            continue
        losses.append((name, MeasuredLoss(level - _adding_db(mix, alone), SWITCH_ERROR_DB)))
    return losses


def _adding_db(mix: Mix, alone: dict[int, float]) -> float:
    """Level of the fundamental if all sources add."""
    parts = [w * 10 ** (alone[s.sign] / 20) for s, w in zip(mix.sources, weights_of(mix), strict=True)]
    return 20 * math.log10(sum(parts))


def _weighted_mean(losses: Sequence[MeasuredLoss]) -> MeasuredLoss:
    """Mean weighed by error; the error is not taken below half of the smallest, for errors are shared."""
    weight = np.array([1 / one.error_db**2 for one in losses])
    mean = float(np.sum(weight * np.array([one.db for one in losses])) / weight.sum())
    least = min(one.error_db for one in losses) / 2
    return MeasuredLoss(mean, max(least, float(1 / np.sqrt(weight.sum()))))


PROFILE_CODES: tuple[SettingCode, ...] = (
    "imbalanced",
    "twin settings",
    "fewer harmonics",
    "one source not heard alone",
)
"""Remarks of dsp.methods.profile that a verdict repeats."""


@dataclass(frozen=True)
class Work:
    """What is done at the pickups: hot and ground exchanged, the magnet turned over."""

    exchanged: Mapping[str, bool]
    magnets: Mapping[str, bool] = field(default_factory=dict)

    def member(
        self, member: Member, coil: int | None, *, winding: bool, count: int = 2
    ) -> tuple[str, int | None, bool]:
        """A member of a setting after the work: pickup, coil that is left there, turned over or not.

        Of a pickup of ``count`` coils that is split, exchanging hot and ground leaves the other end's.
        """
        exchanged = self.exchanged.get(member.pickup, False)
        magnet = self.magnets.get(member.pickup, False) and not winding
        left = count + 1 - coil if exchanged and coil is not None else coil
        return member.pickup, left, member.reversed != (exchanged != magnet)


NO_WORK = Work({})
LOST_DB = -5.0
"""A fundamental this far down is not what a full setting gives."""
CANNOT_BE_DB = 8.0
"""And this far down no pickups that add up give it (on simulated benches full settings lie above -3 dB)."""
LOUDER_THAN_THIN = 2.0


def setting_verdicts(
    job: Job,
    posterior: Posterior,
    losses: Mapping[str, MeasuredLoss],
    *,
    notes: Mapping[str, tuple[SettingRemark, ...]],
    taps: Mapping[str, ListCheck] = MappingProxyType({}),
) -> tuple[SettingVerdict, ...]:
    """One row a setting of the job, with what else is to be said of it and what taps say of its list."""
    rows = [_setting_row(s, job, posterior, losses.get(s.name), notes.get(s.name, ())) for s in job.settings]
    return tuple(_with_taps(row, taps.get(row.name)) for row in rows)


def _with_taps(row: SettingVerdict, check: ListCheck | None) -> SettingVerdict:
    said = (SettingRemark("tapped as listed"),) if check == "confirmed" else ()
    return row.model_copy(update={"taps": check, "notes": (*row.notes, *said)})


def list_conflicts(rows: Sequence[SettingVerdict], job: Job) -> tuple[Conflict, ...]:
    """Settings whose measured level cannot be, if they hold what the list says."""
    found = []
    for row in rows:
        setting = job.setting(row.name)
        if setting is not None and any(isinstance(n, SettingRemark) and n.cannot_be for n in row.notes):
            error = BenchError("settings", OnSettings((row.name,)))
            pair = (setting.on[0].pickup, setting.on[-1].pickup)
            told = row.taps == "confirmed"
            found.append(
                Conflict(
                    between=(BY_ITS_PICKUPS, AS_MEASURED),
                    pair=pair,
                    likely_cause=LikelyCause(() if told else (error,)),
                    next=StopHere(*pair) if told else CheckError(error),
                )
            )
    return tuple(found)


BY_ITS_PICKUPS, AS_MEASURED = "what its pickups say", "what was measured on the setting"
"""The two sides of such a conflict."""


def profile_notes(groups: Sequence[ProfileGroup]) -> dict[str, tuple[SettingRemark, ...]]:
    """What the harmonic profiles have to say of the settings of several pickups they were had from."""
    notes: dict[str, tuple[SettingRemark, ...]] = {}
    for group in groups:
        remarks = [SettingRemark(c) for r in group.result.remarks for c in PROFILE_CODES if c == r]
        for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True):
            if not mix.alone:
                notes[name] = tuple(dict.fromkeys((*notes.get(name, ()), *remarks)))
    return notes


def standing_full(setting: Setting, job: Job, posterior: Posterior) -> Standing | None:
    """How sure it is whether all members add; None for one pickup alone."""
    if len(setting.on) < 2:
        return None
    members = _members(setting, job, work=NO_WORK)
    if len(members) < 2:
        return None
    found = posterior.assess(lambda one: one.all_agree(members))
    return "unsettled" if found is None else found.standing


def p_full(setting: Setting, job: Job, posterior: Posterior, *, work: Work = NO_WORK) -> float | None:
    """P(all members add) after some work; None for one pickup alone and where nothing connects them."""
    members = _members(setting, job, work=work)
    if any(strings_fixed_apart(job, setting)):
        return None
    return posterior.all_agree(members) if len(setting.on) > 1 and len(members) > 1 else None


def _members(setting: Setting, job: Job, *, work: Work) -> list[tuple[str, int | None, bool]]:
    """What hears the strings in a setting: of a pickup in halves, both of them."""
    members: list[tuple[str, int | None, bool]] = []
    for m in strings_heard_by(job, setting.on):
        pickup, coil = job.pickup(m.pickup), coil_of(job, m.pickup, m.coil)
        in_halves = pickup is not None and pickup.made.layout == "halves" and coil is None
        for part in (1, 2) if in_halves else (coil,):
            count = 2 if pickup is None else max(2, pickup.made.count)
            member = work.member(m, None if in_halves else part, winding=False, count=count)
            members.append((member[0], part, member[2]) if in_halves else member)
    return members


def strings_fixed_apart(job: Job, setting: Setting) -> Iterator[bool]:
    """Of each pickup of a setting but the first that hears strings: whether its poles stand otherwise."""
    heard = [p for m in strings_heard_by(job, setting.on) if (p := job.pickup(m.pickup)) is not None]
    kinds = job.string_kinds()
    patterns = [tuple(job.pole_under(p, kind) for kind in kinds) for p in heard]
    yield from (one != patterns[0] for one in patterns[1:])


def p_hum_cancels(setting: Setting, job: Job, posterior: Posterior, *, work: Work = NO_WORK) -> float | None:
    """P(hum cancels in a setting) after some work; None where it is not known."""
    single = []
    for m in setting.on:
        pickup, coil = job.pickup(m.pickup), coil_of(job, m.pickup, m.coil)
        if pickup is not None and job.member_hums(m) is None:
            return None
        if pickup is not None and (coil is not None or job.member_hums(m)):
            single.append(work.member(m, coil, winding=True, count=max(2, pickup.made.count)))
    if not single:
        return None
    if not setting.plain:
        return posterior.all_cancel(single, weights=_weights_of_single(setting, job))
    return 0.0 if len(single) % 2 else posterior.all_cancel(single)


def _weights_of_single(setting: Setting, job: Job) -> tuple[int, ...]:
    """What the single coils of a mixed network count in its hum, in their order."""
    weights = hum_weights(setting, job)
    return tuple(
        weights[m] or 0
        for m in setting.on
        if (p := job.pickup(m.pickup)) is not None
        and (p.made.hums or coil_of(job, m.pickup, m.coil) is not None)
    )


def hum_word(
    setting: Setting, job: Job, posterior: Posterior, *, work: Work = NO_WORK
) -> tuple[Hum, tuple[HumBasis, ...]]:
    """Whether hum cancels in a setting, and what that rests on.

    Where no single coil is on, each pickup cancels hum by itself; an odd number of single coils hums.
    """
    p = p_hum_cancels(setting, job, posterior, work=work)
    pickups = [job.pickup(m.pickup) for m in setting.on]
    if any(m.pickup in posterior.graph.history.unjoined for m in setting.on):
        return hum_of(p), _hum_bases(setting, posterior) if p is not None else ()
    single = [m for m, one in zip(setting.on, pickups, strict=True) if one is not None and job.member_hums(m)]
    if any(job.member_hums(m) is None for m in setting.on):
        return "unknown", ()
    if not single:
        return "cancels", ("coils",)
    if len(single) % 2 and setting.plain:
        return "hums", ("coils",)
    return hum_of(p), _hum_bases(setting, posterior) if p is not None else ()


def _hum_bases(setting: Setting, posterior: Posterior) -> tuple[HumBasis, ...]:
    """What was heard or read of the windings in a setting."""
    names = {m.pickup for m in setting.on}
    methods = {p.method for p in posterior.graph.evidence if p.letter == "w" and p.pickups & names}
    found: tuple[tuple[bool, HumBasis], ...] = (
        (bool(methods - {COMPASS}), "heard"),
        (COMPASS in methods, "compass"),
        (any(m.coil is not None for m in setting.on), "coils"),
    )
    return tuple(basis for holds, basis in found if holds)


_SOUNDS: dict[int | None, Sounds] = {1: "full", -1: "thin", None: "unknown"}
_HUM: dict[int | None, Hum] = {1: "cancels", -1: "hums", None: "unknown"}


def sounds_of(p: float | None) -> Sounds:
    """Full, thin or not known."""
    return _SOUNDS[likely_sign(p)]


def hum_of(p: float | None) -> Hum:
    """Cancels, hums or not known."""
    return _HUM[likely_sign(p)]


def _setting_row(
    setting: Setting,
    job: Job,
    posterior: Posterior,
    loss: MeasuredLoss | None,
    notes: tuple[SettingRemark, ...],
) -> SettingVerdict:
    full, quiet = p_full(setting, job, posterior), p_hum_cancels(setting, job, posterior)
    hum, basis = hum_word(setting, job, posterior)
    return SettingVerdict(
        name=setting.name,
        sounds=sounds_of(full),
        p_full=full,
        hum=hum,
        hum_from=basis,
        on=tuple(map(_member_label, setting.on)),
        pickups=tuple(m.pickup for m in setting.on),
        deaf=tuple(m.pickup for m in setting.on if not job.hears_strings(m.pickup)),
        join=setting.join,
        aim=setting.aim,
        standing=standing_full(setting, job, posterior),
        loss_db=None if loss is None else loss.db,
        loss_error_db=None if loss is None else loss.error_db,
        p_hum_cancels=quiet,
        wanted_quiet=job.wants_quiet(setting),
        by_string=() if len(setting.on) == 1 else string_phases(job, posterior, setting.on),
        notes=(*_loss_notes(sounds_of(full), loss, members=len(setting.on)), *notes),
    )


def _loss_notes(sounds: Sounds, loss: MeasuredLoss | None, *, members: int) -> tuple[SettingRemark, ...]:
    """Where the measured level and the verdict do not go together; two members only, where it is plain."""
    if loss is None or members > 2:
        return ()
    if sounds == "full" and loss.db + 2 * loss.error_db < LOST_DB:
        return (SettingRemark("measured thin", -loss.db, cannot_be=-loss.db > CANNOT_BE_DB),)
    if sounds == "thin" and loss.db - loss.error_db > -LOUDER_THAN_THIN:
        too_loud = loss.db - 2 * loss.error_db > -LOUDER_THAN_THIN
        return (SettingRemark("measured full", cannot_be=too_loud),)
    return ()


def _member_label(member: Member) -> str:
    label = member.pickup if member.coil is None else f"{member.pickup} (coil {member.coil})"
    return f"{label}{' reversed' if member.reversed else ''}{network_label(member)}"


Planned = Literal["yes", "no", "unknown"]


def work_of(history: LeadHistory, found: WiringPlan) -> Work | None:
    """What was done: as the log's changes have it, or else as what was found had it planned.

    None where neither says anything: then nothing was planned. A magnet that was to be turned is taken to be
    turned, since no entry of the log says so.
    """
    magnets = {row.pickup: row.turn_magnet for row in found.rows}
    if history.changed:
        return Work({name: leads.turned for name, leads in history.final.items()}, magnets)
    return Work({row.pickup: _turned(row) for row in found.rows}, magnets) if found.rows else None


def _turned(row: WiringRow) -> bool:
    """Whether the whole pickup comes out turned over: hot and ground exchanged, or each coil by itself."""
    return bool(row.exchange) != ({1, 2} <= set(row.coils_exchanged))


def stage_rows(job: Job, *, found: Posterior, after: Posterior, work: Work | None) -> tuple[StageRow, ...]:
    """One row for each setting of several pickups; ``after`` is what the takes after the work say alone.

    What is planned is what the setting is for; a change that was entered is not held against itself.
    """
    return tuple(
        _stage_row(s, job, found=found, after=after, work=work)
        for s in planned_settings(job)
        if len(s.on) > 1
    )


def work_result(rows: Sequence[StageRow], *, entered: bool, against_log: bool = False) -> WorkResult | None:
    """What all rows say together; None where there are none.

    ``entered``: whether a change was; ``against_log``: what is heard contradicts it.
    """
    if not rows:
        return None
    every = tuple(map(_setting_result, rows))
    wrong, unknown = (
        tuple(result for result, row in zip(every, rows, strict=True) if row.as_planned == answer)
        for answer in ("no", "unknown")
    )
    if wrong:
        return WorkResult("not as planned", wrong, entered=entered)
    if len(unknown) == len(rows):
        return WorkResult("not recorded", every)
    if against_log and entered:
        return WorkResult("against the log", every)
    if not entered:
        needless = all(row.found == row.planned for row in rows)
        return WorkResult("as found" if needless and not unknown else "not entered", every)
    return WorkResult("as planned so far", unknown) if unknown else WorkResult("as planned", every)


def _setting_result(row: StageRow) -> SettingResult:
    return SettingResult(row.setting, row.planned, row.after, row.hum_after if row.wanted_quiet else None)


def _stage_row(
    setting: Setting, job: Job, *, found: Posterior, after: Posterior, work: Work | None
) -> StageRow:
    planned: Sounds = "full" if setting.aim == "in phase" else "thin"
    p_after = p_full(setting, job, after)
    now = sounds_of(p_after)
    hum = hum_word(setting, job, after)[0]
    wrong = now not in (planned, "unknown") or (setting.quiet and hum == "hums")
    open_yet = now == "unknown" or (setting.quiet and hum == "unknown")
    as_planned: Planned = "no" if wrong else "unknown" if open_yet else "yes"
    return StageRow(
        setting=setting.name,
        found=sounds_of(p_full(setting, job, found)),
        planned=planned,
        after=now,
        p_after=p_after,
        as_planned=as_planned,
        hum_found=hum_word(setting, job, found)[0],
        hum_planned="unknown" if work is None else hum_word(setting, job, found, work=work)[0],
        hum_after=hum,
        wanted_quiet=setting.quiet,
    )
