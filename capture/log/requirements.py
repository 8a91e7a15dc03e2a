"""What is refused, or doubtful, of an entry against its job and the entries before it.

`require_names` raises `LogError` where pickups, settings, coils or leads do not exist, or cannot be meant;
`require_earlier` and `require_takes` where an entry leans on one that is not there. `doubtful_points` returns
sentences: warnings where a log is read, and refusals where an entry is about to be added (`check_new_entry`).
Texts come without file and line.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from capture import LogError
from capture.job.model import Job, Pickup, semitone
from capture.job.reading import did_you_mean, or_list, quoted_value
from capture.log.entries import (
    FEWEST_SETTINGS,
    LEAD_WORDS,
    OHMS_WORDS,
    TAG_WORDS,
    AnyEntry,
    Change,
    Check,
    Entry,
    LeadsInput,
    Meter,
    Ohms,
    Pole,
    Tag,
    Take,
    Void,
    clipped_input,
    pickups_of,
)


def require_names(entry: AnyEntry, job: Job) -> None:
    """Refuse an entry that names a pickup, setting, coil or lead the job does not have.

    Raises
    ------
    LogError
        Says which name, and what there is instead.

    """
    if isinstance(entry, Void):
        return
    if isinstance(entry, Take):
        _require_names_of_take(entry, job)
        return
    if isinstance(entry, Check):
        if entry.pickup is not None:
            pickup = _require_pickup(entry.pickup, job)
            if entry.what == "shelf":
                _require_shelf(entry, pickup, job)
        return
    pickup = _require_pickup(entry.pickup, job)
    if pickup.source is not None and isinstance(entry, Meter | Pole):
        raise LogError(
            f'"{pickup.name}" is a {pickup.source}: no coil and no magnet for a meter to swing by or a'
            " compass to turn to; pluck it and a magnetic pickup on two inputs at once"
        )
    if isinstance(entry, Tag):
        _require_loose(pickup)
    elif isinstance(entry, Meter):
        leads = (lead for lead in (entry.red, entry.black) if lead)
        _require_leads(pickup, leads, words=(*LEAD_WORDS, *TAG_WORDS))
    elif isinstance(entry, Ohms):
        _require_leads(pickup, entry.between, words=OHMS_WORDS)
    elif isinstance(entry, Change):
        _require_leads(pickup, entry.leads, words=TAG_WORDS)
        if pickup.shelf is not None:
            raise LogError(
                f'"{pickup.name}" is the reference coil "{pickup.shelf}"; one whose leads were exchanged is'
                " another coil, so give it another name on the shelf"
            )
    elif entry.coil is not None and entry.coil > pickup.made.count:
        has = "one coil; leave it out" if pickup.made.count == 1 else f"{pickup.made.count} coils"
        raise LogError(f'"coil" is {entry.coil}, and pickup "{pickup.name}" has {has}')


def _require_names_of_take(entry: Take, job: Job) -> None:
    for item in entry.inputs:
        if isinstance(item, LeadsInput):
            pickup = _require_pickup(item.pickup, job)
            _require_leads(pickup, (item.hot, item.ground), words=TAG_WORDS)
        elif item is not None:
            names = (item,) if isinstance(item, str) else item
            _require_settings(names, job)
            for name in names:
                _require_on_alone(name, entry, job)
    tapped = () if entry.tapped is None else (_require_pickup(entry.tapped, job),)
    if tapped and entry.gesture != "tap" and tapped[0] not in pickups_of(entry, job):
        raise LogError(
            f'the tool was at a pole of "{entry.tapped}", which is not on here; a {entry.gesture} tells of a'
            " pickup that is on"
        )
    if entry.coil is not None and all(p.made.count < entry.coil for p in tapped or pickups_of(entry, job)):
        most = max((p.made.count for p in tapped or pickups_of(entry, job)), default=1)
        has = "two coils; leave it out" if most == 1 else f"more than {most}"
        raise LogError(f'"coil" is {entry.coil}, and no pickup of this take has {has}')


def _require_on_alone(name: str, entry: Take, job: Job) -> None:
    """Refuse a pickup by itself at the jack where another one is always on."""
    pickup = job.pickup(name)
    at_jack = pickup is not None and pickup.shelf is None and (pickup.fitted or entry.stage == "after")
    if at_jack and not job.on_alone(name):
        both = next((s.name for s in job.settings if any(m.pickup == name for m in s.on)), None)
        always = or_list((p.name for p in job.hard_wired), last="and")
        instead = f"name {quoted_value(both)}, which has both" if both else "list a setting that has both"
        raise LogError(f"{quoted_value(name)} is never on alone, since {always} is always on; {instead}")


def _require_shelf(entry: Check, pickup: Pickup, job: Job) -> None:
    """Refuse a relation to a reference coil that this job does not have, or of other leads."""
    coils = [p.shelf for p in job.pickups if p.shelf is not None]
    if entry.shelf not in coils:
        raise LogError(
            f"there is no reference coil {quoted_value(entry.shelf)} in this job; there is {or_list(coils)}."
            f' Add it to job.toml as a [[pickup]] with shelf = "{entry.shelf}", and lift it here too'
        )
    if pickup.shelf is not None:
        raise LogError(
            f'"{pickup.name}" is a reference coil itself; name the pickup that is compared with it'
        )
    if not pickup.fitted and {entry.hot, entry.ground} != {pickup.hot, pickup.ground}:
        raise LogError(
            f'the leads of "{pickup.name}" were called {or_list(n for n in (entry.hot, entry.ground) if n)}'
            " in the other job; give them these names in job.toml (hot and ground), so that it is known which"
            " lead is which"
        )


def _require_loose(pickup: Pickup) -> None:
    if pickup.fitted:
        raise LogError(
            f'pickup "{pickup.name}" is fitted; a tag goes on a lead of a loose pickup (fitted = false in'
            " job.toml)"
        )


def require_takes(entry: Check, known: Iterable[str]) -> None:
    """Refuse a check of takes that are not in the log before it; `known` are the ids that are.

    Raises
    ------
    LogError
        Says which take there is not.

    """
    there = set(known)
    for take in entry.takes or ():
        if take not in there:
            raise LogError(f'there is no take {quoted_value(take)} before it; "coilwise list" shows the ids')


def require_earlier(entry: AnyEntry, earlier: Iterable[AnyEntry], job: Job) -> None:
    """Refuse an entry that leans on one that does not stand before it, or that does not fit it.

    Raises
    ------
    LogError
        Says which entry is not there, or why it does not fit.

    """
    if isinstance(entry, Void):
        if all(e.id != entry.entry for e in earlier):
            raise LogError(
                f"voids {quoted_value(entry.entry)}, and there is no such entry before it; check the id"
            )
    elif isinstance(entry, Change) and entry.before is not None:
        if all(e.id != entry.before for e in earlier):
            raise LogError(
                f"was made before {quoted_value(entry.before)}, and there is no such entry; check the id"
            )
    elif isinstance(entry, Tag):
        _require_clipped(entry, next((e for e in earlier if e.id == entry.take), None), job)
    elif named := tuple(_named_by_tag(entry, job)):
        tagged = {e.pickup for e in earlier if isinstance(e, Tag)}
        for name in named:
            if name not in tagged:
                raise LogError(
                    f'a lead of "{name}" is named by its tag, and no tag was put on it before; name its'
                    " colour, or enter the tag first"
                )


def _require_clipped(tag: Tag, take: AnyEntry | None, job: Job) -> None:
    """Refuse a tag on a lead that was under no clip in ``take``."""
    where = f"{quoted_value(tag.take)}"
    if take is None:
        raise LogError(f"names take {where}, and there is no such entry before it; check the id")
    if not isinstance(take, Take):
        raise LogError(f"names {where}, which is no take; name one that was recorded through the clips")
    if clipped_input(take, tag.pickup, job) is None:
        raise LogError(
            f'names take {where}, which had no clips on "{tag.pickup}" alone, or two ways round; name a take'
            " of that pickup"
        )
    if take.stage == "after":
        raise LogError(f"names take {where}, which was recorded after the work, when nothing was clipped on")


def _named_by_tag(entry: AnyEntry, job: Job) -> Iterable[str]:
    """Pickups of which an entry names a lead by a tag, where their own leads have other names."""
    named: list[tuple[str, tuple[str | None, ...]]] = []
    if isinstance(entry, Take):
        named = [(i.pickup, (i.hot, i.ground)) for i in entry.inputs if isinstance(i, LeadsInput)]
    elif isinstance(entry, Meter):
        named = [(entry.pickup, (entry.red, entry.black))]
    elif isinstance(entry, Change):
        named = [(entry.pickup, tuple(entry.leads))]
    for name, leads in named:
        pickup = job.pickup(name)
        own = () if pickup is None else pickup.leads
        if own and any(lead in TAG_WORDS and lead not in own for lead in leads):
            yield name


def doubtful_points(entry: AnyEntry, job: Job) -> list[str]:
    """Return what is doubtful about an entry that is not refused, one sentence each."""
    found = _doubtful_time(entry)
    if isinstance(entry, Pole):
        pickup = job.pickup(entry.pickup)
        if pickup is not None and pickup.made.pole_has_coil and entry.coil is None:
            found.append(f'pickup "{entry.pickup}" has two coils; name the "coil" the compass was held over')
    if isinstance(entry, Take):
        lists = [item for item in entry.inputs if isinstance(item, tuple)]
        if entry.gesture == "switch" and not lists:
            found.append('a switch take needs in "inputs" the list of settings the selector went through')
        if entry.gesture != "switch" and lists:
            found.append(
                f'a list of settings in "inputs" goes with a switch take, and this is a {entry.gesture}'
            )
        if entry.gesture == "tap" and entry.tapped is None:
            found.append('a tap needs "tapped": the pickup whose poles were tapped')
        if entry.gesture not in ("tap", "lift", "touch") and entry.tapped is not None:
            found.append(f'"tapped" goes with a tap, a lift or a touch, and this is a {entry.gesture}')
        if any(len(item) < FEWEST_SETTINGS for item in lists):
            found.append('a list of settings in "inputs" needs two or more: from where to where')
        if all(item is None for item in entry.inputs):
            found.append('"inputs" says that nothing was plugged in')
        on_it = {semitone(name) for name in job.strings}
        if entry.string is not None and on_it and semitone(entry.string) not in on_it:
            there = or_list(job.strings, last="and")
            found.append(f"no string {quoted_value(entry.string)} on this guitar; there is {there}")
    return found


def check_new_entry(entry: AnyEntry, job: Job) -> None:
    """Refuse an entry that is about to be added: what a reader would refuse, and what it would doubt.

    Raises
    ------
    LogError
        Says what is wrong with it.

    """
    require_names(entry, job)
    for doubt in doubtful_points(entry, job):
        raise LogError(doubt)


def _doubtful_time(entry: Entry) -> list[str]:
    if entry.at is None:
        return []
    try:
        datetime.fromisoformat(entry.at)
    except ValueError:
        return [f'"at" is {quoted_value(entry.at)}, which is no time; write it as 2026-11-25T10:12:00Z']
    return []


def _require_pickup(name: str, job: Job) -> Pickup:
    pickup = job.pickup(name)
    if pickup is None:
        raise LogError(f"no pickup {quoted_value(name)}{did_you_mean(name, [p.name for p in job.pickups])}")
    return pickup


def _require_settings(names: Iterable[str], job: Job) -> None:
    for name in names:
        if job.setting(name) is None:
            raise LogError(
                f"no setting or pickup {quoted_value(name)}{did_you_mean(name, job.setting_names)}"
            )


def _require_leads(pickup: Pickup, named: Iterable[str], *, words: tuple[str, ...] = ()) -> None:
    if not pickup.leads:
        return
    for lead in named:
        if lead not in words and lead not in pickup.leads:
            hint = did_you_mean(lead, [*pickup.leads, *words])
            raise LogError(f'pickup "{pickup.name}" has no lead {quoted_value(lead)}{hint}')
