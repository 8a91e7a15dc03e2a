"""The templates of the report, and the parts of it that the bench page shows too.

In: a verdict; out: markup, made by the template of sections (`templates/_sections.html.j2`) that the report
takes in as well. Typed text is escaped. Importing this loads no plotting library.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports.messages import summary
from reports.messages import wording as words
from reports.messages.sentences import text_of
from reports.model.notes import Note
from reports.model.verdict import Verdict
from reports.render.blocks import Section
from reports.render.lead_drawing import LeadPicture, lead_figure
from reports.render.sections import Exhibits, sections_of

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
    made.globals["inline"] = inline
    return made


def sections_html(sections: Sequence[Section]) -> str:
    """Return sections as they stand in the report."""
    return environment().get_template("wiring.html.j2").render(sections=sections)


def fragments(verdict: Verdict, *, leads: Sequence[LeadPicture] = (), built: Sequence[str] = ()) -> str:
    """Return everything about leads and settings after the work, as it stands in the report."""
    drawn = Exhibits(leads=tuple(map(lead_figure, leads)), built=tuple(built))
    return sections_html(sections_of(verdict, keys=words.WIRING_SECTIONS, drawn=drawn))


def answer(verdict: Verdict) -> str:
    """Return the verdict in a sentence with the work and the next step, as the bench page shows it."""
    template = environment().get_template("_verdict.html.j2")
    return template.render(verdict=verdict, words=words, summary=summary)


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


REPORT = "report"
"""The folder in a job's folder."""
PAGE = "report-{}.html"

TEXT = "report-{}.txt"

DATA = "verdict-{}.json"

PRINTED = "report-{}.pdf"
"""By stage, so that the report on the guitar as found stays when the one after the work is written."""
