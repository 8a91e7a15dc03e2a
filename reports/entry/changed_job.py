"""The open job filled in, renamed or corrected: from the form into job.toml, with the log kept right.

The log is never rewritten. A pickup or setting that gets another name keeps the old one beside it (``was`` in
job.toml), and older lines are read by it. Refused, with what to do instead, is what would make recordings say
something that nobody said: another colour on a lead, or loose for fitted, once something was recorded or
measured of that pickup; and whatever lines of the log could not be read with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from capture import JOB_FILE, JobError, LogError
from capture.disk.reading import read_plain
from capture.disk.writing import replace_whole
from capture.job import Job, Member, Pickup, Setting, parse_job, read_job
from capture.job.reading import MOST_BYTES, did_you_mean, quoted_value
from capture.job.writing import changed_text
from capture.log import AnyEntry, Check, Take, read_log
from capture.log.entries import pickups_of
from capture.takes.recorder import unfinished_takes
from reports.entry.bench_memory import remember_bench
from reports.entry.lengths import lengths_from, lengths_text, open_strings
from reports.entry.new_job import (
    MEMBER_FORMS,
    OFF,
    JobFields,
    MemberFields,
    PickupFields,
    SettingFields,
    pickup_of,
    setting_of,
    stereo_of,
)
from reports.entry.spelling import SIDE_BY_SIDE, UNUSUAL_KEYS, placed_text, unusual_text
from reports.messages import page as words
from reports.ohms.readings import MOST_COILS

WAYS: Mapping[tuple[int | None, bool], str] = MappingProxyType(
    {how: key for key, how in MEMBER_FORMS.items()}
)
NOT_IN_FORM = ("turns",)
"""What the form does not ask of a pickup, and keeps."""
Record = TypeVar("Record", Pickup, Setting)


def fields_of(job: Job) -> JobFields:
    """Return the form as the job would have filled it in; settings that it cannot show are left out."""
    return JobFields(
        title=job.title,
        scale=lengths_text(job.scale_mm, job.scales_mm),
        mains_hz=job.mains_hz,
        strings=" ".join("/".join(course) for course in job.courses) or " ".join(job.strings),
        pickups=tuple(_pickup_fields(p) for p in job.pickups),
        settings=tuple(_setting_fields(s, job) for s in job.settings if _fits_the_form(s)),
        stereo=", ".join(job.stereo or ()),
    )


def change_job(folder: Path, fields: JobFields) -> Job:
    """Write what stands in the form into job.toml and return the job as it reads then.

    Raises
    ------
    JobError
        Something is refused, or cannot be changed any more; nothing was written then.
    LogError
        The log cannot be read as it is.

    """
    job, log = read_job(folder), read_log(folder, read_job(folder))
    if unfinished_takes(folder):
        raise JobError(words.UNFINISHED_FIRST)
    logged = bool(log.entries)
    pickups: list[tuple[str | None, Pickup]] = []
    for number, row in enumerate((p for p in fields.pickups if not p.blank), start=1):
        made, before = pickup_of(row, number), job.pickup(row.was)
        if before is not None:
            _require_safe(before, made, log.standing, job)
            made = _renamed(
                made.model_copy(update={key: getattr(before, key) for key in NOT_IN_FORM}),
                before,
                logged=logged,
            )
        pickups.append((row.was or None, made))
    settings: list[tuple[str | None, Setting]] = []
    for number, one in enumerate((s for s in fields.settings if not s.blank), start=1):
        entered = setting_of(one, number)
        old = next((s for s in job.settings if s.name == one.was), None)
        settings.append((one.was or None, entered if old is None else _renamed(entered, old, logged=logged)))
    now = {was: made.name for was, made in pickups if was is not None}
    settings += [(s.name, _with_names(s, now)) for s in job.settings if not _fits_the_form(s)]
    remember_bench(mains_hz=fields.mains_hz)
    scale = lengths_from(fields.scale, what=words.SCALE_FIELD)
    text = changed_text(
        read_plain(folder / JOB_FILE, most_bytes=MOST_BYTES).decode("utf-8-sig"),
        top={
            "title": fields.title or None,
            "scale_mm": list(scale) if isinstance(scale, tuple) else scale,
            "mains_hz": fields.mains_hz,
            "stereo": None if (sides := stereo_of(fields)) is None else list(sides),
            "strings": [n if isinstance(n, str) else list(n) for n in open_strings(fields.strings)] or None,
        },
        pickups=pickups,
        settings=settings,
    )
    changed = parse_job(text, title=folder.resolve().name)
    try:
        read_log(folder, changed)
    except LogError as error:
        raise JobError(words.LOG_IN_THE_WAY.format(why=error)) from None
    replace_whole(folder / JOB_FILE, text.encode())
    return changed


def say_build(folder: Path, name: str, said: Mapping[str, str]) -> Job:
    """Write into job.toml how one pickup is built, and return the job as it reads then.

    ``said``: keys of `UNUSUAL_KEYS` and `PLACE_KEYS` as they were typed; "side by side" takes them all
    back, and is kept of a loose pickup with two coils.

    Raises
    ------
    JobError
        There is no such pickup, or it is refused.

    """
    fields = fields_of(read_job(folder))
    row = next((p for p in fields.pickups if p.name == name), None)
    if row is None:
        raise JobError(
            f"there is no pickup {quoted_value(name)}{did_you_mean(name, [p.name for p in fields.pickups])}"
        )
    plain_again = said.get("build") == SIDE_BY_SIDE
    typed = dict.fromkeys(UNUSUAL_KEYS, "") if plain_again else dict(said)
    before = pickup_of(row, 1)
    if plain_again and not before.fitted and before.coils == MOST_COILS:
        typed["build"] = SIDE_BY_SIDE  # of a loose one that is asked before its coils are joined
    kept = {**unusual_text(before), **placed_text(before), **typed}
    made = replace(
        row,
        build=kept["build"],
        upper=kept["upper"],
        under=kept["under"],
        poles=kept["poles"],
        circuit=kept["circuit"],
        coil_kohm=kept["coil_kohm"],
        source=kept["source"],
        stage=kept["stage"],
        shelf=kept["shelf"],
        always=kept["always"],
    )
    return change_job(folder, replace(fields, pickups=tuple(made if p is row else p for p in fields.pickups)))


def _renamed(record: Record, before: Record, *, logged: bool) -> Record:
    """The record with the names it had, where lines of the log may have them."""
    names = (*before.was, *((before.name,) if logged else ()))
    return record.model_copy(update={"was": tuple(dict.fromkeys(n for n in names if n != record.name))})


def _with_names(setting: Setting, now: Mapping[str, str]) -> Setting:
    on = tuple(m.model_copy(update={"pickup": now.get(m.pickup, m.pickup)}) for m in setting.on)
    return setting.model_copy(update={"on": on})


def _require_safe(before: Pickup, after: Pickup, standing: Sequence[AnyEntry], job: Job) -> None:
    """Refuse what recordings and readings of this pickup would then say wrongly."""
    entry = next((e for e in standing if _is_about(e, before, job)), None)
    if entry is None:
        return
    if before.fitted != after.fitted:
        raise JobError(words.FITTED_STAYS.format(name=before.name, id=entry.id))
    for role in ("hot", "ground", "link"):
        old, new = getattr(before, role), getattr(after, role)
        if old != new and (old is not None or not before.fitted):
            raise JobError(words.COLOURS_STAY.format(name=before.name, id=entry.id))


def _is_about(entry: AnyEntry, pickup: Pickup, job: Job) -> bool:
    if isinstance(entry, Take):
        return pickup in pickups_of(entry, job)
    return not isinstance(entry, Check) and getattr(entry, "pickup", None) == pickup.name


def _pickup_fields(pickup: Pickup) -> PickupFields:
    return PickupFields(
        name=pickup.name,
        centre=lengths_text(pickup.centre_mm, pickup.centres_mm),
        coils=pickup.coils,
        fitted=pickup.fitted,
        turnable=pickup.turnable,
        active=pickup.active,
        hot=pickup.hot or "",
        ground=pickup.ground or "",
        link=pickup.link or ("", ""),
        shield=pickup.shield or "",
        **unusual_text(pickup),
        **placed_text(pickup),
        was=pickup.name,
    )


def _setting_fields(setting: Setting, job: Job) -> SettingFields:
    on = {m.pickup: _way(m) for m in setting.on}
    return SettingFields(
        name=setting.name,
        on=tuple((p.name, on.get(p.name, OFF)) for p in job.pickups),
        wired=tuple((m.pickup, _wired(m)) for m in setting.on),
        bypass=setting.bypass,
        join=setting.join,
        aim=setting.aim,
        quiet=setting.quiet,
        was=setting.name,
    )


def _way(member: Member) -> str:
    return WAYS[member.coil, member.reversed]


def _wired(member: Member) -> MemberFields:
    share = "" if member.share is None else f"{100 * member.share:g}"
    return MemberFields(member.group or "", share, member.circuit or "")


def _fits_the_form(setting: Setting) -> bool:
    """Whether no pickup is on twice in it, coil by coil: the form has one choice for each."""
    return len({m.pickup for m in setting.on}) == len(setting.on)
