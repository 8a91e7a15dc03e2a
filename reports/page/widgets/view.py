"""What every screen of one open page shares: guarded handlers, messages, form fields, plain tables.

`View` wraps what a person does, so that only the page that holds the control lock may do it, slow work runs
in another thread, and a refusal is one sentence at the top, never a traceback. All typed text is escaped.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Any, TypeVar, cast

from nicegui import run, ui

from dsp import CoilwiseError
from reports.messages import page as page_words
from reports.messages.wording import as_sentence, our_fault, plain
from reports.page.server.controller import PageController

Result = TypeVar("Result")
Handler = Callable[..., Any]


class View:
    """One open page. Build screens inside its slots, and give every handler to `act`."""

    def __init__(self, controller: PageController) -> None:
        self.controller = controller
        self.client = ui.context.client
        self.page = self.client.id
        self._notices: ui.element | None = None

    def notices(self) -> None:
        """Make the place where refusals and confirmations are said; once, at the top of the page."""
        self._notices = ui.element("div").classes("notices").props('role="status" aria-live="polite"')

    def say(self, text: str, *, good: bool | None = None) -> None:
        """Say one sentence at the top; ``good`` False is a refusal and stays until something else is said."""
        if self._notices is None:
            return
        self._notices.clear()
        kind = "refused" if good is False else "done" if good else "told"
        with self._notices, ui.element("p").classes(f"notice {kind}"):
            ui.label(plain(text))
            ui.button(page_words.CLOSE, on_click=self.clear_message, color=None).props(
                "flat no-caps"
            ).classes("close")

    def clear_message(self) -> None:
        """Take away what was said."""
        if self._notices is not None:
            self._notices.clear()

    def may_act(self) -> bool:
        """Whether this page acts; if not, it says so."""
        if self.controller.control.acquire(self.page):
            return True
        self.say(page_words.ANOTHER_ACTS, good=False)
        return False

    def act(self, work: Handler) -> Handler:
        """Return a handler that does ``work`` if this page acts, and says what is refused."""

        async def done(*args: Any) -> None:
            if not self.may_act():
                return
            try:
                result = work(*args)
                if inspect.isawaitable(result):
                    await result
            except CoilwiseError as error:
                self.say(str(error), good=False)
            except OSError as error:
                self.say(
                    page_words.BROKEN_OFF.format(why=as_sentence(str(error.strerror or error))), good=False
                )
            except Exception as error:  # above it is the page's library, which tells a person nothing
                self.say(our_fault(error), good=False)

        async def without_event() -> None:
            await done()

        async def with_event(event: Any) -> None:
            await done(event)

        return with_event if _wants_event(work) else without_event

    async def in_thread(self, work: Callable[..., Result], *args: Any, **options: Any) -> Result:
        """Do ``work`` in another thread, so that the page goes on meanwhile."""
        return cast(Result, await run.io_bound(work, *args, **options))


def _wants_event(work: Handler) -> bool:
    return any(
        p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD) and p.default is p.empty
        for p in inspect.signature(work).parameters.values()
    )


def text_field(label: str, hint: str = "", *, value: str = "", suggested: str | None = None) -> ui.input:
    """A line of text; ``suggested`` names a datalist."""
    field = ui.input(label, value=value).props('outlined hide-bottom-space autocomplete="off"')
    if hint:
        field.props["hint"] = hint
    if suggested is not None:
        field.props(f'list="{suggested}"')
    return field


def choice_field(
    label: str,
    options: Mapping[Any, str],
    value: Any = None,
    *,
    hint: str = "",
    on_change: Callable[..., Any] | None = None,
) -> ui.select:
    """One of several; nothing is chosen where ``value`` is none of them."""
    chosen = value if value in options else None
    field = ui.select(dict(options), value=chosen, label=label, on_change=on_change)
    field.props("outlined options-dense hide-bottom-space")
    if hint:
        field.props["hint"] = hint
    return field


def button(text: str, handler: Any = None) -> ui.button:
    """A plain button."""
    return ui.button(text, on_click=handler, color=None).props("no-caps")


def text_of(field: ui.input) -> str:
    """What stands in a field, without blanks around it."""
    return str(field.value or "").strip()
