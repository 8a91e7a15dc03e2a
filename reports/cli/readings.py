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
    InsteadOption,
    PickupArgument,
    StageOption,
    ToolOption,
    caution,
    log_entries,
    log_entry,
)

KohmOption = Annotated[
    str | None, typer.Option("--kohm", help="The reading as the meter shows it: 6.6, 6k6, 6600, 250k.")
]


PoleStringOption = Annotated[
    str | None, typer.Option("--string", help="The string over the pole, where poles differ, as in A2.")
]


def meter(
    *,
    folder: FolderArgument,
    pickup: Annotated[
        list[str],
        typer.Argument(
            help="The pickup, by its name in the job. Several readings at once: bridge:rises:6.6k"
            " neck:falls:7k1."
        ),
    ],
    move: Annotated[str, typer.Option(help="away or toward: how the tool moved from or to the pole.")],
    red: Annotated[str, typer.Option(help="Where the red clip is: hot, ground, or a lead's colour.")],
    reading: Annotated[str | None, typer.Option(help="rises, falls or unclear, as it moved.")] = None,
    black: Annotated[str | None, typer.Option(help="The black clip's lead, if red is a colour.")] = None,
    kohm: KohmOption = None,
    tool: ToolOption = None,
    string: PoleStringOption = None,
    clips_anew: ClipsAnewOption = False,
    stage: StageOption = "found",
    instead: InsteadOption = None,
) -> None:
    """Write down which way the ohmmeter swung.

    Unplug the guitar. Hold a steel tool on the pole, pull it away, watch the reading. No ohmmeter into active
    electronics, and tape over bare coil wire before a tool comes near.

    Example: coilwise meter sunday-job bridge --move away --reading rises --red hot --kohm 6.6

    Several at once: coilwise meter sunday-job bridge:rises:6.6k neck:falls:7k1 --move away --red hot
    """
    from capture.job import read_job
    from reports.entry.spelling import black_lead, meter_entry, reading_words, resistance_from
    from reports.messages.cautions import ACTIVE, AMPLIFIER, BARE_COIL, COMMON_GROUND
    from reports.messages.entering import READING_MISSING
    from reports.messages.wording import plain

    at_rest = resistance_from(kohm or "", what="--kohm")
    swings, job = [], read_job(folder)
    for text in pickup:
        name, read, own_kohm = reading_words(text) if job.pickup(text) is None else (text, None, None)
        if (read or reading) is None:
            raise LogError(READING_MISSING.format(pickup=plain(name)))
        swing = meter_entry(
            pickup=name,
            move=move,
            reading=read or reading or "",
            red=red,
            black=black_lead(job.pickup(name), red, black),
            kohm=at_rest if own_kohm is None else own_kohm,
            tool=tool,
            stage=stage,
            anew=clips_anew,
            string=string,
        )
        swings.append(swing)
    fitted = any(p.fitted for p in job.pickups if p.name in {s.pickup for s in swings})
    cautions = (AMPLIFIER, ACTIVE, BARE_COIL, *((COMMON_GROUND,) if fitted else ()))
    log_entries(folder, swings, instead=instead, cautions=cautions)


def ohms(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    first: Annotated[str, typer.Argument(help="One lead: its colour, or hot, ground, shield.")],
    second: Annotated[str, typer.Argument(help="The other lead.")],
    reading: Annotated[
        str | None, typer.Argument(help="The reading as the meter shows it: 4.1, 4k1, 4100, open.")
    ] = None,
    kohm: KohmOption = None,
    no_connection: Annotated[bool, typer.Option("--open", help="The meter shows an open circuit.")] = False,
    stage: StageOption = "found",
    instead: InsteadOption = None,
) -> None:
    """Write down the resistance between two leads.

    Give the reading, or --open where the meter shows nothing at all. No ohmmeter into active electronics.

    Example: coilwise ohms sunday-job neck violet orange 4.1
    """
    from capture.job import read_job
    from reports.entry.spelling import SHIELDS, ohms_entry, open_or_kohm
    from reports.messages.cautions import ACTIVE, AMPLIFIER
    from reports.messages.entering import OHMS_MISSING
    from reports.messages.wording import plain

    if reading is None and kohm is None and not no_connection:
        raise LogError(OHMS_MISSING.format(first=plain(first), second=plain(second)))
    if sum((reading is not None, kohm is not None, no_connection)) != 1:
        raise LogError("give either --kohm with the reading, or --open for an open circuit")
    known = read_job(folder).pickup(pickup)
    ends = {"hot", "ground", *(() if known is None else known.leads)}
    to_shield = bool({first, second} & SHIELDS) or (len(ends) > 2 and not {first, second} <= ends)
    said = reading if reading is not None else kohm
    read = None if said is None else open_or_kohm(said, what="reading", may_be_zero=to_shield)
    entry = ohms_entry(pickup=pickup, first=first, second=second, kohm=read, stage=stage)
    log_entry(folder, entry, instead=instead, cautions=(AMPLIFIER, ACTIVE))


def pole(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    facing: Annotated[str, typer.Argument(help="north or south: the pole that faces the strings.")],
    coil: CoilOption = None,
    string: PoleStringOption = None,
    stage: StageOption = "found",
    instead: InsteadOption = None,
) -> None:
    """Write down which magnet pole faces the strings.

    A compass or a pole tester over the pickup tells. Of a two-coil pickup name the coil. Where poles differ
    along the strings, enter one pole after the other, each with the string over it.

    Example: coilwise pole sunday-job neck north --coil 1
    """
    from reports.entry.spelling import pole_entry

    entry = pole_entry(pickup=pickup, facing=facing, coil=coil, string=string, stage=stage)
    log_entry(folder, entry, instead=instead)


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
    kohm: Annotated[str | None, typer.Option(help="clip-lead: what the meter shows, tip to clip.")] = None,
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
    instead: InsteadOption = None,
) -> None:
    """Write down what you verified on the bench.

    clip-lead: ohmmeter from the tip to a clip, near 0 ohm. tool: a steel tool that lifts a staple is
    magnetised. same-path: files that differ in rate, depth or format came through one recorder all the same.
    held: on which side of the strings a loose pickup was, under or over. bypass: the sign of an active stage,
    once you heard the same signal before and behind it.

    Example: coilwise check sunday-job clip-lead --input 2 --tip red --kohm 0
    """
    from reports.entry.spelling import check_entry, resistance_from
    from reports.messages.cautions import ACTIVE, AMPLIFIER

    entry = check_entry(
        what,
        tip=tip,
        input=on_input,
        rig=rig,
        kohm=resistance_from(kohm or "", what="--kohm", may_be_zero=True),
        tool=tool,
        staple=staple,
        takes=tuple(take or ()),
        pickup=pickup,
        side=side,
        inverts=inverts,
    )
    log_entry(
        folder, entry, instead=instead, cautions=(AMPLIFIER, ACTIVE) if entry.what == "clip lead" else ()
    )


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
    instead: InsteadOption = None,
) -> None:
    """Write down that leads were soldered another way.

    Name every lead that is now hot, ground, link or shield. Earlier evidence still counts, by its leads. A
    change that was forgotten is entered where it belongs: before the first take after it.

    Example: coilwise change sunday-job neck grey=hot violet=ground
    """
    from capture.job import read_job
    from capture.log import read_log
    from reports.entry.changes import change_understood
    from reports.entry.finding import commands_for
    from reports.entry.spelling import change_entry
    from reports.messages.cautions import SHIELD, SOLDERING

    joined = (p for p in read_job(folder).pickups if p.name == pickup and p.shield in ("on ground", None))
    entry = change_entry(pickup=pickup, leads=leads, stage=stage, before=before)
    written = log_entry(folder, entry, instead=instead, cautions=(SOLDERING, *(SHIELD for _ in joined)))
    job = read_job(folder)
    understood = change_understood(job, read_log(folder, job).standing, written)
    typer.echo(commands_for(understood, folder))


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
    entry: Annotated[list[str], typer.Argument(help="The ids of the entries, such as t002, or: last.")],
    why: Annotated[str, typer.Option(help="Why, in your words.")] = "",
    back: Annotated[bool, typer.Option("--back", help="Bring it back: it counts again.")] = False,
) -> None:
    """Take entries out of account, or bring them back.

    Nothing is deleted: entries stay in the log. Voiding a void brings its entry back, as --back does. To
    enter something anew in one go, use --instead with the command that enters it.

    Example: coilwise void sunday-job t002 --why "buzzing fret"

    The last entry: coilwise void sunday-job last. Back again: coilwise void sunday-job t002 --back
    """
    from capture.job import read_job
    from capture.log import append_entries, read_log
    from reports.entry.taking_back import bring_back, entry_named, take_back
    from reports.messages.entering import ENTERED

    log = read_log(folder, read_job(folder))
    for name in entry:
        entry_named(log, name)  # refused before anything is written
    for name in dict.fromkeys(entry):
        log = read_log(folder, read_job(folder))
        asked = bring_back(log, name, why=why) if back else take_back(log, name, why=why)
        written = append_entries(folder, asked.voids) if asked.voids else []
        typer.echo(ENTERED.format(id=written[-1].id, what=asked.says) if written else f"{asked.says}.")


def jack(
    *,
    folder: FolderArgument,
    setting: Annotated[str, typer.Argument(help="The setting of the selector, or a pickup alone.")],
    read: Annotated[str, typer.Argument(help="What the meter read, in kilo-ohm, or: open.")],
    volume: Annotated[
        str | None, typer.Option(help="The volume pot, such as 250k, full up; left out: none.")
    ] = None,
) -> None:
    """Say what a meter's reading at the jack means, from the readings of the pickups in the job.

    Knobs full up, plug of the meter's lead pushed home, amplifier unplugged. Nothing is written down.

    Example: coilwise jack sunday both 3.4 --volume 250
    """
    from capture.takes.folder import JobFolder
    from reports.entry.spelling import open_or_kohm, resistance_from
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
    pot = resistance_from(volume or "", what="--volume")
    measured = measured_kohm(home.job, home.log.standing)
    expected = expected_kohm(home.job, at_jack, measured, volume_kohm=pot)
    if expected is None:
        missing = ", ".join(m.pickup for m in at_jack.on if m.pickup not in measured)
        raise LogError(
            f"{setting}: the resistance of {missing} is not in the job; enter it with coilwise ohms, or with"
            " coilwise meter and --kohm"
        )
    kohm = open_or_kohm(read)
    without = kohm_without_each(home.job, at_jack, measured, volume_kohm=pot)
    caution(ACTIVE)
    typer.echo(plain(say(jack_reading(expected, kohm, volume_kohm=pot, without=without))))
