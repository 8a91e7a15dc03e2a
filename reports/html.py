"""The verdict as one HTML file to print, to hand over, and to keep with the guitar.

Task: one self-contained page: no script, no request to anywhere. The first printed page holds the answer,
the leads and the tables; what it rests on follows. Everything somebody typed is escaped, in the text and
inside the drawings alike. Importing this module imports matplotlib: import it only where it is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from dsp.exhibits import HumExhibit, PairExhibit, ProfileExhibit, SwitchExhibit
from reports import jack_words, plots, words
from reports.cautions import JUDGEMENT
from reports.html_parts import environment, inline, parts_of
from reports.hum_plot import hum_figure
from reports.lead_drawing import LeadPicture
from reports.profile_plot import profile_figure
from reports.switch_plot import switch_figure
from reports.verdict import PairVerdict, Verdict

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
        belief = plots.belief_figure(pair, methods=methods, key=f"{key}-belief")
        drawings.append(_Drawing(words.CAPTIONS["belief"], inline(belief)))
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
        return _Drawing(f"{of}: {jack_words.CAPTIONS['switch']}", inline(switch_figure(exhibit, key=key)))
    if isinstance(exhibit, ProfileExhibit):
        of = ", ".join((f"{exhibit.setting}, harmonic profile on {exhibit.string}", *exhibit.takes))
        return _Drawing(f"{of}: {jack_words.CAPTIONS['profile']}", inline(profile_figure(exhibit, key=key)))
    of = ", ".join(("Hum of the settings", *exhibit.takes))
    return _Drawing(f"{of}: {jack_words.CAPTIONS['hum']}", inline(hum_figure(exhibit, key=key)))
