"""Recordings made elsewhere: ``take`` adds one as it is, ``bring`` cuts long ones at their onsets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture import LogError, RecordingError
from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    StageOption,
    TappedOption,
    ToolOption,
    WhereOption,
    caution,
    progress_bar,
    require_free,
)
from reports.messages.gestures import BRING_HELP, TAKE_HELP

if TYPE_CHECKING:
    from capture.takes.imported import Cut, NumberedOnset

PICTURE = ".svg"


def take(
    *,
    folder: FolderArgument,
    audio: Annotated[
        Path, typer.Argument(help="The recording: WAV, AIFF, FLAC or CAF. It is copied; yours stays.")
    ],
    gesture: Annotated[
        str,
        typer.Option(help=TAKE_HELP),
    ],
    on: Annotated[
        list[str],
        typer.Option(
            help="What was plugged in, once for each channel, input 1 first: a pickup or setting; "
            '"bridge,both,neck" for a selector turned through these; "neck:violet/orange" for leads,'
            ' tip first; "nothing".'
        ),
    ],
    string: Annotated[str | None, typer.Option(help="The open string that was played: D3.")] = None,
    fret: Annotated[int, typer.Option(help="Where it was stopped; 0 is open.")] = 0,
    stage: StageOption = "found",
    rig: Annotated[
        str | None, typer.Option(help="Box and cable, in your words; the same words for the same rig.")
    ] = None,
    tool: ToolOption = None,
    coil: CoilOption = None,
    tapped: TappedOption = None,
    clips_anew: ClipsAnewOption = False,
    where: WhereOption = None,
) -> None:
    """Bring a recording into the job.

    The file is copied as it is and logged. Volume and tone full up; one --on for each channel.

    Example: coilwise take sunday-job pluck.wav --gesture pluck --on bridge --on neck --string D3
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import input_from, take_fields
    from reports.messages.cautions import BARE_COIL, PHANTOM, THUMP
    from reports.messages.sentences import say
    from reports.model.gestures import WITH_TOOL
    from reports.model.notes import FileNote

    job = JobFolder.open(folder)
    inputs = [input_from(text, job.job) for text in on]
    fields = take_fields(
        gesture,
        inputs,
        string=string,
        fret=fret,
        stage=stage,
        rig=rig,
        tool=tool,
        coil=coil,
        anew=clips_anew,
        tapped=tapped,
        where=where,
    )
    added = job.add_take(audio, fields)
    typer.echo(f"{added.entry.id}: {audio} is in as {added.entry.file}.")
    if added.problem:
        typer.echo(f"Note: {say(FileNote(added.problem))}")
    if gesture in WITH_TOOL:
        caution(THUMP, BARE_COIL)
    if any(not isinstance(item, str) and item is not None for item in added.entry.inputs):
        caution(PHANTOM)


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
    from capture.audio.files import probe
    from capture.takes.folder import JobFolder
    from capture.takes.imported import (
        CutError,
        check_order,
        cut_takes,
        find_onsets,
        import_takes,
        number_onsets,
    )
    from reports.entry.spelling import onset_numbers, order_from, take_fields
    from reports.messages.imported import cut_problem
    from reports.render.tables import import_line

    job = JobFolder.open(folder)
    alike = take_fields(gesture, string=string, fret=fret, stage=stage, rig=rig, tool=tool, coil=coil)
    played = order_from(order, job.job, alike)
    left_out = onset_numbers(leave_out or [])
    if picture is not None and picture.suffix.lower() != PICTURE:
        raise LogError(f"{picture}: the picture is an SVG; give it a name that ends in {PICTURE}")
    require_free(picture)
    what = check_order(job.job, audio, played)
    heads = [probe(path) for path in audio]
    with progress_bar("listening", sum(head.frames / head.rate for head in heads)) as progress:
        recordings = find_onsets(audio, played, gesture=what, mains_hz=job.job.mains_hz, progress=progress)
    onsets = number_onsets(recordings, gesture=what, left_out=left_out)
    try:
        cuts = cut_takes(onsets, recordings, played, gesture=what)
    except CutError as error:
        _print_cuts(onsets, (), title="Onsets found")
        _write_picture(picture, onsets, ())
        raise RecordingError(cut_problem(error.problem, surface="terminal")) from None
    _print_cuts(onsets, cuts, title="Cuts" if dry_run else "Brought in")
    _write_picture(picture, onsets, cuts)
    if dry_run:
        typer.echo(f"A dry run: nothing was written down. {len(cuts)} takes would be.")
        return
    for one in import_takes(job, cuts):
        typer.echo(import_line(one))


def _print_cuts(onsets: Sequence[NumberedOnset], cuts: Sequence[Cut], *, title: str) -> None:
    from reports.render.layout import print_table
    from reports.render.tables import CUT_HEADS, cut_cells

    if onsets:
        print_table(CUT_HEADS, cut_cells(onsets, cuts), title=title)


def _write_picture(picture: Path | None, onsets: Sequence[NumberedOnset], cuts: Sequence[Cut]) -> None:
    if picture is None or not onsets:
        return
    from capture.disk.writing import write_new
    from reports.render.cuts import cuts_picture

    write_new(picture, cuts_picture(onsets, cuts).encode())
    typer.echo(f"The picture is {picture}")
