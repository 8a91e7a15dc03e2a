"""An entry against its job: what is refused, and what is only doubtful.

`require_names(entry, job)` raises `LogError`. `doubtful_points(entry, job)` returns sentences: warnings where
a log is read, and refusals where an entry is about to be added (`check_new_entry`). Texts come without file
and line.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path, PureWindowsPath

from capture import LogError
from capture.job.model import Job, Pickup, semitone
from capture.job.reading import did_you_mean, or_list, quoted_value
from capture.log.entries import AnyEntry, Change, Entry, LeadsInput, Meter, Ohms, Pole, Take, Void

LEAD_WORDS = ("hot", "ground")
FEWEST_SETTINGS = 2
OHMS_WORDS = (*LEAD_WORDS, "shield")


def path_inside(folder: Path, file: str) -> Path:
    """Return where `file` of a log line lies.

    Raises
    ------
    LogError
        The path is absolute or leads out of the folder, by itself or through a link.

    """
    if Path(file).is_absolute() or PureWindowsPath(file).drive or file.startswith("\\"):
        raise LogError(
            f'"file" is {quoted_value(file)}, an absolute path; give it as it lies in the job folder'
        )
    try:
        home = folder.resolve()
        inside = (home / file).resolve().is_relative_to(home)
    except (OSError, RuntimeError, ValueError):
        raise LogError(f'"file" is {quoted_value(file)}, which is no path that can be followed') from None
    if not inside:
        raise LogError(
            f'"file" is {quoted_value(file)}, which leads out of the job folder; copy the audio into takes/'
        )
    return folder / file


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
        for item in entry.inputs:
            if isinstance(item, LeadsInput):
                _require_leads(_require_pickup(item.pickup, job), (item.hot, item.ground))
            elif item is not None:
                _require_settings((item,) if isinstance(item, str) else item, job)
        if entry.coil is not None and all(p.coils < entry.coil for p in pickups_of(entry, job)):
            raise LogError(f'"coil" is {entry.coil}, and no pickup of this take has two coils; leave it out')
        return
    pickup = _require_pickup(entry.pickup, job)
    if isinstance(entry, Meter):
        _require_leads(pickup, (lead for lead in (entry.red, entry.black) if lead), words=LEAD_WORDS)
    elif isinstance(entry, Ohms):
        _require_leads(pickup, entry.between, words=OHMS_WORDS)
    elif isinstance(entry, Change):
        _require_leads(pickup, entry.leads)
    elif entry.coil is not None and entry.coil > pickup.coils:
        raise LogError(f'"coil" is {entry.coil}, and pickup "{pickup.name}" has one coil; leave it out')


def doubtful_points(entry: AnyEntry, job: Job) -> list[str]:
    """Return what is doubtful about an entry that is not refused, one sentence each."""
    found = _doubtful_time(entry)
    if isinstance(entry, Pole):
        pickup = job.pickup(entry.pickup)
        if pickup is not None and pickup.coils > 1 and entry.coil is None:
            found.append(f'pickup "{entry.pickup}" has two coils; name the "coil" the compass was held over')
    if isinstance(entry, Take):
        lists = [item for item in entry.inputs if isinstance(item, tuple)]
        if entry.gesture == "switch" and not lists:
            found.append('a switch take needs in "inputs" the list of settings the selector went through')
        if entry.gesture != "switch" and lists:
            found.append(
                f'a list of settings in "inputs" goes with a switch take, and this is a {entry.gesture}'
            )
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


def pickups_of(entry: Take, job: Job) -> tuple[Pickup, ...]:
    """Return the pickups that a take can have heard, each once."""
    names: dict[str, None] = {}
    for item in entry.inputs:
        if isinstance(item, LeadsInput):
            names[item.pickup] = None
        elif item is not None:
            for name in (item,) if isinstance(item, str) else item:
                setting = job.setting(name)
                names.update(dict.fromkeys(m.pickup for m in setting.on) if setting else {})
    return tuple(p for p in job.pickups if p.name in names)


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
