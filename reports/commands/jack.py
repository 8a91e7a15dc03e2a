"""``coilwise jack``: a reading in ohms at the jack of a closed guitar, against what it should be."""

from __future__ import annotations

from typing import Annotated

import typer

from capture.errors import LogError
from reports.commands.shared import FolderArgument

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
    from capture.folder import JobFolder
    from reports.cautions import ACTIVE
    from reports.coils.at_jack import expected_kohm, what_it_says, without_each
    from reports.commands.shared import caution
    from reports.jack import measured_kohm
    from reports.words import plain

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
    without = without_each(home.job, wanted, known, volume_kohm=volume)
    caution(ACTIVE)
    typer.echo(plain(what_it_says(expected, _kohm(read), volume_kohm=volume, without=without)))


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
