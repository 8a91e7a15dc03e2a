"""Recordings made elsewhere, one long one or many, cut at their onsets into takes.

`check_order` refuses early, `find_onsets` reads the files as streams, `number_onsets` and `cut_takes` share
the onsets out to what was played, and `import_takes` writes each take as a file of its own and logs it.
Nothing is written before that, and no file is written over; a take's bytes depend on its stretch alone, so
what was imported before is not imported again. Positions are frames of a file.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from capture import LogError, RecordingError
from capture.audio.files import AudioHeader, audio_blocks, probe, read_stretch, wav_bytes
from capture.disk.locks import ScratchFolder
from capture.job.model import Job
from capture.log.entries import BROUGHT_FROM, Take, TakeFields
from capture.log.requirements import check_new_entry
from capture.takes.folder import JobFolder, TakeFile
from dsp.live.gestures import ALL_GESTURES, WITH_ONSET, CutMargins, Gesture, plan_of
from dsp.live.onset_stream import Doubt, Envelope, OnsetStream, StreamedOnset, with_doubts

LEAST_BEFORE_S = 0.03
"""A cut nearer to an onset would leave no quiet before it."""


@dataclass(frozen=True)
class PlayedItem:
    """An item of the order: the same take, played `count` times in a row."""

    take: TakeFields
    count: int


@dataclass(frozen=True, eq=False)
class ImportedFile:
    """A file that was listened to; `stamp` is its size and time then."""

    path: Path
    header: AudioHeader
    onsets: tuple[StreamedOnset, ...]
    envelope: Envelope
    stamp: tuple[int, int]

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.header.frames / self.header.rate


@dataclass(frozen=True)
class NumberedOnset:
    """An onset in the list that a person sees; `doubt` or `left_out` where it is no take."""

    number: int
    file: ImportedFile
    frame: int
    level_db: float
    doubt: Doubt | None
    left_out: bool

    @property
    def at_s(self) -> float:
        """Seconds from the beginning of its file."""
        return self.frame / self.file.header.rate

    @property
    def counts(self) -> bool:
        """Whether it is a take."""
        return self.doubt is None and not self.left_out


@dataclass(frozen=True)
class Cut:
    """A take to be: frames `start` to before `stop` of a file, and what is said of it."""

    onset: NumberedOnset
    start: int
    stop: int
    take: TakeFields

    @property
    def source(self) -> str:
        """The file and its seconds, as the log has them."""
        rate = self.onset.file.header.rate
        return f"{self.onset.file.path.name} {self.start / rate:.2f}-{self.stop / rate:.2f} s"


@dataclass(frozen=True)
class NoOnset:
    """In this file there is no onset that could be a take."""

    path: Path


@dataclass(frozen=True)
class CountsDiffer:
    """So many onsets count in these files, and so many takes were played."""

    paths: tuple[Path, ...]
    found: int
    played: int


@dataclass(frozen=True)
class TakesOverlap:
    """Two onsets of one file lie so close that their takes would overlap."""

    earlier: NumberedOnset
    later: NumberedOnset

    @property
    def apart_s(self) -> float:
        """Seconds between the two."""
        return self.later.at_s - self.earlier.at_s


CutProblem = NoOnset | CountsDiffer | TakesOverlap


class CutError(RecordingError):
    """The onsets cannot be shared out to what was played; `problem` says why, as data."""

    def __init__(self, problem: CutProblem) -> None:
        super().__init__(repr(problem))
        self.problem = problem


def number_onsets(
    recordings: Sequence[ImportedFile], *, gesture: Gesture, left_out: Collection[int] = ()
) -> tuple[NumberedOnset, ...]:
    """All onsets, numbered through all files; `left_out` are numbers of this list.

    Raises
    ------
    RecordingError
        A number of `left_out` is not in the list.

    """
    listed: list[NumberedOnset] = []
    for file in recordings:
        here = {n - len(listed) - 1 for n in left_out}
        renewed = with_doubts(file.onsets, gesture=gesture, rate=file.header.rate, left_out=here)
        first = len(listed) + 1
        listed += [
            NumberedOnset(first + i, file, o.frame, o.level_db, o.doubt, i in here)
            for i, o in enumerate(renewed)
        ]
    for number in sorted(left_out):
        if not 1 <= number <= len(listed):
            raise RecordingError(
                f"there is no onset {number} to leave out; {len(listed)} were found, numbered from 1"
            )
    return tuple(listed)


def cut_takes(
    onsets: Sequence[NumberedOnset],
    recordings: Sequence[ImportedFile],
    order: Sequence[PlayedItem],
    *,
    gesture: Gesture,
) -> tuple[Cut, ...]:
    """Share the onsets out to what was played, in order, and cut.

    A string that rings on is kept through what is heard on it (the selector clicks), up to the next take.

    Raises
    ------
    CutError
        There are more or fewer onsets than were played, none in a file, or two that lie too close.

    """
    for file in recordings:
        if not any(o.file is file and o.doubt is None for o in onsets):
            raise CutError(NoOnset(file.path))
    takes = [o for o in onsets if o.counts]
    wanted = [item.take for item in order for _ in range(item.count)]
    if len(takes) != len(wanted):
        raise CutError(CountsDiffer(tuple(r.path for r in recordings), len(takes), len(wanted)))
    around = plan_of(gesture).cut
    if around is None:
        raise AssertionError(f"{gesture}: check_order refuses what has no onset")
    for a, b in pairwise(takes):
        overlap = TakesOverlap(a, b)
        if a.file is b.file and overlap.apart_s < around.least_s:
            raise CutError(overlap)
    limits = takes if plan_of(gesture).dies else onsets
    return tuple(
        _cut_at(onset, [o for o in limits if o.file is onset.file], take, around=around)
        for onset, take in zip(takes, wanted, strict=True)
    )


def _cut_at(
    onset: NumberedOnset, beside: Sequence[NumberedOnset], take: TakeFields, *, around: CutMargins
) -> Cut:
    """Keep away from the onsets on either side, but run through those that come too soon to be takes."""
    header = onset.file.header
    least = int(around.least_s * header.rate)
    earlier = max((o.frame for o in beside if o.frame < onset.frame), default=None)
    later = min((o.frame for o in beside if o.frame >= onset.frame + least), default=None)
    start = onset.frame - int(around.before_s * header.rate)
    stop = onset.frame + int(around.longest_s * header.rate)
    if earlier is not None:
        start = max(start, _boundary(earlier, onset.frame, around=around, rate=header.rate))
    if later is not None:
        stop = min(stop, _boundary(onset.frame, later, around=around, rate=header.rate))
    return Cut(onset, max(0, start), min(header.frames, stop), take)


def _boundary(earlier: int, later: int, *, around: CutMargins, rate: int) -> int:
    """Where the take of the onset `earlier` ends at the latest, and that of `later` begins at the earliest.

    The quiet before `later` is its own, but half of what lies between them at most; and `earlier` gets the
    least it needs.
    """
    before = min(int(around.before_s * rate), (later - earlier) // 2)
    least = min(earlier + int(around.least_s * rate), later - int(LEAST_BEFORE_S * rate))
    return max(later - before, least)


_TOUCHING_S = 0.02  # takes that follow each other may seem to overlap by as much, for "from" is rounded
_FROM = re.compile(r"(.*) (\d+\.\d+)-(\d+\.\d+) s", re.DOTALL)


@dataclass(frozen=True)
class ImportedTake:
    """A cut in the job: the `take` it has become, or the entry it already was `before`.

    `same_seconds`: ids of takes that came from the same seconds of a file of that name.
    """

    cut: Cut
    take: TakeFile | None
    before: Take | None = None
    same_seconds: tuple[str, ...] = ()


def check_order(job: Job, paths: Sequence[Path], order: Sequence[PlayedItem]) -> Gesture:
    """Refuse what cannot come to anything, before hours are listened to; return the gesture.

    Raises
    ------
    RecordingError
        A file cannot be read or is named twice, or has another number of channels than the order.
    LogError
        The order names what the job does not have, or the gesture has no onset.

    """
    if not order or not paths:
        raise LogError('say what was played, in order, as in "neck 5, both 5, bridge 5"')
    gesture = order[0].take.gesture
    if gesture in ALL_GESTURES and gesture not in WITH_ONSET:
        raise LogError(f'a {gesture} take has no onset to cut at; add each recording with "coilwise take"')
    for item in order:
        check_new_entry(item.take.entry(), job)
    for index, path in enumerate(paths):
        if any(os.path.realpath(path) == os.path.realpath(other) for other in paths[:index]):
            raise RecordingError(f"{path}: is named twice; name each recording once, in the order played")
        channels = probe(path).channels
        for item in order:
            named = len(item.take.inputs)
            if named != channels:
                raise RecordingError(
                    f"{path}: has {channels} channel{'s' * (channels != 1)}, and an item of the order names"
                    f' {named}; name one input for each channel, as in "neck|nothing 5"'
                )
    return gesture


def find_onsets(
    paths: Sequence[Path],
    order: Sequence[PlayedItem],
    *,
    gesture: Gesture,
    mains_hz: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[ImportedFile, ...]:
    """Hear every file as a stream; `progress` is told the seconds heard of all files so far.

    Raises
    ------
    RecordingError
        A file cannot be read to its end.

    """
    plugged = sorted({i for item in order for i, what in enumerate(item.take.inputs) if what is not None})
    files: list[ImportedFile] = []
    past_s = 0.0
    for path in paths:
        header, stamp = probe(path), _stamp(path)
        stream = OnsetStream(gesture=gesture, rate=header.rate, channels=plugged, mains_hz=mains_hz)
        frames = 0
        for block in audio_blocks(path):
            stream.feed(block)
            frames += len(block)
            if progress is not None:
                progress(past_s + frames / header.rate)
        past_s += header.frames / header.rate
        files.append(ImportedFile(path, header, stream.finish(), stream.envelope, stamp))
    return tuple(files)


def import_takes(folder: JobFolder, cuts: Sequence[Cut]) -> tuple[ImportedTake, ...]:
    """Write and log each take; one that is in the job already, byte for byte, is left as it is.

    Raises
    ------
    RecordingError
        A file has changed since it was heard or cannot be read, or the folder cannot be written.
    LogError
        A take was entered otherwise before, or the log cannot be written.

    """
    standing = [e for e in folder.log.standing if isinstance(e, Take)]
    by_hash = {e.sha256: e for e in reversed(standing) if e.sha256}
    known = [by_hash.get(hashlib.sha256(_stretch_bytes(c)).hexdigest()) for c in cuts]
    for one, before in zip(cuts, known, strict=True):
        if before is not None and not _is_entered_as(before, one.take):
            raise LogError(
                f"{one.source}: is in the job as {before.id}, entered otherwise; void {before.id} first"
            )
    brought: list[ImportedTake] = []
    with _scratch() as place:
        for one, before in zip(cuts, known, strict=True):
            if before is not None:
                brought.append(ImportedTake(one, None, before))
                continue
            part = place / f"take-{one.onset.number}.wav"
            _write_part(part, _stretch_bytes(one))
            take = folder.add_take(part, one.take, brought_from=one.source)
            part.unlink()
            same = tuple(e.id for e in standing if _same_seconds(e, one))
            brought.append(ImportedTake(one, take, same_seconds=same))
    return tuple(brought)


def _scratch() -> ScratchFolder:
    try:
        return ScratchFolder("imported")
    except OSError as error:
        raise RecordingError(f"{error.filename}: cannot be made ({error.strerror})") from None


def _write_part(part: Path, raw: bytes) -> None:
    try:
        part.write_bytes(raw)
    except OSError as error:
        raise RecordingError(f"{part}: cannot be written ({error.strerror}); free some space") from None


def _is_entered_as(entry: Take, take: TakeFields) -> bool:
    """Whether an entry says the same; what `take` leaves open may be anything."""
    entered = vars(TakeFields.of(entry))
    return all(value in (None, entered[key]) for key, value in vars(take).items() if key != "anew")


def _stamp(path: Path) -> tuple[int, int]:
    try:
        status = os.stat(path)
    except OSError as error:
        raise RecordingError(f"{path}: cannot be read ({error.strerror})") from None
    return status.st_size, status.st_mtime_ns


def _stretch_bytes(one: Cut) -> bytes:
    file = one.onset.file
    if _stamp(file.path) != file.stamp:
        raise RecordingError(f"{file.path}: changed while it was read; stop the recorder, then bring it")
    return wav_bytes(read_stretch(file.path, start=one.start, stop=one.stop))


def _same_seconds(entry: Take, one: Cut) -> bool:
    """Whether an entry came from a file of that name and from seconds that overlap."""
    source = (entry.model_extra or {}).get(BROUGHT_FROM)
    match = _FROM.fullmatch(source) if isinstance(source, str) else None
    if match is None or match[1] != one.onset.file.path.name:
        return False
    rate = one.onset.file.header.rate
    overlap = min(float(match[3]), one.stop / rate) - max(float(match[2]), one.start / rate)
    return overlap > _TOUCHING_S
