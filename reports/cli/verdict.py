"""The commands that answer: `verdict`, `report`, `demo`.

Each prints what a function returned. Exit status of `verdict` and `report`: 0 every pair that matters is
settled or likely and nothing contradicts, 3 otherwise.

``coilwise jack``: a reading in ohms at the jack of a closed guitar, against what it should be.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture import LogError
from reports.cli.shared import FolderArgument

if TYPE_CHECKING:
    from reports.verdict.building import Judgement


NOT_CLEAR = 3
DEMO = Path(__file__).resolve().parents[2] / "recordings" / "demo"


def register_verdicts(app: typer.Typer) -> None:
    """Add `verdict`, `report` and `demo` to `app`."""
    for command in (verdict, report, demo):
        app.command()(command)


def verdict(
    folder: FolderArgument,
    json: Annotated[
        bool, typer.Option("--json", help="Print the verdict as JSON, for other programs.")
    ] = False,
) -> None:
    """Say which pickups are in phase, how sure that is, and which leads to exchange.

    Example: coilwise verdict sunday

    The exit status is 0 where every pair that shares a setting is settled or likely, 3 where something is
    unsettled or contradicts, and 2 where the job itself is at fault.
    """
    judged = _judged(folder)
    typer.echo(_as_json(judged) if json else _as_text(judged), nl=json)
    raise typer.Exit(_status(folder, judged))


def report(
    folder: FolderArgument,
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the report; the job's own report folder if left out."),
    ] = None,
) -> None:
    """Write the report that goes with the guitar: a page to print, the same as text, and as JSON.

    Example: coilwise report sunday
    """
    judged = _judged(folder)
    from reports.render.parts import write_judgement

    page = write_judgement(folder, judged, to)
    typer.echo(f"The report is {page}")
    raise typer.Exit(_status(folder, judged))


def demo(
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the demo's report; beside the demo's recordings if left out."),
    ] = None,
) -> None:
    """Run the whole job on an invented bass that got another neck pickup, and write its report.

    Example: coilwise demo
    """
    judged = _judged(DEMO)
    from reports.render.parts import write_judgement

    page = write_judgement(DEMO, judged, to)
    typer.echo(_as_text(judged), nl=False)
    typer.echo(f"\nThe report to print is {page}")


def _judged(folder: Path) -> Judgement:
    from capture.takes.folder import JobFolder
    from reports.evidence.cache import processors
    from reports.verdict.building import judge

    return judge(JobFolder.open(folder), workers=processors())


def _as_text(judged: Judgement) -> str:
    from reports.render.text import as_text

    return as_text(judged.verdict)


def _as_json(judged: Judgement) -> str:
    from reports.render.json import as_json

    return as_json(judged.verdict)


def _status(folder: Path, judged: Judgement) -> int:
    from capture.job import read_job
    from reports.verdict.building import all_clear

    return 0 if all_clear(judged.verdict, read_job(folder)) else NOT_CLEAR


OPEN = "open"


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
    from reports.cli.shared import caution
    from reports.evidence.settings import measured_kohm
    from reports.messages.cautions import ACTIVE
    from reports.messages.sentences import say
    from reports.messages.wording import plain
    from reports.ohms.at_jack import expected_kohm, jack_reading, kohm_without_each

    home = JobFolder.open(folder)
    wanted = home.job.setting(setting)
    if wanted is None:
        raise LogError(
            f'"{setting}" is no setting of this job; there are {", ".join(home.job.setting_names)}'
        )
    known = measured_kohm(home.job, home.log.standing)
    expected = expected_kohm(home.job, wanted, known, volume_kohm=volume)
    if expected is None:
        missing = ", ".join(m.pickup for m in wanted.on if m.pickup not in known)
        raise LogError(
            f"{setting}: the resistance of {missing} is not in the job; enter it with coilwise ohms, or with"
            " coilwise meter and --kohm"
        )
    without = kohm_without_each(home.job, wanted, known, volume_kohm=volume)
    caution(ACTIVE)
    typer.echo(plain(say(jack_reading(expected, _kohm(read), volume_kohm=volume, without=without))))


def _kohm(read: str) -> float | None:
    if read.strip().lower() == OPEN:
        return None
    try:
        kohm = float(read)
    except ValueError:
        kohm = -1.0
    if not 0 <= kohm < float("inf"):
        raise LogError(f'"{read}" is no reading; write kilo-ohm, as 3.4, or: open')
    return kohm
