"""``coilwise new``, from options or by asking, and ``coilwise list``, the job and its log as tables.

When asked, an empty answer leaves a thing out, and a wrong one is asked again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from capture import JobError
from reports.cli.shared import FolderArgument

if TYPE_CHECKING:
    from capture.job import Pickup, Setting

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Answers:
    """What was answered, options included."""

    title: str
    scale_mm: float | tuple[float, ...] | None
    mains_hz: int | None
    strings: list[str | tuple[str, ...]]
    pickups: list[Pickup]
    settings: list[Setting]


def ask(
    *,
    title: str,
    scale_mm: float | tuple[float, ...] | None,
    mains_hz: int | None,
    strings: list[str | tuple[str, ...]],
) -> Answers:
    """Ask for everything that was not given."""
    from reports.entry.lengths import lengths_from, open_strings
    from reports.entry.spelling import mains_from, setting_from

    return Answers(
        title=title or _line("Title of the job"),
        scale_mm=_asked('Scale length, as 648 or 25.5"', lengths_from) if scale_mm is None else scale_mm,
        mains_hz=_asked("Mains, 50 or 60 Hz", mains_from) if mains_hz is None else mains_hz,
        strings=strings or _asked("Open strings, low to high, as in E2 A2 D3", open_strings),
        pickups=_pickups(),
        settings=_many("Setting, as in both=bridge+neck (Enter: no more)", setting_from),
    )


def _pickups() -> list[Pickup]:
    from reports.entry.spelling import pickup_from

    question = "Pickup, as in bridge:44 or neck:168:coils=2:loose (Enter: no more)"
    while not (pickups := _many(question, pickup_from)):
        typer.echo("One pickup at least.")
    return pickups


def _many(question: str, read: Callable[[str], Answer]) -> list[Answer]:
    found: list[Answer] = []
    while text := _line(question):
        try:
            found.append(read(text))
        except JobError as error:
            typer.echo(str(error))
    return found


def _asked(question: str, read: Callable[[str], Answer]) -> Answer:
    while True:
        try:
            return read(_line(f"{question} (Enter: not known)"))
        except JobError as error:
            typer.echo(str(error))


def _line(question: str) -> str:
    return str(typer.prompt(question, default="", show_default=False)).strip()


def new(
    *,
    folder: Annotated[
        str, typer.Argument(help="The folder to make. A bare name goes under recordings/, if there is one.")
    ],
    title: Annotated[str, typer.Option(help="What stands on the ticket, in your words.")] = "",
    pickup: Annotated[
        list[str] | None,
        typer.Option(
            help="A pickup, name first: bridge:44 is 44 mm from the saddle, bridge:1.75in inches."
            " Add :coils=2, :loose (not wired in yet), :turnable (its magnet), :active (a battery),"
            " :hot=violet, :ground=grey, :link=orange/brown, :shield=on ground, :turns=8000. Built otherwise"
            " than coil beside coil: :build=stacked (halves, dummy), :upper=white, :poles=alternate."
            " Once for each pickup."
        ),
    ] = None,
    setting: Annotated[
        list[str] | None,
        typer.Option(
            help="What a selector position joins: both=bridge+neck. Add :series, :out of phase or :quiet;"
            " neck/1 is one coil. A pickup alone needs no setting of its own."
        ),
    ] = None,
    scale: Annotated[
        str | None, typer.Option("--scale", "--scale-mm", help='Scale length: 648, 648mm or 25.5".')
    ] = None,
    mains: Annotated[str | None, typer.Option(help="Mains frequency where you are, 50 or 60.")] = None,
    string: Annotated[
        list[str] | None, typer.Option(help="An open string, low to high: E2. Once for each.")
    ] = None,
    volumes: Annotated[
        bool, typer.Option("--volumes", help="A volume for each pickup, and no selector.")
    ] = False,
) -> None:
    """Start a job: a folder for one guitar.

    Say what is on the bench with options, or give the folder alone and answer the questions. What you do not
    know you leave out; job.toml in the folder is a plain text file to add it later.

    Example: coilwise new sunday-job --pickup bridge:44 --pickup neck:168:loose --setting both=bridge+neck
    """
    from capture.job.writing import new_job
    from reports.entry.bench_memory import remember_bench, remembered_bench
    from reports.entry.finding import quoted
    from reports.entry.lengths import lengths_from, open_strings
    from reports.entry.new_job import jobs_folder, new_job_folder
    from reports.entry.spelling import mains_from, pickup_from, setting_from
    from reports.render.tables import pickup_place

    place = new_job_folder(folder, under=jobs_folder())
    strings = open_strings(" ".join(string or []))
    scale_mm, mains_hz = lengths_from(scale or "", what="--scale"), mains_from(mains or "")
    if pickup:
        pickups = [pickup_from(text) for text in pickup]
        settings = [setting_from(text) for text in setting or []]
    else:
        answers = ask(title=title, scale_mm=scale_mm, mains_hz=mains_hz, strings=strings)
        title, scale_mm, mains_hz, strings = (
            answers.title,
            answers.scale_mm,
            answers.mains_hz,
            answers.strings,
        )
        pickups = answers.pickups
        settings = [setting_from(text) for text in setting] if setting else answers.settings
    remember_bench(mains_hz=mains_hz)
    job = new_job(
        place,
        title=title or place.name,
        pickups=pickups,
        settings=settings,
        scale_mm=scale_mm,
        mains_hz=mains_hz or remembered_bench().mains_hz,
        strings=strings,
        control="volumes" if volumes else None,
    )
    typer.echo(f"{place}: made, with {', '.join(pickup_place(p) for p in job.pickups)}.")
    named = quoted(place)
    typer.echo(f"Next: coilwise record {named}, or enter what you have with coilwise take, meter or ohms.")


BUILT = "{name}: {built}. What was recorded is judged by it from here on."
AS_USUAL = "built as usual, each coil with a row of poles"


def unusual(
    *,
    folder: FolderArgument,
    pickup: Annotated[str, typer.Option(help="The pickup, by its name in the job.")],
    build: Annotated[
        str | None, typer.Option(help="stacked, halves or dummy; side by side takes all back.")
    ] = None,
    upper: Annotated[
        str | None, typer.Option(help="Of stacked coils the upper one: 1, 2, or the colour of a lead of it.")
    ] = None,
    under: Annotated[
        str | None, typer.Option(help='Of halves, the strings over each: "E1 A1 / D2 G2".')
    ] = None,
    poles: Annotated[
        str | None, typer.Option(help='alternate, alike, or string by string, low to high: "N S N S N S".')
    ] = None,
    circuit: Annotated[
        str | None,
        typer.Option(
            help='How its coils are joined: "1 + 2" in series, "1 | 2" in parallel, "1 + (2 | 22n)", "1@60%".'
        ),
    ] = None,
    coil_kohm: Annotated[
        str | None, typer.Option("--coil-kohm", help='Kilo-ohm of each coil, coil 1 first: "4.1 4.0".')
    ] = None,
    source: Annotated[
        str | None, typer.Option(help="piezo or microphone, where it is no magnetic pickup.")
    ] = None,
    stage: Annotated[
        str | None, typer.Option(help="keeps or inverts: what the diagram of its active stage says.")
    ] = None,
    shelf: Annotated[
        str | None, typer.Option(help="It is a reference coil of the bench: its name in every job.")
    ] = None,
    always: Annotated[
        bool | None,
        typer.Option("--always/--switched", help="It is wired straight to hot, always on."),
    ] = None,
) -> None:
    """Say that a pickup is built, or wired inside, otherwise than coil beside coil in series.

    Stacked: one coil above the other around one row of poles. Halves: two coils, each under its own strings.
    Dummy: a coil without magnet, against hum alone. Poles may face up and down by turns.

    Example: coilwise unusual sunday-job --pickup neck --build stacked --upper white
    """
    from pathlib import Path

    from reports.entry.changed_job import say_build
    from reports.entry.spelling import YES, placed_text, unusual_text

    given = {"build": build, "upper": upper, "under": under, "poles": poles}
    given |= {"circuit": circuit, "coil_kohm": coil_kohm, "source": source, "stage": stage, "shelf": shelf}
    given |= {"always": None if always is None else YES if always else ""}
    job = say_build(Path(folder), pickup, {key: text for key, text in given.items() if text is not None})
    made = job.pickup(pickup)
    texts = {} if made is None else {**unusual_text(made), **placed_text(made)}
    said = [f"{key} {text}" for key, text in texts.items() if text]
    typer.echo(BUILT.format(name=pickup, built=", ".join(said) or AS_USUAL))


NO_ENTRIES = "Nothing has been entered yet."


def list_job(folder: FolderArgument) -> None:
    """Show the job: pickups, settings and all entries.

    Voided entries are marked. A recording that cannot be used says why.

    Example: coilwise list sunday-job
    """
    from capture.takes.folder import JobFolder
    from reports.messages.sentences import say
    from reports.messages.wording import plain
    from reports.model.take_notes import FileNote
    from reports.render.layout import print_table
    from reports.render.tables import (
        LOG_HEADS,
        PICKUP_HEADS,
        SETTING_HEADS,
        log_cells,
        pickup_cells,
        setting_cells,
    )

    job = JobFolder.open(folder)
    remarks = {t.entry.id: say(FileNote(t.problem)) for t in job.takes() if t.problem}
    typer.echo(plain(job.job.title))
    print_table(PICKUP_HEADS, pickup_cells(job.job), title="Pickups")
    if job.job.settings:
        print_table(SETTING_HEADS, setting_cells(job.job), title="Settings")
    if job.log.entries:
        print_table(LOG_HEADS, log_cells(job.log, remarks), title="Log")
    else:
        typer.echo(NO_ENTRIES)
    for warning in job.log.warnings:
        typer.echo(f"Warning: {plain(warning)}")
