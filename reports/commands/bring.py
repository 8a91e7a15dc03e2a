"""``coilwise bring``: recordings made elsewhere, cut at their onsets into takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from capture.errors import LogError, RecordingError
from reports.commands.shared import CoilOption, FolderArgument, StageOption, ToolOption

if TYPE_CHECKING:
    from rich.table import Table

    from capture.bringing import Brought
    from capture.cutting import Cut, Found, Played

PICTURE = ".svg"
HEADS = ("onset", "file", "at s", "level dB", "take s", "taken for")
DOUBTS = {
    "soft": "too soft to count",
    "still ringing": "over a string that rang on",
    "other gesture": "looks like the other gesture",
}
LEFT_OUT = "left out"
NOT_SHARED_OUT = "an onset"


def bring(
    *,
    folder: FolderArgument,
    audio: Annotated[
        list[Path],
        typer.Argument(help="One long recording, or many in the order they were made. Yours stay."),
    ],
    order: Annotated[
        str,
        typer.Option(
            help='What was played, in order, and how often: "neck 5, both 5, bridge 5". With the string:'
            ' "neck D3 5", at fret 5 "neck D3/5 5". Two inputs: "neck|bridge 5", "neck|nothing 5". A selector'
            ' that was turned: "bridge>both>neck 3".'
        ),
    ],
    gesture: Annotated[str, typer.Option(help="What was done: pluck, press, lift, touch or switch.")],
    string: Annotated[
        str | None, typer.Option(help="The open string that was played, where the order does not say: D3.")
    ] = None,
    fret: Annotated[int, typer.Option(help="Where it was stopped; 0 is open.")] = 0,
    leave_out: Annotated[
        list[str] | None,
        typer.Option(help='Onsets that are no takes, by their numbers in the list: "3,7". Can be repeated.'),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show where it would be cut; nothing is written down.")
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Draw the recording with its cuts into this file, an SVG.")
    ] = None,
    stage: StageOption = "found",
    rig: Annotated[
        str | None, typer.Option(help="Box and cable, in your words; the same words for the same rig.")
    ] = None,
    tool: ToolOption = None,
    coil: CoilOption = None,
) -> None:
    """Bring recordings from elsewhere: each is cut where a string or the tool begins to sound.

    Where the number of onsets does not fit the order, they are listed and nothing is written down. Look at it
    first with --dry-run and --picture.

    Example: coilwise bring sunday long.wav --order "neck 5, both 5, bridge 5" --gesture pluck --string D3
    """
    from capture.bench_log import Gesture, Stage
    from capture.bringing import Saying, bring_in, check_order, listen
    from capture.cutting import cut, found
    from capture.folder import JobFolder
    from capture.job_models import CoilNumber
    from reports.commands.order_spelling import order_from

    job = JobFolder.open(folder)
    played = order_from(order, job.job, string=string, fret=fret)
    left_out = _numbers(leave_out or [])
    saying = Saying(stage=cast(Stage, stage), rig=rig, tool=tool, coil=cast(CoilNumber, coil))
    if picture is not None and picture.suffix.lower() != PICTURE:
        raise LogError(f"{picture}: the picture is an SVG; give it a name that ends in {PICTURE}")
    what = check_order(job.job, audio, played, gesture=cast(Gesture, gesture), saying=saying)
    with _progress(audio) as progress:
        recordings = listen(audio, played, gesture=what, mains_hz=job.job.mains_hz, progress=progress)
    onsets = found(recordings, gesture=what, left_out=left_out)
    try:
        cuts = cut(onsets, recordings, played, gesture=what)
    except RecordingError:
        _show(onsets, (), title="Onsets found")
        _draw(picture, onsets, ())
        raise
    _show(onsets, cuts, title="Cuts" if dry_run else "Brought in")
    _draw(picture, onsets, cuts)
    if dry_run:
        typer.echo(f"A dry run: nothing was written down. {len(cuts)} takes would be.")
        return
    for one in bring_in(job, cuts, gesture=what, saying=saying):
        typer.echo(told(one))


def cuts_table(onsets: Sequence[Found], cuts: Sequence[Cut], *, title: str) -> Table:
    """Return the onsets, one a row, with the seconds of their takes and what each was taken for."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    from reports.words import plain

    table = Table(*HEADS, title=title, title_justify="left", box=SIMPLE_HEAD)
    for row in cuts_rows(onsets, cuts):
        table.add_row(*(Text(plain(cell), overflow="fold") for cell in row))
    return table


def cuts_rows(onsets: Sequence[Found], cuts: Sequence[Cut]) -> list[tuple[str, ...]]:
    """Return the cells under `HEADS`, one row an onset."""
    by_number = {c.onset.number: c for c in cuts}
    return [_row(onset, by_number.get(onset.number)) for onset in onsets]


def _row(onset: Found, one: Cut | None) -> tuple[str, ...]:
    rate = onset.heard.header.rate
    return (
        str(onset.number),
        onset.heard.path.name,
        f"{onset.at_s:.2f}",
        f"{onset.level_db:.0f}",
        f"{one.start / rate:.2f}-{one.stop / rate:.2f}" if one else "-",
        taken_for(onset, one),
    )


def cuts_picture(onsets: Sequence[Found], cuts: Sequence[Cut]) -> str:
    """Return the recordings with their cuts, drawn: the text of an SVG. It takes a second."""
    from reports.bring_plot import Mark, Strip, bring_figure

    by_number = {c.onset.number: c for c in cuts}
    strips = []
    for heard in dict.fromkeys(o.heard for o in onsets):
        rate = heard.header.rate
        marks = tuple(
            Mark(
                o.number,
                o.at_s,
                (c.start / rate, c.stop / rate) if (c := by_number.get(o.number)) else None,
                taken_for(o, by_number.get(o.number)),
            )
            for o in onsets
            if o.heard is heard
        )
        strips.append(Strip(heard.path.name, heard.seconds, heard.envelope, marks))
    return bring_figure(tuple(strips))


def taken_for(onset: Found, one: Cut | None) -> str:
    """Return what an onset was taken for: what was played, or why it is no take."""
    if onset.left_out:
        return LEFT_OUT
    if onset.doubt is not None:
        return DOUBTS[onset.doubt]
    return spoken(one.played) if one else NOT_SHARED_OUT


def spoken(played: Played) -> str:
    """Return what was played in a few words: inputs, string and fret."""
    from reports.commands.listing import spoken_input

    inputs = " | ".join(spoken_input(item) for item in played.inputs)
    fret = f" fret {played.fret}" if played.fret else ""
    return f"{inputs}, {played.string}{fret}" if played.string else inputs


def _show(onsets: Sequence[Found], cuts: Sequence[Cut], *, title: str) -> None:
    from rich.console import Console

    if onsets:
        Console(highlight=False, markup=False, emoji=False).print(cuts_table(onsets, cuts, title=title))


def _draw(picture: Path | None, onsets: Sequence[Found], cuts: Sequence[Cut]) -> None:
    if picture is None or not onsets:
        return
    picture.write_text(cuts_picture(onsets, cuts), encoding="utf-8")
    typer.echo(f"The picture is {picture}")


def told(one: Brought) -> str:
    """Return what became of a cut, in a sentence with its id."""
    said = spoken(one.cut.played)
    if one.before is not None:
        return f"{one.before.id}: was in already ({one.cut.came_from})."
    take = one.take
    if take is None:
        raise AssertionError("a cut is brought in, or was in before")
    note = f" Note: {take.message}" if take.message else ""
    if one.same_seconds:
        ids = ", ".join(one.same_seconds)
        note += f" Note: {ids} came from the same seconds of a file of this name; void one if it is the same."
    return f"{take.entry.id}: {said}, {one.cut.came_from}.{note}"


def _numbers(texts: Sequence[str]) -> frozenset[int]:
    words = [word for text in texts for word in text.replace(",", " ").split()]
    for word in words:
        if not (word.isascii() and word.isdigit()):
            raise LogError(f'--leave-out: "{word}" is no number of an onset; write "3,7", as in the list')
    return frozenset(int(word) for word in words)


@contextmanager
def _progress(paths: Sequence[Path]) -> Iterator[Callable[[float], None] | None]:
    """A bar on the terminal; nothing where it is not one."""
    from rich.console import Console

    from capture.audio_files import probe

    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    from rich.progress import Progress

    heads = [probe(path) for path in paths]
    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("listening", total=sum(h.frames / h.rate for h in heads))
        yield lambda seconds: bar.update(task, completed=seconds)
