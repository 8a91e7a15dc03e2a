"""Arguments and options that several commands have, and how an entry or a caution is spoken of."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from capture.bench_log import Change, Meter, Ohms, Pole, Void


def found_job(name: Path) -> Path:
    """The job's folder: as given, or, for a bare name that is no folder here, the one under recordings/."""
    from reports.entry_places import DEFAULT_PLACE

    inside = Path(DEFAULT_PLACE) / name
    bare = len(name.parts) == 1
    return inside if bare and not name.exists() and inside.is_dir() else name


FolderArgument = Annotated[
    Path,
    typer.Argument(
        help="The job: its folder, or the bare name of one under recordings/.", callback=found_job
    ),
]
PickupArgument = Annotated[str, typer.Argument(help="The pickup, by its name in the job.")]
InputOption = Annotated[
    str | None,
    typer.Option("--input", help="Which input: number, name or a part of it; see coilwise inputs."),
]
InputsOption = Annotated[
    int | None, typer.Option(help="How many inputs of the box are used, 1 or 2.", min=1, max=2)
]
RateOption = Annotated[int | None, typer.Option(help="Samples a second; the input's own if left out.")]
StageOption = Annotated[str, typer.Option(help="found (before any work) or after.")]
ToolOption = Annotated[str | None, typer.Option(help="Which steel tool, in your words.")]
ClipsAnewOption = Annotated[
    bool,
    typer.Option(
        "--clips-anew", help="The clips were taken off, the leads read anew, the clips put on again."
    ),
]
CoilOption = Annotated[int | None, typer.Option(help="Which coil of a two-coil pickup: 1 (hot's) or 2.")]


def enter(folder: Path, entry: Meter | Ohms | Pole | Change | Void) -> None:
    """Append an entry to the log and say under which id."""
    from capture.bench_log import append_entry
    from reports.words import WRITTEN_DOWN

    written = append_entry(folder, entry)
    typer.echo(WRITTEN_DOWN.format(id=written.id))


def caution(*cautions: str) -> None:
    """Print cautions, one a line."""
    for text in cautions:
        typer.echo(f"Caution: {text}")
