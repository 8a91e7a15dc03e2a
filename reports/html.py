"""The verdict as one HTML file to print, to hand over, and to keep with the guitar.

Task: one self-contained page: no script, no request to anywhere. The first printed page holds the answer,
the leads and the tables; what it rests on follows. Everything somebody typed is escaped, in the text and
inside the drawings alike. Importing this module imports matplotlib: import it only where it is used.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from dsp.exhibits import HumExhibit, PairExhibit, ProfileExhibit, SwitchExhibit
from reports import jack_words, plots, table_words, words
from reports.cautions import JUDGEMENT
from reports.hum_plot import hum_figure
from reports.lead_drawing import LeadPicture, lead_figure
from reports.profile_plot import profile_figure
from reports.switch_plot import switch_figure
from reports.verdict import PairVerdict, Verdict, WiringRow

JackExhibit = SwitchExhibit | ProfileExhibit | HumExhibit

_TEMPLATES = Path(__file__).parent / "templates"


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
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    return environment.get_template("report.html.j2").render(
        verdict=verdict,
        words=words,
        cells=table_words,
        details=_details(verdict, exhibits),
        jack=[_jack_drawing(exhibit, key=f"jack{k}") for k, exhibit in enumerate(jack, 1)],
        lead_drawings=[_inline(lead_figure(picture)) for picture in leads],
        places=[(row, _places(row)) for row in verdict.wiring],
        phases=_phases(verdict),
        cautions=verdict.cautions or (JUDGEMENT,),
        made_at=made_at,
    )


def _shown(value: object) -> object:
    """Typed text in one line, a number never parted from its unit; drawings as they are."""
    return words.unbroken(words.plain(value)) if type(value) is str else value


def _phases(verdict: Verdict) -> list[str | None]:
    """Answers that occur, the one that needs work first."""
    return sorted(
        {p.phase for p in verdict.pairs}, key=lambda phase: (phase is None, phase != words.OUT_OF_PHASE)
    )


def _places(row: WiringRow) -> Mapping[str, str]:
    """Leads that end at each place, the known places first; empty where there is nothing to say."""
    grouped: dict[str, list[str]] = {}
    for lead, role in words.lead_places(row):
        grouped.setdefault(role, []).append(lead)
    return {role: " + ".join(leads) for role, leads in grouped.items()}


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
        belief = plots.belief_figure(pair, methods=methods, key=f"{key}-belief")
        drawings.append(_Drawing(words.CAPTIONS["belief"], _inline(belief)))
    for k, exhibit in enumerate((e for e in exhibits if {e.a, e.b} == {pair.a, pair.b}), 1):
        method = words.plain(exhibit.method)
        traces = plots.traces_figure(exhibit, key=f"{key}-traces{k}")
        curve = plots.correlation_figure(exhibit, key=f"{key}-correlation{k}")
        drawings.append(_Drawing(f"{method}: {words.CAPTIONS['traces']}", _inline(traces)))
        drawings.append(_Drawing(f"{method}: {words.CAPTIONS['correlation']}", _inline(curve)))
    return drawings


def _jack_drawing(exhibit: JackExhibit, *, key: str) -> _Drawing:
    """One drawing of what the jack told, with what it is of and how it is read."""
    if isinstance(exhibit, SwitchExhibit):
        of = ", ".join(p for p in (f"{exhibit.take}, switched string", exhibit.string) if p)
        return _Drawing(f"{of}: {jack_words.CAPTIONS['switch']}", _inline(switch_figure(exhibit, key=key)))
    if isinstance(exhibit, ProfileExhibit):
        of = ", ".join((f"{exhibit.setting}, harmonic profile on {exhibit.string}", *exhibit.takes))
        return _Drawing(f"{of}: {jack_words.CAPTIONS['profile']}", _inline(profile_figure(exhibit, key=key)))
    of = ", ".join(("Hum of the settings", *exhibit.takes))
    return _Drawing(f"{of}: {jack_words.CAPTIONS['hum']}", _inline(hum_figure(exhibit, key=key)))


def _inline(svg: str) -> Markup:
    """Drawing as part of a page, whose parser knows the name spaces by itself.

    The drawing comes by way of reports/drawing.py, where an XML writer has escaped all its text.
    """
    return Markup(re.sub(r' xmlns(:\w+)?="[^"]*"', "", svg[: svg.index(">")]) + svg[svg.index(">") :])
