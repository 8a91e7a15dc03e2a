"""The templates of the report, and the parts of it that the bench page shows too.

In: a verdict; out: markup, each section by one template (`templates/_*.html.j2`) that the report takes in
as well. Typed text is escaped. Importing this loads no plotting library.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports.messages import summary
from reports.messages import wording as words
from reports.messages.sentences import say, text_of
from reports.model.notes import Note
from reports.model.verdict import Verdict, WiringRow
from reports.render import layout as sections
from reports.render.lead_drawing import LeadPicture, lead_figure

if TYPE_CHECKING:
    pass

_TEMPLATES = Path(__file__).parent / "templates"


@cache
def environment() -> Environment:
    """Return where templates are found and how typed text gets into them."""
    made = Environment(
        loader=FileSystemLoader(_TEMPLATES, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_finalized,
    )
    made.filters["say"] = say
    return made


def parts_of(verdict: Verdict, *, leads: Sequence[LeadPicture] = ()) -> dict[str, Any]:
    """Return what the templates of the parts speak of; ``leads`` are drawn where they are told."""
    return {
        "verdict": verdict,
        "words": words,
        "summary": summary,
        "sections": sections,
        "lead_drawings": [inline(lead_figure(picture)) for picture in leads],
        "places": [(row, _lead_places(row)) for row in verdict.wiring],
    }


def fragments(verdict: Verdict, *, leads: Sequence[LeadPicture] = ()) -> str:
    """Return everything about leads and settings after the work, as it stands in the report."""
    return environment().get_template("wiring.html.j2").render(parts_of(verdict, leads=leads))


def answer(verdict: Verdict) -> str:
    """Return the verdict in a sentence with the work and the next step, as it stands in the report."""
    return environment().get_template("_verdict.html.j2").render(parts_of(verdict))


def html_table(
    heads: Sequence[str], rows: Sequence[Sequence[str]], *, kind: str = "", caption: str = ""
) -> str:
    """Return a table whose first column names its rows; text is escaped, `Markup` stands as it is."""
    macros: Any = environment().get_template("_table.html.j2").module
    return str(macros.plain_table(heads, rows, kind, caption))


def inline(svg: str) -> Markup:
    """Drawing as part of a page, whose parser knows the name spaces by itself.

    The drawing comes by way of reports/render/figures.py or lead_drawing.py, where all its text has been
    escaped.
    """
    return Markup(re.sub(r' xmlns(:\w+)?="[^"]*"', "", svg[: svg.index(">")]) + svg[svg.index(">") :])


def _finalized(value: object) -> object:
    """A note as its sentence, text in one line, numbers never parted from units; drawings as they are."""
    if isinstance(value, Note):
        value = text_of(value)
    elif value is None:
        return ""
    return words.unbroken(words.plain(value)) if type(value) is str else value


def _lead_places(row: WiringRow) -> Mapping[str, str]:
    """Leads that end at each place, the known places first; empty where there is nothing to say."""
    grouped: dict[str, list[str]] = {}
    for lead, role in words.lead_places(row):
        grouped.setdefault(role, []).append(lead)
    return {role: " + ".join(leads) for role, leads in grouped.items()}


REPORT = "report"
"""The folder in a job's folder."""
PAGE = "report-{}.html"

TEXT = "report-{}.txt"

DATA = "verdict-{}.json"
"""By stage, so that the report on the guitar as found stays when the one after the work is written."""
