"""Fields of the page's forms, and what was typed into them.

Task: text, choice and number fields that look and read alike. A number may have a decimal comma. Units: those
of the field. Signs: none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nicegui import ui


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
    known = value if value in options else None
    field = ui.select(dict(options), value=known, label=label, on_change=on_change)
    field.props("outlined options-dense hide-bottom-space")
    if hint:
        field.props["hint"] = hint
    return field


def button(text: str, handler: Any = None) -> ui.button:
    """A plain button."""
    return ui.button(text, on_click=handler, color=None).props("no-caps")


def typed(field: ui.input) -> str:
    """What stands in a field, without blanks around it."""
    return str(field.value or "").strip()
