"""``coilwise new``: a new job folder, from options or by asking."""

from __future__ import annotations

from typing import Annotated

import typer


def new(
    *,
    folder: Annotated[
        str, typer.Argument(help="The folder to make. A bare name goes under recordings/, if there is one.")
    ],
    title: Annotated[str, typer.Option(help="What stands on the ticket, in your words.")] = "",
    pickup: Annotated[
        list[str] | None,
        typer.Option(
            help="A pickup, name first: bridge:44 gives the millimetres from the saddle. Add :coils=2, :loose"
            " (not wired in yet), :turnable (its magnet), :hot=violet, :ground=grey, :link=orange/brown,"
            " :shield=on ground. Once for each pickup."
        ),
    ] = None,
    setting: Annotated[
        list[str] | None,
        typer.Option(
            help="What a selector position joins: both=bridge+neck. Add :series, :out of phase or :quiet;"
            " neck/1 is one coil. A pickup alone needs no setting of its own."
        ),
    ] = None,
    scale_mm: Annotated[float | None, typer.Option(help="Scale length in millimetres.")] = None,
    mains: Annotated[int | None, typer.Option(help="Mains frequency where you are, 50 or 60.")] = None,
    string: Annotated[
        list[str] | None, typer.Option(help="An open string, low to high: E2. Once for each.")
    ] = None,
) -> None:
    """Start a job: a folder for one guitar.

    Say what is on the bench with options, or give the folder alone and answer the questions. What you do not
    know you leave out; job.toml in the folder is a plain text file to add it later.

    Example: coilwise new sunday-job --pickup bridge:44 --pickup neck:168:loose --setting both=bridge+neck
    """
    from capture.job_writing import new_job
    from reports.commands.asking import ask
    from reports.commands.spelling import pickup_from, setting_from
    from reports.entry_places import new_place, place_for_jobs

    place = new_place(folder, under=place_for_jobs())
    if pickup:
        pickups = [pickup_from(text) for text in pickup]
        settings = [setting_from(text) for text in setting or []]
    else:
        answers = ask(title=title, scale_mm=scale_mm, mains_hz=mains, strings=string or [])
        title, scale_mm, mains, string = answers.title, answers.scale_mm, answers.mains_hz, answers.strings
        pickups = answers.pickups
        settings = [setting_from(text) for text in setting] if setting else answers.settings
    job = new_job(
        place,
        title=title or place.name,
        pickups=pickups,
        settings=settings,
        scale_mm=scale_mm,
        mains_hz=mains,
        strings=string or [],
    )
    typer.echo(f"{place}: made, with {', '.join(p.name for p in job.pickups)}.")
    typer.echo(f'Next: "coilwise record {place}", or enter what you have with coilwise take, meter or ohms.')
