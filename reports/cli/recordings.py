"""Recordings made elsewhere: ``take`` adds one as it is, ``bring`` cuts long ones at their onsets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture import LogError, RecordingError
from dsp.live.gestures import ALL_GESTURES, WITH_ONSET
from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    InsteadOption,
    StageOption,
    TappedOption,
    ToolOption,
    WhereOption,
    caution,
    progress_bar,
    require_free,
)
from reports.messages.entering import GESTURE_MISSING, ONE_FILE_EACH, ORDER_OR_NAMES
from reports.messages.gestures import BRING_HELP, TAKE_HELP

if TYPE_CHECKING:
    from capture.log import TakeFields
    from capture.takes.folder import JobFolder
    from capture.takes.imported import Cut, NumberedOnset, PlayedItem
    from reports.entry.naming import NamedTake

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
    instead: InsteadOption = None,
) -> None:
    """Bring a recording into the job, and say whether it counts.

    The file is copied as it is and logged. Volume and tone full up; one --on for each channel.

    Example: coilwise take sunday-job pluck.wav --gesture pluck --on bridge --on neck --string D3
    """
    from capture.log import Take, append_entries
    from capture.takes.folder import JobFolder
    from reports.entry.accepting import judged_at_once
    from reports.entry.spelling import input_from, take_fields
    from reports.entry.taking_back import take_back_for
    from reports.messages.cautions import BARE_COIL, PHANTOM, THUMP
    from reports.model.gestures import WITH_TOOL

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
    first = not any(isinstance(e, Take) and e.gesture == gesture for e in job.log.standing)
    voids = () if instead is None else take_back_for(job.log, instead, kind="take").voids
    added = job.add_take(audio, fields)
    append_entries(folder, voids)
    typer.echo(f"{added.entry.id}: {audio} is in as {added.entry.file}.")
    for said in judged_at_once(folder, {added.entry.id}):
        typer.echo(said)
    if first:
        tool_cautions = (THUMP, BARE_COIL) if gesture in WITH_TOOL else ()
        clips = any(not isinstance(item, str) and item is not None for item in added.entry.inputs)
        caution(*tool_cautions, *((PHANTOM,) if clips else ()))


def bring(
    *,
    folder: FolderArgument,
    audio: Annotated[
        list[Path],
        typer.Argument(help="One long recording, or many in the order they were made. Yours stay."),
    ],
    order: Annotated[
        str | None,
        typer.Option(
            help='What was played, in order, and how often: "neck 5, both 5, bridge 5". With the string:'
            ' "neck D3 5", at fret 5 "neck D3/5 5". Two inputs: "neck|bridge 5", "neck|nothing 5". A selector'
            ' that was turned: "bridge,both,neck 3". Left out: each file is one take, as its name or a note'
            " says."
        ),
    ] = None,
    gesture: Annotated[str, typer.Option(help=BRING_HELP)] = "",
    notes: Annotated[
        Path | None,
        typer.Option(help='A text file with a line a recording: "take3.wav: neck D3 pluck".'),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Enter what names and notes say without asking.")
    ] = False,
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
    where: WhereOption = None,
) -> None:
    """Bring recordings from elsewhere: each is cut where a string or the tool begins to sound.

    Without --order each file is one take, and its name or a note file says what it is (neck_D3_1.wav);
    that is shown before anything is written. Hum has no onset: bring one file for each setting.

    Where the number of onsets does not fit the order, they are listed and nothing is written down. Look at it
    first with --dry-run and --picture.

    Example: coilwise bring sunday long.wav --order "neck 5, both 5, bridge 5" --gesture pluck --string D3
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import order_from, take_fields

    job = JobFolder.open(folder)
    alike = take_fields(
        gesture, string=string, fret=fret, stage=stage, rig=rig, tool=tool, coil=coil, where=where
    )
    if order is None:
        if leave_out or picture is not None:
            raise LogError(ORDER_OR_NAMES)
        _bring_named(job, audio, _named_takes(job, audio, alike, notes=notes), dry_run=dry_run, yes=yes)
        return
    if not gesture:
        raise LogError(GESTURE_MISSING.format(gestures=", ".join(ALL_GESTURES)))
    played = order_from(order, job.job, alike)
    if gesture in ALL_GESTURES and gesture not in WITH_ONSET:
        _bring_named(job, audio, _in_order(audio, played), dry_run=dry_run, yes=True)
        return
    _bring_cut(job, audio, played, leave_out=leave_out or (), dry_run=dry_run, picture=picture)


def _named_takes(
    job: JobFolder, audio: Sequence[Path], alike: TakeFields, *, notes: Path | None
) -> list[NamedTake]:
    """Each file with what its note or its name says."""
    from capture.audio.files import probe
    from reports.entry.naming import named_take, notes_from

    noted = {} if notes is None else notes_from(notes, audio)
    return [
        named_take(p, noted.get(p, p.stem), job=job.job, channels=probe(p).channels, alike=alike)
        for p in audio
    ]


def _in_order(audio: Sequence[Path], played: Sequence[PlayedItem]) -> list[NamedTake]:
    """Each file as the one take of the order that it is."""
    from reports.entry.naming import NamedTake

    wanted = [item.take for item in played for _ in range(item.count)]
    if len(wanted) != len(audio):
        gesture = wanted[0].gesture
        raise LogError(ONE_FILE_EACH.format(gesture=gesture, played=len(wanted), files=len(audio)))
    return [NamedTake(path, take) for path, take in zip(audio, wanted, strict=True)]


def _bring_named(
    job: JobFolder, audio: Sequence[Path], named: Sequence[NamedTake], *, dry_run: bool, yes: bool
) -> None:
    """Show what each file is, and enter them as they are."""
    import sys

    from capture.log.requirements import check_new_entry
    from reports.entry.accepting import judged_at_once
    from reports.messages.entering import DRY_RUN, ENTER_THESE, NAMED_HEADS, NAMED_TITLE, NOT_ENTERED
    from reports.render.layout import print_table
    from reports.render.tables import named_cells

    for one in named:
        check_new_entry(one.take.entry(), job.job)
    print_table(
        NAMED_HEADS, [named_cells(one.path, one.take, one.unread) for one in named], title=NAMED_TITLE
    )
    if dry_run:
        typer.echo(DRY_RUN.format(count=len(named)))
        return
    if not yes and not (sys.stdin.isatty() and typer.confirm(ENTER_THESE.format(count=len(named)))):
        typer.echo(NOT_ENTERED)
        return
    added = [job.add_take(one.path, one.take).entry.id for one in named]
    for said in judged_at_once(job.path, added):
        typer.echo(said)


def _bring_cut(
    job: JobFolder,
    audio: list[Path],
    played: tuple[PlayedItem, ...],
    *,
    leave_out: Sequence[str],
    dry_run: bool,
    picture: Path | None,
) -> None:
    """Cut recordings at their onsets, and enter what was cut."""
    from capture.audio.files import probe
    from capture.takes.imported import (
        CutError,
        check_order,
        cut_takes,
        find_onsets,
        import_takes,
        number_onsets,
    )
    from reports.entry.accepting import judged_at_once
    from reports.entry.spelling import onset_numbers
    from reports.messages.entering import DRY_RUN
    from reports.messages.imported import cut_problem
    from reports.render.tables import import_line

    left_out = onset_numbers(leave_out)
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
        typer.echo(DRY_RUN.format(count=len(cuts)))
        return
    brought = import_takes(job, cuts)
    for one in brought:
        typer.echo(import_line(one))
    for said in judged_at_once(job.path, {b.take.entry.id for b in brought if b.take is not None}):
        typer.echo(said)


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
