"""The questions of ``coilwise new``. An empty answer leaves a thing out; a wrong one is asked again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import typer

from capture.errors import JobError
from capture.job import Pickup, Setting
from reports.commands.spelling import pickup_from, setting_from

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Answers:
    """What was answered, options included."""

    title: str
    scale_mm: float | None
    mains_hz: int | None
    strings: list[str]
    pickups: list[Pickup]
    settings: list[Setting]


def ask(*, title: str, scale_mm: float | None, mains_hz: int | None, strings: list[str]) -> Answers:
    """Ask for everything that was not given."""
    from reports.entry_places import open_strings

    return Answers(
        title=title or _line("Title of the job"),
        scale_mm=_asked("Scale length in mm", _length) if scale_mm is None else scale_mm,
        mains_hz=_asked("Mains, 50 or 60 Hz", _mains) if mains_hz is None else mains_hz,
        strings=strings or _asked("Open strings, low to high, as in E2 A2 D3", open_strings),
        pickups=_pickups(),
        settings=_many("Setting, as in both=bridge+neck (Enter: no more)", setting_from),
    )


def _pickups() -> list[Pickup]:
    question = "Pickup, as in bridge:44 or neck:168:coils=2:loose (Enter: no more)"
    while not (pickups := _many(question, pickup_from)):
        typer.echo("One pickup at least.")
    return pickups


def _many(question: str, read: Callable[[str], Answer]) -> list[Answer]:
    found: list[Answer] = []
    while text := _line(question):
        try:
            found.append(read(text))
        except JobError as error:
            typer.echo(str(error))
    return found


def _asked(question: str, read: Callable[[str], Answer]) -> Answer:
    while True:
        try:
            return read(_line(f"{question} (Enter: not known)"))
        except JobError as error:
            typer.echo(str(error))


def _line(question: str) -> str:
    return str(typer.prompt(question, default="", show_default=False)).strip()


def _length(text: str) -> float | None:
    if not text:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise JobError(f'"{text}" is no number of millimetres; write 648 or press Enter') from None


def _mains(text: str) -> int | None:
    if text not in ("", "50", "60"):
        raise JobError(f'"{text}" is neither 50 nor 60; write one of them or press Enter')
    return int(text) if text else None
