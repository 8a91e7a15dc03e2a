"""Who may come in, who may act, and what somebody typed: on the real server, in real Chromium."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from browser import DESK, PHONE, UPRIGHT, Server, opened, page_server
from new_jobs import create_job
from playwright.sync_api import Browser, Page, expect
from wcag import AA, COLOUR, violations

from capture.job import Member, Pickup, Setting
from capture.takes.folder import JobFolder
from reports.entry.first_job import THREE
from reports.messages import door
from reports.messages import page as words
from reports.page.server.guard import NO_KEY, WRONG_HOST, WRONG_ORIGIN

NASTY = "<script>alert(1)</script>"
SOON_MS = 15_000
MOST_TABS = 30
TWICE = {"width": DESK["width"] // 2, "height": DESK["height"] // 2}
"""What is left of the desk's screen where the browser draws everything at twice its size."""
DROP = """() => {
  const held = new DataTransfer();
  held.items.add(new File([new Uint8Array(100)], "dropped.wav", { type: "audio/wav" }));
  const told = { dataTransfer: held, bubbles: true, cancelable: true };
  document.querySelector(".top").dispatchEvent(new DragEvent("drop", told));
}"""


@pytest.fixture(scope="module")
def nasty(tmp_path_factory) -> Iterator[tuple[Server, JobFolder]]:
    """A server over a job whose pickup is called as nobody should call one."""
    home = tmp_path_factory.mktemp("nasty")
    folder = create_job(
        home / "job",
        title=f"job of {NASTY}",
        scale_mm=648.0,
        pickups=[Pickup(name="bridge", centre_mm=44.0), Pickup(name=NASTY, centre_mm=162.0, fitted=False)],
        settings=[Setting(name="both", on=(Member(pickup="bridge"), Member(pickup=NASTY)))],
    )
    with page_server(folder.path, home=home) as server:
        yield server, folder


def test_who_has_no_key_or_comes_from_elsewhere_is_refused(nasty):
    server, _ = nasty
    used = server.address
    cookie = server.cookie()
    assert server.ask(used.split(str(server.port))[1]) == (403, NO_KEY)
    assert server.ask(Cookie=cookie)[0] == 200
    assert server.ask() == (403, NO_KEY)
    assert server.ask(Cookie=cookie, Host="bench.example") == (403, WRONG_HOST)
    assert server.ask(Cookie=cookie, Origin="http://bench.example") == (403, WRONG_ORIGIN)
    assert server.ask("/report/found") == (403, NO_KEY)
    assert server.ask(f"/?key={'x' * 32}")[0] == 403


def test_what_somebody_typed_is_shown_and_does_nothing(browser: Browser, nasty):
    server, _ = nasty
    with opened(browser, server) as page:
        asked = []
        page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
        expect(page.locator(".top .job")).to_contain_text(NASTY)
        expect(page.locator(".guitar")).to_contain_text("alert(1)", timeout=SOON_MS)
        for name in words.SCREENS.values():
            page.get_by_role("tab", name=name, exact=True).click()
            page.wait_for_timeout(50)
        assert asked == []
        assert page.evaluate("document.querySelectorAll('.screen script, .guitar script').length") == 0


def test_every_screen_keeps_to_wcag_and_fits_every_width(browser: Browser, nasty):
    """Checked by axe-core; and nothing runs out sideways at a desk, upright, or at twice the size of type."""
    server, _ = nasty
    with opened(browser, server) as page:
        for name in words.SCREENS.values():
            page.get_by_role("tab", name=name, exact=True).click()
            page.wait_for_timeout(100)
            expect(page.get_by_text(words.LOOKING_AT_INPUTS)).to_have_count(0)  # what comes moves the rest
            for scheme, rules in (("dark", AA), ("light", COLOUR)):
                page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
                assert violations(page, rules) == [], (name, scheme)
            for size in (UPRIGHT, TWICE, PHONE, DESK):
                page.set_viewport_size(size)
                assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (
                    name,
                    size,
                )


def test_back_and_reload_return_to_a_screen_and_files_may_be_dropped_anywhere(browser: Browser, nasty):
    server, _ = nasty
    with opened(browser, server) as page:
        here = page.locator(".q-tab--active")
        for key in ("wiring", "job"):
            page.get_by_role("tab", name=words.SCREENS[key], exact=True).click()
            page.wait_for_url(f"**/#{key}")
        page.go_back()
        expect(here).to_have_text(words.SCREENS["wiring"])
        page.reload()
        expect(here).to_have_text(words.SCREENS["wiring"], timeout=SOON_MS)
        page.evaluate(DROP)
        expect(here).to_have_text(words.SCREENS["bring"], timeout=SOON_MS)
        expect(page.locator(".bring")).to_contain_text("dropped.wav", timeout=SOON_MS)


def test_files_that_are_no_audio_are_named_and_the_rest_is_put_in_order(
    browser: Browser, nasty, tmp_path: Path
):
    """As people count; then as a person moves and removes them."""
    server, folder = nasty
    files = [tmp_path / name for name in ("notes.wav", "take 10.wav", "take 2.wav")]
    files[0].write_text("no sound at all")
    for k, file in enumerate(files[1:]):
        sf.write(file, np.full(1600, 0.01 * (k + 1)), 16_000)
    with opened(browser, server) as page:
        page.get_by_role("tab", name=words.SCREENS["bring"], exact=True).click()
        page.locator("input[type=file]").first.set_input_files(files)
        expect(page.locator(".bring")).to_contain_text(words.REFUSED_HEAD, timeout=SOON_MS)
        expect(page.locator(".bring")).to_contain_text("notes.wav")
        names = page.locator(".bring tbody th", has_text="take")
        expect(names).to_have_text(["take 2.wav", "take 10.wav"], timeout=SOON_MS)
        page.get_by_role("button", name=words.EARLIER_THAN.format(name="take 10.wav")).click()
        expect(names).to_have_text(["take 10.wav", "take 2.wav"])
        for name in ("take 10.wav", "take 2.wav"):
            page.get_by_role("button", name=words.REMOVE_THAT.format(name=name)).click()
            expect(page.locator(".bring")).not_to_contain_text(name)
        expect(page.locator("body")).not_to_contain_text("Traceback")
    assert JobFolder.open(folder.path).takes() == ()


def _by_keys(page: Page, wanted: str) -> None:
    """Go on with the tab key until what has these words has the focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if wanted in page.evaluate("document.activeElement.innerText"):
            return
    raise AssertionError(f"{wanted} is not reached by the keyboard")


def test_from_an_empty_place_to_ready_in_three_answers(browser: Browser, tmp_path: Path):
    """By the keyboard alone; Begin is the fourth answer. Each question is large and fits every width."""
    with page_server(home=tmp_path) as server, opened(browser, server, size=DESK) as page:
        asked = (
            (door.WHAT_IS_THERE, door.BENCHES["beside"][0]),
            (door.WHICH_LAYOUT["beside"], door.LAYOUTS["five-middle"][0]),
            (door.HOW_MANY_COILS, door.coils_text(THREE, (2, 1, 1))[0]),
        )
        for question, answer in asked:
            expect(page.get_by_role("heading", name=question)).to_be_visible(timeout=SOON_MS)
            assert violations(page, AA) == [], question
            for size in (UPRIGHT, TWICE, PHONE, DESK):
                page.set_viewport_size(size)
                page.wait_for_function("document.documentElement.scrollWidth <= window.innerWidth")
            _by_keys(page, answer)
            page.keyboard.press("Enter")
        expect(page.get_by_role("button", name=words.BEGIN)).to_be_visible(timeout=SOON_MS)
        _by_keys(page, words.BEGIN)
        expect(page.locator(".guitar")).to_contain_text("middle (loose", timeout=SOON_MS)
    (job,) = (JobFolder.open(file.parent).job for file in tmp_path.rglob("job.toml"))
    assert [(p.name, p.coils, p.fitted) for p in job.pickups] == [
        ("bridge", 2, True),
        ("middle", 1, False),
        ("neck", 1, True),
    ]
    assert [s.name for s in job.settings] == ["bridge+middle", "middle+neck"]
