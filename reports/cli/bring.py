"""``coilwise bring``: recordings made elsewhere, cut at their onsets into takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture import LogError, RecordingError
from reports.cli.shared import CoilOption, FolderArgument, StageOption, ToolOption
from reports.messages.gestures import BRING_HELP

if TYPE_CHECKING:
    from capture.takes.imported import Cut, NumberedOnset


PICTURE = ".svg"


def bring(
    *,
    folder: FolderArgument,
    audio: Annotated[
        list[Path],
        typer.Argument(help="One long recording, or many in the order they were made. Yours stay."),
    ],
    order: Annotated[
        str,
        typer.Option(
            help='What was played, in order, and how often: "neck 5, both 5, bridge 5". With the string:'
            ' "neck D3 5", at fret 5 "neck D3/5 5". Two inputs: "neck|bridge 5", "neck|nothing 5". A selector'
            ' that was turned: "bridge>both>neck 3".'
        ),
    ],
    gesture: Annotated[str, typer.Option(help=BRING_HELP)],
    string: Annotated[
        str | None, typer.Option(help="The open string that was played, where the order does not say: D3.")
    ] = None,
    fret: Annotated[int, typer.Option(help="Where it was stopped; 0 is open.")] = 0,
    leave_out: Annotated[
        list[str] | None,
        typer.Option(help='Onsets that are no takes, by their numbers in the list: "3,7". Can be repeated.'),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show where it would be cut; nothing is written down.")
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Draw the recording with its cuts into this file, an SVG.")
    ] = None,
    stage: StageOption = "found",
    rig: Annotated[
        str | None, typer.Option(help="Box and cable, in your words; the same words for the same rig.")
    ] = None,
    tool: ToolOption = None,
    coil: CoilOption = None,
) -> None:
    """Bring recordings from elsewhere: each is cut where a string or the tool begins to sound.

    Where the number of onsets does not fit the order, they are listed and nothing is written down. Look at it
    first with --dry-run and --picture.

    Example: coilwise bring sunday long.wav --order "neck 5, both 5, bridge 5" --gesture pluck --string D3
    """
    from capture.takes.folder import JobFolder
    from capture.takes.imported import (
        CutError,
        check_order,
        cut_takes,
        find_onsets,
        import_takes,
        number_onsets,
    )
    from reports.entry.spelling import order_from, take_fields
    from reports.messages.imported import cut_problem
    from reports.render.tables import import_line

    job = JobFolder.open(folder)
    alike = take_fields(gesture, string=string, fret=fret, stage=stage, rig=rig, tool=tool, coil=coil)
    played = order_from(order, job.job, alike)
    left_out = _numbers(leave_out or [])
    if picture is not None and picture.suffix.lower() != PICTURE:
        raise LogError(f"{picture}: the picture is an SVG; give it a name that ends in {PICTURE}")
    what = check_order(job.job, audio, played)
    with _progress(audio) as progress:
        recordings = find_onsets(audio, played, gesture=what, mains_hz=job.job.mains_hz, progress=progress)
    onsets = number_onsets(recordings, gesture=what, left_out=left_out)
    try:
        cuts = cut_takes(onsets, recordings, played, gesture=what)
    except CutError as error:
        _show(onsets, (), title="Onsets found")
        _draw(picture, onsets, ())
        raise RecordingError(cut_problem(error.problem, surface="terminal")) from None
    _show(onsets, cuts, title="Cuts" if dry_run else "Brought in")
    _draw(picture, onsets, cuts)
    if dry_run:
        typer.echo(f"A dry run: nothing was written down. {len(cuts)} takes would be.")
        return
    for one in import_takes(job, cuts):
        typer.echo(import_line(one))


def _show(onsets: Sequence[NumberedOnset], cuts: Sequence[Cut], *, title: str) -> None:
    from reports.render.tables import CUT_HEADS, cut_cells
    from reports.render.text_table import print_table

    if onsets:
        print_table(CUT_HEADS, cut_cells(onsets, cuts), title=title)


def _draw(picture: Path | None, onsets: Sequence[NumberedOnset], cuts: Sequence[Cut]) -> None:
    if picture is None or not onsets:
        return
    from reports.render.cuts import cuts_picture

    picture.write_text(cuts_picture(onsets, cuts), encoding="utf-8")
    typer.echo(f"The picture is {picture}")


def _numbers(texts: Sequence[str]) -> frozenset[int]:
    words = [word for text in texts for word in text.replace(",", " ").split()]
    for word in words:
        if not (word.isascii() and word.isdigit()):
            raise LogError(f'--leave-out: "{word}" is no number of an onset; write "3,7", as in the list')
    return frozenset(int(word) for word in words)


@contextmanager
def _progress(paths: Sequence[Path]) -> Iterator[Callable[[float], None] | None]:
    """A bar on the terminal; nothing where it is not one."""
    from rich.console import Console

    from capture.audio.files import probe

    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    from rich.progress import Progress

    heads = [probe(path) for path in paths]
    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("listening", total=sum(h.frames / h.rate for h in heads))
        yield lambda seconds: bar.update(task, completed=seconds)
