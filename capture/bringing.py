"""Recordings brought from elsewhere: one long one, or many, cut at their onsets into takes.

Task: `check_order` refuses early, `listen` hears the files as streams, capture.cutting cuts, and `bring_in`
writes each take as a file of its own and logs it. Nothing is written before that, and no file is written
over; a take's bytes depend on its stretch alone, so what was brought already is not brought again.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast, get_args

from capture.audio_files import audio_blocks, probe, read_stretch
from capture.cut_files import wav_bytes
from capture.cutting import Cut, Heard, Played
from capture.errors import LogError, RecordingError
from capture.folder import JobFolder, TakeFile
from capture.job_models import Job
from capture.log_checks import doubts, refuse
from capture.log_entries import BROUGHT_FROM, Gesture, Stage, Take, made
from dsp.streamed_onsets import STREAMED, OnsetStream, Streamed

_TOUCHING_S = 0.02  # takes that follow each other may seem to overlap by as much, for "from" is rounded
_FROM = re.compile(r"(.*) (\d+\.\d+)-(\d+\.\d+) s", re.DOTALL)


@dataclass(frozen=True)
class Saying:
    """What is entered for all takes alike."""

    stage: Stage = "found"
    rig: str | None = None
    tool: str | None = None
    coil: Literal[1, 2] | None = None


@dataclass(frozen=True)
class Brought:
    """A cut in the job: the `take` it has become, or the entry it already was `before`.

    `same_seconds`: ids of takes that came from the same seconds of a file of that name.
    """

    cut: Cut
    take: TakeFile | None
    before: Take | None = None
    same_seconds: tuple[str, ...] = ()


def check_order(
    job: Job, paths: Sequence[Path], order: Sequence[Played], *, gesture: Gesture, saying: Saying
) -> Streamed:
    """Refuse what cannot come to anything, before hours are listened to; return the gesture.

    Raises
    ------
    RecordingError
        A file cannot be read or is named twice, or has another number of channels than the order.
    LogError
        The order names what the job does not have, or the gesture has no onset.

    """
    if gesture in get_args(Gesture) and gesture not in STREAMED:
        raise LogError(f'a {gesture} take has no onset to cut at; add each recording with "coilwise take"')
    if not order or not paths:
        raise LogError('say what was played, in order, as in "neck 5, both 5, bridge 5"')
    for item in order:
        entry = made(Take, **_said(item, gesture, saying), file="takes/x")
        refuse(entry, job)
        for doubt in doubts(entry, job):
            raise LogError(doubt)
    for index, path in enumerate(paths):
        if any(path.resolve() == other.resolve() for other in paths[:index]):
            raise RecordingError(f"{path}: is named twice; name each recording once, in the order played")
        channels = probe(path).channels
        for item in order:
            if len(item.inputs) != channels:
                raise RecordingError(
                    f"{path}: has {channels} channel{'s' * (channels != 1)}, and an item of the order names"
                    f' {len(item.inputs)}; name one input for each channel, as in "neck|nothing 5"'
                )
    return cast(Streamed, gesture)


def listen(
    paths: Sequence[Path],
    order: Sequence[Played],
    *,
    gesture: Streamed,
    mains_hz: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Heard, ...]:
    """Hear every file as a stream; `progress` is told the seconds heard of all files so far.

    Raises
    ------
    RecordingError
        A file cannot be read to its end.

    """
    plugged = sorted({i for item in order for i, what in enumerate(item.inputs) if what is not None})
    heard: list[Heard] = []
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
        heard.append(Heard(path, header, stream.finish(), stream.envelope, stamp))
    return tuple(heard)


def bring_in(
    folder: JobFolder, cuts: Sequence[Cut], *, gesture: Gesture, saying: Saying
) -> tuple[Brought, ...]:
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
    known = [by_hash.get(hashlib.sha256(_wav(c)).hexdigest()) for c in cuts]
    for one, before in zip(cuts, known, strict=True):
        if before is not None and not _entered_alike(before, one.played, gesture, saying):
            raise LogError(
                f"{one.came_from}: is in the job as {before.id}, entered otherwise; void {before.id} first"
            )
    brought: list[Brought] = []
    with tempfile.TemporaryDirectory(prefix="coilwise-") as place:
        for one, before in zip(cuts, known, strict=True):
            if before is not None:
                brought.append(Brought(one, None, before))
                continue
            part = Path(place) / f"take-{one.onset.number}.wav"
            part.write_bytes(_wav(one))
            take = folder.add_take(part, **_said(one.played, gesture, saying), brought_from=one.came_from)
            part.unlink()
            same = tuple(e.id for e in standing if _same_seconds(e, one))
            brought.append(Brought(one, take, same_seconds=same))
    return tuple(brought)


def _said(item: Played, gesture: Gesture, saying: Saying) -> dict[str, Any]:
    return {
        "gesture": gesture,
        "inputs": item.inputs,
        "string": item.string,
        "fret": item.fret,
        "stage": saying.stage,
        "rig": saying.rig,
        "tool": saying.tool,
        "coil": saying.coil,
    }


def _entered_alike(entry: Take, item: Played, gesture: Gesture, saying: Saying) -> bool:
    said = _said(item, gesture, saying)
    return all(getattr(entry, key) == value for key, value in said.items() if value is not None)


def _stamp(path: Path) -> tuple[int, int]:
    try:
        said = os.stat(path)
    except OSError as error:
        raise RecordingError(f"{path}: cannot be read ({error.strerror})") from None
    return said.st_size, said.st_mtime_ns


def _wav(one: Cut) -> bytes:
    heard = one.onset.heard
    if _stamp(heard.path) != heard.stamp:
        raise RecordingError(f"{heard.path}: changed while it was read; stop the recorder, then bring it")
    return wav_bytes(read_stretch(heard.path, start=one.start, stop=one.stop))


def _same_seconds(entry: Take, one: Cut) -> bool:
    """Whether an entry came from a file of that name and from seconds that overlap."""
    said = (entry.model_extra or {}).get(BROUGHT_FROM)
    match = _FROM.fullmatch(said) if isinstance(said, str) else None
    if match is None or match[1] != one.onset.heard.path.name:
        return False
    rate = one.onset.heard.header.rate
    overlap = min(float(match[3]), one.stop / rate) - max(float(match[2]), one.start / rate)
    return overlap > _TOUCHING_S
