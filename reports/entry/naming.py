"""What is in a recording, told by its file's name or by a line about it in a note file.

In: words such as ``neck_D3_1`` or ``both hum after``; out: `TakeFields`. Names of settings are looked for
first, the longest first, so they may hold blanks and numbers; then gestures, strings, ``fret 5``, ``after``,
``split`` (one pickup on both inputs) and ``nothing``. Numbers are counters, and other words are kept to be
shown. A mono file with several settings is the selector that went through them. Nothing is guessed: what is
missing is a refusal.

A note file has a line a recording, its file's name first: ``take3.wav: neck D3 pluck``. A ``#`` begins a
comment.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

from capture import JobError, LogError
from capture.disk.reading import open_plain
from capture.job import Job
from capture.job.model import semitone
from capture.log import Input, TakeFields
from dsp.live.gestures import ALL_GESTURES, Gesture
from reports.messages import entering as words
from reports.messages.wording import NOTHING, plain

_APART = re.compile(r"[_\s,;:|+>.-]+")
_FRET = re.compile(r"(?:fret|fr)(\d{1,2})|(\d{1,2})(?:th)?(?:fret|fr)")
_ALSO: dict[str, Gesture] = {"sweep": "switch", "selector": "switch", "plucked": "pluck"}
_TAKEN = "\0"
_SPLIT, _FRET_WORD = "split", "fret"
STAGES = ("found", "after")
MOST_BYTES = 1_000_000
"""A larger note file is none."""


@dataclass(frozen=True)
class NamedTake:
    """A recording with what its name says; ``unread`` are words that say nothing here."""

    path: Path
    take: TakeFields
    unread: tuple[str, ...] = ()


def named_take(path: Path, said: str, *, job: Job, channels: int, alike: TakeFields) -> NamedTake:
    """Return what the words ``said`` of a recording mean; ``alike`` holds where they are silent.

    Raises
    ------
    LogError
        It is not said what was on, or what was played.

    """
    names, rest = _settings_in(said, job)
    split = _SPLIT in rest
    gesture, fields, unread = _said_by([w for w in rest if w != _SPLIT], alike)
    inputs, sweep = _inputs(names, channels=channels, split=split, path=path, job=job)
    if sweep and gesture in ("", "switch"):
        gesture = "switch"
    elif sweep:
        raise LogError(words.SEVERAL_ON_ONE.format(file=path.name, names=", ".join(map(str, names))))
    if not gesture:
        raise LogError(words.NO_GESTURE.format(file=path.name, gestures=", ".join(ALL_GESTURES)))
    return NamedTake(path, replace(fields, gesture=cast("Gesture", gesture), inputs=inputs), unread)


def notes_from(path: Path, recordings: Sequence[Path]) -> dict[Path, str]:
    """Return the line of a note file about each recording, without its name, where there is one.

    Raises
    ------
    LogError
        The file cannot be read, or a line names no recording that is brought.

    """
    try:
        with open_plain(path, through_links=True) as stream:
            raw = stream.read(MOST_BYTES + 1)
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise LogError(words.NOTES_NOT_READ.format(path=path, reason=error.strerror)) from None
    except ValueError:
        raise LogError(words.NOTES_NOT_READ.format(path=path, reason=words.NO_TEXT)) from None
    if len(raw) > MOST_BYTES:
        raise LogError(words.NOTES_NOT_READ.format(path=path, reason=words.NO_TEXT))
    by_length = sorted(recordings, key=lambda p: -len(p.name))
    said: dict[Path, str] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        told = line.partition("#")[0].strip() if line.lstrip().startswith("#") else line.strip()
        if not told:
            continue
        meant = next((p for p in by_length for n in (p.name, p.stem) if _begins_with(told, n)), None)
        if meant is None:
            raise LogError(words.NOTE_OF_NONE.format(path=path, line=number, text=plain(told)[:40]))
        name = meant.name if _begins_with(told, meant.name) else meant.stem
        said[meant] = told[len(name) :].lstrip(" :\t,;")
    return said


def _begins_with(line: str, name: str) -> bool:
    following = line[len(name) : len(name) + 1]
    return line.lower().startswith(name.lower()) and (not following or following in " :\t,;")


def _settings_in(said: str, job: Job) -> tuple[list[str | None], list[str]]:
    """The settings that are named, in order (None for nothing), and the words that are left."""
    text = f" {_APART.sub(' ', said).strip().lower()} "
    known = {_APART.sub(" ", name).strip().lower(): name for name in job.setting_names}
    found: list[tuple[int, str | None]] = []
    for spelled in sorted([*known, NOTHING], key=lambda name: -len(name)):
        while (at := text.find(f" {spelled} ")) >= 0:
            found.append((at, known.get(spelled)))
            text = text[: at + 1] + _TAKEN * len(spelled) + text[at + 1 + len(spelled) :]
    return [name for _, name in sorted(found, key=lambda one: one[0])], text.replace(_TAKEN, " ").split()


def _said_by(rest: Sequence[str], alike: TakeFields) -> tuple[Gesture | str, TakeFields, tuple[str, ...]]:
    """Gesture, string, fret and stage among the words, and the words that are none of it."""
    gesture: Gesture | str = alike.gesture
    fields, unread, fret_next = alike, [], False
    for word in rest:
        meant = next((g for g in ALL_GESTURES if word in (g, f"{g}s", f"{g}es")), _ALSO.get(word))
        stopped = _FRET.fullmatch(word)
        if meant is not None:
            gesture = meant
        elif fret_next and word.isdigit():
            fields = replace(fields, fret=int(word))
        elif stopped:
            fields = replace(fields, fret=int(stopped[1] or stopped[2]))
        elif word in STAGES:
            fields = replace(fields, stage="after" if word == "after" else "found")
        elif _is_string(word):
            fields = replace(fields, string=word.upper() if len(word) < 3 else word[0].upper() + word[1:])
        elif not word.isdigit() and word != _FRET_WORD:
            unread.append(word)
        fret_next = word == _FRET_WORD
    return gesture, fields, tuple(unread)


def _is_string(word: str) -> bool:
    try:
        semitone(word[:1].upper() + word[1:])
    except JobError:
        return False
    return True


def _inputs(
    names: Sequence[str | None], *, channels: int, split: bool, path: Path, job: Job
) -> tuple[tuple[Input, ...], bool]:
    """What was on each channel, and whether it is a selector that went through settings."""
    if split and len(names) == 1:
        return (names[0],) * channels, False
    if len(names) == channels:
        return tuple(names), False
    swept = tuple(name for name in names if name is not None)
    if channels == 1 and len(swept) == len(names) > 1:
        return (swept,), True
    raise LogError(
        words.NOT_NAMED.format(
            file=path.name,
            channels=channels,
            s="s" * (channels != 1),
            count=len(names),
            known=", ".join(map(plain, job.setting_names)),
        )
    )
