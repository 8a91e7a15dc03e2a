"""The door through which takes are heard: those heard before come from the shelf, others are heard and kept.

Task: from the takes of a folder to `HeardTake`s, in the order of the log. Shapes, units, signs: as in
reports.heard. What hears (and all that it loads) is imported only when something has to be heard.

Takes are independent, so several are heard at once where that pays. Memory is bounded by the longest take,
times the number of workers.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from capture.folder import JobFolder, TakeFile
from capture.job import Job
from reports.heard import HeardTake
from reports.hearing.codec import CodecError, decoded, encoded
from reports.hearing.keys import key_of
from reports.hearing.shelf import Shelf

LEAST_AT_ONCE = 6
"""Fewer new takes are heard sooner one after another than workers are started (tests/benchmarks/SPEED.md)."""


def hear_takes(folder: JobFolder, *, workers: int = 1) -> tuple[HeardTake, ...]:
    """Hear every take that is not voided, in the order of the log, with up to so many ``workers``.

    More than one worker is for a process without other threads: they are started as its copies.
    """
    shelf, takes = Shelf.usual(), folder.takes()
    known = [_from_shelf(shelf, folder.job, take) for take in takes]
    new = [take for take, heard in zip(takes, known, strict=True) if heard is None]
    made = iter(_heard(folder.job, new, shelf, workers=workers))
    return tuple(next(made) if heard is None else heard for heard in known)


def hear_take(job: Job, take: TakeFile) -> HeardTake:
    """Hear one take, or take it from the shelf."""
    shelf = Shelf.usual()
    return _from_shelf(shelf, job, take) or _hear_and_keep(job, shelf, take)


def processors() -> int:
    """How many workers are worth having here."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _heard(job: Job, takes: Sequence[TakeFile], shelf: Shelf, *, workers: int) -> Sequence[HeardTake]:
    if not takes:
        return ()
    from reports.hearing.first_run import load_alone  # loads librosa, which a warm run does without

    load_alone()
    hear: Callable[[TakeFile], HeardTake] = partial(_hear_and_keep, job, shelf)
    if workers <= 1 or len(takes) < LEAST_AT_ONCE:
        return [hear(take) for take in takes]
    with ProcessPoolExecutor(max_workers=workers, initializer=deaf) as pool:
        try:
            return list(pool.map(hear, takes))
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def deaf() -> None:
    """Ctrl-C is for the process that was started; its workers end with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _from_shelf(shelf: Shelf, job: Job, take: TakeFile) -> HeardTake | None:
    key = key_of(job, take) if take.status == "usable" and shelf.place is not None else None
    raw = None if key is None else shelf.taken(key)
    if key is None or raw is None:
        return None
    try:
        return decoded(raw, key=key, entry=take.entry)
    except CodecError:
        shelf.drop(key)
        return None


def _hear_and_keep(job: Job, shelf: Shelf, take: TakeFile) -> HeardTake:
    from reports.analysis import hear_take as hear

    heard = hear(job, take)
    key = key_of(job, take) if take.status == "usable" and shelf.place is not None else None
    if key is not None:
        shelf.put(key, encoded(heard, key=key))
    return heard
