"""The report of a verdict as one HTML page, and the report folder: page, text, JSON.

The page is self-contained: no script, no request to anywhere; typed text is escaped, in drawings too. The
first printed sheet holds the answer, the work and the tables, the rest follows. A report is made anew each
time; each file is replaced whole, so that a reader never sees half of one. Importing this loads matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from markupsafe import Markup

from capture.disk.reading import require_own
from capture.disk.writing import naming, replace_whole
from dsp.methods.curves import HumExhibit, PairExhibit, ProfileExhibit, SwitchExhibit
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.model.verdict import PairVerdict, Verdict
from reports.render import figures as plots
from reports.render.exhibits import exhibits_of, jack_exhibits
from reports.render.exports import as_json
from reports.render.jack_plots import hum_figure, profile_figure, switch_figure
from reports.render.lead_drawing import LeadPicture, lead_pictures
from reports.render.parts import DATA, PAGE, REPORT, TEXT, environment, inline, parts_of
from reports.render.text import as_text
from reports.verdict.building import Judgement

JackExhibit = SwitchExhibit | ProfileExhibit | HumExhibit


@dataclass(frozen=True)
class _Drawing:
    """One drawing with what it shows."""

    caption: str
    svg: Markup


@dataclass(frozen=True)
class _Detail:
    """One pair with its drawings."""

    pair: PairVerdict
    drawings: tuple[_Drawing, ...]


def as_html(
    verdict: Verdict,
    exhibits: Sequence[PairExhibit],
    *,
    made_at: str,
    jack: Sequence[JackExhibit] = (),
    leads: Sequence[LeadPicture] = (),
) -> str:
    """Lay out the whole report; ``made_at`` is the date as it is to be read on the page.

    ``exhibits`` are drawn with their pairs, ``jack`` in a section of its own; ``leads`` are drawn where the
    wiring is told lead by lead.
    """
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            **parts_of(verdict, leads=leads),
            details=_details(verdict, exhibits),
            jack=[_jack_drawing(exhibit, key=f"jack{k}") for k, exhibit in enumerate(jack, 1)],
            phases=_phases(verdict),
            cautions=verdict.cautions or (JUDGEMENT,),
            made_at=made_at,
        )
    )


def _phases(verdict: Verdict) -> list[str | None]:
    """Answers that occur, the one that needs work first."""
    return sorted(
        {p.phase for p in verdict.pairs}, key=lambda phase: (phase is None, phase != words.OUT_OF_PHASE)
    )


def _details(verdict: Verdict, exhibits: Sequence[PairExhibit]) -> list[_Detail]:
    methods = tuple(dict.fromkeys(b.method for p in verdict.pairs for b in p.by))
    return [
        _Detail(pair, tuple(_drawings(pair, exhibits, methods=methods, key=f"pair{k}")))
        for k, pair in enumerate(verdict.pairs, 1)
    ]


def _drawings(
    pair: PairVerdict, exhibits: Sequence[PairExhibit], *, methods: Sequence[str], key: str
) -> list[_Drawing]:
    drawings = []
    if pair.by:
        posterior = plots.belief_figure(pair, methods=methods, key=f"{key}-belief")
        drawings.append(_Drawing(words.CAPTIONS["belief"], inline(posterior)))
    for k, exhibit in enumerate((e for e in exhibits if {e.a, e.b} == {pair.a, pair.b}), 1):
        method = words.plain(exhibit.method)
        traces = plots.traces_figure(exhibit, key=f"{key}-traces{k}")
        curve = plots.correlation_figure(exhibit, key=f"{key}-correlation{k}")
        drawings.append(_Drawing(f"{method}: {words.CAPTIONS['traces']}", inline(traces)))
        drawings.append(_Drawing(f"{method}: {words.CAPTIONS['correlation']}", inline(curve)))
    return drawings


def _jack_drawing(exhibit: JackExhibit, *, key: str) -> _Drawing:
    """One drawing of what the jack told, with what it is of and how it is read."""
    if isinstance(exhibit, SwitchExhibit):
        of = ", ".join(p for p in (f"{exhibit.take}, switched string", exhibit.string) if p)
        return _Drawing(
            f"{of}: {words.CAPTIONS_JACK_WORDS['switch']}", inline(switch_figure(exhibit, key=key))
        )
    if isinstance(exhibit, ProfileExhibit):
        of = ", ".join((f"{exhibit.setting}, harmonic profile on {exhibit.string}", *exhibit.takes))
        return _Drawing(
            f"{of}: {words.CAPTIONS_JACK_WORDS['profile']}", inline(profile_figure(exhibit, key=key))
        )
    of = ", ".join(("Hum of the settings", *exhibit.takes))
    return _Drawing(f"{of}: {words.CAPTIONS_JACK_WORDS['hum']}", inline(hum_figure(exhibit, key=key)))


def write_report(judged: Judgement, folder: Path) -> Path:
    """Write all faces into ``folder`` and return the page's path.

    Raises
    ------
    OSError
        If the folder cannot be written to.

    """
    pickups = [p.name for p in judged.posterior.graph.history.job.pickups]
    made_at = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
    stage = judged.verdict.stage
    latest = [r for r in judged.results if r.entry.stage == stage]
    jack = jack_exhibits(latest, judged.jack, stage=stage)
    leads = lead_pictures(judged.posterior.graph.history.job, judged.verdict)
    page = as_html(judged.verdict, exhibits_of(latest, pickups), made_at=made_at, jack=jack, leads=leads)
    with naming(folder):
        folder.mkdir(parents=True, exist_ok=True)
    _replace(folder / TEXT.format(stage), as_text(judged.verdict))
    _replace(folder / DATA.format(stage), as_json(judged.verdict) + "\n")
    _replace(folder / PAGE.format(stage), page)
    return folder / PAGE.format(stage)


def _replace(path: Path, text: str) -> None:
    replace_whole(path, text.encode("utf-8", errors="replace"))


def write_judgement(folder: Path, judged: Judgement, to: Path | None = None) -> Path:
    """Write the report of a judgement and return its page; the first time, drawing takes a second to load.

    Without ``to`` it goes into the job's own folder, and through no link.

    Raises
    ------
    OSError
        The folder cannot be written to, or the job's own is a link.

    """
    return write_report(judged, to if to is not None else require_own(folder, REPORT))
