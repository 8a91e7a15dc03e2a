"""The job folder: job, log and takes together.

Takes lie under ``takes/`` as ``<id>.<ext>``, byte for byte as they were recorded; none is ever written over
or deleted. `JobFolder.takes()` looks at each file (hash and head) and says what is wrong with it;
`TakeFile.load()` reads the samples of one take, and nothing here keeps them.

How a recording becomes a take: it is copied to a hidden name beside its place and flushed; under the lock of
the log it gets an id that neither the log nor a file has and is linked to its name (which fails where the
name is taken; file systems without links get an exclusive copy); then it is logged. Where the log cannot be
written, the new name goes again.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from types import MappingProxyType
from typing import Literal
from uuid import uuid4

from capture import LogError, RecordingError
from capture.audio.files import Audio, AudioHeader, probe, read_audio, sha256_of
from capture.audio.problems import FileProblem, Refusal, UnreadableError, channels_differ
from capture.disk.reading import open_plain, refused, require_own, too_large
from capture.disk.writing import create, flush, flush_names, make_folder, write_all
from capture.job.model import Job
from capture.job.reading import read_job
from capture.log.entries import BROUGHT_FROM, TAKES, AnyEntry, Take, TakeFields, path_inside
from capture.log.reading import BenchLog, read_log
from capture.log.writing import OpenLog, open_log, utc_now
from dsp.live.gestures import LONGEST_TAKE_S

_BLOCK = 1 << 20
MOST_BYTES = 1 << 32
"""A WAV cannot have more, and a take is a thousandth of it."""
COPYING = ".copying-"
"""How the names of copies begin that are being made: under the lock of the log, so that any other is left."""


def remove_unlogged_name(folder: Path, hidden: Path, entries: Iterable[AnyEntry]) -> None:
    """Take away the take's name that a hidden file got but was not logged under: killed in between."""
    logged = {folder / e.file for e in entries if isinstance(e, Take)}
    for path in (folder / TAKES).glob("t*"):
        if path not in logged and os.path.samestat(path.lstat(), hidden.lstat()):
            path.unlink()


def copy_beside(source: str | PathLike[str], target: Path) -> tuple[Path, str]:
    """Copy `source` to a hidden name beside `target`; return that path and the SHA-256 of the bytes.

    It is done under the lock of the log: copies that a killed program left are removed, since what they were
    made of is where it was.

    Raises
    ------
    RecordingError
        The source cannot be read or the folder cannot be written.

    """
    part = target.with_name(f"{COPYING}{uuid4().hex}{target.suffix}")
    digest = hashlib.sha256()
    try:
        make_folder(target.parent.parent, target.parent.name)
        for left in target.parent.glob(f"{COPYING}*"):
            left.unlink(missing_ok=True)
        with Path(source).open("rb") as read, create(part) as write:
            while block := read.read(_BLOCK):
                digest.update(block)
                write_all(write, block)
            flush(write.fileno())
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise RecordingError(f"{source}: cannot be copied to {target.parent} ({error.strerror})") from None
    return part, digest.hexdigest()


def link_to_name(part: Path, target: Path) -> None:
    """Give a finished copy its name.

    Raises
    ------
    RecordingError
        There is a file of that name, or the folder cannot be written.

    """
    try:
        os.link(part, target)
    except FileExistsError:
        raise RecordingError(f"{target}: there is a file of that name, and it stays as it is") from None
    except OSError:
        _copy_to_name(part, target)
    flush_names(target.parent)


def _copy_to_name(part: Path, target: Path) -> None:
    try:
        write = create(target)
    except FileExistsError:
        raise RecordingError(f"{target}: there is a file of that name, and it stays as it is") from None
    except OSError as error:
        raise RecordingError(f"{target}: cannot be written ({error.strerror})") from None
    try:
        with write, part.open("rb") as read:
            while block := read.read(_BLOCK):
                write_all(write, block)
            flush(write.fileno())
    except OSError as error:
        target.unlink(missing_ok=True)
        raise RecordingError(f"{target}: cannot be written ({error.strerror})") from None


def free_take_id(log: OpenLog) -> str:
    """Return the next id that neither the log nor a file under takes/ has."""
    folder = log.folder / TAKES
    if folder.is_dir():
        log.ids.update(name.split(".")[0] for name in os.listdir(folder) if not name.startswith("."))
    return log.free_id("take")


def enter_take(log: OpenLog, part: Path, entry: Take, *, suffix: str, digest: str) -> Take:
    """Name the file `part`, whose SHA-256 is `digest`, and log it; `part` stays as a second name of it.

    Raises
    ------
    RecordingError
        The folder cannot be written.
    LogError
        The entry does not fit the job, or the log cannot be written.

    """
    entry_id = free_take_id(log)
    file = f"{TAKES}/{entry_id}{suffix}"
    link_to_name(part, log.folder / file)
    try:
        return log.append(entry.model_copy(update={"id": entry_id, "file": file, "sha256": digest}))
    except LogError:
        (log.folder / file).unlink()
        raise


_LONGEST_SUFFIX = 5

Status = Literal["usable", "marked", "refused"]


@dataclass(frozen=True)
class TakeFile:
    """A take of the log with its file.

    ``usable``: nothing is wrong. ``marked``: it can be loaded, but was cut off (`problem` "truncated").
    ``refused``: it is kept out; `problem` is the reason. `digest` is the SHA-256 of the file as it was when
    it was looked at.
    """

    entry: Take
    status: Status
    path: Path
    problem: FileProblem | None = None
    digest: str | None = None
    header: AudioHeader | None = None

    def load(self) -> Audio:
        """Read the samples; of a recording that is longer than any gesture, the part that holds it.

        Raises
        ------
        RecordingError
            The take is refused.
        UnreadableError
            The file turns out to be unreadable.

        """
        if self.status == "refused" and self.problem is not None:
            raise RecordingError(f"{self.entry.id} ({self.entry.file}): is not used: {self.problem.code}")
        header = self.header or probe(self.path)
        if header.frames > LONGEST_TAKE_S * header.rate:
            from capture.takes.long_recordings import read_gesture

            return read_gesture(self.path, header, self.entry)
        return read_audio(self.path)


@dataclass(frozen=True)
class JobFolder:
    """A job folder, read once; after something was added, open it again."""

    path: Path
    job: Job
    log: BenchLog

    @classmethod
    def open(cls, path: str | PathLike[str]) -> JobFolder:
        """Read the job and its log.

        Raises
        ------
        JobError
            The folder is no job, or job.toml is refused.
        LogError
            bench.jsonl is refused.

        """
        job = read_job(path)
        return cls(Path(path), job, read_log(path, job))

    def takes(self) -> tuple[TakeFile, ...]:
        """Return the takes that are not voided, in time order, each with what is wrong with its file."""
        return _take_files(self.path, (e for e in self.log.standing if isinstance(e, Take)))

    def add_take(
        self,
        audio_path: str | PathLike[str],
        fields: TakeFields,
        *,
        at: str | None = None,
        brought_from: str | None = None,
    ) -> TakeFile:
        """Copy a recording into the folder and log it; `at` is now where it is left out.

        `brought_from` says which stretch of which longer recording it is; the entry has it as "from".

        The file is copied byte for byte and never written over; a cut-off or repeated recording is
        taken in too, and its `TakeFile` says so.

        Raises
        ------
        RecordingError
            The audio cannot be used, or its channels are not as many as `inputs`.
        LogError
            The entry does not fit the job, or cannot be written.

        """
        head = probe(audio_path)
        if os.path.getsize(audio_path) > MOST_BYTES:
            raise RecordingError(f"{audio_path}: {too_large(MOST_BYTES)}")
        if len(fields.inputs) != head.channels:
            raise RecordingError(f"{audio_path}: {channels_differ(head.channels, len(fields.inputs))}")
        source = {BROUGHT_FROM: brought_from} if brought_from else {}
        new = fields.entry(at=at or utc_now(), **source)
        with open_log(self.path) as log:
            log.check(new)
            suffix = _suffix(audio_path, head.format)
            for left in (self.path / TAKES).glob(f"{COPYING}*"):
                remove_unlogged_name(self.path, left, log.entries)
            part, digest = copy_beside(audio_path, self.path / TAKES / f"{free_take_id(log)}{suffix}")
            try:
                if sha256_of(audio_path) != digest or sha256_of(part) != digest:
                    raise RecordingError(
                        f"{audio_path}: changed while it was copied; stop the recorder, then add it"
                    )
                entry = enter_take(log, part, new, suffix=suffix, digest=digest)
            finally:
                part.unlink(missing_ok=True)
        return last_take_file(self.path, log.job, entry)


def last_take_file(folder: Path, job: Job, entry: Take) -> TakeFile:
    """Return the take that was entered last, with what is wrong with its file."""
    before = [e for e in read_log(folder, job).standing if isinstance(e, Take)][:-1]
    return _take_files(folder, [entry], seen={e.sha256: e for e in reversed(before) if e.sha256})[0]


def _suffix(audio_path: str | PathLike[str], audio_format: str) -> str:
    suffix = Path(audio_path).suffix.lower()
    if suffix[1:].isascii() and suffix[1:].isalnum() and len(suffix) <= _LONGEST_SUFFIX:
        return suffix
    return ".wav" if audio_format in ("WAVEX", "RF64") else f".{audio_format.lower()}"


def _take_files(
    folder: Path, entries: Iterable[Take], *, seen: Mapping[str, Take] = MappingProxyType({})
) -> tuple[TakeFile, ...]:
    by_hash = dict(seen)
    found = []
    for entry in entries:
        path = path_inside(folder, entry.file)
        problem, digest, header = _problem(folder, entry, path, by_hash)
        status: Status = "refused"
        if problem is None or problem.code == "truncated":
            status = "usable" if problem is None else "marked"
        found.append(TakeFile(entry, status, path, problem, digest, header))
    return tuple(found)


def _problem(
    folder: Path, entry: Take, path: Path, seen: dict[str, Take]
) -> tuple[FileProblem | None, str | None, AudioHeader | None]:
    """What is wrong with a take's file, its hash and its head; ``seen`` are the entries of earlier hashes."""
    digest = None
    try:
        require_own(folder, entry.file)
        with open_plain(path) as stream:
            if os.fstat(stream.fileno()).st_size > MOST_BYTES:
                raise refused(path, too_large(MOST_BYTES))
        digest = sha256_of(path)
        if entry.sha256 not in (None, digest):
            return FileProblem("hash mismatch"), digest, None
        head = probe(path)
    except (FileNotFoundError, NotADirectoryError):
        return FileProblem("missing"), None, None
    except UnreadableError as error:
        return FileProblem("unreadable", refusal=error.refusal), digest, None
    except OSError as error:
        refusal = Refusal("not readable", error.strerror or str(error))
        return FileProblem("unreadable", refusal=refusal), digest, None
    if head.channels != len(entry.inputs):
        return FileProblem("channels", channels=head.channels, inputs=len(entry.inputs)), digest, None
    return _problem_of_readable(entry, seen.setdefault(digest, entry), truncated=head.truncated), digest, head


def _problem_of_readable(entry: Take, first: Take, *, truncated: bool) -> FileProblem | None:
    """What is wrong with a take whose file can be read; ``first`` is the first entry with this audio."""
    if first is not entry:
        entered = (first.inputs, first.string, first.fret, first.gesture)
        alike = entered == (entry.inputs, entry.string, entry.fret, entry.gesture)
        return FileProblem("duplicate audio", same_as=first.id, entered_alike=alike)
    if entry.dropped:
        return FileProblem("samples lost")
    return FileProblem("truncated") if truncated else None
