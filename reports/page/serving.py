"""The page's server: the frame around the screens, the report as a page of its own, one address with a key.

`build` makes the page for one browser: title, tabs, who holds the control lock, messages. `serve` listens on
the loopback address until Ctrl-C. It answers first, and what hears is loaded behind it. No key is on a
command line, where other users of the machine could read it: the browser is given a file that leads there.
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from html import escape
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from fastapi.responses import PlainTextResponse, Response
from nicegui import app as page
from nicegui import ui
from nicegui.events import GenericEventArguments, KeyEventArguments
from platformdirs import user_state_path

from capture.disk.reading import read_plain, require_own
from dsp import CoilwiseError
from reports.evidence.cache import load_hearing
from reports.messages import page as words
from reports.messages import play as play_words
from reports.messages.wording import as_sentence, plain
from reports.model.session import Failure
from reports.page.screens import SCREENS
from reports.page.screens.play import PlayScreen
from reports.page.server.connections import LimitedProtocol
from reports.page.server.controller import PageController
from reports.page.server.guard import LOOPBACK, REPORTS, AccessGuard, StartKey
from reports.page.server.uploads import AROUND_A_FILE, LIMIT_BYTES
from reports.page.widgets.band import band_of
from reports.page.widgets.view import UnfinishedBar, View
from reports.render.icon import ICON
from reports.render.labels import LABELS
from reports.render.manual import as_page
from reports.render.parts import PAGE, REPORT

HERE = Path(__file__).parent
ACCENT = "#1b4d89"
Screen = Callable[[View], object]
ASKED_S = 10.0
"""So long the browser is asked for the address that it has."""
NAMES = {key: name for name, key in words.KEYS.items()}


def build(controller: PageController) -> None:
    """Build the page for one browser."""
    for kind, file in (("style", "page.css"), ("script", "page.js")):
        ui.add_head_html(f"<{kind}>{(HERE / file).read_text(encoding='utf-8')}</{kind}>")
    ui.colors(primary=ACCENT)
    view = View(controller)
    # only once it is connected: a page that was fetched and never shown would keep all others from acting
    view.client.on_connect(lambda: controller.control.acquire(view.page))
    view.client.on_disconnect(lambda: controller.control.release(view.page))
    with ui.element("header").classes("top") as top:
        ui.label(words.TITLE).classes("name")
        title = ui.label().classes("job")
        seat = ui.label().classes("seat").props('role="status"')
        live = ui.button(play_words.LIVE.format(word=""), on_click=lambda: view.go_to("play"), color=None)
        live.props("no-caps").classes("live").set_visibility(False)
        ui.html(_look_html(), sanitize=False).classes("look")
        take_over = ui.button(
            words.TAKE_OVER, on_click=lambda: controller.control.seize(view.page), color=None
        ).props("no-caps")
    first = "play" if controller.path is not None else "start"
    with ui.tabs().props("no-caps inline-label").classes("screens") as tabs:
        for key, name in words.SCREENS.items():
            ui.tab(key, label=name)
    tabs.set_value(first)
    tabs.on_value_change(view.clear_message)
    manual_link(top, tabs)
    tabs.on_value_change(lambda: view.client.run_javascript(f"coilwiseShow({json.dumps(tabs.value)})"))
    view.go_to = tabs.set_value
    addressed(tabs, first)
    view.notices()
    UnfinishedBar(view)
    play: PlayScreen | None = None
    with ui.tab_panels(tabs, value=first, animated=False, keep_alive=True).classes("screen"):
        for key in words.SCREENS:
            with ui.tab_panel(key):
                if key == "play":
                    play = PlayScreen(view)
                else:
                    SCREENS[key](view)

    def on_key(event: KeyEventArguments) -> None:
        button = NAMES.get(str(event.key).lower())
        plainly = not (event.modifiers.ctrl or event.modifiers.alt or event.modifiers.meta)
        once = bool(event.action.keydown) and not event.action.repeat
        if play is not None and button and once and plainly and tabs.value == "play" and view.may_act():
            play.press_key(button)

    ui.keyboard(on_key=on_key, ignore=["input", "select", "textarea"])

    def show_control() -> None:
        title.set_text(_title(controller))
        _say_seat(seat, mine=controller.control.holder == view.page, nobody=controller.control.holder is None)
        take_over.set_visibility(controller.control.holder != view.page)
        state = controller.live.now
        live.set_visibility(controller.runner.running and tabs.value != "play")
        live.set_text(play_words.LIVE.format(word=band_of(state).word))

    ui.timer(1.0, show_control)


def _say_seat(seat: ui.label, *, mine: bool, nobody: bool) -> None:
    """Say who acts; that this browser does need not be seen where there is little room."""
    seat.set_text(words.YOU_ACT if mine else words.NOBODY_ACTS if nobody else words.ANOTHER_ACTS)
    seat.classes(**{"add" if mine else "remove": "mine"})


def manual_link(place: ui.element, tabs: ui.tabs) -> None:
    """Put a link into a place that leads to the page of the manual that goes with the screen."""
    with place:
        link = ui.link(words.MANUAL, new_tab=True).classes("manual")

    def lead() -> None:
        link.props(f'href="{MANUAL_ADDRESS}{words.MANUAL_TOPICS[str(tabs.value)]}"')

    lead()
    tabs.on_value_change(lead)


def addressed(tabs: ui.tabs, first: str) -> None:
    """Give each screen an address of its own, to which back and reload return."""

    async def begin() -> None:
        wanted = await ui.run_javascript(f"coilwiseBegin({json.dumps(first)})", timeout=ASKED_S)
        if wanted in words.SCREENS and tabs.value == first:  # nobody has gone elsewhere meanwhile
            tabs.set_value(wanted)

    def went(event: GenericEventArguments) -> None:
        tabs.set_value(event.args if event.args in words.SCREENS else first)

    ui.on("coilwise-screen", went)
    ui.timer(0.0, begin, once=True)


def _look_html() -> str:
    """The switch between light and dark; the browser keeps what was chosen, and the server knows nothing."""
    options = "".join(f'<option value="{k}">{escape(v)}</option>' for k, v in play_words.LOOKS.items())
    said = escape(play_words.LOOK)
    return f'<label>{said} <select onchange="coilwiseLook(this.value)">{options}</select></label>'


def _title(controller: PageController) -> str:
    """The job's title; its folder's name where job.toml cannot be read just now."""
    if controller.path is None:
        return words.NO_TITLE
    try:
        return plain(controller.job().title or controller.path.name)
    except (CoilwiseError, OSError):
        return plain(controller.path.name)


ADDRESS = REPORTS + "{stage}"
MOST_REPORT_BYTES = 32_000_000
NONE_YET = "No report was written yet. Write it on the page, then look again."


def add_report(app: FastAPI, controller: PageController) -> None:
    """Add the address under which reports are found."""

    @app.get(ADDRESS)
    def report(stage: str) -> Response:
        page = LABELS if stage == "labels" else PAGE.format(stage)
        if controller.path is None or stage not in ("found", "after", "labels"):
            return PlainTextResponse(NONE_YET, status_code=404)
        try:
            path = require_own(controller.path, REPORT, page)
            content = read_plain(path, most_bytes=MOST_REPORT_BYTES)
        except OSError as error:
            missing = isinstance(error, FileNotFoundError)
            return PlainTextResponse(
                NONE_YET if missing else as_sentence(f"{error.strerror}"), status_code=404
            )
        return Response(content, media_type="text/html; charset=utf-8", headers={"cache-control": "no-store"})


TAKE_ADDRESS = "/take/{take}"


def add_takes(app: FastAPI, controller: PageController) -> None:
    """Add the address under which recordings are played back."""

    @app.get(TAKE_ADDRESS)
    def sound(take: str) -> Response:
        try:
            wave = controller.take_sound(take)
        except CoilwiseError as error:
            return PlainTextResponse(as_sentence(plain(str(error))), status_code=404)
        return Response(wave, media_type="audio/wav", headers={"cache-control": "no-store"})


MANUAL_ADDRESS = "/manual/"


def add_manual(app: FastAPI) -> None:
    """Add the addresses under which the manual's pages are found."""

    @app.get(MANUAL_ADDRESS + "{topic}")
    def manual(topic: str) -> Response:
        try:
            return Response(as_page(topic), media_type="text/html; charset=utf-8")
        except CoilwiseError as error:
            return PlainTextResponse(as_sentence(plain(str(error))), status_code=404)


FIRST_PORT, LAST_PORT = 8471, 8490
"""The same one each time, the next where it is in use."""
WAITING_TO_COME_IN = 64
"""Connections that the system keeps until they are taken."""
RECONNECT_S = 30.0
"""So long an open page is waited for, as when a tablet sleeps."""


class PortError(CoilwiseError):
    """No port can be had."""


def serve(
    controller: PageController, *, port: int | None, show: bool, announce: Callable[[str], None]
) -> None:
    """Serve until Ctrl-C; ``announce`` gets the address first.

    Raises
    ------
    PortError
        The port is in use.

    """
    held = _bound_socket(port)
    number = held.getsockname()[1]
    start_file = _start_folder() / f"start-{number}.html"
    start = _start_key(start_file, port=number)
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    add_report(app, controller)
    add_takes(app, controller)
    add_manual(app)
    ui.run_with(
        app,
        root=lambda: build(controller),
        title=words.TITLE,
        language="en-GB",
        favicon=ICON,
        tailwind=False,
        reconnect_timeout=RECONNECT_S,
        show_welcome_message=False,
    )
    announce(words.ADDRESS.format(address=start.address))
    announce(words.ADDRESS_MORE.format(file=start_file))
    # Not before the page's library has started: it looks through all objects then, and a tuple that another
    # thread is just building breaks if anybody else holds it.
    page.on_startup(
        lambda: threading.Thread(target=_first_judgement, args=(controller,), daemon=True).start()
    )
    page.on_shutdown(start.remove)
    if show:
        page.on_startup(lambda: threading.Timer(0.2, webbrowser.open, [start_file.as_uri()]).start())
    config = uvicorn.Config(
        AccessGuard(app, start=start, port=number, most_bytes=LIMIT_BYTES + AROUND_A_FILE),
        http=LimitedProtocol,
        log_level="error",
        lifespan="on",
        ws_ping_interval=5,
        backlog=WAITING_TO_COME_IN,
    )
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[held])
    controller.runner.end()


def _start_folder() -> Path:
    """Where the file lies that leads to the page: for this user alone, but where a browser may read it.

    Browsers that come as snaps read nothing below a hidden folder.
    """
    home = Path.home()
    if sys.platform == "linux" and (home / "snap").is_dir():
        return home
    return user_state_path("coilwise", appauthor=False)


def _start_key(file: Path, *, port: int) -> StartKey:
    try:
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        return StartKey(file, port=port)
    except OSError as error:
        raise PortError(words.NO_START_FILE.format(file=file, why=error.strerror)) from None


def _first_judgement(controller: PageController) -> None:
    """Load what hears and judge the job, while the page answers already."""
    load_hearing()
    if controller.path is None:
        return
    try:
        controller.judge()
    except CoilwiseError as error:
        controller.live.update(phase="failed", outcome=Failure("judging", str(error)))


def _bound_socket(port: int | None) -> socket.socket:
    """A socket that nobody else can have, bound to the loopback address only."""
    ports = range(FIRST_PORT, LAST_PORT + 1) if port is None else (port,)
    for number in ports:
        held = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        elif hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            held.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)  # Windows shares it otherwise
        try:
            held.bind((LOOPBACK, number))
            held.listen(WAITING_TO_COME_IN)  # at once: until then another socket may be bound to it too
        except OSError:
            held.close()
            continue
        held.set_inheritable(True)
        return held
    raise PortError(words.NO_PORT.format(first=ports[0], last=ports[-1]))
