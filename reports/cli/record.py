"""``coilwise record`` and ``coilwise page``: the guided session, on the terminal and in the browser."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast, get_args

import typer

from capture import JobError, LogError
from reports.cli.care import remembered
from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    InputOption,
    InputsOption,
    RateOption,
    StageOption,
    TappedOption,
    ToolOption,
    WhereOption,
    caution,
    clear_in,
    leave,
    optional_job_folder,
)
from reports.model.gestures import MOST_TAKES, ROWS, SESSION_GESTURES

if TYPE_CHECKING:
    from capture.job import Job
    from reports.model.session import Step
    from reports.session.options import RecordingOptions
    from reports.session.session import SessionDisplay, SessionResult


LEFT = (
    "A recording that was not finished lies here ({seconds:.1f} s, {planned}). It is kept; start on a "
    "terminal to be asked, or say --unfinished in or --unfinished aside."
)
ASK_LEFT = "A recording that was not finished lies here ({seconds:.1f} s, {planned}): in, aside or leave?"
ASK_WATCH = "{holder} records into this job just now. Watch what it does?"
WAYS = ("in", "aside", "leave")
LOOK_EVERY_S = 1.0
"""How often the log of a job that another process records into is looked at."""
READY = "Plug in, damp the strings, then press Enter; after that no key is needed"


def record(
    *,
    folder: FolderArgument,
    source: InputOption = None,
    inputs: InputsOption = None,
    rate: RateOption = None,
    only: Annotated[str, typer.Option(help="Gestures that may be asked for.")] = ",".join(SESSION_GESTURES),
    most: Annotated[
        int | None,
        typer.Option(help=f"Pause after so many takes; {MOST_TAKES} for up to two pairs.", min=1),
    ] = None,
    gesture: Annotated[
        str | None, typer.Option(help="Record this gesture, named by you, and choose nothing.")
    ] = None,
    on: Annotated[
        list[str] | None,
        typer.Option(help="With --gesture: what is on each input, as in coilwise take; input 1 first."),
    ] = None,
    string: Annotated[str | None, typer.Option(help="With --gesture: the open string.")] = None,
    fret: Annotated[int, typer.Option(help="With --gesture: where it is stopped; 0 is open.")] = 0,
    times: Annotated[int, typer.Option(help="With --gesture: how many takes.", min=1)] = 1,
    coil: CoilOption = None,
    tapped: TappedOption = None,
    split: Annotated[
        bool, typer.Option("--split", help="Only the split check: one pickup into both inputs, one pluck.")
    ] = False,
    output: Annotated[
        str | None, typer.Option(help="Which output drives the coil: number, name or a part of it.")
    ] = None,
    stage: StageOption = "found",
    rig: Annotated[
        str | None, typer.Option(help="Box and cable, in your words; the input's name if left out.")
    ] = None,
    tool: ToolOption = None,
    clips_anew: ClipsAnewOption = False,
    where: WhereOption = None,
    tones: Annotated[
        bool, typer.Option("--tones", help="Soft tones for now, accepted and refused, from the loudspeakers.")
    ] = False,
    watch: Annotated[
        bool, typer.Option("--watch", help="Record nothing; show what another recorder of this job does.")
    ] = False,
    unfinished: Annotated[
        str | None,
        typer.Option(help="What to do with a recording that was not finished: in, aside or leave."),
    ] = None,
) -> None:
    """Record hands-free: it says what to play, waits, judges at once, and goes on till all is settled.

    After this one command no key is needed. v takes back the last take, s skips, q or Ctrl-C ends; nothing is
    lost.

    Example: coilwise record sunday

    The exit status is 0 where every pair that shares a setting is settled or likely, 3 otherwise, 2 where the
    call or the input is at fault.
    """
    from capture.audio.devices import device_label
    from capture.audio.streams import choose_input, choose_output
    from capture.log.entries import Stage
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import gestures_from
    from reports.messages.wording import plain
    from reports.session.options import MOST_INPUTS, RecordingOptions, fixed_steps

    job = JobFolder.open(folder).job
    if _watches(folder, always=watch):
        return
    allowed = gestures_from(only)
    device = choose_input(source)
    available = min(MOST_INPUTS, device.channels)
    if inputs is not None and inputs > available:
        raise LogError(f"--inputs: {inputs} inputs, and {plain(device_label(device))} has {available}")
    fixed = _named(
        job,
        gesture,
        on or [],
        string=string,
        fret=fret,
        coil=coil,
        tool=tool,
        tapped=tapped,
        split=split,
        stage=stage,
    )
    if clips_anew:
        if fixed is None:
            raise LogError("--clips-anew goes with --gesture or --split; name the take")
        fixed = replace(fixed, anew=True)
    if stage not in get_args(Stage):
        raise LogError(f'--stage: "{stage}" is none of {", ".join(get_args(Stage))}')
    options = RecordingOptions(
        source=source,
        inputs=inputs,
        rate=rate,
        stage=cast(Stage, stage),
        rig=rig,
        tool=tool,
        where=where,
        tones=tones,
        gestures=allowed,
        most=most,
        fixed=fixed_steps(fixed, times=times) if fixed else (),
        output=choose_output(output) if fixed is not None and fixed.gesture == "drive" else None,
    )
    leave(clear=clear_in(run_session(folder, options, unfinished=unfinished).verdict, folder))


def run_session(folder: Path, options: RecordingOptions, *, unfinished: str | None = None) -> SessionResult:
    """Check what was asked for, say what to mind, record on this terminal, and say how it ended."""
    from capture.takes.folder import JobFolder
    from capture.takes.recorder import check_fields
    from capture.takes.recording_lock import recording
    from reports.evidence.cache import load_hearing
    from reports.session.boxes import box_remembered
    from reports.session.options import prepare
    from reports.session.session import Session
    from reports.session.session import record as record_session

    prepared = prepare(JobFolder.open(folder).job, options)
    if options.fixed and prepared.channels > (count := prepared.options.inputs or prepared.channels):
        raise LogError(f"--on: {prepared.channels} inputs are named, and {count} is used")
    for step in dict.fromkeys(replace(one, part=1, parts=1) for one in options.fixed):
        check_fields(folder, replace(step, stage=options.stage, rig=options.rig), prepared.channels)
    first = options.fixed[0] if options.fixed else None
    _offer_unfinished(folder, unfinished)
    _warn(first, options.gestures)
    if _both_terminals():
        typer.prompt(READY, default="", show_default=False, prompt_suffix=" ")
    load_hearing()
    session = Session(folder, prepared.options, remembered().before(folder))
    with recording(folder, who="terminal"), box_remembered(prepared, session), _display() as display:
        result = record_session(prepared, session, display)
    _say_end(folder, result)
    return result


def _named(
    job: Job,
    gesture: str | None,
    on: list[str],
    *,
    string: str | None,
    fret: int,
    coil: int | None,
    tool: str | None,
    tapped: str | None,
    split: bool,
    stage: str,
) -> Step | None:
    """The step that the person named; None where the session is to choose."""
    from reports.entry.spelling import named_step
    from reports.model.session import Step, pluck_strings

    if split:
        name = on[0] if on else job.reference.name
        pickup = job.pickup(name)
        return Step(
            "pluck",
            (name, name),
            string or pluck_strings(job)[0],
            kind="split",
            columns=(0, 1),
            pickups=(name,),
            by_clips=stage == "found" and pickup is not None and not pickup.fitted,
        )
    if gesture is None:
        if on or string or fret or coil or tapped:
            raise LogError("--on, --string, --fret, --coil and --tapped go with --gesture; name the gesture")
        return None
    if not on:
        raise LogError("--gesture: say what is on each input with --on, input 1 first")
    return named_step(job, gesture, on, string=string, fret=fret, tool=tool, coil=coil, tapped=tapped)


def _watches(folder: Path, *, always: bool) -> bool:
    """Whether another recorder of the job was watched; where one records, a person at a terminal is asked."""
    from capture.takes.recording_lock import holder_of, is_recording

    if not always:
        if not (is_recording(folder) and _both_terminals()):
            return False
        if not typer.confirm(ASK_WATCH.format(holder=holder_of(folder)), default=True):
            return False
    _watch(folder)
    return True


def _watch(folder: Path) -> None:
    """Write what another process enters into the job, and what is believed, until nobody records any more."""
    from capture import LOG_FILE
    from capture.takes.folder import JobFolder
    from capture.takes.recording_lock import is_recording
    from reports.messages.session import OVER_THERE, WATCHED, pair_line
    from reports.verdict.building import judge

    seen, size = {e.id for e in JobFolder.open(folder).log.standing}, -1
    told: tuple[str, ...] = ()
    while True:
        now = (folder / LOG_FILE).stat().st_size if (folder / LOG_FILE).exists() else 0
        if now != size:
            size, opened = now, JobFolder.open(folder)
            for entry in (e for e in opened.log.standing if e.id not in seen):
                seen.add(entry.id)
                _line(WATCHED.format(entry=entry.id, kind=entry.kind))
            lines = tuple(pair_line(p) for p in judge(opened).verdict.pairs)
            for line in lines:
                if line not in told:
                    _line(f"  {line}")
            told = lines
        if not is_recording(folder):
            _line(OVER_THERE)
            return
        time.sleep(LOOK_EVERY_S)


def _offer_unfinished(folder: Path, way: str | None) -> None:
    """What a crash left: taken in, set aside, or left where it is, as the person says."""
    from capture.takes.recorder import recover_take, set_aside, unfinished_takes
    from reports.messages.session import TAKEN_IN, WAS_SET_ASIDE, unfinished_plan

    if way is not None and way not in WAYS:
        raise LogError(f'--unfinished: "{way}" is none of {", ".join(WAYS)}')
    for left in unfinished_takes(folder):
        planned = unfinished_plan(left)
        chosen = way
        if chosen is None and _both_terminals():
            chosen = typer.prompt(ASK_LEFT.format(seconds=left.seconds, planned=planned), default="in")
        if chosen == "in":
            typer.echo(TAKEN_IN.format(id=recover_take(left).entry.id))
        elif chosen == "aside":
            typer.echo(WAS_SET_ASIDE.format(path=set_aside(left)))
        else:
            typer.echo(LEFT.format(seconds=left.seconds, planned=planned))


def _warn(fixed: Step | None, allowed: tuple[str, ...]) -> None:
    from reports.messages.cautions import BARE_COIL
    from reports.messages.session import DRIVE_CAUTION
    from reports.messages.setup import BEFORE_PLUGGING_IN

    caution(*BEFORE_PLUGGING_IN)
    if any(row.at_poles for row in ROWS if row.gesture in ((fixed.gesture,) if fixed else allowed)):
        caution(BARE_COIL)
    if fixed and fixed.gesture == "drive":
        caution(DRIVE_CAUTION)


def _both_terminals() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


@contextmanager
def _display() -> Iterator[SessionDisplay]:
    """Large words on a terminal, lines elsewhere; with keys where there is a keyboard."""
    from rich.console import Console
    from rich.live import Live

    from reports.cli.terminal import LineDisplay, ScreenDisplay, requests

    console = Console(highlight=False, markup=False, emoji=False)
    with requests() as next_request:
        if not console.is_terminal:
            yield LineDisplay(_line, next_request)
            return
        with Live(console=console, auto_refresh=False, transient=True) as live:
            yield ScreenDisplay(console, live, next_request)


def _line(text: str) -> None:
    from reports.messages.wording import plain

    typer.echo(plain(text))
    sys.stdout.flush()


def _say_end(folder: Path, result: SessionResult) -> None:
    from reports.messages.session import ending_lines

    if sys.stdout.isatty():
        from rich.console import Console

        from reports.cli.terminal import band_at_end

        console = Console()
        width, height = console.size
        console.print(*band_at_end(result.ending, result.verdict, width=width, height=height), sep="\n")
    for line in ending_lines(
        result.ending, result.verdict, accepted=result.accepted, surface="terminal", folder=str(folder)
    ):
        typer.echo(line)


NOT_INSTALLED = (
    "the bench page needs one more package: pip install 'coilwise[page]' (or, in a checkout, pip install -e "
    "'.[page]'), then try again; everything else works without it"
)

SCREENS_OF_LINUX = ("DISPLAY", "WAYLAND_DISPLAY")


def page(
    *,
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="The job; left out, one is begun or opened on the page.", callback=optional_job_folder
        ),
    ] = None,
    source: InputOption = None,
    inputs: InputsOption = None,
    rate: RateOption = None,
    port: Annotated[
        int | None,
        typer.Option(help="The port on this machine; a free one if left out.", min=1024, max=65535),
    ] = None,
    show: Annotated[bool, typer.Option("--show/--no-show", help="Open it in the browser.")] = True,
) -> None:
    """Open the bench page: the same job, in type that reads from a metre, with no click between takes.

    It answers this machine alone, at the address that is printed. Ctrl-C ends it; nothing recorded is lost.

    Example: coilwise page sunday
    """
    if find_spec("nicegui") is None:
        raise JobError(NOT_INSTALLED)
    from capture.takes.folder import JobFolder
    from reports.page.server.controller import PageController
    from reports.page.serving import serve
    from reports.session.options import RecordingOptions

    if folder is not None:
        JobFolder.open(folder)
    options = RecordingOptions(source=source, inputs=inputs, rate=rate)
    from reports.entry.new_job import jobs_folder

    controller = PageController(folder, options=options, jobs_folder=jobs_folder())
    serve(controller, port=port, show=show, announce=typer.echo)


def page_can_be_had() -> bool:
    """Whether `coilwise` alone opens the page: its library is here, and somebody sits at a screen.

    In a pipe, in a script or over a line without a screen it says what to type instead.
    """
    if find_spec("nicegui") is None or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    return sys.platform != "linux" or any(os.environ.get(screen) for screen in SCREENS_OF_LINUX)
