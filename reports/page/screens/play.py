"""The screen for playing: what to do now, levels, the guitar with its pickups, the last take, posteriors.

The band says what the moment is, the picture what to do. It is built once; only what changed is put in its
place, so that nothing jumps and a screen reader hears only what is new.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Literal

from markupsafe import Markup
from nicegui import ui

from capture.job import Job
from reports.entry.spelling import named_step
from reports.messages import page as words
from reports.messages import play as play_words
from reports.messages import session as session_words
from reports.messages.cautions import BARE_COIL, cautions_of_step
from reports.messages.gestures import CHOICES
from reports.messages.setup import BEFORE_PLUGGING_IN
from reports.messages.summary import first_step, headline, to_do
from reports.messages.wording import on_words, plain
from reports.model.gestures import ROWS, SESSION_GESTURES
from reports.model.session import Failure, acceptance
from reports.model.verdict import Verdict
from reports.page.server.recording import PageState, TakeWaveform
from reports.page.widgets.band import Band, band_of, band_svg
from reports.page.widgets.last_take import posterior_svg, wave_svg
from reports.page.widgets.take_evidence import evidence_svg
from reports.page.widgets.view import Handler, LevelBars, View, cautions_html, choice_field
from reports.render.guitar import SettingState, setting_mark_svg, setting_states
from reports.render.parts import html_table
from reports.render.play_picture import play_svg
from reports.session.session import SessionResult

LEVEL_EVERY_S = 0.05
COUNTED_S, REFUSED_S = 1.6, 3.0
"""So long the band says that a take counts, or does not."""
LINES_SHOWN = 2
AT_A_GLANCE = 60
"""A line of what is plugged in that is longer, in letters, is read from nearer."""
RESTS = ("resting", "ended", "failed")
"""Phases in which nothing is listened to."""


class PlayScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        self._seen: PageState | None = None
        self._levels: tuple[float, ...] = ()
        self._path: Path | None = None
        self._counted: bool | None = None
        self._counted_until = 0.0
        self._band_shown: Band | None = None
        self._big_said: str | None = None
        self._where_said: tuple[str, ...] | None = None
        with ui.element("div").classes("play") as self._play:
            self._now()
            self._instrument()
            self._belief = ui.html(sanitize=False).classes("belief")
            self._last_take()
        ui.timer(LEVEL_EVERY_S, self._refresh)

    def _now(self) -> None:
        act = self._view.act
        with ui.element("section").classes("now").props(f'aria-label="{words.WHAT_NOW}"'):
            with ui.element("div").classes("band") as self._band:
                self._shape = ui.html(sanitize=False).classes("shape")
                self._band_word = ui.label().classes("band-word")
                self._activity = ui.label().classes("doing").props('role="status" aria-live="assertive"')
            with ui.element("div").classes("step"):
                with ui.element("div").props('role="status" aria-live="polite" aria-atomic="true"'):
                    self._big = ui.element("h1").classes("big")
                    self._where = ui.element("div").classes("where")
                    self._how = ui.label().classes("how")
                self._care = ui.html(sanitize=False).classes("care")
                self._progress = ui.label().classes("progress")
                self._word = ui.html(sanitize=False).classes("word").props('role="status" aria-live="polite"')
            with ui.element("div").classes("acts"):
                with ui.element("div").classes("hands"):
                    self._begin = _button(words.BEGIN, "begin", act(self.begin)).classes("primary")
                    self._wiring = _go(play_words.SEE_WIRING, self._view, "wiring")
                    self._report = _go(play_words.SEE_REPORT, self._view, "report")
                    self._pause = _button(words.PAUSE, "pause", act(self.pause))
                    self._yes = _button(words.YES, "yes", act(self.answer_yes)).classes("primary")
                    self._no = _button(words.NO, "no", act(self.answer_no))
                    self._moved = _button(words.MOVED, "moved", act(self.moved)).classes("primary")
                    self._keep = _button(words.KEEP, "keep", act(self.keep))
                    self._void = _button(words.TAKE_BACK, "void", act(self.take_back))
                    self._next = _button(words.NEXT, "next", act(self.leave))
                self._bars = LevelBars(self._view)
                self._rest = ui.html(sanitize=False).classes("rest")
                self._tones = ui.checkbox(words.TONES, on_change=act(self.choose_tones)).classes("tones")
                self._own = ui.expansion(words.OWN_HEAD).classes("own")
                with self._own:
                    self._own_fields()

    def _instrument(self) -> None:
        with ui.element("section").classes("instrument").props(f'aria-label="{words.GUITAR}"'):
            self._guitar = ui.html(sanitize=False).classes("guitar")
            self._settings = ui.html(sanitize=False).classes("settings")

    def _last_take(self) -> None:
        with ui.element("section").classes("wave").props(f'aria-label="{words.LAST_TAKE_HEAD}"'):
            self._wave = ui.html(sanitize=False)
            self._open = choice_field(
                play_words.OPEN_TAKE, {}, on_change=self._view.act(self.open_take, looks=True)
            ).classes("open-take")
            self._sound = ui.html(sanitize=False)

    async def open_take(self) -> None:
        """Look at a take that was recorded before, and play it back."""
        chosen = self._open.value
        if not chosen:
            self._show_take(self._controller.live.now.take)
            return
        self._show_take(await self._view.in_thread(self._controller.open_take, str(chosen)))

    def begin(self) -> None:
        """Begin, or go on."""
        self._controller.runner.begin(self._controller.open_path, self._controller.options)

    def pause(self) -> None:
        """End the session; Go on takes it up again."""
        self._controller.live.request("stop")

    def take_back(self) -> None:
        """Void the last take of the session."""
        self._controller.live.request("void")

    def leave(self) -> None:
        """Leave this step and have another chosen."""
        self._controller.live.request("skip")

    def _own_fields(self) -> None:
        """Fields for a take of the person's own choice; what they offer is filled in when they are opened."""
        act = self._view.act
        gestures = {name: CHOICES[name] for name in SESSION_GESTURES}
        self._own_gesture = choice_field(words.OWN_GESTURE, gestures)
        self._own_string = ui.input(words.OWN_STRING).props("outlined dense")
        self._own_inputs = tuple(
            ui.input(words.OWN_INPUT.format(number=n)).props("outlined dense") for n in (1, 2)
        )
        ui.button(words.OWN_RECORD, on_click=act(self.record_own), color=None).props("no-caps")

    def record_own(self) -> None:
        """Have the take that the fields name come next."""
        on = [text for field in self._own_inputs if (text := (field.value or "").strip())]
        step = named_step(
            self._controller.job(), self._own_gesture.value or "", on, string=self._own_string.value or None
        )
        self._controller.live.own = step
        self._controller.live.request("mine")

    def choose_tones(self) -> None:
        """Have tones from the next Begin on, or none."""
        self._controller.options = replace(self._controller.options, tones=bool(self._tones.value))

    def keep(self) -> None:
        """Make a take of what was passed over."""
        self._controller.live.request("keep")

    def moved(self) -> None:
        """What was to be moved is where it should be."""
        if self._controller.live.now.moving is not None:
            self._controller.live.request("moved")

    def answer_yes(self) -> None:
        """Answer the question that is shown."""
        self._answer("yes")

    def answer_no(self) -> None:
        """Answer the question that is shown."""
        self._answer("no")

    def _answer(self, answer: Literal["yes", "no"]) -> None:
        if self._controller.live.now.question is not None:
            self._controller.live.request(answer)

    def press_key(self, name: str) -> None:
        """Do what a key says."""
        resting = self._controller.live.now.phase in RESTS
        work = {"begin": self.begin, "pause": self.pause, "void": self.take_back, "next": self.leave}
        work |= {"yes": self.answer_yes, "no": self.answer_no, "keep": self.keep, "moved": self.moved}
        if (name == "begin") == resting and name in work:
            work[name]()

    def _refresh(self) -> None:
        state, seen = self._controller.live.now, self._seen
        if seen is None or state.revision != seen.revision:
            self._show(state, seen)
            self._seen = state
        band = band_of(state, lately=self._counted if time.monotonic() < self._counted_until else None)
        if band != self._band_shown:
            self._show_band(band)
        _set_unseen(self._activity, unseen=band.says(self._activity.text))
        levels = self._controller.live.levels
        if levels != self._levels:
            self._levels = levels
            self._bars.show(_input_names(state, len(levels)), levels)

    def _show_band(self, band: Band) -> None:
        before, self._band_shown = self._band_shown, band
        self._band.classes(remove=before.kind if before else None, add=band.kind)
        self._shape.set_content(band_svg(band.shape))
        self._band_word.set_text(band.word)
        self._band_word.style(f"--letters: {len(band.word)}")

    def _count(self, state: PageState) -> None:
        """Whether the take that came last counts, to be shown for a moment."""
        counts = next((c for n in reversed(state.notes) if (c := acceptance(n)) is not None), None)
        self._counted = counts
        self._counted_until = time.monotonic() + (COUNTED_S if counts else REFUSED_S)

    def _show(self, state: PageState, seen: PageState | None) -> None:
        resting = state.phase in RESTS
        self._play.classes(**{"add" if resting else "remove": "resting"})
        self._say_now(state)
        with self._controller.naming_commands():
            self._rest.set_content(_rest_html(state, self._controller.options.gestures) if resting else "")
        self._begin.set_text(_keyed(words.GO_ON if state.phase != "resting" else words.BEGIN, "begin"))
        self._begin.set_visibility(resting)
        settled = resting and _rest_words(state) == words.DONE_BIG
        self._wiring.set_visibility(settled and _wires(state.verdict))
        self._report.set_visibility(settled and not _wires(state.verdict))
        self._begin.classes(**{"remove" if settled else "add": "primary"})
        self._care.set_content(_care_html(state))
        for button in (self._pause, self._void, self._next):
            button.set_visibility(not resting)
        self._own.set_visibility(not resting and state.question is None)
        self._tones.set_visibility(resting)
        self._moved.set_visibility(not resting and state.step is not None and state.moving is not None)
        self._keep.set_visibility(not resting and state.step is not None and state.moving is None)
        for button in (self._yes, self._no):
            button.set_visibility(not resting and state.question is not None)
        if seen is None or state.notes is not seen.notes or state.outcome is not seen.outcome:
            self._word.set_content(_notes_html(state))
            if seen is not None and state.notes:
                self._count(state)
        moved = self._path != self._controller.path
        if seen is None or moved or _picture_key(state) != _picture_key(seen):
            self._path = self._controller.path
            self._draw_guitar(state)
        if seen is None or moved or state.take is not seen.take or state.verdict is not seen.verdict:
            self._offer_takes(state, newest=seen is None or moved or state.take is not seen.take)
        if seen is None or state.posteriors is not seen.posteriors:
            self._belief.set_content(_belief_html(state))

    def _offer_takes(self, state: PageState, *, newest: bool) -> None:
        """Offer the takes of the job; ``newest``: another one came, and is shown."""
        takes = () if state.verdict is None else tuple(t.id for t in state.verdict.takes)
        self._open.set_visibility(bool(takes))
        options = {"": play_words.NEWEST, **{t: t for t in reversed(takes)}}
        keep = self._open.value if self._open.value in options and not newest else ""
        self._open.set_options(options, value=keep)
        if newest:
            self._show_take(state.take)

    def _show_take(self, take: TakeWaveform | None) -> None:
        job = None if self._controller.path is None else self._controller.job()
        self._wave.set_content(_wave_html(take, job))
        self._sound.set_content("" if take is None else _sound_html(take.id))

    def _say_now(self, state: PageState) -> None:
        step, question = state.step, state.question
        if question is not None:
            self._set_big(session_words.QUESTIONS_BIG[question.what])
            self._set_where((session_words.ANSWER["page"],))
            self._how.set_text(plain(session_words.question_text(question)))
            self._progress.set_text(session_words.progress_text(state.accepted, state.to_go))
        elif step is None:
            self._set_big(_rest_words(state), unseen=state.phase in RESTS)
            self._set_where(())
            waits = state.phase == "resting" and _rest_words(state) != words.DONE_BIG
            self._how.set_text(words.HANDS_FREE if waits else "")
            self._progress.set_text("")
        else:
            self._set_big(session_words.large_text(step, state.moving), unseen=state.moving is not None)
            self._set_where(session_words.connections(step))
            how = session_words.instruction(step) if state.moving is None else session_words.MOVING["page"]
            self._how.set_text(plain(how))
            part = words.PART.format(part=step.part, parts=step.parts) if step.parts > 1 else ""
            progress = session_words.progress_text(state.accepted, state.to_go)
            self._progress.set_text(session_words.stage_text(step.stage, f"{progress}{part}"))
        self._activity.set_text(plain(session_words.activity_text(state.activity, step)))

    def _set_big(self, text: str, *, unseen: bool = False) -> None:
        """``unseen``: the band says it already, and a screen reader alone needs the heading."""
        _set_unseen(self._big, unseen=unseen)
        if text != self._big_said:  # it is read out when it changes
            self._big_said = text
            self._big.clear()
            with self._big:
                ui.label(text)

    def _set_where(self, lines: tuple[str, ...]) -> None:
        if lines == self._where_said:
            return
        self._where_said = lines
        self._where.clear()
        with self._where:
            for line in lines:
                ui.label(plain(line)).classes("aside" if len(line) > AT_A_GLANCE else "")

    def _draw_guitar(self, state: PageState) -> None:
        if self._controller.path is None:
            self._guitar.set_content(f"<p>{words.NO_JOB}</p>")
            self._settings.set_content("")
            return
        job = self._controller.job()
        question = state.question
        self._guitar.set_content(
            play_svg(
                job,
                state.verdict,
                now=state.step,
                moving=state.moving,
                changed=state.changed,
                tagging=question.pickup if question is not None and question.what == "tag" else None,
            )
        )
        self._settings.set_content(_settings_html(setting_states(job, state.verdict)))


def _set_unseen(element: ui.element, *, unseen: bool) -> None:
    """Show an element to all, or to a screen reader alone."""
    element.classes(**{"add" if unseen else "remove": "unseen"})


def _picture_key(state: PageState) -> tuple[object, ...]:
    """What the picture is drawn from."""
    return id(state.verdict), state.step, state.moving, state.changed, state.question


def _go(text: str, view: View, screen: str) -> ui.button:
    """A button that leads to another screen."""
    return (
        ui.button(text, on_click=lambda: view.go_to(screen), color=None).props("no-caps").classes("primary")
    )


def _care_html(state: PageState) -> str:
    """The cautions of the step that is shown."""
    step = state.step
    if step is None:
        return ""
    plugs = state.moving is not None and state.moving != "selector"
    gesture = step.gesture if state.moving is None else None
    return "".join(f"<p>{escape(c)}</p>" for c in cautions_of_step(gesture=gesture, plugs=plugs))


def _button(text: str, key: str, handler: Handler) -> ui.button:
    return ui.button(_keyed(text, key), on_click=handler, color=None).props("no-caps").classes("hand")


def _keyed(text: str, key: str) -> str:
    return f"{text}  [{words.KEYS[key]}]"


def _rest_words(state: PageState) -> str:
    """In large letters while no take is asked for."""
    return band_of(state).word if state.phase in RESTS else words.REST_BIG.get(state.phase, "")


def _wires(verdict: Verdict | None) -> bool:
    """Whether leads are to be joined or exchanged."""
    return verdict is not None and any(one.exchange is not None or one.leads for one in verdict.wiring)


def _rest_html(state: PageState, gestures: Sequence[str]) -> str:
    """What is known and what comes next, then the cautions: what a person reads before Begin."""
    parts = []
    if state.verdict is not None:
        parts.append(f'<p class="headline">{escape(plain(headline(state.verdict)))}</p>')
        for name, said in ((words.TO_DO, to_do(state.verdict)), (words.THEN, first_step(state.verdict))):
            if said:
                parts.append(f"<p><strong>{name}</strong> {escape(plain(said))}</p>")
    if state.phase != "resting":
        return "".join(parts)
    now = cautions_of_step(gesture=None, plugs=True)
    rest = (
        *BEFORE_PLUGGING_IN,
        *([BARE_COIL] if any(row.at_poles for row in ROWS if row.gesture in gestures) else []),
    )
    return "".join([*parts, cautions_html(words.CAUTIONS, now, rest)])


def _notes_html(state: PageState) -> str:
    """What happened and how it ended, the latest first."""
    notes = [
        (_KINDS[acceptance(note)], line)
        for note in state.notes
        for line in session_words.note_lines(note, surface="page")
    ]
    outcome = state.outcome
    if isinstance(outcome, Failure):
        ending: tuple[str, ...] = (words.failure_text(outcome),)
    elif outcome is not None:
        ending = session_words.ending_lines(
            outcome.ending, outcome.verdict, accepted=outcome.accepted, surface="page"
        )
    else:
        ending = ()
    last = notes[-LINES_SHOWN:][::-1]
    if isinstance(outcome, SessionResult) and outcome.ending == "stuck":  # why comes first
        why, last = [line for line in last if line[0] == _KINDS[False]][:1], []
    else:
        why = []
    lines = [*why, *((_KINDS[None], line) for line in ending), *last]
    return "".join(f'<p class="{kind}">{escape(plain(line))}</p>' for kind, line in lines)


_KINDS = {True: "good", False: "bad", None: "told"}


def _wave_html(take: TakeWaveform | None, job: Job | None) -> str:
    """What a take shows, then the whole of it."""
    if take is None:
        return f"<p>{words.NO_TAKE_YET}</p>"
    drawn = (
        "" if take.result is None or job is None else evidence_svg(take.result, job=job, before=take.before)
    )
    return (
        f"<h2>{words.LAST_TAKE.format(id=escape(take.id))}</h2>"
        + drawn
        + wave_svg(
            take.samples,
            rate=take.rate,
            onset_s=take.onset_s,
            end_s=take.end_s,
            labels=[on_words(i) for i in take.inputs],
        )
    )


def _sound_html(take: str) -> str:
    said = escape(play_words.PLAY_TAKE.format(id=take))
    return (
        f'<audio controls preload="none" src="/take/{escape(take)}" aria-label="{said}"></audio>'
        f"<p>{play_words.AS_RECORDED}</p>"
    )


def _belief_html(state: PageState) -> str:
    drawn = []
    for k, ((a, b), steps) in enumerate(state.posteriors.items()):
        named = f"<figcaption>{escape(plain(f'{a} and {b}'))}</figcaption>"
        drawn.append(f"<figure>{named}{posterior_svg(steps, name=f'belief{k}')}</figure>")
    return f"<h2>{words.BELIEF}</h2>" + ("".join(drawn) or f"<p>{words.NOTHING_BELIEVED}</p>")


def _settings_html(rows: Sequence[SettingState]) -> str:
    if not rows:
        return ""
    cells = [(r.name, r.on, Markup(f"{setting_mark_svg(r.kind)} {escape(r.sounds)}"), r.hum) for r in rows]
    return f"<h2>{words.SETTINGS}</h2>{html_table(words.SETTING_HEADS, cells)}"


def _input_names(state: PageState, count: int) -> list[str]:
    step = state.step
    if step is not None and len(step.columns) == count:
        return [f"Input {c + 1}: {on_words(i)}" for c, i in zip(step.columns, step.inputs, strict=True)]
    return [f"Input {k + 1}" for k in range(count)]
