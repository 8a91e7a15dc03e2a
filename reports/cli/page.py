"""``coilwise page``: the guided session and everything else, on a page in the browser."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import Annotated

import typer

from capture import JobError
from reports.cli.shared import InputOption, InputsOption, RateOption, optional_job_folder

NOT_INSTALLED = (
    "the bench page needs one more package: pip install 'coilwise[page]' (or, in a checkout, pip install -e "
    "'.[page]'), then try again; everything else works without it"
)


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
    from reports.evidence.cache import load_librosa_alone
    from reports.page.server.controller import PageController
    from reports.page.serving import serve
    from reports.session.session import RecordingOptions

    if folder is not None:
        JobFolder.open(folder)
    load_librosa_alone()
    options = RecordingOptions(source=source, inputs=inputs, rate=rate)
    from reports.entry.new_job import jobs_folder

    controller = PageController(folder, options=options, jobs_folder=jobs_folder())
    serve(controller, port=port, show=show, announce=typer.echo)
