"""``coilwise inputs``: what can be recorded from, and played through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from rich.table import Table

    from capture.inputs import InputDevice, OutputDevice

    Devices = Sequence[InputDevice] | Sequence[OutputDevice]

TAKEN = "taken unless you say otherwise"
INPUTS = "Inputs"
OUTPUTS = "Outputs, for a driven coil"


def inputs() -> None:
    """Show the audio inputs, which one is taken, and the outputs.

    Name another one with --input: its number, its name, or a part of its name.

    Example: coilwise inputs
    """
    from rich.console import Console

    from capture.sound import choose_input, choose_output, list_inputs, list_outputs

    console = Console(highlight=False, markup=False, emoji=False)
    for title, devices, choose in (
        (INPUTS, list_inputs(), choose_input),
        (OUTPUTS, list_outputs(), choose_output),
    ):
        taken, why_none = _taken(choose)
        if not devices:
            typer.echo(f"{title}: {why_none}")
            continue
        if console.is_terminal:
            console.print(devices_table(title, devices, taken=taken))
        else:
            for line in device_lines(title, devices, taken=taken):
                typer.echo(line)
        if why_none:
            typer.echo(f"None is taken by itself: {why_none}")


def devices_table(title: str, devices: Devices, *, taken: int | None) -> Table:
    """Return the devices, one a row; `taken` is the number of the one that is taken."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    from reports.words import plain

    table = Table(
        "number", "name", "channels", "rate Hz", "host", "",
        title=title, title_justify="left", box=SIMPLE_HEAD,
    )  # fmt: skip
    for d in devices:
        row = (
            str(d.number),
            d.name,
            str(d.channels),
            str(d.rate_hz),
            d.host,
            TAKEN if d.number == taken else "",
        )
        table.add_row(*(Text(plain(cell), overflow="fold") for cell in row))
    return table


def device_lines(title: str, devices: Devices, *, taken: int | None) -> tuple[str, ...]:
    """Return the same as plain lines."""
    from capture.inputs import shown
    from reports.words import plain

    rows = (f"  {plain(shown(d))}{f': {TAKEN}' if d.number == taken else ''}" for d in devices)
    return (f"{title}:", *rows)


def _taken(choose: Callable[[], InputDevice | OutputDevice]) -> tuple[int | None, str]:
    """The number of what is taken without a word; where nothing is, why."""
    from capture.inputs import NoSuchInputError

    try:
        return choose().number, ""
    except NoSuchInputError as none:
        return None, str(none)
