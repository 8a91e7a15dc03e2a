"""``coilwise take``: bring a recording into the job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    StageOption,
    ToolOption,
    caution,
)
from reports.messages.gestures import TAKE_HELP


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
    clips_anew: ClipsAnewOption = False,
) -> None:
    """Bring a recording into the job.

    The file is copied as it is and logged. Volume and tone full up; one --on for each channel.

    Example: coilwise take sunday-job pluck.wav --gesture pluck --on bridge --on neck --string D3
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import input_from, take_fields
    from reports.messages.cautions import BARE_COIL, PHANTOM, THUMP
    from reports.messages.sentences import say
    from reports.model.gestures import PULSED
    from reports.model.take_notes import FileNote

    job = JobFolder.open(folder)
    inputs = [input_from(text, job.job) for text in on]
    fields = take_fields(
        gesture, inputs, string=string, fret=fret, stage=stage, rig=rig, tool=tool, coil=coil, anew=clips_anew
    )
    added = job.add_take(audio, fields)
    typer.echo(f"{added.entry.id}: {audio} is in as {added.entry.file}.")
    if added.problem:
        typer.echo(f"Note: {say(FileNote(added.problem))}")
    if gesture in PULSED:
        caution(THUMP, BARE_COIL)
    if any(not isinstance(item, str) and item is not None for item in added.entry.inputs):
        caution(PHANTOM)
