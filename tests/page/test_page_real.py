"""The bench page in real Chromium, recording through the real PortAudio in real time."""

from __future__ import annotations

import resource
from pathlib import Path

import browser as at_page
import numpy as np
import soundfile as sf
import virtual_input as virtual
from browser import UPRIGHT, Watcher, chosen_by_keys, opened, page_server, press, screen_by_keys, typed
from guided_parts import bench_of, loose_neck
from guitarist import Guitarist
from playwright.sync_api import Browser, Page, expect
from virtual_input import MORTAL_NAME, NAME, RATE, VirtualInput

from capture.audio.files import sha256_of
from capture.log.entries import TakeFields
from capture.takes.folder import JobFolder
from capture.takes.recorder import unfinished_takes
from reports.messages import door
from reports.messages import page as words
from reports.messages.session import ONSET

virtual_input, mortal_input = virtual.virtual_input, virtual.mortal_input
_virtual_home, _running_input = virtual._virtual_home, virtual._running_input
OUT = 0
"""A bench whose bridge and neck oppose each other."""
SOON_MS = 15_000
SMALL = 200_000
"""Bytes: less than a second of two channels."""


def at_bench(
    folder: JobFolder, page: Page, virtual: VirtualInput, *, taps: bool = False, keys: bool = False
) -> Watcher:
    guitarist = Guitarist(bench_of(OUT), folder.job, np.random.default_rng(1))
    virtual.play(guitarist.background(100.0))
    return Watcher(page, guitarist, virtual, taps=taps, keys=keys)


def recorded(folder: JobFolder, *takes: tuple[str, str, str]) -> None:
    """Enter takes that were played before: what is on each input, and the string."""
    bench, rng = bench_of(OUT), np.random.default_rng(2)
    for *on, string in takes:
        sound = (
            bench.split_check(rng, on[0], string, rate=RATE)
            if on[0] == on[1]
            else bench.paired(rng, *on, string, rate=RATE)
        )
        sf.write(folder.path.parent / "before.wav", sound, RATE, subtype="PCM_24")
        said = TakeFields("pluck", tuple(on), string=string, rig=NAME)
        folder.add_take(folder.path.parent / "before.wav", said)


def serving(
    folder: JobFolder, virtual: VirtualInput, home: Path, *more: object, source: str = NAME, **said: object
):
    return page_server(
        folder.path,
        "--input",
        source,
        "--rate",
        48_000,
        *more,
        home=home,
        environment=virtual.environment,
        **said,
    )


def test_a_job_from_its_form_to_the_report_without_a_click_between_takes(
    browser: Browser, virtual_input: VirtualInput, tmp_path
):
    """By keyboard alone: a key to begin, one to answer each question; the first takes were played before.

    The page is loaded anew in the middle of a take, and a second browser watches.
    """
    started = page_server(
        "--input", NAME, "--rate", 48_000, home=tmp_path, environment=virtual_input.environment
    )
    with started as server, opened(browser, server) as page:
        begun_on_the_page(page)
        folder = JobFolder.open(tmp_path / "sunday")
        before = (("bridge", "neck", "D3"), ("neck", "neck", "D3"), ("neck", "neck", "G3"))
        recorded(folder, *before)
        screen_by_keys(page.get_by_role("tab", name=words.SCREENS["play"], exact=True))
        with opened(browser, server, size=UPRIGHT) as other:
            expect(other.get_by_text(words.ANOTHER_ACTS)).to_be_visible(timeout=SOON_MS)
            watcher = at_bench(folder, page, virtual_input, taps=True, keys=True)
            watcher.begin()
            watcher.play_until(lambda: watcher.text(".now .doing") == ONSET)
            page.reload()
            other.locator(".now").get_by_role("button", name=words.PAUSE).click()
            expect(other.get_by_text(words.ANOTHER_ACTS).first).to_be_visible()
            watcher.play_until(lambda: watcher.text(".now .big") == words.DONE_BIG)
            expect(other.locator(".now .big")).to_have_text(words.DONE_BIG, timeout=SOON_MS)
        assert len(takes(folder)) >= len(before) + 2
        assert "Settled:" in watcher.text(".now .word")
        assert page.locator(".wave svg").count() == 2  # what the last take shows, and the whole of it
        got = "async (at) => (await (await fetch(at)).arrayBuffer()).byteLength"
        assert page.evaluate(got, page.locator(".wave audio").get_attribute("src")) > 40_000
        assert not bench_of(OUT).in_phase("bridge", "neck")
        expect(page.locator(".guitar")).to_contain_text("opposed to bridge")
        expect(page.locator(".settings")).to_contain_text("THIN")
        screen_by_keys(page.get_by_role("tab", name=words.SCREENS["report"]))
        press(page.get_by_role("button", name=words.WRITE_REPORT))
        report = page.frame_locator("iframe.report")
        expect(report.get_by_text("out of phase").first).to_be_visible(timeout=SOON_MS)
    assert (folder.path / "report" / "report-found.html").is_file()


def test_the_server_is_killed_in_a_take_and_the_page_goes_on(
    browser: Browser, virtual_input: VirtualInput, tmp_path
):
    """What was whole stays; the rest is offered once the server is back and the page was opened anew."""
    folder = loose_neck(tmp_path, bench_of(OUT))
    recorded(folder, ("bridge", "neck", "D3"))
    port = at_page.free_port()
    with serving(folder, virtual_input, tmp_path, port=port) as server, opened(browser, server) as page:
        watcher = at_bench(folder, page, virtual_input)
        watcher.begin()
        watcher.play_until(lambda: watcher.text(".now .doing") == ONSET)
        finished = sha256_of(takes(folder)[0].path)
        server.process.kill()
        server.process.wait()
        expect(page.locator("html.lost")).to_be_attached(timeout=SOON_MS)
        assert len(unfinished_takes(folder.path)) == 1
        with serving(folder, virtual_input, tmp_path, port=port) as again:
            page.goto(again.file.as_uri())
            expect(page.get_by_role("button", name=words.TAKE_IN)).to_be_visible(timeout=30_000)
            page.get_by_role("button", name=words.TAKE_IN).click()
            expect(page.get_by_text("taken in")).to_be_visible(timeout=SOON_MS)
            assert [t.entry.id for t in takes(folder)] == ["t001", "t002"]
            assert sha256_of(takes(folder)[0].path) == finished
            watcher.begin()
            watcher.play_until(lambda: watcher.text(".now .doing") == ONSET)


def test_the_input_dies_in_a_take_and_comes_back(browser: Browser, mortal_input: VirtualInput, tmp_path):
    folder = loose_neck(tmp_path, bench_of(OUT))
    with (
        serving(folder, mortal_input, tmp_path, source=MORTAL_NAME) as server,
        opened(browser, server) as page,
    ):
        watcher = at_bench(folder, page, mortal_input)
        watcher.begin()
        watcher.play_until(lambda: watcher.text(".now .doing") == ONSET)
        mortal_input.kill()
        expect(page.locator(".now .word")).to_contain_text("The input is gone", timeout=SOON_MS)
        expect(page.locator(".unfinished")).to_contain_text("was not finished", timeout=SOON_MS)
        assert takes(folder) == ()
        (mortal_input.home / "native").unlink(missing_ok=True)
        mortal_input.start()
        watcher = at_bench(folder, page, mortal_input)
        watcher.begin()
        watcher.play_until(lambda: len(takes(folder)) == 1)


def test_a_full_disk_is_said_and_the_whole_takes_stay(
    browser: Browser, virtual_input: VirtualInput, tmp_path
):
    """A limit on the size of files stands for the full disk: writing fails the same way."""
    folder = loose_neck(tmp_path, bench_of(OUT))

    with (
        serving(folder, virtual_input, tmp_path) as server,
        opened(browser, server) as page,
    ):
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (SMALL, SMALL))
        watcher = at_bench(folder, page, virtual_input)
        watcher.begin()
        watcher.play_until(lambda: watcher.text(".now .big") == words.REST_BIG["failed"])
        said = watcher.text(".now .word")
        assert "Every whole take is kept" in said
        assert "takes: cannot be written" in said
        assert "Traceback" not in said
    assert takes(folder) == ()


def begun_on_the_page(page: Page) -> None:
    """Fill in the form for the same job as `loose_neck` makes, by keyboard alone."""
    bench = bench_of(OUT)
    press(page.get_by_role("button", name=door.OTHERWISE))
    typed(page.get_by_label(words.FOLDER_FIELD), "sunday")
    typed(page.get_by_label(words.SCALE_FIELD), f"{bench.scale_mm:.2f}")
    for number, name in enumerate(("bridge", "neck"), start=1):
        row = page.get_by_role("group", name=words.PICKUP_NUMBER.format(n=number))
        typed(row.get_by_label(words.NAME_FIELD), name)
        typed(row.get_by_label(words.CENTRE_FIELD), f"{bench.pickup(name).centre_mm:.2f}".replace(".", ","))
        if len(bench.pickup(name).coils) > 1:
            chosen_by_keys(row.get_by_label(words.COILS_FIELD), "2")
    chosen_by_keys(row.get_by_label(words.FITTED_FIELD), words.FITTED[False])
    typed(row.get_by_label(words.HOT_FIELD, exact=True), "violet")
    typed(row.get_by_label(words.GROUND_FIELD, exact=True), "grey")
    setting = page.get_by_role("group", name=words.SETTING_NUMBER.format(n=1))
    typed(setting.get_by_label(words.NAME_FIELD), "both")
    for name in ("bridge", "neck"):
        chosen_by_keys(setting.get_by_label(name, exact=True), words.MEMBERS["whole"])
    press(page.get_by_role("button", name=words.BEGIN_JOB))
    expect(page.locator(".notices")).to_contain_text("sunday", timeout=SOON_MS)


def takes(folder: JobFolder):
    return JobFolder.open(folder.path).takes()
