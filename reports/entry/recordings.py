"""Recordings that were dropped on the page into the job, as `coilwise take` and `coilwise bring` do it.

Plain functions that a screen calls off its own thread; nothing here knows a browser. What is refused of one
file is one sentence, and the other files go on.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from capture import RecordingError
from capture.audio.problems import FileProblem
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from capture.takes.imported import (
    Cut,
    CutError,
    ImportedFile,
    NumberedOnset,
    PlayedItem,
    check_order,
    cut_takes,
    find_onsets,
    import_takes,
    number_onsets,
)
from dsp import CoilwiseError
from dsp.live.gestures import Gesture
from reports.entry.spelling import input_from, order_from
from reports.messages import page as words
from reports.messages.imported import cut_problem, source_notes
from reports.messages.sentences import say, say_each
from reports.model.take_notes import FileNote
from reports.model.verdict import Verdict
from reports.render.tables import entry_label, played_label


@dataclass(frozen=True)
class UploadedFile:
    """A file on the tray: where it lies, how long it lasts and how many channels it has."""

    path: Path
    seconds: float
    channels: int
    cut_off: bool

    @property
    def name(self) -> str:
        """Its own name."""
        return self.path.name


def without_folders(text: str, paths: Sequence[Path]) -> str:
    """Return a refusal that speaks of files by their names, not by where they lie for now."""
    for path in paths:
        text = text.replace(str(path), path.name)
    return text


@dataclass(frozen=True)
class ImportedEntry:
    """A take that is in the job now.

    ``problem``: what is wrong with its file, which the verdict says as well; ``note``: what else was said of
    it when it came in.
    """

    id: str
    what: str
    note: str = ""
    problem: FileProblem | None = None


@dataclass(frozen=True)
class ImportOutcome:
    """What became of the files: the takes, the files that they were made of, and a sentence a refusal."""

    came: tuple[ImportedEntry, ...]
    done: tuple[UploadedFile, ...]
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class OnsetSearch:
    """Files that were listened to for one gesture on some inputs."""

    files: tuple[UploadedFile, ...]
    recordings: tuple[ImportedFile, ...]
    gesture: Gesture
    plugged: frozenset[int]


@dataclass(frozen=True, eq=False)
class Cuts:
    """Onsets with their cuts; ``refusal`` where they do not fit the order, then there are no cuts."""

    listened: OnsetSearch
    onsets: tuple[NumberedOnset, ...]
    cuts: tuple[Cut, ...]
    refusal: str = ""


def import_each(
    folder: JobFolder, files: Sequence[UploadedFile], fields: TakeFields, *, on: Sequence[str]
) -> ImportOutcome:
    """Take each file in as one take; ``on`` spells what was on each input."""
    inputs = tuple(input_from(text, folder.job) for text in on)
    came, done, refused = [], [], []
    for file in files:
        if file.channels != len(inputs):
            said_so = words.OTHER_CHANNELS.format(name=file.name, channels=file.channels, named=len(inputs))
            refused.append(said_so)
            continue
        try:
            take = folder.add_take(file.path, replace(fields, inputs=inputs))
        except CoilwiseError as error:
            refused.append(without_folders(str(error), [file.path]))
            continue
        label = f"{entry_label(take.entry)} ({file.name})"
        came.append(ImportedEntry(take.entry.id, label, problem=take.problem))
        done.append(file)
    return ImportOutcome(tuple(came), tuple(done), tuple(dict.fromkeys(refused)))


def parse_order(
    folder: JobFolder, files: Sequence[UploadedFile], fields: TakeFields, order: str
) -> tuple[PlayedItem, ...]:
    """Return what was played, checked against the job and the files before anything is listened to.

    Raises
    ------
    LogError, RecordingError
        The order cannot come to anything.

    """
    played = order_from(order, folder.job, fields)
    paths = [f.path for f in files]
    try:
        check_order(folder.job, paths, played)
    except RecordingError as error:
        raise RecordingError(without_folders(str(error), paths)) from None
    return played


def search_onsets(
    folder: JobFolder,
    files: Sequence[UploadedFile],
    played: Sequence[PlayedItem],
    *,
    before: OnsetSearch | None = None,
    progress: Callable[[float], None] | None = None,
) -> OnsetSearch:
    """Hear the files, unless they were heard alike ``before``; slow.

    Raises
    ------
    RecordingError
        A file cannot be read to its end.

    """
    gesture = played[0].take.gesture
    plugged = frozenset(k for item in played for k, what in enumerate(item.take.inputs) if what is not None)
    files = tuple(files)
    if before is not None and (before.files, before.gesture, before.plugged) == (files, gesture, plugged):
        return before
    paths = [f.path for f in files]
    try:
        heard = find_onsets(paths, played, gesture=gesture, mains_hz=folder.job.mains_hz, progress=progress)
    except RecordingError as error:
        raise RecordingError(without_folders(str(error), paths)) from None
    return OnsetSearch(files, heard, gesture, plugged)


def share_out(listened: OnsetSearch, played: Sequence[PlayedItem], *, left_out: Collection[int]) -> Cuts:
    """Share the onsets out to what was played; quick."""
    onsets = number_onsets(listened.recordings, gesture=listened.gesture, left_out=left_out)
    try:
        cuts = cut_takes(onsets, listened.recordings, played, gesture=listened.gesture)
    except CutError as error:
        return Cuts(listened, onsets, (), cut_problem(error.problem, surface="page"))
    return Cuts(listened, onsets, cuts)


def import_cuts(folder: JobFolder, cuts: Cuts) -> ImportOutcome:
    """Write and log each take.

    Raises
    ------
    RecordingError, LogError
        See capture.takes.imported.import_takes.

    """
    files = cuts.listened.files
    try:
        brought = import_takes(folder, cuts.cuts)
    except RecordingError as error:
        raise RecordingError(without_folders(str(error), [f.path for f in files])) from None
    came = []
    for one in brought:
        entry = one.before if one.take is None else one.take.entry
        if entry is None:
            raise AssertionError("a cut is brought in, or was in before")
        label = f"{played_label(one.cut.take)} ({one.cut.source})"
        problem = None if one.take is None else one.take.problem
        came.append(ImportedEntry(entry.id, label, " ".join(source_notes(one)), problem))
    return ImportOutcome(tuple(came), files)


def entry_result(came: ImportedEntry, verdict: Verdict | None) -> str:
    """Return what the tool heard in a take: its faults and remarks in words, or that it counts."""
    take = None if verdict is None else next((t for t in verdict.takes if t.id == came.id), None)
    notes = [came.note] if came.note else []
    if take is None:
        file_notes = [say(FileNote(came.problem))] if came.problem else []
        return " ".join(file_notes + notes) or words.NOT_JUDGED
    counts = words.COUNTS if take.used else words.COUNTS_NOT
    return " ".join((counts, *say_each(take.faults + take.remarks), *notes))
