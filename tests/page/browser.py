"""The bench page in a real browser: a server in a process of its own, headless Chromium, and a guitarist.

`page_server` starts `coilwise page` on a free port; `opened` opens it. `Watcher` reads the page
as a person would and lets the guitarist play into the virtual input when it says Now.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple
from urllib.request import Request, urlopen

import numpy as np
from guitarist import Guitarist
from playwright.sync_api import Browser, Locator, Page, TimeoutError, expect
from virtual_input import VirtualInput

from reports.messages import page as words
from reports.messages.session import ACTIVITIES, QUESTIONS_BIG, READY

QUIETLY = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESK, UPRIGHT = {"width": 1280, "height": 800}, {"width": 800, "height": 1280}
PHONE = {"width": 390, "height": 844}
WITHIN_S = 60.0
LOOK_EVERY_S = 0.05


def chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


@dataclass
class Server:
    """A running `coilwise page`; ``first`` is the address that it printed, ``file`` what leads there."""

    process: subprocess.Popen[str]
    first: str
    file: Path
    said: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """The address with the key that is good now."""
        return re.search(r"http://[^\"]+", self.file.read_text()).group(0)

    @property
    def port(self) -> int:
        return int(re.search(r":(\d+)/", self.first).group(1))

    def cookie(self) -> str:
        """What a browser is given that comes in with the key."""
        with urlopen(self.address, timeout=10) as answer:
            return answer.headers["set-cookie"].split(";")[0]

    def ask(self, path: str = "/", **headers: str) -> tuple[int, str]:
        """Status and body of a plain request, with these headers."""
        wanted = Request(f"http://127.0.0.1:{self.port}{path}", headers=headers)
        try:
            with urlopen(wanted, timeout=10) as answer:
                return answer.status, answer.read().decode()
        except OSError as error:
            if not hasattr(error, "code"):
                raise
            return error.code, error.read().decode()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def page_server(
    *told: object,
    home: Path,
    environment: Mapping[str, str] | None = None,
    port: int | None = None,
    trace: bool = True,
) -> Iterator[Server]:
    """`coilwise page` with these words; its state lies under ``home``, where it also stands.

    ``trace``: a fault of its own shows where it comes from.
    """
    program = "from reports.cli import main; main()"
    port = port or free_port()
    process = subprocess.Popen(
        [sys.executable, "-u", "-c", program, "page", *map(str, told), "--no-show", "--port", str(port)],
        env={
            **(environment or os.environ),
            "XDG_STATE_HOME": str(home / "state"),
            "COILWISE_TRACE": "1" if trace else "",
        },
        cwd=home,
        text=True,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    said = []
    try:
        for line in process.stdout:
            said.append(line)
            if "key=" in line:
                break
        address = re.search(r"http://\S+", "".join(said))
        assert address, "".join(said)
        _until_it_answers(port)
        yield Server(process, address.group(0), home / "state" / "coilwise" / f"start-{port}.html", said)
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()


def _until_it_answers(port: int) -> None:
    end = time.monotonic() + WITHIN_S
    while True:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        assert time.monotonic() < end
        time.sleep(LOOK_EVERY_S)


@contextmanager
def opened(browser: Browser, server: Server, *, size: dict[str, int] = DESK) -> Iterator[Page]:
    """The page in a browser of its own; what it asks of another machine, or breaks, is an error.

    Nothing moves on the page, as for a person who asked for that: drawing what moves is dear without a
    graphics processor.
    """
    context = browser.new_context(viewport=size, reduced_motion="reduce")
    page = context.new_page()
    elsewhere: list[str] = []
    broken: list[str] = []
    page.on("request", lambda r: elsewhere.append(r.url) if not _ours(r.url, server) else None)
    page.on("pageerror", lambda error: broken.append(str(error)))
    page.goto(server.file.as_uri())
    page.locator(".top .seat").wait_for(state="attached")
    try:
        yield page
    finally:
        context.close()
    assert elsewhere == []
    assert broken == []


def _ours(url: str, server: Server) -> bool:
    return url.startswith(
        (
            server.file.as_uri(),
            f"http://127.0.0.1:{server.port}/",
            f"ws://127.0.0.1:{server.port}/",
            "data:",
            "blob:",
        )
    )


AGAIN_S = 4.0
"""What was played or tapped and was not heard is done once more, so long after it ended."""
LISTENS = (READY, ACTIVITIES["passed over"], ACTIVITIES["nothing heard"])
READ_NOW = """() => ["big", "where", "how", "progress", "doing"].map(
    part => (document.querySelector(".now ." + part)?.innerText ?? "").trim())"""


class Shown(NamedTuple):
    """What the page shows at one moment, all of it read at once: its parts change together."""

    big: str
    where: str
    how: str
    progress: str
    doing: str

    @property
    def step(self) -> list[str]:
        """The lines of the step, as a terminal has them."""
        return [f"[] {self.big}", *self.where.splitlines(), self.how]


SOON_MS = 15_000
FOCUS_STAYS_MS = 150
HAS_FOCUS = "e => e.contains(document.activeElement)"
MOST_TABS = 150
"""No screen has so many controls."""


def reach(control: Locator, *, within_ms: int = SOON_MS) -> None:
    """Go to a control by Tab alone, and be sure that the focus stays: a list that closes may take it back."""
    control.wait_for(timeout=within_ms)
    for _ in range(MOST_TABS):
        if control.evaluate(HAS_FOCUS, timeout=within_ms):
            control.page.wait_for_timeout(FOCUS_STAYS_MS)
            if control.evaluate(HAS_FOCUS, timeout=within_ms):
                return
        control.page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {control}")


def press(control: Locator, key: str = "Enter", *, within_ms: int = SOON_MS) -> None:
    """Go to a control and press a key there."""
    reach(control, within_ms=within_ms)
    control.page.keyboard.press(key)


def typed(field: Locator, text: str) -> None:
    """Go to a field and type over what is in it."""
    press(field, "Control+A")
    field.page.keyboard.type(text)


def screen_by_keys(tab: Locator) -> None:
    """Go to a screen: Tab reaches the row of tabs, arrows go along it."""
    press(tab.page.get_by_role("tablist"), "Home")
    for _ in tab.page.get_by_role("tab").all():
        if tab.evaluate(HAS_FOCUS):
            break
        tab.page.keyboard.press("ArrowRight")
    assert tab.evaluate(HAS_FOCUS)
    tab.page.keyboard.press("Enter")


def chosen_by_keys(field: Locator, option: str) -> None:
    """Go to a field and take one of its values."""
    press(field)
    keyboard, offered = field.page.keyboard, field.page.locator(".q-menu").get_by_role("option")
    offered.first.wait_for(timeout=SOON_MS)
    ahead = field.page.locator(".q-menu .q-manual-focusable--focused")
    for _ in range(offered.count() + 1):
        if ahead.count() and ahead.inner_text().strip() == option:
            break
        keyboard.press("ArrowDown")
    keyboard.press("Enter")
    expect(offered).to_have_count(0)
    expect(field).to_have_attribute("aria-expanded", "false")


@dataclass
class Watcher:
    """Somebody who stands a metre from the page with a guitar in both hands.

    ``taps``: where hands have to move something, the strings are tapped; else Moved is pressed, which is
    quicker. ``keys``: no mouse is at hand.
    """

    page: Page
    guitarist: Guitarist
    virtual: VirtualInput
    taps: bool = True
    keys: bool = False
    shown: list[str] = field(default_factory=list)
    _done: Shown | None = None
    """What was answered last, and is not done anew before `_again`, while it stays."""
    _again: float = 0.0

    def text(self, part: str) -> str:
        return self.page.locator(part).first.inner_text().strip()

    def play_until(self, done: Callable[[], bool], *, within_s: float = 100.0, silent: bool = False) -> None:
        """Play whatever it asks for until something is so."""
        end, before = time.monotonic() + within_s, None
        while not done():
            assert time.monotonic() < end, self.shown[-8:]
            now = Shown(*self.page.evaluate(READ_NOW))
            if now.doing and (not self.shown or self.shown[-1] != now.doing):
                self.shown.append(now.doing)
            if now == before and not silent:
                self._act(now)
            before = now
            time.sleep(LOOK_EVERY_S)

    def _act(self, now: Shown) -> None:
        """Do what is asked for, and once more where nothing came of it."""
        listens = bool(now.progress) and now.doing.startswith(LISTENS)
        moving = now.doing in (ACTIVITIES["moving"], ACTIVITIES["not moved"])
        asks = now.big in QUESTIONS_BIG.values()
        asked = now._replace(doing="") if listens else now
        if not (listens or moving or asks):
            self._done = None
        elif asked != self._done or time.monotonic() > self._again:
            self._done, lasts_s = asked, 0.0
            if asks:
                self._press(words.YES if self.guitarist.answers(now.step) == "yes" else words.NO)
            elif moving and not self.taps:
                self._press(words.MOVED)
            else:
                self.guitarist.rng = np.random.default_rng(
                    len(self.guitarist.asked)
                )  # whatever was played before
                sound = self.guitarist.taps() if moving else self.guitarist.plays(now.step)
                lasts_s = len(sound) / self.guitarist.rate
                self.virtual.play(sound)
            self._again = time.monotonic() + lasts_s + AGAIN_S

    def _press(self, said: str) -> None:
        button = self.page.get_by_role("button", name=re.compile(f"^{said}\\b"))
        with contextlib.suppress(TimeoutError):  # what was asked may be gone by now
            if self.keys:
                press(button, within_ms=1000)
            else:
                button.click(timeout=1000)

    def begin(self) -> None:
        button = self.page.get_by_role("button", name=re.compile(f"^({words.BEGIN}|{words.GO_ON})"))
        if self.keys:
            press(button)
        else:
            button.click()
