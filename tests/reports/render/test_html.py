"""The HTML face: the answer first, nothing from outside, nothing typed taken for markup."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise

import jack_samples
import pair_samples
import pytest
import verdict_samples as samples

from reports.messages import wording as jack_words
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say
from reports.model.lead_notes import LeadWarning, PlanReason
from reports.model.notes import LostHeadline
from reports.model.verdict import Verdict
from reports.model.work_notes import SettingResult, WorkResult
from reports.render.report import JackExhibit, as_html

DATE = "25 November 2026"
EXHIBITS = (
    pair_samples.exhibit(),
    pair_samples.exhibit("bridge", "middle"),
    pair_samples.exhibit("neck", "middle"),
)
JACK: tuple[JackExhibit, ...] = (jack_samples.switch(), jack_samples.profile(), jack_samples.hum())
HOSTILE = (
    "<script>alert(1)</script>",
    "$x_1$ {{ 7*7 }}",
    "'\" onload=alert(1) <img src=x>",
    "</svg></title>",
)


class Page(HTMLParser):
    """Elements with their attributes, and the text in between."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.pieces: list[str] = []
        self.feed(html)
        self.close()
        self.text = " ".join(" ".join(self.pieces).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.pieces.append(data)

    def tags(self) -> list[str]:
        return [tag for tag, _ in self.elements]


@cache
def html_of(made: Callable[[], Verdict], *drawn: str) -> str:
    """The page of a sample, made once; ``drawn`` may be "pairs" and "jack"."""
    exhibits, jack = EXHIBITS if "pairs" in drawn else (), JACK if "jack" in drawn else ()
    return as_html(made(), exhibits, made_at=DATE, jack=jack)


def page(made: Callable[[], Verdict]) -> Page:
    return Page(html_of(made, "pairs"))


def reasons(name: str) -> dict[str, object]:
    """Why, and what to mind, of work at a pickup."""
    return {
        "why": PlanReason("exchanged", name, name),
        "warnings": (LeadWarning("shield on ground", name),),
    }


def renamed(verdict: Verdict, name: str) -> Verdict:
    """The job with every word that a person types replaced."""
    pairs = tuple(
        p.model_copy(update={"b": name, "by": tuple(b.model_copy(update={"takes": (name,)}) for b in p.by)})
        for p in verdict.pairs
    )
    wiring = tuple(
        r.model_copy(update={"pickup": name, "leads": {name: "hot"}} | reasons(name)) for r in verdict.wiring
    )
    return verdict.model_copy(
        update={
            "title": name,
            "headline": LostHeadline((name,)),
            "reference": name,
            "pairs": pairs,
            "wiring": wiring,
            "settings": tuple(s.model_copy(update={"name": name, "on": (name,)}) for s in verdict.settings),
            "came_out": WorkResult("not as planned", (SettingResult(name, "full", "thin"),)),
            "signs": tuple(r.model_copy(update={"pickup": name}) for r in verdict.signs),
            "stages": tuple(r.model_copy(update={"setting": name}) for r in verdict.stages),
            "findings": tuple(f.model_copy(update={"pickup_or_setting": name}) for f in verdict.findings),
            "conflicts": tuple(c.model_copy(update={"pair": (name, name)}) for c in verdict.conflicts),
            "takes": tuple(t.model_copy(update={"inputs": (name,), "file": name}) for t in verdict.takes),
        }
    )


@cache
def paired(typed: str, *, made_at: str) -> str:
    exhibit = pair_samples.exhibit(b=typed)
    return as_html(renamed(samples.out_of_phase(), typed), [exhibit], made_at=made_at)


@pytest.mark.parametrize("name", HOSTILE)
def test_typed_text_is_shown_literally_and_does_nothing(name: str) -> None:
    html = paired(name, made_at=name)
    tame, wild = Page(paired("x", made_at=DATE)), Page(html)
    assert wild.tags() == tame.tags()
    assert not [a for _, attrs in wild.elements for a in attrs if a.startswith("on") or a == "src"]
    assert wild.text.count(name) > 15
    inside = "".join(html.split("<svg")[1:])
    drawn = Page(inside.split("</svg>", maxsplit=1)[0])
    assert name[:10] in drawn.text


@pytest.mark.parametrize("name", samples.ALL)
def test_every_job_makes_a_sound_page_without_requests_or_certainty(name: str) -> None:
    html = html_of(samples.ALL[name], "pairs", "jack")
    seen = Page(html)
    assert ("html", {"lang": "en"}) in seen.elements
    assert "script" not in seen.tags() and "link" not in seen.tags()
    assert not re.search(r"https?:|//\w|\bsrc=|@import|url\((?!#)", html)
    links = [v for _, a in seen.elements for k, v in a.items() if k.endswith("href") and v]
    assert all(link.startswith("#") for link in links)
    ids = [a["id"] for _, a in seen.elements if "id" in a]
    assert len(ids) == len(set(ids))
    assert {link[1:] for link in links} <= set(ids)
    assert not re.search(r"(?<![\d.])(100|0)(\.0)?\s%", seen.text)
    assert JUDGEMENT in seen.text
    assert DATE in seen.text


@pytest.mark.parametrize("name", samples.ALL)
def test_headings_and_tables_are_structured(name: str) -> None:
    seen = Page(html_of(samples.ALL[name], "pairs", "jack"))
    levels = [int(tag[1]) for tag in seen.tags() if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    heads = [attrs for tag, attrs in seen.elements if tag == "th"]
    assert all(attrs.get("scope") in {"col", "row"} for attrs in heads)


def test_the_sheet_for_the_guitar_comes_first_and_has_no_codes() -> None:
    html = html_of(samples.three_pickups, "pairs")
    front, bench = (Page(part) for part in re.split(r'<section class="bench"', html))
    for said in ("Out of phase: bridge and middle", "At middle, exchange hot and ground", "Checked by"):
        assert said in front.text
    assert not re.search(r"\b[tmk]\d{3}\b|coilwise [a-z]", front.text)
    marks = (
        "What to do next",
        "Where the evidence disagrees",
        "What to exchange, lead by lead",
        "What each setting does now",
        "Pickups in pairs",
        "Takes that do not count",
        "Takes and files",
    )
    places = [bench.text.index(mark) for mark in marks]
    assert places == sorted(places)
    assert re.search(r"\.front \{ height: 250mm; overflow: hidden; break-after: page; \}", html)


def test_a_pair_that_no_setting_joins_is_not_on_the_first_sheet() -> None:
    verdict = samples.three_pickups()
    kept = tuple(s for s in verdict.settings if s.on == ("bridge", "middle"))
    html = as_html(verdict.model_copy(update={"settings": kept}), (), made_at=DATE)
    sure = html[html.index("How sure") : html.index('<section class="bench"')]
    assert "bridge and middle" in sure
    assert "bridge and neck" not in sure.split("</p>", maxsplit=1)[0]
    assert "bridge and neck (no setting joins them)" in html


def test_leads_are_listed_one_by_one() -> None:
    text = page(samples.three_pickups).text
    for said in ("grey becomes hot", "violet becomes ground", "pink is hot", "orange joins the link"):
        assert said in text


def test_an_unknown_exchange_shows_no_leads() -> None:
    text = page(samples.unsettled).text
    assert "neck: not known yet: do not solder Why: Not settled: measure before you solder." in text


def test_faults_conflicts_hashes_and_versions_are_shown() -> None:
    text = page(samples.out_of_phase).text
    said = [
        say(samples.CLIPPED),
        samples.LEADS_TURNED,
        samples.READ_AGAIN,
        say(samples.BRAID),
        samples.SHA[:12],
    ]
    said += ["a0" * 6, "b1" * 6, "1.16.0", "meter swing in phase, 94 %", "The string of t003"]
    assert [s for s in said if s not in text.replace("\N{NO-BREAK SPACE}", " ")] == []


def test_each_pair_has_its_drawings_whichever_way_the_exhibit_names_it() -> None:
    html = html_of(samples.three_pickups, "pairs")
    assert html.count("<svg") == 1 + 6
    for k in (1, 2, 3):
        assert f'id="pair{k}-traces1-trace-1"' in html


def test_a_page_for_three_pairs_stays_small_and_the_same() -> None:
    exhibits = tuple(
        pair_samples.exhibit(a, b, takes=8)
        for a, b in (("bridge", "neck"), ("bridge", "middle"), ("middle", "neck"))
    )
    html = as_html(samples.three_pickups(), exhibits, made_at=DATE)
    assert len(html.encode()) < 400_000
    assert html == as_html(samples.three_pickups(), exhibits, made_at=DATE)


@cache
def whole(typed: str) -> str:
    jack = (
        jack_samples.switch(("bridge", typed), (1,)),
        jack_samples.profile(typed),
        jack_samples.hum(("bridge", typed)),
    )
    return as_html(renamed(samples.whole_guitar(), typed), (), made_at=DATE, jack=jack)


@pytest.mark.parametrize("name", HOSTILE)
def test_names_in_the_new_tables_and_drawings_do_nothing_either(name: str) -> None:
    tame, wild = Page(whole("x")), Page(whole(name))
    inside = {"path", "use", "g", "defs"}
    assert [t for t in wild.tags() if t not in inside] == [t for t in tame.tags() if t not in inside]
    assert not [a for _, attrs in wild.elements for a in attrs if a.startswith("on") or a == "src"]
    assert wild.text.count(name) > 40


def test_what_came_of_the_work_stands_large_before_the_details() -> None:
    html = html_of(samples.whole_guitar)
    said = html.index("<strong>Result:</strong> The harness did NOT come out as planned")
    assert said < html.index('<section class="bench"') < html.index(words.SECTIONS["leads"])
    text = Page(html).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "bridge + middle THIN, hums full, hum cancels full, 99.5 %, hum cancels yes" in text
    assert "middle + neck not known full THIN, more than 99.9 % NO" in text


def test_settings_show_what_is_lost_and_whether_hum_is_as_wanted() -> None:
    html = html_of(samples.whole_guitar)
    text = Page(html).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "THIN, likely in phase: NO −11.2 dB ± 1.5 dB not known" in text
    assert "cancels, 99.6 %, as wanted" in text
    assert '<td class="loud">HUMS, 98\N{NO-BREAK SPACE}%, wanted quiet</td>' in html
    assert f"middle + neck: {samples.NOTE}" in text


def test_signs_and_findings_are_shown() -> None:
    text = Page(html_of(samples.whole_guitar)).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "middle same as bridge, 99.2 % opposite, 99.6 % not known" in text
    assert f"middle {say(samples.OPEN_COIL.what)} {say(samples.OPEN_COIL.next)}" in text
    assert "hum levels cancels, 98 % t020, t021" in text


def test_sections_appear_only_with_content() -> None:
    full = html_of(samples.whole_guitar, "jack")
    bare = html_of(samples.three_pickups)
    for key in ("stages", "findings", "signs", "jack"):
        heading = f">{words.SECTIONS[key]}</h2>"
        assert heading in full
        assert heading not in bare


def test_what_the_jack_told_is_drawn_after_the_pairs_with_captions() -> None:
    html = html_of(samples.three_pickups, "pairs", "jack")
    assert html.count("<svg") == 1 + 6 + len(JACK)
    jack = html[html.index(words.SECTIONS["jack"]) : html.index(words.SECTIONS["refused"])]
    assert jack.count("<svg") == jack.count("<figcaption>") == len(JACK)
    text = Page(jack).text
    for start, key in (("t003, switched string, A2", "switch"), ("both, harmonic profile on D3", "profile")):
        assert re.search(rf"{start}[^:]*: {re.escape(jack_words.CAPTIONS_JACK_WORDS[key])}", text)
    assert jack_words.CAPTIONS_JACK_WORDS["hum"] in text
