"""Entries taken back, brought back and replaced, as the voids that the log gets for it.

In: the log and what somebody typed, an id or ``last``; out: `Void` entries, in the order in which they are to
be written. Voiding what is void already writes nothing; bringing an entry back lifts every void that stands
on it, so that it counts again however often it was voided; voiding a void is bringing back what it took.
"""

from __future__ import annotations

from dataclasses import dataclass

from capture import LogError
from capture.log import AnyEntry, BenchLog, Void
from reports.entry.spelling import void_entry
from reports.messages import entering as words

LAST = "last"


@dataclass(frozen=True)
class TakingBack:
    """The voids to write, and the sentence that says what comes of them."""

    voids: tuple[Void, ...]
    says: str


def entry_named(log: BenchLog, name: str, *, kind: str | None = None) -> AnyEntry:
    """Return the entry of an id, or the last one that stands (of a ``kind``).

    Raises
    ------
    LogError
        There is no such entry.

    """
    if name == LAST:
        standing = [e for e in log.standing if kind in (None, e.kind)]
        if not standing:
            raise LogError(words.NOTHING_TO_TAKE_BACK)
        return standing[-1]
    for logged in log.entries:
        if logged.entry.id == name:
            return logged.entry
    raise LogError(words.NO_SUCH_ENTRY.format(id=name))


def take_back(log: BenchLog, name: str, *, why: str = "") -> TakingBack:
    """Return what takes an entry out of account; of a void, what brings its entry back.

    Raises
    ------
    LogError
        There is no such entry.

    """
    entry = entry_named(log, name)
    if isinstance(entry, Void):
        return bring_back(log, entry.entry, why=why)
    by = _voids_on(log, entry.id)
    if by:
        return TakingBack((), words.VOID_ALREADY.format(id=entry.id, by=by[0].id))
    return TakingBack((void_entry(entry=entry.id, why=why),), words.COUNTS_NO_MORE.format(id=entry.id))


def take_back_for(log: BenchLog, name: str, *, kind: str) -> TakingBack:
    """Return what takes back the entry that one of ``kind`` replaces.

    Raises
    ------
    LogError
        There is no such entry, or it is of another kind.

    """
    entry = entry_named(log, name, kind=kind)
    if entry.kind != kind:
        raise LogError(words.NO_INSTEAD.format(id=entry.id, kind=entry.kind, new=kind))
    return take_back(log, entry.id, why=words.REPLACES)


def bring_back(log: BenchLog, name: str, *, why: str = "") -> TakingBack:
    """Return what makes an entry count again.

    Raises
    ------
    LogError
        There is no such entry.

    """
    entry = entry_named(log, name)
    voids = _voids_on(log, entry.id)
    if not voids:
        return TakingBack((), words.COUNTS_ALREADY.format(id=entry.id))
    made = tuple(void_entry(entry=one.id, why=why) for one in voids)
    return TakingBack(made, words.COUNTS_AGAIN.format(id=entry.id))


def _voids_on(log: BenchLog, entry: str) -> list[Void]:
    """The voids of an entry that stand themselves."""
    return [
        e.entry for e in log.entries if isinstance(e.entry, Void) and not e.voided and e.entry.entry == entry
    ]
