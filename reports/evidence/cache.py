"""Results of takes: analysed once, then taken from a cache.

In go the takes of a job folder, out come `TakeResult`s in the order of the log. A result is cached under a
key of everything that it depends on: the bytes of the recording, its log entry, the job, and the code that
analyses. What only shows results is not part of the key, because nothing that is cached is a sentence.
Bytes in the cache (`reports.evidence.store`) run nothing: they are decoded into the records that the fields
of `TakeResult` name, and what else they hold is refused, as is an entry that is cut off or of another key.

Takes are independent of each other, so several are analysed at once where that pays; memory is bounded by
the longest take times the number of workers. What analyses is imported when something has to be analysed.
"""

from __future__ import annotations

import hashlib
import importlib
import io
import json
import os
import signal
import typing
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from functools import cache, partial
from typing import Any

import numpy as np

from capture.job import Job
from capture.log import Take
from capture.takes.folder import JobFolder, TakeFile
from dsp.signal.loading import load_scipy
from reports.evidence.results import TakeResult
from reports.evidence.store import Store, code_version

ANALYSING_CODE = (
    "dsp",
    "capture/__init__.py",
    "capture/audio",
    "capture/disk",
    "capture/job",
    "capture/log",
    "capture/takes/folder.py",
    "reports/evidence",
    "reports/model/gestures.py",
    "reports/model/notes.py",
    "reports/model/take_notes.py",
)
"""All code that a result can depend on, as files and folders below ``ROOT``."""
PACKAGES = ("numpy", "scipy", "soundfile")
JOB_FIELDS_WITHOUT_EFFECT = {"title"}
"""Fields of a job that no result depends on."""

LEAST_AT_ONCE = 6
"""Fewer takes are analysed sooner one after another than workers are started (tests/studies/SPEED.md)."""

PLAIN_TYPES = (str, bool, int, float, type(None))
TEXT_ARRAY = "text"


def take_results(folder: JobFolder, *, workers: int = 1) -> tuple[TakeResult, ...]:
    """The results of all takes that are not voided, in the order of the log.

    ``workers``: how many processes may analyse at once. They are forked, so more than one is for a process
    without other threads.
    """
    with hearing(folder, workers=workers) as heard:
        return heard()


@contextmanager
def hearing(folder: JobFolder, *, workers: int) -> Iterator[Callable[[], tuple[TakeResult, ...]]]:
    """Begin to hear what is not cached; the function that is given waits for the results of `take_results`.

    Workers hear meanwhile, so that whoever asks may load what judges before it asks.
    """
    store, takes = Store.default(), folder.takes()
    cached = [_cached_result(store, folder.job, take) for take in takes]
    missing = [take for take, result in zip(takes, cached, strict=True) if result is None]
    analyse: Callable[[TakeFile], TakeResult] = partial(_analyse_and_store, folder.job, store)

    def results(new: Iterable[TakeResult]) -> tuple[TakeResult, ...]:
        fresh = iter(new)
        return tuple(next(fresh) if result is None else result for result in cached)

    if workers <= 1 or len(missing) < LEAST_AT_ONCE:
        yield lambda: results(map(analyse, missing))
        return
    load_hearing()
    with ProcessPoolExecutor(max_workers=workers, initializer=ignore_interrupts) as pool:
        new = pool.map(analyse, missing)
        try:
            yield lambda: results(new)
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def take_result(job: Job, take: TakeFile) -> TakeResult:
    """The result of one take."""
    store = Store.default()
    return _cached_result(store, job, take) or _analyse_and_store(job, store, take)


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def ignore_interrupts() -> None:
    """Ignore SIGINT in a worker; the parent shuts the pool down."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def load_hearing() -> None:
    """Load what analyses: before workers are forked, which have it then, and before a person plays."""
    load_scipy()
    importlib.import_module("reports.evidence.analysis")


def cache_key(job: Job, take: TakeFile) -> str | None:
    """The key of a take's result, 64 hexadecimal digits; None where the bytes of the file are not known."""
    if take.digest is None:
        return None
    entry = take.entry.model_dump_json()
    parts = (
        code_version(ANALYSING_CODE, PACKAGES),
        take.digest,
        entry,
        job.model_dump_json(exclude=JOB_FIELDS_WITHOUT_EFFECT),
    )
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


class CodecError(ValueError):
    """Bytes that are no result of a take, or one of another key."""


def encode(result: TakeResult, *, key: str) -> bytes:
    """A result as bytes, with the key that it is cached under; its log entry is left out.

    An npz archive without pickled objects: one array of JSON text, and the arrays that it names by number.
    """
    arrays: list[np.ndarray[Any, Any]] = []
    packed = {f.name: _packed(getattr(result, f.name), arrays) for f in fields(result) if f.name != "entry"}
    text = json.dumps({"key": key, "result": packed}).encode()
    named = {f"a{k}": array for k, array in enumerate(arrays)}
    out = io.BytesIO()
    np.savez(out, allow_pickle=False, **{TEXT_ARRAY: np.frombuffer(text, dtype=np.uint8)}, **named)
    return out.getvalue()


def decode(raw: bytes, *, key: str, entry: Take) -> TakeResult:
    """The result in these bytes, as one of ``entry``; inverse to `encode`, to the last bit.

    Raises
    ------
    CodecError
        They are no result, or one of another key.

    """
    try:
        with np.load(io.BytesIO(raw), allow_pickle=False) as archive:
            text = json.loads(bytes(archive[TEXT_ARRAY]))
            if text["key"] != key:
                raise CodecError("it is cached under another key")
            values = {
                name: _unpacked(value, lambda k: np.asarray(archive[f"a{int(k)}"]))
                for name, value in text["result"].items()
            }
            return TakeResult(entry=entry, **values)
    except CodecError:
        raise
    except (
        Exception
    ) as error:  # bytes from anywhere break zip, array and JSON readers in more ways than can be named
        raise CodecError(f"{type(error).__name__}: {error}") from None


def _packed(value: Any, arrays: list[np.ndarray[Any, Any]]) -> Any:
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if isinstance(value, np.generic):
        return _packed(value.item(), arrays)
    if isinstance(value, complex):
        return {"complex": [value.real, value.imag]}
    if isinstance(value, PLAIN_TYPES):
        return value
    if isinstance(value, tuple):
        return {"tuple": [_packed(item, arrays) for item in value]}
    name = type(value).__name__
    if is_dataclass(value) and _record_types().get(name) is type(value):
        return {
            "record": name,
            "of": {f.name: _packed(getattr(value, f.name), arrays) for f in fields(value)},
        }
    raise CodecError(f"{name} is nothing that a result is made of")


def _unpacked(value: Any, array: Callable[[int], np.ndarray[Any, Any]]) -> Any:
    if isinstance(value, PLAIN_TYPES):
        return value
    if "array" in value:
        return array(value["array"])
    if "complex" in value:
        return complex(*value["complex"])
    if "tuple" in value:
        return tuple(_unpacked(item, array) for item in value["tuple"])
    return _record_types()[value["record"]](**{k: _unpacked(v, array) for k, v in value["of"].items()})


@cache
def _record_types() -> dict[str, type]:
    """Every dataclass that a field of `TakeResult` may hold, by name: no others are made from bytes."""
    found: dict[str, type] = {}
    unvisited: list[Any] = list(typing.get_type_hints(TakeResult).values())
    while unvisited:
        kind = unvisited.pop()
        unvisited += typing.get_args(kind)
        if isinstance(kind, type) and is_dataclass(kind) and kind.__name__ not in found:
            found[kind.__name__] = kind
            unvisited += typing.get_type_hints(kind).values()
    return found


def _stored_under(store: Store, job: Job, take: TakeFile) -> str | None:
    """The key of a take that can be cached."""
    return cache_key(job, take) if take.status == "usable" and store.folder is not None else None


def _cached_result(store: Store, job: Job, take: TakeFile) -> TakeResult | None:
    key = _stored_under(store, job, take)
    raw = None if key is None else store.get(key)
    if key is None or raw is None:
        return None
    try:
        return decode(raw, key=key, entry=take.entry)
    except CodecError:
        store.remove(key)
        return None


def _analyse_and_store(job: Job, store: Store, take: TakeFile) -> TakeResult:
    from reports.evidence.analysis import analyse_take

    result = analyse_take(job, take)
    key = _stored_under(store, job, take)
    if key is not None:
        store.put(key, encode(result, key=key))
    return result
