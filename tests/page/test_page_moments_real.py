"""The moments of a session as the page shows them, in real Chromium: WCAG, widths, keys, what is read out."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser import DESK, PHONE, UPRIGHT
from playwright.sync_api import Browser, Page, expect
from staged import Stage, staged
from wcag import AA, COLOUR, violations

from reports.messages import page as words
from reports.messages import play

NARROW = (UPRIGHT, PHONE)
ONE_OF_EACH = (
    "begin",
    "clips",
    "now volumes",
    "listening",
    "accepted",
    "refused",
    "question",
    "settled",
    "stopped",
)
MOST_TABS = 20
ON_THE_WAY = {
    "clips": {words.PAUSE, words.MOVED, words.TAKE_BACK, words.NEXT},
    "question": {words.PAUSE, words.YES, words.NO},
    "settled": {words.GO_ON, play.SEE_WIRING},
}
"""What has to be reached by the keyboard."""
FOCUSED = """() => {
  const one = document.activeElement, field = one.closest(".q-field__control") ?? one;
  return [(one.innerText || one.ariaLabel || one.tagName).split("[")[0].trim(),
          parseFloat(getComputedStyle(field).outlineWidth)];
}"""


@pytest.fixture(scope="module")
def stage(tmp_path_factory) -> Iterator[Stage]:
    with staged(tmp_path_factory.mktemp("stage")) as started:
        yield started


@pytest.fixture(scope="module")
def page(browser: Browser, stage: Stage) -> Iterator[Page]:
    context = browser.new_context(viewport=DESK, reduced_motion="reduce")
    shown = context.new_page()
    shown.goto(stage.file.as_uri())
    shown.get_by_role("tab", name=words.SCREENS["play"], exact=True).click()
    yield shown
    context.close()


def test_every_moment_keeps_to_wcag_and_fits_every_width(page: Page, stage: Stage):
    """Light and dark; and the word of the band is never broken."""
    for name in ONE_OF_EACH:
        _show(page, stage, name)
        for scheme, rules in (("dark", AA), ("light", COLOUR)):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            assert violations(page, rules) == [], (name, scheme)
        for size in (*NARROW, DESK):
            page.set_viewport_size(size)
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (name, size)
            lines = page.locator(".band-word").evaluate("e => e.getClientRects().length")
            assert lines == 1, (name, size)


def test_who_has_the_keyboard_alone_sees_where_the_focus_is_and_never_loses_it(page: Page, stage: Stage):
    page.set_viewport_size(DESK)
    for name in ("clips", "question", "settled"):
        _show(page, stage, name)
        reached = _by_tab(page)
        assert {text for text, _ in reached} >= ON_THE_WAY[name], name
        assert [text for text, outline in reached if outline < 2] == [], name
    _show(page, stage, "question")
    page.get_by_role("button", name=words.YES).focus()
    page.keyboard.press("Shift")
    stage.show("now")
    expect(page.locator("h1.big")).to_be_focused()


def test_what_is_asked_and_what_is_to_be_played_are_read_out(page: Page, stage: Stage):
    """Everything that a screen reader has to say lies in a region that says what changes."""
    for name, said in (("question", "TAG ON"), ("now switch", "SWITCH"), ("settled", "SETTLED")):
        _show(page, stage, name)
        told = page.locator(".now [aria-live]").filter(has_text=said)
        expect(told.first).to_be_attached()


def _show(page: Page, stage: Stage, name: str) -> None:
    word = stage.show(name)
    expect(page.locator(".band-word")).to_have_text(word)


def _by_tab(page: Page) -> list[tuple[str, float]]:
    """What the tab key goes through on the screen for playing, and how wide each is outlined."""
    page.evaluate("document.activeElement.blur()")
    reached: list[tuple[str, float]] = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        text, outline = page.evaluate(FOCUSED)
        if text in {t for t, _ in reached}:
            break
        reached.append((text, outline))
    return reached
