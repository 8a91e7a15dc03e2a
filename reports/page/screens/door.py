"""The page's first screen: what is on the bench, told by two or three large answers, then straight to Play.

One question stands there at a time, each answer a drawing and a few words; the last one makes the job, called
by date and number. Recordings go to Bring in instead. What was worked on last can be gone on with here too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from nicegui import ui

from capture import RecordingError
from reports.entry.first_job import BENCHES, Bench, Layout, coil_counts, first_job, layouts_for
from reports.entry.new_job import create_job_folder
from reports.messages import door as words
from reports.messages.wording import plain
from reports.page.screens.job import ListedJob, listed_jobs, stamps_in
from reports.page.widgets.view import View, button, heading
from reports.render.bench_drawings import guitar_card, loose_card, recordings_card

MOST_SHOWN = 3
"""Jobs that can be gone on with from here; all of them are on the screen Job."""


@dataclass(frozen=True)
class Answer:
    """One answer: a drawing, its words, the rest in small letters, and what follows."""

    drawing: str
    text: str
    more: str
    then: Callable[[], object]


def door_screen(view: View) -> None:
    """Build the screen."""
    DoorScreen(view)


class DoorScreen:
    """The question that stands there, and what was answered before it."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        with ui.element("div").classes("door"):
            self._place = ui.element("div")
        self._ask_bench()

    def _ask_bench(self) -> None:
        answers = [
            Answer(bench_card(bench), *words.BENCHES[bench], partial(self._ask_layout, bench))
            for bench in BENCHES
        ]
        self._ask(words.WHAT_IS_THERE, answers)
        with self._place:
            self._jobs = ui.element("div").classes("there")
            ui.timer(0.0, self._list_jobs, once=True)

    def _ask_layout(self, bench: Bench) -> None:
        layouts = layouts_for(bench)
        if len(layouts) == 1:
            self._ask_coils(bench, layouts[0], back=self._ask_bench)
            return
        answers = [
            Answer(
                layout_card(bench, layout, coil_counts(layout)[0]),
                *words.LAYOUTS[layout.key],
                partial(self._ask_coils, bench, layout, back=partial(self._ask_layout, bench)),
            )
            for layout in layouts
        ]
        self._ask(words.WHICH_LAYOUT[bench], answers, back=self._ask_bench)

    def _ask_coils(self, bench: Bench, layout: Layout, *, back: Callable[[], None]) -> None:
        answers = [
            Answer(
                layout_card(bench, layout, coils),
                *words.coils_text(layout.pickups, coils),
                self._view.act(partial(self._begin, bench, layout, coils)),
            )
            for coils in coil_counts(layout)
        ]
        self._ask(words.HOW_MANY_COILS, answers, back=back)

    def _ask(
        self, question: str, answers: Sequence[Answer], *, back: Callable[[], None] | None = None
    ) -> None:
        self._place.clear()
        with self._place:
            heading(question, tag="h1")
            with ui.element("div").classes("choices" if len(answers) < 5 else "choices many"):
                for answer in answers:
                    one = ui.element("button").props("type=button").classes("choice")
                    one.on("click", answer.then, args=[])
                    with one:
                        ui.html(answer.drawing, sanitize=False).classes("drawn")
                        ui.label(answer.text).classes("said")
                        ui.label(answer.more).classes("more")
            with ui.element("div").classes("actions"):
                if back is not None:
                    button(words.BACK, back)
                button(words.OTHERWISE, lambda: self._view.go_to("job"))

    async def _begin(self, bench: Bench, layout: Layout, coils: tuple[int, ...]) -> None:
        if self._controller.runner.running:
            raise RecordingError(words.STOP_FIRST)
        under = self._controller.jobs_folder
        fields = first_job(layout, coils, under=under, today=date.today())
        path = await self._view.in_thread(create_job_folder, fields, under=under)
        await self._view.in_thread(self._controller.open, path)
        self._view.go_to("bring" if bench == "recordings" else "play")
        self._view.say(words.STARTED.format(title=fields.title), good=True)
        self._ask_bench()
        await self._view.in_thread(self._controller.judge)

    async def _list_jobs(self) -> None:
        stamps = await self._view.in_thread(stamps_in, self._controller.jobs_folder)
        found = await self._view.in_thread(listed_jobs, stamps[:MOST_SHOWN])
        if not found or self._jobs.is_deleted:
            return
        with self._jobs:
            heading(words.GO_ON_WITH)
            with ui.element("div").classes("actions"):
                for one in found:
                    self._offer(one)

    def _offer(self, one: ListedJob) -> None:
        async def go_on() -> None:
            await self._view.in_thread(self._controller.open, one.path)
            self._view.go_to("play")
            await self._view.in_thread(self._controller.judge)

        button(plain(one.title), self._view.act(go_on))


def bench_card(bench: Bench) -> str:
    """Return the drawing of what is on the bench."""
    if bench == "recordings":
        return recordings_card()
    layout = {"closed": layouts_for("closed")[0], "beside": layouts_for("beside")[0]}.get(bench)
    return loose_card((1, 1)) if layout is None else layout_card(bench, layout, coil_counts(layout)[0])


def layout_card(bench: Bench, layout: Layout, coils: Sequence[int]) -> str:
    """Return the drawing of a layout with so many coils each."""
    if bench == "loose":
        return loose_card(coils)
    return guitar_card(
        layout.pickups, coils, control=layout.control, loose=layout.loose, cable=bench != "recordings"
    )
