"""Have librosa compile what is used here.

Task: load and run once those functions of librosa that are compiled when first imported, so that the
compiled code lies in librosa's cache. Shapes, units, signs: none.

Two processes that compile at the same moment leave a cache that mixes the code of both, and calling it
then crashes every later process (seen with numba 0.68 and librosa 0.11). So whoever starts several
processes calls this first, in one.

A heard take as bytes, and back, without running anything that the bytes say.

Task: `encode` and `decode`, inverse to each other for everything that a `TakeResult` is made of; its log
entry is left out and given anew. Shapes and signs: as they are; arrays keep their type, numbers every bit.
Whatever is not a record, a tuple, an array or a plain value that the fields of `TakeResult` name is refused.

Under which key a heard take is kept: everything that hearing depends on.

Task: one name from the bytes of the recording, its entry in the log, the job, and the code that hears. Units,
signs: none. If any of these changes in the least, the key is another and the take is heard anew.

The shelf of heard takes: a folder of this user that may be deleted at any time.

Task: `ResultCache.taken` and `ResultCache.put`, keyed bytes. What is missing, cut off, foreign or unreadable
is as if it were not there; a shelf that cannot be written keeps nothing, and nobody notices but the clock.
Two processes may use it at once: files are put in place whole. Units: bytes. Signs: none.

One process at a time through librosa's first import.

Task: hold a lock while librosa is loaded, so that two commands started at once on a new installation do
not compile into one cache together (reports/evidence/cache.py says what comes of that). Where there is no
lock to be had (a temporary folder that cannot be written), the command goes on without.

The door through which takes are heard: those heard before come from the shelf, others are heard and kept.

Task: from the takes of a folder to `TakeResult`s, in the order of the log. Shapes, units, signs: as in
reports.evidence.results. What hears (and all that it loads) is imported only when something has to be heard.

Takes are independent, so several are heard at once where that pays. Memory is bounded by the longest take,
times the number of workers.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import sys
import tempfile
import typing
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import dataclass, fields, is_dataclass
from functools import cache, partial
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from platformdirs import user_cache_path

from capture.job import Job
from capture.log import Take
from capture.takes.folder import JobFolder, TakeFile
from dsp.signal.onsets import rough_onsets
from dsp.signal.pitch import pitch_of
from dsp.signal.samples import ANALYSIS_RATE
from reports.evidence.results import TakeResult

LENGTH_S = 1.0
PITCH_HZ = 110.0


def compile_all() -> None:
    """Hear one plain tone; some ten seconds where nothing is compiled yet, else a fraction of one."""
    t = np.arange(int(LENGTH_S * ANALYSIS_RATE)) / ANALYSIS_RATE
    begun = t >= LENGTH_S / 4
    tone = np.where(begun, np.exp(-4 * t) * np.sin(2 * np.pi * PITCH_HZ * t), 0.0)
    rough_onsets(tone)
    pitch_of(tone[begun])


ENTRY = "entry"
PLAIN = (str, bool, int, float, type(None))
_TEXT = "text"


class CodecError(ValueError):
    """Bytes that are no heard take."""


def encode(heard: TakeResult, *, key: str) -> bytes:
    """The bytes of a heard take, with the key that it is kept under."""
    arrays: list[np.ndarray[Any, Any]] = []
    said = {f.name: _packed(getattr(heard, f.name), arrays) for f in fields(heard) if f.name != ENTRY}
    text = json.dumps({"key": key, "heard": said}).encode()
    out = io.BytesIO()
    kept = {f"a{k}": array for k, array in enumerate(arrays)}
    np.savez(out, allow_pickle=False, **{_TEXT: np.frombuffer(text, dtype=np.uint8)}, **kept)
    return out.getvalue()


def decode(raw: bytes, *, key: str, entry: Take) -> TakeResult:
    """The heard take of these bytes, as one of ``entry``.

    Raises
    ------
    CodecError
        They are no heard take, or one of another key.

    """
    try:
        with np.load(io.BytesIO(raw), allow_pickle=False) as kept:
            said = json.loads(bytes(kept[_TEXT]))
            if said["key"] != key:
                raise CodecError("it is kept under another key")
            values = {
                name: _unpacked(value, lambda k: np.asarray(kept[f"a{int(k)}"]))
                for name, value in said["heard"].items()
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
    if isinstance(value, PLAIN):
        return value
    if isinstance(value, tuple):
        return {"tuple": [_packed(item, arrays) for item in value]}
    name = type(value).__name__
    if is_dataclass(value) and _records().get(name) is type(value):
        return {
            "record": name,
            "of": {f.name: _packed(getattr(value, f.name), arrays) for f in fields(value)},
        }
    raise CodecError(f"{name} is nothing that a heard take is made of")


def _unpacked(value: Any, array: typing.Callable[[int], np.ndarray[Any, Any]]) -> Any:
    if isinstance(value, PLAIN):
        return value
    if "array" in value:
        return array(value["array"])
    if "complex" in value:
        return complex(*value["complex"])
    if "tuple" in value:
        return tuple(_unpacked(item, array) for item in value["tuple"])
    return _records()[value["record"]](**{k: _unpacked(v, array) for k, v in value["of"].items()})


@cache
def _records() -> dict[str, type]:
    """Every record that a field of `TakeResult` may hold, by name: these and no others are made."""
    found: dict[str, type] = {}
    open_types: list[Any] = list(typing.get_type_hints(TakeResult).values())
    while open_types:
        kind = open_types.pop()
        open_types += typing.get_args(kind)
        if isinstance(kind, type) and is_dataclass(kind) and kind.__name__ not in found:
            found[kind.__name__] = kind
            open_types += typing.get_type_hints(kind).values()
    return found


ROOT = Path(__file__).resolve().parents[2]
CODE = ("dsp", "capture", "reports")
PACKAGES = ("numpy", "scipy", "librosa", "soundfile", "soxr", "numba")
_NO_MATTER = {"title"}
"""Of a job: what no hearing depends on."""


def cache_key(job: Job, take: TakeFile) -> str | None:
    """The key of a take; None where its bytes are not known."""
    if take.digest is None:
        return None
    said = "\n".join(
        (code_version(), take.digest, take.entry.model_dump_json(), job.model_dump_json(exclude=_NO_MATTER))
    )
    return hashlib.sha256(said.encode()).hexdigest()


@cache
def code_version() -> str:
    """A name for the code that hears: what is written in its files, and the versions of what it uses."""
    digest = hashlib.sha256()
    for room in CODE:
        for path in sorted((ROOT / room).rglob("*.py")):
            digest.update(f"{path.relative_to(ROOT)}\n".encode())
            digest.update(path.read_bytes())
    digest.update("\n".join(f"{package} {version(package)}" for package in PACKAGES).encode())
    return digest.hexdigest()


SWITCH = "COILWISE_CACHE"
"""The environment's word: "off", or the folder to use."""
OFF = "off"
MOST_BYTES = 200_000_000
"""More than this, and the oldest go until four fifths are left: some thousands of takes."""
LEFT_SHARE = 0.8
SUFFIX = ".heard"


@dataclass
class ResultCache:
    """A folder of files by key; ``place`` None keeps nothing."""

    place: Path | None
    most_bytes: int = MOST_BYTES
    _swept: bool = False

    @classmethod
    def usual(cls) -> ResultCache:
        """The shelf of this user, or the one that the environment names."""
        said = os.environ.get(SWITCH, "")
        if said.strip().lower() == OFF:
            return cls(None)
        return cls(Path(said) if said else user_cache_path("coilwise", appauthor=False))

    def taken(self, key: str) -> bytes | None:
        """The bytes under a key, or None."""
        if self.place is None:
            return None
        path = self._path(key)
        try:
            raw = path.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)
        return raw

    def put(self, key: str, raw: bytes) -> None:
        """Keep bytes under a key, if that can be done."""
        if self.place is None:
            return
        path = self._path(key)
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            number, part = tempfile.mkstemp(dir=path.parent, suffix=".part")
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(raw)
                os.replace(part, path)
            except OSError:
                os.unlink(part)
                raise
        if not self._swept:
            self._swept = True
            self.sweep()

    def drop(self, key: str) -> None:
        """Take away what cannot be read."""
        if self.place is not None:
            with suppress(OSError):
                self._path(key).unlink()

    def sweep(self) -> None:
        """Take away the oldest where there is too much."""
        if self.place is None:
            return
        kept = []
        for path in self.place.glob(f"*/*{SUFFIX}"):
            with suppress(OSError):
                seen = path.stat()
                kept.append((seen.st_mtime, seen.st_size, path))
        total = sum(size for _, size, _ in kept)
        if total <= self.most_bytes:
            return
        for _, size, path in sorted(kept):
            if total <= LEFT_SHARE * self.most_bytes:
                return
            with suppress(OSError):
                path.unlink()
                total -= size

    def _path(self, key: str) -> Path:
        assert self.place is not None
        return self.place / key[:2] / f"{key}{SUFFIX}"


def load_librosa_alone() -> None:
    """Load what listening needs, under the lock of this installation."""
    from capture.log.writing import lock
    from reports.evidence.cache import compile_all

    installation = hashlib.sha256(sys.prefix.encode()).hexdigest()[:16]
    with ExitStack() as held:
        with suppress(OSError):
            path = Path(tempfile.gettempdir()) / f"coilwise-{installation}.lock"
            lock(held.enter_context(path.open("a")))
        compile_all()


LEAST_AT_ONCE = 6
"""Fewer new takes are heard sooner one after another than workers are started (tests/studies/SPEED.md)."""


def take_results(folder: JobFolder, *, workers: int = 1) -> tuple[TakeResult, ...]:
    """Hear every take that is not voided, in the order of the log, with up to so many ``workers``.

    More than one worker is for a process without other threads: they are started as its copies.
    """
    shelf, takes = ResultCache.usual(), folder.takes()
    known = [_from_shelf(shelf, folder.job, take) for take in takes]
    new = [take for take, heard in zip(takes, known, strict=True) if heard is None]
    made = iter(_heard(folder.job, new, shelf, workers=workers))
    return tuple(next(made) if heard is None else heard for heard in known)


def take_result(job: Job, take: TakeFile) -> TakeResult:
    """Hear one take, or take it from the shelf."""
    shelf = ResultCache.usual()
    return _from_shelf(shelf, job, take) or _hear_and_keep(job, shelf, take)


def processors() -> int:
    """How many workers are worth having here."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _heard(job: Job, takes: Sequence[TakeFile], shelf: ResultCache, *, workers: int) -> Sequence[TakeResult]:
    if not takes:
        return ()
    from reports.evidence.cache import load_librosa_alone  # loads librosa, which a warm run does without

    load_librosa_alone()
    hear: Callable[[TakeFile], TakeResult] = partial(_hear_and_keep, job, shelf)
    if workers <= 1 or len(takes) < LEAST_AT_ONCE:
        return [hear(take) for take in takes]
    with ProcessPoolExecutor(max_workers=workers, initializer=ignore_interrupts) as pool:
        try:
            return list(pool.map(hear, takes))
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def ignore_interrupts() -> None:
    """Ctrl-C is for the process that was started; its workers end with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _from_shelf(shelf: ResultCache, job: Job, take: TakeFile) -> TakeResult | None:
    key = cache_key(job, take) if take.status == "usable" and shelf.place is not None else None
    raw = None if key is None else shelf.taken(key)
    if key is None or raw is None:
        return None
    try:
        return decode(raw, key=key, entry=take.entry)
    except CodecError:
        shelf.drop(key)
        return None


def _hear_and_keep(job: Job, shelf: ResultCache, take: TakeFile) -> TakeResult:
    from reports.evidence.hearing import hear_take as hear

    heard = hear(job, take)
    key = cache_key(job, take) if take.status == "usable" and shelf.place is not None else None
    if key is not None:
        shelf.put(key, encode(heard, key=key))
    return heard
