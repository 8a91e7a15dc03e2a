"""``coilwise inputs``: what can be recorded from, and played through.

``coilwise setup``: the inputs are listened to before anything is recorded.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reports.cli.shared import InputOption, RateOption, leave, optional_job_folder

if TYPE_CHECKING:
    from capture.audio.devices import InputDevice, OutputDevice

    Devices = Sequence[InputDevice] | Sequence[OutputDevice]
    from rich.console import Console

    from capture.audio.setup_check import Part, SetupProgress


TAKEN = "taken unless you say otherwise"
INPUTS = "Inputs"
OUTPUTS = "Outputs, for a driven coil"
DEVICE_HEADS = ("number", "name", "channels", "rate Hz", "host", "")


def inputs() -> None:
    """Show the audio inputs, which one is taken, and the outputs.

    Name another one with --input: its number, its name, or a part of its name.

    Example: coilwise inputs
    """
    from rich.console import Console

    from capture.audio.streams import choose_input, choose_output, list_inputs, list_outputs
    from reports.entry.bench_memory import usual_input
    from reports.render.layout import print_table

    is_terminal = Console().is_terminal
    for title, devices, choose in (
        (INPUTS, list_inputs(), partial(usual_input, choose_input)),
        (OUTPUTS, list_outputs(), choose_output),
    ):
        taken, why_none = _taken(choose)
        if not devices:
            typer.echo(f"{title}: {why_none}")
            continue
        if is_terminal:
            print_table(DEVICE_HEADS, _device_cells(devices, taken=taken), title=title)
        else:
            for line in device_lines(title, devices, taken=taken):
                typer.echo(line)
        if why_none:
            typer.echo(f"None is taken by itself: {why_none}")


def _device_cells(devices: Devices, *, taken: int | None) -> list[tuple[str, ...]]:
    """Return the devices, one a row under `DEVICE_HEADS`; `taken` is the number of the one that is taken."""
    return [
        (str(d.number), d.name, str(d.channels), str(d.rate_hz), d.host, TAKEN if d.number == taken else "")
        for d in devices
    ]


def device_lines(title: str, devices: Devices, *, taken: int | None) -> tuple[str, ...]:
    """Return the same as plain lines."""
    from capture.audio.devices import device_label
    from reports.messages.wording import plain

    rows = (f"  {plain(device_label(d))}{f': {TAKEN}' if d.number == taken else ''}" for d in devices)
    return (f"{title}:", *rows)


def _taken(choose: Callable[[], InputDevice | OutputDevice]) -> tuple[int | None, str]:
    """The number of what is taken without a word; where nothing is, why."""
    from capture.audio.devices import DeviceError

    try:
        return choose().number, ""
    except DeviceError as none:
        return None, str(none)


SECONDS = 6.0
LEAST_S, MOST_S = 4.0, 60.0
FIGURES_S = 0.5
"""Where there is no terminal, levels are written so often."""
READY = "Plug in, damp the strings, then press Enter"


def setup(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="The job, if there is one: its mains frequency is checked, and its split check.",
            callback=optional_job_folder,
        ),
    ] = None,
    source: InputOption = None,
    channels: Annotated[
        int | None,
        typer.Option(
            "--inputs", "--channels", help="How many inputs of the box are used; 2 where it has them.", min=1
        ),
    ] = None,
    rate: RateOption = None,
    seconds: Annotated[
        float,
        typer.Option(help="How long to listen: first to quiet, then to a pluck.", min=LEAST_S, max=MOST_S),
    ] = SECONDS,
) -> None:
    """Listen to the inputs before anything is recorded, and say what is wrong and what to do.

    First keep still, then pluck one string hard when you are asked to. Nothing is kept.

    Example: coilwise setup sunday

    The exit status is 0 where nothing wrong was heard, 3 where something was, 2 where the call is at fault.
    """
    from rich.console import Console

    from capture.audio.devices import device_label
    from capture.audio.setup_check import QUIET_S, run_setup_check
    from capture.audio.streams import choose_input, open_input
    from capture.takes.folder import JobFolder
    from reports.entry.bench_memory import usual_input
    from reports.messages.setup import lacks_split_check, opening_lines, setup_lines
    from reports.messages.wording import plain

    job = None if folder is None else JobFolder.open(folder)
    device = usual_input(choose_input, source)
    for line in opening_lines():
        typer.echo(line)
    console = Console(highlight=False, markup=False, emoji=False)
    if console.is_terminal and sys.stdin.isatty():
        typer.prompt(READY, default="", show_default=False, prompt_suffix=" ")
    with closing(open_input(device, channels=channels, rate=rate)) as stream:
        typer.echo(
            f"Listening to {plain(device_label(device))}: {_inputs(stream.channels)} at {stream.rate} Hz."
        )
        with _telling(console) as told:
            hearing = run_setup_check(
                stream,
                quiet_s=QUIET_S,
                pluck_s=seconds - QUIET_S,
                mains_hz=None if job is None else job.job.mains_hz,
                on_progress=told,
            )
    unsplit = job is not None and lacks_split_check(job.log.standing)
    for line in setup_lines(hearing, split_check_in=folder if unsplit else None):
        typer.echo(line)
    leave(clear=hearing.clear)


def _inputs(channels: int) -> str:
    return f"{channels} input{'s' * (channels != 1)}"


@contextmanager
def _telling(console: Console) -> Iterator[Callable[[SetupProgress], None]]:
    """Bars that move on a terminal, plain lines elsewhere."""
    from reports.messages.setup import level_lines

    if not console.is_terminal:
        yield plain_teller(typer.echo)
        return
    from rich.live import Live
    from rich.text import Text

    with Live(console=console, transient=True, auto_refresh=False) as live:
        yield lambda moment: live.update(Text("\n".join(level_lines(moment))), refresh=True)


def plain_teller(echo: Callable[[str], None]) -> Callable[[SetupProgress], None]:
    """Return what writes a line where another part begins, and the levels every half second of sound."""
    from reports.messages.setup import PART_INSTRUCTIONS, levels_in_words

    part: Part | None = None
    due = 0.0

    def told(moment: SetupProgress) -> None:
        nonlocal part, due
        if moment.part != part:
            part, due = moment.part, moment.left_s - FIGURES_S
            echo(PART_INSTRUCTIONS[moment.part])
        elif moment.left_s <= due:
            due = moment.left_s - FIGURES_S
            echo(f"  {levels_in_words(moment)}")

    return told
