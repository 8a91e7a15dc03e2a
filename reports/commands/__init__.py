"""The commands with which things are entered at the bench; `register(app)` puts them on the main command.

Only typer is imported on the way to a help text; what a command needs it imports when it runs.
"""

from __future__ import annotations

import typer

from reports.commands.bring import bring
from reports.commands.inputs import inputs
from reports.commands.jack import jack
from reports.commands.listing import list_job
from reports.commands.new import new
from reports.commands.page import page
from reports.commands.readings import change, meter, ohms, pole, void
from reports.commands.record import record
from reports.commands.setup import setup
from reports.commands.summary import summary
from reports.commands.take import take


def register(app: typer.Typer) -> None:
    """Add the commands of the bench to `app`."""
    for command in (new, inputs, setup, record, page, take, bring, meter, ohms, jack, pole, change, void):
        app.command()(command)
    app.command(name="list")(list_job)
    app.command()(summary)
