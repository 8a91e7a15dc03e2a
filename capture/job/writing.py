"""A new job folder with a commented job.toml, and a job.toml that is changed.

The text of a new one is read back before it is written, so no job.toml is left that the reader refuses; a
folder that holds anything is never made into a new job. Comments stay where something is changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, InlineTable, Table

from capture import JOB_FILE, JobError
from capture.disk.writing import write_new
from capture.job.model import FORMAT, Job, Member, Pickup, Setting
from capture.job.reading import parse_job

_TOP = (
    "What is on the bench. Change it with any editor; comments stay.",
    "Lengths in millimetres. What is not known is left out.",
)
_COMMENTS = {
    "scale_mm": "nut to bridge saddle",
    "mains_hz": "50 or 60",
    "strings": "low to high",
    "stereo": "a stereo jack: the pickup on its tip, and on its ring",
    "control": '"volumes": a volume knob each and no selector',
    "centre_mm": "bridge saddle to the pickup's centre",
    "coils": "1 or 2; up to 4 in an unusual one",
    "fitted": "false: loose, not wired in yet",
    "hot": "lead colours as the maker's sheet has them, or as assumed",
    "link": "joined between the coils; the first belongs to hot's coil",
    "shield": '"own lead", "on ground" or "none"',
    "turnable": "true: the magnet can be turned",
    "turns": "of its coil, where they were counted",
    "build": '"side by side", "stacked", "halves" or "dummy"; left out: side by side, as usual',
    "upper": "of stacked coils the one near the strings",
    "under": "the strings over coil 1, and those over coil 2",
    "poles": '"alternate", or "north" and "south" string by string, low to high',
    "stage": '"keeps" or "inverts", as its diagram says',
    "always": "true: wired straight to hot, on in every position",
    "source": '"piezo" or "microphone"; left out: magnetic',
    "shelf": "a reference coil of the bench, by its name in every job",
    "circuit": '"1 + 2" in series, "1 | 2" in parallel, "1 + (2 | 22n)", "1@60%" up to a tap',
    "coil_kohm": "of each coil, coil 1's first",
    "was": "names that older lines of the log have for it",
    "active": "true: heard through a stage with a battery",
    "on": "pickups that sound together",
    "join": '"parallel" or "series"',
    "aim": '"in phase" or "out of phase"',
    "quiet": "true: hum should cancel here",
    "bypass": "true: the active stage is bypassed here",
}
_SPELT_OUT = ("coils", "fitted", "join", "aim", "quiet")  # written though they are the default


def new_job(
    folder: str | PathLike[str],
    *,
    title: str,
    pickups: Sequence[Pickup],
    settings: Sequence[Setting] = (),
    scale_mm: float | Sequence[float] | None = None,
    mains_hz: int | None = None,
    strings: Sequence[str | Sequence[str]] = (),
    stereo: Sequence[str] | None = None,
    control: str | None = None,
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
    scale = list(scale_mm) if isinstance(scale_mm, Sequence) else scale_mm
    named = [name if isinstance(name, str) else list(name) for name in strings]
    given: dict[str, Any] = {"scale_mm": scale, "mains_hz": mains_hz, "strings": named or None}
    given["stereo"] = None if stereo is None else list(stereo)
    given["control"] = control
    for key, value in given.items():
        if value is not None:
            _set_with_comment(document, key, value)
    document["pickup"] = _array(_given_keys(p) for p in pickups)
    if settings:
        document["setting"] = _array(_given_keys(s) for s in settings)
    text = tomlkit.dumps(document)
    try:
        job = parse_job(text)
    except JobError as error:  # there is no file yet that the sentence could speak of
        raise JobError(str(error).removeprefix(f"{JOB_FILE}: ")) from None
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


Was = str | None
"""The name that a record has in job.toml so far; None where it is new."""


def changed_text(
    text: str,
    *,
    top: Mapping[str, Any],
    pickups: Sequence[tuple[Was, Pickup]],
    settings: Sequence[tuple[Was, Setting]],
) -> str:
    """Return a job.toml with other values: comments and what is the same stay as they are written.

    ``top``: keys outside the tables, None where one goes; the records in their new order. Tables that no
    record stands for any more are left out. The text is not checked: `parse_job` does that.
    """
    document = tomlkit.parse(text)
    for key, value in top.items():
        _put(document, key, value)
    for key, records in (("pickup", pickups), ("setting", settings)):
        _put_tables(document, key, records)
    return tomlkit.dumps(document)


def _put_tables(
    document: tomlkit.TOMLDocument, key: str, records: Sequence[tuple[Was, Pickup | Setting]]
) -> None:
    """Change the tables that records stand for, leave out the others, and put new ones behind them."""
    if not records:
        document.pop(key, None)
        return
    if key not in document:
        document[key] = tomlkit.aot()
    tables: Any = document[key]
    kept = {was for was, _ in records}
    for number in reversed(range(len(tables))):
        if str(tables[number].get("name")) not in kept:
            del tables[number]
    by_name = {str(table["name"]): table for table in tables}
    for was, record in records:
        given = _given_keys(record)
        table = by_name.get(was or "")
        if table is None:
            tables.append(_table(given))
            continue
        for name in type(record).model_fields:
            _put(table, name, given.get(name))


def _put(table: Any, key: str, value: Any) -> None:
    if value is None:
        table.pop(key, None)
    elif key not in table:
        _set_with_comment(table, key, value)
    elif table.unwrap()[key] != value:
        old: Any = (table.value if isinstance(table, Table) else table).item(key)
        item: Any = tomlkit.item(value)
        item.trivia.comment_ws, item.trivia.comment = old.trivia.comment_ws, old.trivia.comment
        table[key] = item


def _given_keys(record: Pickup | Setting) -> dict[str, Any]:
    """Return the keys worth writing: what was given, and what a reader of the file looks for."""
    given: dict[str, Any] = {}
    for key, info in type(record).model_fields.items():
        value = getattr(record, key)
        if key == "centres_mm":
            given |= {"centre_mm": list(value)} if value else {}
            continue
        if value is None or (value == info.default and key not in _SPELT_OUT):
            continue
        given[key] = [_member(m) for m in value] if key == "on" else _listed(value)
    return given


def _listed(value: Any) -> Any:
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


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
        tables.append(_table(record))
    return tables


def _table(record: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    for key, value in record.items():
        _set_with_comment(table, key, value)
    return table


def _set_with_comment(table: Table | tomlkit.TOMLDocument, key: str, value: Any) -> None:
    item: Any = tomlkit.item(value)
    if isinstance(item, Array):
        item.multiline(False)
    if key in _COMMENTS:
        item.comment(_COMMENTS[key])
    table[key] = item
