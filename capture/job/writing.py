"""A new job folder with a commented job.toml.

The text is read back before it is written, so no job.toml is left that the reader refuses. A folder that
holds anything is never made into a new job.
"""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, InlineTable, Table

from capture import JobError
from capture.disk.writing import write_new
from capture.job.model import FORMAT, JOB_FILE, Job, Member, Pickup, Setting
from capture.job.reading import parse_job

_TOP = (
    "What is on the bench. Change it with any editor; comments stay.",
    "Lengths in millimetres. What is not known is left out.",
)
_COMMENTS = {
    "scale_mm": "nut to bridge saddle",
    "mains_hz": "50 or 60",
    "strings": "low to high",
    "centre_mm": "bridge saddle to the pickup's centre",
    "coils": "1 or 2",
    "fitted": "false: loose, not wired in yet",
    "hot": "lead colours as the maker's sheet has them, or as assumed",
    "link": "joined between the coils; the first belongs to hot's coil",
    "shield": '"own lead", "on ground" or "none"',
    "turnable": "true: the magnet can be turned",
    "turns": "of its coil, where they were counted",
    "active": "true: heard through a stage with a battery",
    "on": "pickups that sound together",
    "join": '"parallel" or "series"',
    "aim": '"in phase" or "out of phase"',
    "quiet": "true: hum should cancel here",
}
_SPELT_OUT = ("coils", "fitted", "join", "aim", "quiet")  # written though they are the default


def new_job(
    folder: str | PathLike[str],
    *,
    title: str,
    pickups: Sequence[Pickup],
    settings: Sequence[Setting] = (),
    scale_mm: float | None = None,
    mains_hz: int | None = None,
    strings: Sequence[str] = (),
) -> Job:
    """Make `folder` with a commented job.toml and return the job as it reads.

    Raises
    ------
    JobError
        The folder holds something already, cannot be made, or the job is refused.

    """
    document = tomlkit.document()
    for line in _TOP:
        document.add(tomlkit.comment(line))
    document["format"] = FORMAT
    document["title"] = title
    given = {"scale_mm": scale_mm, "mains_hz": mains_hz, "strings": list(strings) or None}
    for key, value in given.items():
        if value is not None:
            _set_with_comment(document, key, value)
    document["pickup"] = _array(_given_keys(p) for p in pickups)
    if settings:
        document["setting"] = _array(_given_keys(s) for s in settings)
    text = tomlkit.dumps(document)
    job = parse_job(text)
    home = Path(folder)
    try:
        home.mkdir(parents=True, exist_ok=True)
        if any(home.iterdir()):
            raise JobError(f"{folder}: the folder holds something already; choose a name that is not taken")
        write_new(home / JOB_FILE, text.encode())
    except FileExistsError:
        raise JobError(f"{folder}: there is something of that name already; choose another name") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise JobError(f"{folder}: the job folder cannot be made ({reason})") from None
    return job


def _given_keys(record: Pickup | Setting) -> dict[str, Any]:
    """Return the keys worth writing: what was given, and what a reader of the file looks for."""
    given: dict[str, Any] = {}
    for key, info in type(record).model_fields.items():
        value = getattr(record, key)
        if value is None or (value == info.default and key not in _SPELT_OUT):
            continue
        given[key] = [_member(m) for m in value] if key == "on" else list(value) if key == "link" else value
    return given


def _member(member: Member) -> str | InlineTable:
    keys = member.model_dump(exclude_defaults=True)
    if list(keys) == ["pickup"]:
        return member.pickup
    table = tomlkit.inline_table()
    table.update(keys)
    return table


def _array(records: Any) -> AoT:
    tables = tomlkit.aot()
    for record in records:
        table = tomlkit.table()
        for key, value in record.items():
            _set_with_comment(table, key, value)
        tables.append(table)
    return tables


def _set_with_comment(table: Table | tomlkit.TOMLDocument, key: str, value: Any) -> None:
    item: Any = tomlkit.item(value)
    if isinstance(item, Array):
        item.multiline(False)
    if key in _COMMENTS:
        item.comment(_COMMENTS[key])
    table[key] = item
