"""What is entered by hand, as entries of the log: the commands and the page write the same ones.

Task: one function a kind, from what a person says to the entry, dated now. Units: kilohms. Signs: none.
Raises LogError where an entry contradicts itself; whether it fits the job is checked when it is written.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.bench_log import Change, Meter, Ohms, Pole, Void, made, now
from reports.commands.spelling import leads_from


def meter_entry(
    *,
    pickup: str,
    move: str,
    reading: str,
    red: str,
    black: str | None,
    kohm: float | None,
    tool: str | None,
    stage: str,
    anew: bool = False,
) -> Meter:
    """Return which way the ohmmeter swung; ``anew``: the clips were put on anew before it."""
    said = {"pickup": pickup, "move": move, "reading": reading, "red": red, "black": black, "kohm": kohm}
    clips: dict[str, bool] = {"anew": True} if anew else {}
    return made(Meter, at=now(), **said, tool=tool, stage=stage, **clips)


def ohms_entry(*, pickup: str, first: str, second: str, kohm: float | None, stage: str) -> Ohms:
    """Return the resistance between two leads; without ``kohm`` the meter shows an open circuit."""
    return made(Ohms, at=now(), pickup=pickup, between=(first, second), kohm=kohm, stage=stage)


def pole_entry(*, pickup: str, facing: str, coil: int | None, stage: str) -> Pole:
    """Return which magnet pole faces the strings."""
    return made(Pole, at=now(), pickup=pickup, facing=facing, coil=coil, stage=stage)


def change_entry(*, pickup: str, leads: Sequence[str], stage: str) -> Change:
    """Return leads as they are from here on, from words such as ``grey=hot``."""
    return made(Change, at=now(), pickup=pickup, leads=leads_from(list(leads)), stage=stage)


def void_entry(*, entry: str, why: str) -> Void:
    """Return what takes an entry out of account."""
    return made(Void, at=now(), entry=entry, why=why)
