"""What is read or changed by hand: ``meter``, ``ohms``, ``pole``, ``check``, ``change``, ``void``; ``jack``.

``tag`` writes down which lead a tag was put on. All but ``jack`` write an entry to the log.
"""

from __future__ import annotations

from typing import Annotated

import typer

from capture import LogError
from reports.cli.shared import (
    ClipsAnewOption,
    CoilOption,
    FolderArgument,
    PickupArgument,
    StageOption,
    ToolOption,
    caution,
    log_entry,
)


def meter(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    move: Annotated[str, typer.Option(help="away or toward: how the tool moved from or to the pole.")],
    reading: Annotated[str, typer.Option(help="rises, falls or unclear, as it moved.")],
    red: Annotated[str, typer.Option(help="Where the red clip is: hot, ground, or a lead's colour.")],
    black: Annotated[str | None, typer.Option(help="The black clip's lead, if red is a colour.")] = None,
    kohm: Annotated[float | None, typer.Option(help="The reading at rest, in kilohms.")] = None,
    tool: ToolOption = None,
    clips_anew: ClipsAnewOption = False,
    stage: StageOption = "found",
) -> None:
    """Write down which way the ohmmeter swung.

    Unplug the guitar. Hold a steel tool on the pole, pull it away, watch the reading. No ohmmeter into active
    electronics, and tape over bare coil wire before a tool comes near.

    Example: coilwise meter sunday-job bridge --move away --reading rises --red hot --kohm 6.6
    """
    from capture.job import read_job
    from reports.entry.spelling import meter_entry
    from reports.messages.cautions import ACTIVE, AMPLIFIER, BARE_COIL, COMMON_GROUND

    swing = meter_entry(
        pickup=pickup,
        move=move,
        reading=reading,
        red=red,
        black=black,
        kohm=kohm,
        tool=tool,
        stage=stage,
        anew=clips_anew,
    )
    log_entry(folder, swing)
    fitted = (p for p in read_job(folder).pickups if p.name == pickup and p.fitted)
    caution(AMPLIFIER, ACTIVE, BARE_COIL, *(COMMON_GROUND for _ in fitted))


def ohms(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    first: Annotated[str, typer.Argument(help="One lead: its colour, or hot, ground, shield.")],
    second: Annotated[str, typer.Argument(help="The other lead.")],
    kohm: Annotated[float | None, typer.Option(help="Kilohms between them.")] = None,
    no_connection: Annotated[bool, typer.Option("--open", help="The meter shows an open circuit.")] = False,
    stage: StageOption = "found",
) -> None:
    """Write down the resistance between two leads.

    Give --kohm, or --open where the meter shows nothing at all. No ohmmeter into active electronics.

    Example: coilwise ohms sunday-job neck violet orange --kohm 4.1
    """
    from reports.entry.spelling import ohms_entry
    from reports.messages.cautions import ACTIVE, AMPLIFIER

    if (kohm is None) != no_connection:
        raise LogError("give either --kohm with the reading, or --open for an open circuit")
    log_entry(folder, ohms_entry(pickup=pickup, first=first, second=second, kohm=kohm, stage=stage))
    caution(AMPLIFIER, ACTIVE)


def pole(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    facing: Annotated[str, typer.Argument(help="north or south: the pole that faces the strings.")],
    coil: CoilOption = None,
    stage: StageOption = "found",
) -> None:
    """Write down which magnet pole faces the strings.

    A compass or a pole tester over the pickup tells. Of a two-coil pickup name the coil.

    Example: coilwise pole sunday-job neck north --coil 1
    """
    from reports.entry.spelling import pole_entry

    log_entry(folder, pole_entry(pickup=pickup, facing=facing, coil=coil, stage=stage))


def check(
    *,
    folder: FolderArgument,
    what: Annotated[str, typer.Argument(help="clip-lead, tool, same-path, held or bypass.")],
    tip: Annotated[
        str | None, typer.Option(help="clip-lead: the clip that the tip leads to, red or black.")
    ] = None,
    on_input: Annotated[
        int | None, typer.Option("--input", help="clip-lead: of this input, 1 or 2; left out: all.")
    ] = None,
    rig: Annotated[str | None, typer.Option(help="clip-lead: of this rig, as at its takes.")] = None,
    kohm: Annotated[float | None, typer.Option(help="clip-lead: kilohms from tip to clip.")] = None,
    tool: Annotated[str | None, typer.Option(help="tool: which one, as at its takes.")] = None,
    staple: Annotated[str | None, typer.Option(help='tool: "not lifted" or "lifted".')] = None,
    take: Annotated[
        list[str] | None, typer.Option(help="same-path: the id of a take of each of the recorders.")
    ] = None,
    pickup: Annotated[str | None, typer.Option(help="held, bypass: the pickup.")] = None,
    side: Annotated[
        str | None, typer.Option(help="held: under the strings (between them and the body), or over.")
    ] = None,
    inverts: Annotated[
        bool | None, typer.Option("--inverts/--no-inverts", help="bypass: whether the stage turns it over.")
    ] = None,
) -> None:
    """Write down what you verified on the bench.

    clip-lead: ohmmeter from the tip to a clip, near 0 ohm. tool: a steel tool that lifts a staple is
    magnetised. same-path: files that differ in rate, depth or format came through one recorder all the same.
    held: on which side of the strings a loose pickup was, under or over. bypass: the sign of an active stage,
    once you heard the same signal before and behind it.

    Example: coilwise check sunday-job clip-lead --input 2 --tip red --kohm 0
    """
    from reports.entry.spelling import check_entry
    from reports.messages.cautions import ACTIVE, AMPLIFIER

    entry = check_entry(
        what,
        tip=tip,
        input=on_input,
        rig=rig,
        kohm=kohm,
        tool=tool,
        staple=staple,
        takes=tuple(take or ()),
        pickup=pickup,
        side=side,
        inverts=inverts,
    )
    log_entry(folder, entry)
    if entry.what == "clip lead":
        caution(AMPLIFIER, ACTIVE)


def change(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    leads: Annotated[
        list[str], typer.Argument(help="Leads as they are from here on: grey=hot violet=ground.")
    ],
    stage: StageOption = "after",
    before: Annotated[
        str | None,
        typer.Option(help="The id of the entry before which it was made; left out: after all of them."),
    ] = None,
) -> None:
    """Write down that leads were soldered another way.

    Name every lead that is now hot, ground, link or shield. Earlier evidence still counts, by its leads. A
    change that was forgotten is entered where it belongs: before the first take after it.

    Example: coilwise change sunday-job neck grey=hot violet=ground
    """
    from capture.job import read_job
    from reports.entry.spelling import change_entry
    from reports.messages.cautions import SHIELD, SOLDERING

    log_entry(folder, change_entry(pickup=pickup, leads=leads, stage=stage, before=before))
    joined = (p for p in read_job(folder).pickups if p.name == pickup and p.shield in ("on ground", None))
    caution(SOLDERING, *(SHIELD for _ in joined))


def tag(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    take: Annotated[
        str | None,
        typer.Option(help="The take whose clips are still on, such as t005; the latest if left out."),
    ] = None,
) -> None:
    """Write down that a tag is on the lead under the tip's clip.

    Put it on a loose pickup's lead before unclipping. The answer is then about the tagged lead: no colour
    that was read wrongly and no clip that went on the wrong lead can turn it.

    Example: coilwise tag sunday-job neck
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import tag_entry
    from reports.evidence.leads import lead_history
    from reports.messages.session import tag_text

    home = JobFolder.open(folder)
    written = log_entry(folder, tag_entry(home.job, home.log, pickup=pickup, take=take))
    on = lead_history(home.job, [*home.log.standing, written]).tag_of(pickup)
    if on is not None:
        typer.echo(tag_text(pickup, take=on.take, sealed=on.sealed))


def void(
    *,
    folder: FolderArgument,
    entry: Annotated[str, typer.Argument(help="The id of the entry, such as t002.")],
    why: Annotated[str, typer.Option(help="Why, in your words.")] = "",
) -> None:
    """Take an entry out of account.

    Nothing is deleted: the entry stays in the log, and voiding the void brings it back.

    Example: coilwise void sunday-job t002 --why "buzzing fret"
    """
    from reports.entry.spelling import void_entry

    log_entry(folder, void_entry(entry=entry, why=why))


def jack(
    *,
    folder: FolderArgument,
    setting: Annotated[str, typer.Argument(help="The setting of the selector, or a pickup alone.")],
    read: Annotated[str, typer.Argument(help="What the meter read, in kilo-ohm, or: open.")],
    volume: Annotated[
        float | None, typer.Option(help="The volume pot, in kilo-ohm, full up; left out: none.", min=1.0)
    ] = None,
) -> None:
    """Say what a meter's reading at the jack means, from the readings of the pickups in the job.

    Knobs full up, plug of the meter's lead pushed home, amplifier unplugged. Nothing is written down.

    Example: coilwise jack sunday both 3.4 --volume 250
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import open_or_kohm
    from reports.evidence.settings import measured_kohm
    from reports.messages.cautions import ACTIVE
    from reports.messages.sentences import say
    from reports.messages.wording import plain
    from reports.ohms.readings import expected_kohm, jack_reading, kohm_without_each

    home = JobFolder.open(folder)
    at_jack = home.job.setting(setting)
    if at_jack is None:
        raise LogError(
            f'"{setting}" is no setting of this job; there are {", ".join(home.job.setting_names)}'
        )
    measured = measured_kohm(home.job, home.log.standing)
    expected = expected_kohm(home.job, at_jack, measured, volume_kohm=volume)
    if expected is None:
        missing = ", ".join(m.pickup for m in at_jack.on if m.pickup not in measured)
        raise LogError(
            f"{setting}: the resistance of {missing} is not in the job; enter it with coilwise ohms, or with"
            " coilwise meter and --kohm"
        )
    kohm = open_or_kohm(read)
    without = kohm_without_each(home.job, at_jack, measured, volume_kohm=volume)
    caution(ACTIVE)
    typer.echo(plain(say(jack_reading(expected, kohm, volume_kohm=volume, without=without))))
