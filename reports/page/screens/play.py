"""The screen for the moment with both hands on the guitar.

Task: what to do now in type that reads from a metre; what was heard; levels; the guitar with what is known;
the last take and the belief as it grows. Units: dB re full scale, seconds. Signs: those of the drawings.

Everything is drawn once and then only what changed is put in its place, so that nothing jumps and a screen
reader hears only what is new.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

from nicegui import ui

from reports.messages import page as words
from reports.messages import session as guide_words
from reports.messages.cautions import BARE_COIL
from reports.messages.setup import BEFORE_PLUGGING_IN
from reports.messages.summary import first_step, headline, to_do
from reports.messages.wording import on_words, plain
from reports.page.server.recording import Line, PageState
from reports.page.widgets.guitar import SettingState, guitar_svg, setting_mark_svg, setting_rows
from reports.page.widgets.inputs import LevelBars
from reports.page.widgets.last_take import belief_svg, wave_svg
from reports.page.widgets.view import Handler, View

LEVEL_EVERY_S = 0.05
LINES_SHOWN = 2
RESTS = ("resting", "ended", "failed")
"""Phases in which nothing is listened to."""


class PlayScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._room = view, view.room
        self._seen: PageState | None = None
        self._levels: tuple[float, ...] = ()
        self._path: Path | None = None
        with ui.element("div").classes("play"):
            with ui.element("div"):
                self._now()
                self._belief = ui.html(sanitize=False).classes("belief")
            with ui.element("div"):
                self._instrument()
                self._wave = ui.html(sanitize=False).classes("wave")
        ui.timer(LEVEL_EVERY_S, self._refresh)

    def _now(self) -> None:
        act = self._view.act
        with ui.element("section").classes("now").props(f'aria-label="{words.WHAT_NOW}"'):
            self._big = ui.element("h1").classes("big")
            self._where = ui.element("div").classes("where")
            self._how = ui.label().classes("how")
            self._doing = ui.label().classes("doing").props('role="status" aria-live="assertive"')
            self._progress = ui.label().classes("progress")
            with ui.element("div").classes("hands"):
                self._begin = _button(words.BEGIN, "begin", act(self.begin)).classes("primary")
                self._pause = _button(words.PAUSE, "pause", act(self.pause))
                self._void = _button(words.TAKE_BACK, "void", act(self.take_back))
                self._next = _button(words.NEXT, "next", act(self.leave))
            self._bars = LevelBars(self._view)
            self._rest = ui.html(sanitize=False).classes("rest")
            self._word = ui.html(sanitize=False).classes("word").props('role="status" aria-live="polite"')

    def _instrument(self) -> None:
        with ui.element("section").classes("instrument").props(f'aria-label="{words.GUITAR}"'):
            self._guitar = ui.html(sanitize=False).classes("guitar")
            self._settings = ui.html(sanitize=False).classes("settings")

    def begin(self) -> None:
        """Begin, or go on."""
        self._room.recording.begin(self._room.home, self._room.wanted)

    def pause(self) -> None:
        """End the session; Go on takes it up again."""
        self._room.board.wish("stop")

    def take_back(self) -> None:
        """Void the last take of the session."""
        self._room.board.wish("void")

    def leave(self) -> None:
        """Leave this step and have another chosen."""
        self._room.board.wish("skip")

    def key(self, name: str) -> None:
        """Do what a key says."""
        resting = self._room.board.moment.phase in RESTS
        work = {"begin": self.begin, "pause": self.pause, "void": self.take_back, "next": self.leave}
        if (name == "begin") == resting and name in work:
            work[name]()

    def _refresh(self) -> None:
        moment, seen = self._room.board.moment, self._seen
        if seen is None or moment.revision != seen.revision:
            self._show(moment, seen)
            self._seen = moment
        levels = self._room.board.levels
        if levels != self._levels:
            self._levels = levels
            self._bars.show(_input_names(moment, len(levels)), levels)

    def _show(self, moment: PageState, seen: PageState | None) -> None:
        resting = moment.phase in RESTS
        self._say_now(moment)
        self._rest.set_content(_rest_html(moment, self._room.wanted.gestures) if resting else "")
        self._begin.set_text(_keyed(words.GO_ON if moment.phase != "resting" else words.BEGIN, "begin"))
        self._begin.set_visibility(resting)
        for button in (self._pause, self._void, self._next):
            button.set_visibility(not resting)
        if seen is None or moment.lines is not seen.lines or moment.ended is not seen.ended:
            self._word.set_content(_lines_html(moment))
        moved = self._path != self._room.path
        if seen is None or moved or moment.verdict is not seen.verdict or moment.step is not seen.step:
            self._path = self._room.path
            self._draw_guitar(moment)
        if seen is None or moment.take is not seen.take:
            self._wave.set_content(_wave_html(moment))
        if seen is None or moment.beliefs is not seen.beliefs:
            self._belief.set_content(_belief_html(moment))

    def _say_now(self, moment: PageState) -> None:
        step = moment.step
        if step is None:
            self._set_big(_rest_words(moment))
            self._where.clear()
            waits = moment.phase == "resting" and _rest_words(moment) != words.DONE_BIG
            self._how.set_text(words.HANDS_FREE if waits else "")
            self._progress.set_text("")
        else:
            self._set_big(guide_words.big_words(step))
            self._where.clear()
            with self._where:
                for line in guide_words.where(step):
                    ui.label(plain(line))
            self._how.set_text(plain(guide_words.how(step)))
            part = words.PART.format(part=step.part, parts=step.parts) if step.parts > 1 else ""
            self._progress.set_text(
                words.PROGRESS.format(count=guide_words.count_words(moment.count, moment.to_go), part=part)
            )
        self._doing.set_text(plain(moment.doing))

    def _set_big(self, text: str) -> None:
        self._big.clear()
        with self._big:
            ui.label(text)

    def _draw_guitar(self, moment: PageState) -> None:
        if self._room.path is None:
            self._guitar.set_content(f"<p>{words.NO_JOB}</p>")
            self._settings.set_content("")
            return
        job = self._room.job()
        self._guitar.set_content(guitar_svg(job, moment.verdict, now=moment.step))
        self._settings.set_content(_settings_html(setting_rows(job, moment.verdict)))


def _button(text: str, key: str, handler: Handler) -> ui.button:
    return ui.button(_keyed(text, key), on_click=handler, color=None).props("no-caps").classes("hand")


def _keyed(text: str, key: str) -> str:
    return f"{text}  [{words.KEYS[key]}]"


def _rest_words(moment: PageState) -> str:
    pairs = () if moment.verdict is None else moment.verdict.pairs
    if pairs and moment.phase in ("resting", "ended") and all(p.standing == "settled" for p in pairs):
        return words.DONE_BIG
    return words.REST_BIG.get(moment.phase, "")


def _rest_html(moment: PageState, gestures: Sequence[str]) -> str:
    """What is known and what comes next, then the cautions: what a person reads before Begin."""
    parts = []
    if moment.verdict is not None:
        parts.append(f'<p class="headline">{escape(plain(headline(moment.verdict)))}</p>')
        for name, said in ((words.TO_DO, to_do(moment.verdict)), (words.THEN, first_step(moment.verdict))):
            if said:
                parts.append(f"<p><strong>{name}</strong> {escape(plain(said))}</p>")
    if moment.phase != "resting":
        return "".join(parts)
    told = [*BEFORE_PLUGGING_IN, *([BARE_COIL] if "lift" in gestures else [])]
    items = "".join(f"<li>{escape(caution)}</li>" for caution in told)
    return "".join([*parts, f'<div class="cautions"><h2>{words.CAUTIONS}</h2><ul>{items}</ul></div>'])


def _lines_html(moment: PageState) -> str:
    known = "" if moment.verdict is None else headline(moment.verdict)
    lines = [*moment.lines[-LINES_SHOWN:], *(Line(text) for text in moment.ended if text != known)]
    return "".join(f'<p class="{_kind(line)}">{escape(plain(line.text))}</p>' for line in reversed(lines))


def _kind(line: Line) -> str:
    return {True: "good", False: "bad", None: "told"}[line.good]


def _wave_html(moment: PageState) -> str:
    if moment.take is None:
        return f"<p>{words.NO_TAKE_YET}</p>"
    take = moment.take
    return f"<h2>{words.LAST_TAKE.format(id=escape(take.id))}</h2>" + wave_svg(
        take.samples, rate=take.rate, onset_s=take.onset_s, end_s=take.end_s, labels=take.labels
    )


def _belief_html(moment: PageState) -> str:
    drawn = []
    for k, ((a, b), steps) in enumerate(moment.beliefs.items()):
        named = f"<figcaption>{escape(plain(f'{a} and {b}'))}</figcaption>"
        drawn.append(f"<figure>{named}{belief_svg(steps, name=f'belief{k}')}</figure>")
    return f"<h2>{words.BELIEF}</h2>" + ("".join(drawn) or f"<p>{words.NOTHING_BELIEVED}</p>")


def _settings_html(rows: Sequence[SettingState]) -> str:
    if not rows:
        return ""
    body = "".join(
        f'<tr><th scope="row">{escape(plain(r.name))}</th><td>{escape(plain(r.on))}</td>'
        f"<td>{setting_mark_svg(r.kind)} {escape(r.sounds)}</td><td>{escape(r.hum)}</td></tr>"
        for r in rows
    )
    return (
        f'<h2>{words.SETTINGS}</h2><table><thead><tr><th scope="col">Setting</th><th scope="col">Pickups</th>'
        f'<th scope="col">Sounds</th><th scope="col">Hum</th></tr></thead><tbody>{body}</tbody></table>'
    )


def _input_names(moment: PageState, count: int) -> list[str]:
    step = moment.step
    if step is not None and len(step.columns) == count:
        return [f"Input {c + 1}: {on_words(i)}" for c, i in zip(step.columns, step.inputs, strict=True)]
    return [f"Input {k + 1}" for k in range(count)]
