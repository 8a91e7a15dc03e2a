"""Arguments and options that several commands have, and how an entry or a caution is spoken of."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from capture.bench_log import Change, Meter, Ohms, Pole, Void

FolderArgument = Annotated[Path, typer.Argument(help="The folder of the job.")]
PickupArgument = Annotated[str, typer.Argument(help="The pickup, by its name in the job.")]
StageOption = Annotated[str, typer.Option(help="found (before any work) or after.")]
ToolOption = Annotated[str | None, typer.Option(help="Which steel tool, in your words.")]
CoilOption = Annotated[int | None, typer.Option(help="Which coil of a two-coil pickup: 1 (hot's) or 2.")]


def enter(folder: Path, entry: Meter | Ohms | Pole | Change | Void) -> None:
    """Append an entry to the log and say under which id."""
    from capture.bench_log import append_entry  # noqa: PLC0415

    written = append_entry(folder, entry)
    typer.echo(f"{written.id}: written down.")


def caution(*cautions: str) -> None:
    """Print cautions, one a line."""
    for text in cautions:
        typer.echo(f"Caution: {text}")
