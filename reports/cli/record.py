"""``coilwise record``: the guided session, with both hands on the guitar."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, get_args

import typer

from capture import LogError
from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    InputOption,
    InputsOption,
    RateOption,
    StageOption,
    ToolOption,
    caution,
)
from reports.cli.verdict import NOT_CLEAR
from reports.model.gestures import GESTURES, MOST_TAKES

if TYPE_CHECKING:
    from rich.console import Console

    from capture.audio.streams import InputStream
    from capture.job import Job
    from capture.takes.hands_free import Wish
    from reports.model.session import Step
    from reports.session.session import Ended, Face, Options


LEFT = (
    "A recording that was not finished lies here ({seconds:.1f} s, {planned}). It is kept; start on a "
    "terminal to be asked, or say --unfinished in or --unfinished aside."
)
ASK_LEFT = "A recording that was not finished lies here ({seconds:.1f} s, {planned}): in, aside or leave?"
WAYS = ("in", "aside", "leave")
READY = "Plug in, damp the strings, then press Enter; after that no key is needed"


def record(
    *,
    folder: FolderArgument,
    source: InputOption = None,
    inputs: InputsOption = None,
    rate: RateOption = None,
    only: Annotated[str, typer.Option(help="Gestures that may be asked for.")] = ",".join(GESTURES),
    most: Annotated[int, typer.Option(help="End after so many takes.", min=1)] = MOST_TAKES,
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
    from capture.audio.streams import choose_input, open_input
    from capture.log.entries import Stage
    from capture.takes.folder import JobFolder
    from capture.takes.recorder import check_fields
    from reports.messages.session import LISTENING, LOOKING
    from reports.messages.wording import plain
    from reports.session.session import Options, inputs_wanted, look_at_setup, most_columns

    job = JobFolder.open(folder).job
    allowed = _gestures(only)
    device = choose_input(source)
    most_inputs = min(2, device.channels)
    count = inputs or most_inputs
    if count > most_inputs:
        raise LogError(f"--inputs: {count} inputs, and {plain(device_label(device))} has {most_inputs}")
    fixed = _named(job, gesture, on or [], string=string, fret=fret, coil=coil, tool=tool, split=split)
    if clips_anew:
        if fixed is None:
            raise LogError("--clips-anew goes with --gesture or --split; name the take")
        fixed = replace(fixed, anew=True)
    if stage not in get_args(Stage):
        raise LogError(f'--stage: "{stage}" is none of {", ".join(get_args(Stage))}')
    after = stage == "after"
    wanted = (
        inputs_wanted(job, inputs=count, gestures=allowed, after=after)
        if fixed is None
        else most_columns([fixed])
    )
    if wanted > count:
        raise LogError(f"--on: {wanted} inputs are named, and {count} is used")
    if fixed is not None:
        check_fields(folder, replace(fixed, stage="after" if after else "found", rig=rig), wanted)
    _offer_unfinished(folder, unfinished)
    _warn(fixed, allowed)
    if _both_terminals():
        typer.prompt(READY, default="", show_default=False, prompt_suffix=" ")
    from reports.evidence.cache import load_librosa_alone
    from reports.session.session import fixed_steps

    load_librosa_alone()
    options = Options(
        inputs=count,
        stage="after" if after else "found",
        rig=rig or device.name,
        tool=tool,
        gestures=allowed,
        most=most,
        fixed=fixed_steps(fixed, times=times) if fixed else (),
    )
    with closing(open_input(device, channels=wanted, rate=rate)) as stream, _face() as face:
        said = {"input": plain(device_label(device)), "count": wanted, "rate": stream.rate}
        face.word(LISTENING.format(**said))
        if fixed is None:
            face.word(LOOKING)
            for line in look_at_setup(stream, job, surface="terminal"):
                face.word(line)
        if fixed is not None and fixed.gesture == "drive":
            options = _with_drive(options, stream, folder, face, output)
        ended = _run(folder, stream, face, options)
    _say_end(folder, ended)
    raise typer.Exit(_status(folder, ended))


def _run(folder: Path, stream: InputStream, face: Face, options: Options) -> Ended:
    from reports.session.session import Session

    return Session(folder, stream, face, options).run()


def _gestures(only: str) -> tuple[str, ...]:
    wanted = tuple(word.strip() for word in only.split(",") if word.strip())
    for word in wanted:
        if word not in GESTURES:
            raise LogError(f'--only: "{word}" is none of {", ".join(GESTURES)}')
    if not wanted:
        raise LogError(f"--only: names no gesture; there are {', '.join(GESTURES)}")
    return wanted


def _named(
    job: Job,
    gesture: str | None,
    on: list[str],
    *,
    string: str | None,
    fret: int,
    coil: int | None,
    tool: str | None,
    split: bool,
) -> Step | None:
    """The step that the person named; None where the session is to choose."""
    from dsp.live.watching import plan_for
    from reports.entry.spelling import input_from, take_fields
    from reports.model.session import Step, pluck_strings

    if split:
        name = on[0] if on else job.reference.name
        return Step(
            "pluck",
            (name, name),
            string or pluck_strings(job)[0],
            kind="split",
            columns=(0, 1),
            pickups=(name,),
        )
    if gesture is None:
        if on or string or fret or coil:
            raise LogError("--on, --string, --fret and --coil go with --gesture; name the gesture")
        return None
    plan_for(gesture)
    if not on:
        raise LogError("--gesture: say what is on each input with --on, input 1 first")
    inputs = [input_from(text, job) for text in on]
    fields = take_fields(gesture, inputs, string=string, fret=fret, tool=tool, coil=coil)
    return Step(**vars(fields), kind="in turn", columns=tuple(range(len(on))), pickups=())


def _offer_unfinished(folder: Path, way: str | None) -> None:
    """What a crash left: taken in, set aside, or left where it is, as the person says."""
    from capture.takes.recorder import set_aside, take_in, unfinished
    from reports.messages.session import TAKEN_IN, WAS_SET_ASIDE
    from reports.session.session import planned_words

    if way is not None and way not in WAYS:
        raise LogError(f'--unfinished: "{way}" is none of {", ".join(WAYS)}')
    for left in unfinished(folder):
        planned = planned_words(left)
        chosen = way
        if chosen is None and _both_terminals():
            chosen = typer.prompt(ASK_LEFT.format(seconds=left.seconds, planned=planned), default="in")
        if chosen == "in":
            typer.echo(TAKEN_IN.format(id=take_in(left).entry.id))
        elif chosen == "aside":
            typer.echo(WAS_SET_ASIDE.format(path=set_aside(left)))
        else:
            typer.echo(LEFT.format(seconds=left.seconds, planned=planned))


def _warn(fixed: Step | None, allowed: tuple[str, ...]) -> None:
    from reports.messages.cautions import BARE_COIL
    from reports.messages.session import DRIVE_CAUTION
    from reports.messages.setup import BEFORE_PLUGGING_IN

    caution(*BEFORE_PLUGGING_IN)
    if (fixed and fixed.gesture in ("lift", "touch", "drive")) or (not fixed and "lift" in allowed):
        caution(BARE_COIL)
    if fixed and fixed.gesture == "drive":
        caution(DRIVE_CAUTION)


def _with_drive(
    options: Options, stream: InputStream, folder: Path, face: Face, output: str | None
) -> Options:
    from dataclasses import replace

    from capture.audio.streams import choose_output
    from capture.takes.hands_free import drive_once

    device = choose_output(output)
    return replace(
        options,
        drive=lambda said, columns, _: drive_once(
            stream, folder, said, columns=columns, output=device, told=face.notice, asked=face.asked
        ),
    )


def _both_terminals() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


@contextmanager
def _face() -> Iterator[Face]:
    """Large words on a terminal, lines elsewhere; with keys where there is a keyboard."""
    from rich.console import Console

    from reports.cli.terminal import wishes
    from reports.session.session import PlainFace

    console = Console(highlight=False, markup=False, emoji=False)
    with wishes() as asked:
        if not console.is_terminal:
            yield PlainFace(_line, asked)
            return
        with _live(console, asked) as face:
            yield face


@contextmanager
def _live(console: Console, asked: Callable[[], Wish | None]) -> Iterator[Face]:
    from rich.live import Live

    from reports.cli.terminal import ScreenFace

    with Live(console=console, auto_refresh=False, transient=True) as live:
        yield ScreenFace(console, live, asked)


def _line(text: str) -> None:
    from reports.messages.wording import plain

    typer.echo(plain(text))
    sys.stdout.flush()


def _say_end(folder: Path, ended: Ended) -> None:
    from reports.messages.session import ending_lines

    for line in ending_lines(ended.why, ended.verdict, accepted=ended.accepted, folder=str(folder)):
        typer.echo(line)


def _status(folder: Path, ended: Ended) -> int:
    from capture.job import read_job
    from reports.verdict.building import all_clear

    return 0 if all_clear(ended.verdict, read_job(folder)) else NOT_CLEAR
