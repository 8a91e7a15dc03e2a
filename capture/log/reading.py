"""From bench.jsonl to a `BenchLog`: entries with their line numbers, voids resolved.

Line order is time order. A log that is not there is empty. Raises `LogError` with file and line for
whatever is refused; what is only odd becomes a warning. A torn last line (a recorder was killed, the
power went) is a warning, and stays one after more has been appended: the next line then says
``"after_torn": true``.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from os import PathLike
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from capture import LOG_FILE, LogError
from capture.disk.reading import read_plain
from capture.job.model import Job
from capture.job.reading import did_you_mean, quoted_value, unknown_key, validation_message
from capture.log.entries import (
    KINDS,
    OWN_EXTRA_KEYS,
    AnyEntry,
    Change,
    Check,
    Meter,
    Tag,
    Take,
    Void,
    input_message,
    path_inside,
    pickups_of,
)
from capture.log.requirements import doubtful_points, require_earlier, require_names, require_takes

MOST_BYTES = 16_000_000
"""A take has some 300 bytes, and a job some hundred takes."""


@dataclass(frozen=True)
class LoggedEntry:
    """An entry, the line it stands on (from 1), and whether a later entry voids it.

    ``clips_anew``: a voided entry before it was the first of a new clip-up, which this one went through too.
    """

    entry: AnyEntry
    line: int
    voided: bool = False
    clips_anew: bool = False

    @property
    def as_it_counts(self) -> AnyEntry:
        """The entry, with ``anew`` where a voided one said so: the clips were put on all the same."""
        return self.entry.model_copy(update={"anew": True}) if self.clips_anew else self.entry


@dataclass(frozen=True)
class BenchLog:
    """The whole log in time order; `warnings` are full sentences with file and line."""

    entries: tuple[LoggedEntry, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def standing(self) -> tuple[AnyEntry, ...]:
        """The entries that count, neither voided nor voids themselves; a late change where it was made."""
        late: dict[str, list[LoggedEntry]] = defaultdict(list)
        for logged in self.entries:
            if isinstance(logged.entry, Change) and logged.entry.before and not logged.voided:
                late[logged.entry.before].append(logged)
        moved = {id(one) for each in late.values() for one in each}
        placed = (
            one
            for logged in self.entries
            for one in (*late[logged.entry.id], logged)
            if one is not logged or id(logged) not in moved
        )
        return tuple(e.as_it_counts for e in placed if not e.voided and not isinstance(e.entry, Void))


BARRIERS = (Change, Tag)
"""Entries by which the order of others means something, besides a stage that begins and clips put on anew."""


def in_fixed_order(entries: Iterable[AnyEntry]) -> list[AnyEntry]:
    """Return entries with those between two barriers in the order of their ids.

    At a bench it tells nothing which of two takes came first, so nothing may depend on it; sums over the same
    takes in another order differ in their last digits, and the first of several is no better than the others.
    """
    done: list[AnyEntry] = []
    block: list[AnyEntry] = []
    for entry in entries:
        barrier = isinstance(entry, BARRIERS) or (isinstance(entry, Take | Meter) and entry.anew)
        if barrier or (block and block[-1].stage != entry.stage):
            done += sorted(block, key=lambda e: e.id)
            block = []
        (done if barrier else block).append(entry)
    return done + sorted(block, key=lambda e: e.id)


class _RefusedJsonError(ValueError):
    """JSON that Python would read but nobody else should."""


@dataclass
class _Reader:
    folder: Path
    job: Job
    read: list[LoggedEntry] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)
    """Of each id, the line it stands on."""

    def copy(self) -> _Reader:
        """One that reads on from here."""
        return replace(self, read=[*self.read], warnings=[*self.warnings], lines={**self.lines})


def read_log(folder: str | PathLike[str], job: Job) -> BenchLog:
    """Read and check ``bench.jsonl`` in `folder`.

    Raises
    ------
    LogError
        The file cannot be read, or a line is refused.

    """
    path = Path(folder) / LOG_FILE
    try:
        raw = read_plain(path, most_bytes=MOST_BYTES)
    except FileNotFoundError:
        return BenchLog()
    except OSError as error:
        raise LogError(f"{path}: cannot be read ({error.strerror})") from None
    return log_from(raw, folder=Path(folder), job=job)


def log_from(raw: bytes, *, folder: Path, job: Job) -> BenchLog:
    """Check the bytes of a log in `folder`, and return what it says.

    A log is read again for each entry that is added: lines that were read before, in this process and for
    the same job, are not checked anew as long as they are there unchanged, byte by byte; where the paths of
    their takes lead is, since a file may have become a link meanwhile.

    Raises
    ------
    LogError
        A line is refused.

    """
    before = _READ_BEFORE.get(folder)
    if before is None or before.reader.job != job or not raw.startswith(before.raw):
        before = _ReadBefore(b"", _Reader(folder, job))
    reader, rest = before.reader.copy(), raw[len(before.raw) :].split(b"\n")
    lines = [(n, line) for n, line in enumerate(rest, start=before.raw.count(b"\n") + 1) if line.strip()]
    for known in reader.read:
        if isinstance(known.entry, Take):
            _stays_inside(reader, known.entry, known.line)
    torn = False
    for index, (number, line) in enumerate(lines):
        following = lines[index + 1][1] if index + 1 < len(lines) else None
        try:
            torn = not _read_line(reader, number, line, following)
        except LogError as error:
            raise LogError(f"{LOG_FILE} line {number}: {error}") from None
    if raw.endswith(b"\n") and not torn and len(raw) <= MOST_BYTES_KEPT:
        _READ_BEFORE.pop(folder, None)
        _READ_BEFORE[folder] = _ReadBefore(raw, reader)
        for oldest in list(_READ_BEFORE)[:-MOST_LOGS_KEPT]:
            _READ_BEFORE.pop(oldest, None)
    return BenchLog(_with_clips_anew(_with_voids(reader.read), job), tuple(reader.warnings))


def _stays_inside(reader: _Reader, take: Take, number: int) -> None:
    try:
        path_inside(reader.folder, take.file)
    except LogError as error:
        raise LogError(f"{LOG_FILE} line {number}: {error}") from None


@dataclass(frozen=True)
class _ReadBefore:
    """A log whose every line is an entry, with its bytes; nothing is added to its reader any more."""

    raw: bytes
    reader: _Reader


MOST_LOGS_KEPT, MOST_BYTES_KEPT = 4, 2_000_000
_READ_BEFORE: dict[Path, _ReadBefore] = {}
"""The logs that were read last, by their folder."""


def parse_line(line: bytes) -> dict[str, Any] | None:
    """Return the object on a line, or None where the line is broken.

    Raises
    ------
    LogError
        It is JSON, but no object, or holds NaN, Infinity, a key twice or half a character.

    """
    try:
        found = json.loads(
            line.decode("utf-8-sig"),
            parse_constant=_refuse_constant,
            parse_float=_finite,
            object_pairs_hook=_require_distinct_keys,
        )
        json.dumps(found, ensure_ascii=False).encode()
    except _RefusedJsonError as error:
        raise LogError(str(error)) from None
    except UnicodeEncodeError:
        raise LogError("holds half a character (a lone surrogate); type the text anew") from None
    except (ValueError, RecursionError):
        return None
    if not isinstance(found, dict):
        raise LogError('must be an object in braces, such as {"kind": "pole", …}')
    return found


def _read_line(reader: _Reader, number: int, line: bytes, following: bytes | None) -> bool:
    """Read an entry; False where the line is torn."""
    record = parse_line(line)
    entry = None if record is None else entry_from(_with_present_names(record, reader.job.present_names))
    if entry is None:
        if following is not None and not _follows_torn_line(following):
            raise LogError("broken, not JSON; mend the line by hand, or ask for the job's backup")
        reader.warnings.append(
            f"{LOG_FILE} line {number}: torn, so it is left out; if it was an entry, enter it again"
        )
        return False
    if not entry.id:
        raise LogError('"id" is missing; give the entry one, such as "t001"')
    if entry.id in reader.lines:
        raise LogError(
            f"the id {quoted_value(entry.id)} is taken by line {reader.lines[entry.id]};"
            " give the entry another"
        )
    require_names(entry, reader.job)
    if isinstance(entry, Take):
        path_inside(reader.folder, entry.file)
    require_earlier(entry, (e.entry for e in reader.read), reader.job)
    if isinstance(entry, Check):
        require_takes(entry, (e.entry.id for e in reader.read if isinstance(e.entry, Take)))
    reader.read.append(LoggedEntry(entry, number))
    reader.lines[entry.id] = number
    where = f"{LOG_FILE} line {number} ({quoted_value(entry.id)[1:-1]})"
    known = [k for k in type(entry).model_fields if k != "after_torn"]
    unknown = [k for k in entry.extra_keys if k not in OWN_EXTRA_KEYS]
    reader.warnings += [f"{where}: {unknown_key(k, known)} It is kept." for k in unknown]
    reader.warnings += [f"{where}: {doubt}." for doubt in doubtful_points(entry, reader.job)]
    return True


NAMING = ("pickup", "tapped", "inputs")
"""Keys of a line that hold names of pickups and settings."""


def _with_present_names(record: dict[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """Return a line with pickups and settings by the names that they have now, by those that they had."""

    def present(value: Any) -> Any:
        match value:
            case str():
                return names.get(value, value)
            case list():
                return [present(one) for one in value]
            case {"pickup": pickup}:
                return {**value, "pickup": present(pickup)}
        return value

    return {k: present(v) if k in NAMING else v for k, v in record.items()} if names else record


def entry_from(record: dict[str, Any]) -> AnyEntry:
    """Return the object of a line as an entry.

    Raises
    ------
    LogError
        Its kind is unknown, or a key is wrong.

    """
    kind = record.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        hint = did_you_mean(kind, KINDS) if isinstance(kind, str) else did_you_mean("", KINDS)
        raise LogError(
            f"unknown kind {quoted_value(kind)}{hint}" if kind is not None else f'"kind" is missing{hint}'
        )
    model = KINDS[kind]
    try:
        return model.model_validate(
            {k: _frozen(v) if k in model.model_fields else v for k, v in record.items()}
        )
    except ValidationError as error:
        raise LogError(input_message(error) or validation_message(error, model=model)) from None


def _with_voids(read: list[LoggedEntry]) -> tuple[LoggedEntry, ...]:
    """Voids reach backwards only, so from the last line up each is known to stand or not when met."""
    voided: set[str] = set()
    for logged in reversed(read):
        if isinstance(logged.entry, Void) and logged.entry.id not in voided:
            voided.add(logged.entry.entry)
    return tuple(LoggedEntry(e.entry, e.line, e.entry.id in voided) for e in read)


def _with_clips_anew(read: tuple[LoggedEntry, ...], job: Job) -> tuple[LoggedEntry, ...]:
    """A clip-up whose first take or reading was voided goes on with the next one of the same pickup.

    Not where the same file was entered again: then the void took back what was said of the clips.
    """
    if not any(e.voided and isinstance(e.entry, Take | Meter) and e.entry.anew for e in read):
        return read
    begun: dict[tuple[str, str], AnyEntry] = {}
    found = []
    for logged in read:
        entry, carried = logged.entry, False
        if isinstance(entry, Take | Meter):
            names = (entry.pickup,) if isinstance(entry, Meter) else (p.name for p in pickups_of(entry, job))
            keys = [(entry.kind, name) for name in names]
            if not logged.voided:
                first = [begun.pop(key) for key in keys if key in begun]
                carried = not entry.anew and any(not _same_file(entry, one) for one in first)
            elif entry.anew:
                begun |= dict.fromkeys(keys, entry)
        found.append(replace(logged, clips_anew=True) if carried else logged)
    return tuple(found)


def _same_file(entry: AnyEntry, other: AnyEntry) -> bool:
    """Whether two takes are of one recording."""
    if not isinstance(entry, Take) or not isinstance(other, Take):
        return False
    return entry.file == other.file or (entry.sha256 is not None and entry.sha256 == other.sha256)


def _follows_torn_line(line: bytes) -> bool:
    try:
        record = parse_line(line)
    except LogError:
        return False
    return record is not None and record.get("after_torn") is True


def _frozen(value: Any) -> Any:
    return tuple(_frozen(v) for v in value) if isinstance(value, list) else value


def _refuse_constant(word: str) -> float:
    raise _RefusedJsonError(f"holds {word}, which is no number; leave the key out where nothing was measured")


def _finite(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise _RefusedJsonError(f"holds {quoted_value(text)}, too large a number")
    return number


def _require_distinct_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise _RefusedJsonError(f"has the key {quoted_value(key)} twice; keep one")
        found[key] = value
    return found
