"""The report of a verdict as one HTML page, and the report folder: page, text, JSON, PDF where it is wanted.

The page is self-contained: no script, no request to anywhere; typed text is escaped, in drawings too. The
first printed sheet goes with the guitar, the bench sheet follows. A report is made anew each
time; each file is replaced whole, so that a reader never sees half of one. matplotlib is loaded
where something is drawn that was not drawn before.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from capture.disk.reading import require_own
from capture.disk.writing import naming, replace_whole
from capture.job import Job
from capture.log import AnyEntry
from dsp.methods.curves import HumExhibit, PairExhibit, ProfileExhibit, SwitchExhibit
from reports.messages import sheets
from reports.messages import wording as words
from reports.messages.commands import FOLDER
from reports.messages.sentences import commands_naming
from reports.model.verdict import PairVerdict, Verdict
from reports.render.blocks import Drawing, Paper, Section
from reports.render.circuit_drawing import built_figures
from reports.render.exhibits import exhibits_of, jack_exhibits
from reports.render.exports import as_json
from reports.render.front import FrontSheet, front_sheet
from reports.render.kept_drawings import drawn
from reports.render.lead_drawing import LeadPicture, lead_figure, lead_pictures
from reports.render.parts import DATA, PAGE, PRINTED, REPORT, TEXT, environment
from reports.render.sections import Exhibits, sections_of
from reports.render.text import as_text
from reports.verdict.building import Judgement

PLOT_SHARE = 0.78
"""Of the sheet's width: the letters of a plot are then seven points high."""
JackExhibit = SwitchExhibit | ProfileExhibit | HumExhibit


def as_html(
    verdict: Verdict,
    exhibits: Sequence[PairExhibit],
    *,
    made_at: str,
    jack: Sequence[JackExhibit] = (),
    leads: Sequence[LeadPicture] = (),
    job: Job | None = None,
    entries: Sequence[AnyEntry] = (),
) -> str:
    """Lay out the whole report; ``made_at`` is the date as it is to be read on the page.

    ``exhibits`` are drawn with their pairs, ``jack`` in a section of its own; ``leads`` are drawn where the
    wiring is told lead by lead. ``job`` and ``entries``, the log that counts, are told of where they are
    given.
    """
    front = front_sheet(verdict, made_at=made_at, job=job, entries=entries, leads=leads)
    built = () if job is None else built_figures(job)
    behind = bench_sheet(
        verdict, exhibits, made_at=made_at, jack=jack, leads=leads, built=built, entries=entries
    )
    return page_of(front, behind)


def page_of(front: FrontSheet, behind: Sequence[Section]) -> str:
    """The page to print of both sheets."""
    template = environment().get_template("report.html.j2")
    return template.render(front=front, sections=behind, words=words, sheets=sheets)


def bench_sheet(
    verdict: Verdict,
    exhibits: Sequence[PairExhibit],
    *,
    made_at: str,
    jack: Sequence[JackExhibit] = (),
    leads: Sequence[LeadPicture] = (),
    built: Sequence[str] = (),
    entries: Sequence[AnyEntry] = (),
) -> tuple[Section, ...]:
    """Every section of the sheet behind, with its drawings."""
    drawings = Exhibits(
        _pair_drawings(verdict, exhibits),
        tuple(_jack_drawing(exhibit, key=f"jack{k}") for k, exhibit in enumerate(jack, 1)),
        tuple(map(lead_figure, leads)),
        tuple(built),
    )
    return sections_of(verdict, entries=entries, drawn=drawings, made_at=made_at)


def _pair_drawings(
    verdict: Verdict, exhibits: Sequence[PairExhibit]
) -> dict[frozenset[str], tuple[Drawing, ...]]:
    methods = tuple(dict.fromkeys(b.method for p in verdict.pairs for b in p.by))
    return {
        frozenset((pair.a, pair.b)): tuple(_drawings(pair, exhibits, methods=methods, key=f"pair{k}"))
        for k, pair in enumerate(verdict.pairs, 1)
    }


def _drawings(
    pair: PairVerdict, exhibits: Sequence[PairExhibit], *, methods: Sequence[str], key: str
) -> list[Drawing]:
    drawings = []
    if pair.by:
        posterior = drawn("figures", "belief_figure", pair, methods=methods, key=f"{key}-belief")
        drawings.append(Drawing(posterior, words.CAPTIONS["belief"], share=PLOT_SHARE))
    for k, exhibit in enumerate((e for e in exhibits if {e.a, e.b} == {pair.a, pair.b}), 1):
        traces = drawn("figures", "traces_figure", exhibit, key=f"{key}-traces{k}")
        drawings.append(Drawing(traces, words.traces_caption(exhibit), share=PLOT_SHARE))
    return drawings


def _jack_drawing(exhibit: JackExhibit, *, key: str) -> Drawing:
    """One drawing of what the jack told, with what it is of and how it is read."""
    if isinstance(exhibit, SwitchExhibit):
        kind, of = "switch", [f"{exhibit.take}, switched string", exhibit.string]
    elif isinstance(exhibit, ProfileExhibit):
        told = f"{exhibit.setting}, harmonic profile on {exhibit.string}"
        kind, of = "profile", [told, words.id_list(exhibit.takes)]
    else:
        kind, of = "hum", ["Hum of the settings", words.id_list(exhibit.takes)]
    svg = drawn("jack_plots", f"{kind}_figure", exhibit, key=key)
    caption = f"{', '.join(filter(None, of))}: {words.CAPTIONS_JACK_WORDS[kind]}"
    return Drawing(svg, caption, share=PLOT_SHARE)


def write_report(
    judged: Judgement, folder: Path, *, paper: Paper | None = None, job_folder: Path | None = None
) -> Path:
    """Write all faces into ``folder`` and return the page's path; with ``paper`` a PDF of that size too.

    Commands name the job in ``job_folder``.

    Raises
    ------
    OSError
        If the folder cannot be written to.

    """
    verdict, entries, stage = judged.verdict, judged.entries, judged.verdict.stage
    job = judged.posterior.graph.history.job
    pickups = [p.name for p in job.pickups]
    made_at = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
    latest = [r for r in judged.results if r.entry.stage == stage]
    jack = jack_exhibits(latest, judged.jack, job=job, stage=stage)
    leads = lead_pictures(job, verdict)
    with commands_naming(FOLDER if job_folder is None else shlex.quote(str(job_folder))):
        front = front_sheet(verdict, made_at=made_at, job=job, entries=entries, leads=leads)
        behind = bench_sheet(
            verdict,
            exhibits_of(latest, pickups),
            made_at=made_at,
            jack=jack,
            leads=leads,
            built=built_figures(job),
            entries=entries,
        )
        text = as_text(verdict, entries)
    with naming(folder):
        folder.mkdir(parents=True, exist_ok=True)
    _replace(folder / TEXT.format(stage), text)
    _replace(folder / DATA.format(stage), as_json(verdict) + "\n")
    if paper is not None:
        from reports.render.pdf import as_pdf

        replace_whole(folder / PRINTED.format(stage), as_pdf(front, behind, paper=paper))
    _replace(folder / PAGE.format(stage), page_of(front, behind))
    return folder / PAGE.format(stage)


def _replace(path: Path, text: str) -> None:
    replace_whole(path, text.encode("utf-8", errors="replace"))


def write_judgement(
    folder: Path, judged: Judgement, to: Path | None = None, *, paper: Paper | None = None
) -> Path:
    """Write the report of a judgement and return its page; the first time, drawing takes a second to load.

    Without ``to`` it goes into the job's own folder, and through no link.

    Raises
    ------
    OSError
        The folder cannot be written to, or the job's own is a link.

    """
    into = to if to is not None else require_own(folder, REPORT)
    return write_report(judged, into, paper=paper, job_folder=folder)
