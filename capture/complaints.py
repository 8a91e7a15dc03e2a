"""pydantic's complaints in the bench's words, and "did you mean": wording for job and log alike.

Every function returns text; who calls it puts file and line in front.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

_MUST_BE = {
    "string_type": "must be text in quotes",
    "string_unicode": "holds characters that are not text",
    "string_too_short": "must not be empty",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "int_parsing_size": "is too large a number",
    "float_type": "must be a number",
    "finite_number": "must be a finite number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "dict_type": "must be an object",
    "model_type": "must be an object",
    "model_attributes_type": "must be an object",
    "missing": "is missing",
    "too_long": "has too many items",
    "too_short": "has too few items",
}
_LIMITS = {"greater_than": "above", "greater_than_equal": "at least", "less_than_equal": "at most"}
_PAIRS = ("link", "between")
_SHORT = 60


def shown(value: object) -> str:
    """Return `value` as one short line for a message."""
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= _SHORT else text[: _SHORT - 1] + "…"


def listed(names: Iterable[str], *, last: str = "or") -> str:
    """Return names as ``"a", "b" or "c"``; "none" where there are none."""
    quoted = [f'"{name}"' for name in names]
    if not quoted:
        return "none"
    head, tail = quoted[:-1], quoted[-1]
    return f"{', '.join(head)} {last} {tail}" if head else tail


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean "x"?`` or, with nothing near, ``; there is "a" and "b"``."""
    names = list(known)
    by_case = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(word.casefold(), by_case, n=1, cutoff=0.6)
    if near:
        return f'; did you mean "{by_case[near[0]]}"?'
    return f"; there is {listed(names, last='and')}"


def unknown_key(key: str, known: Iterable[str]) -> str:
    """Return the complaint about a key that nothing reads."""
    return f"unknown key {shown(key)}{did_you_mean(key, known)}"


def complaint(error: ValidationError, *, model: type[BaseModel]) -> str:
    """Return the first complaint of `error` in plain words, the field named."""
    return _in_words(error.errors(include_url=False)[0], model)


def _in_words(detail: ErrorDetails, model: type[BaseModel]) -> str:
    place: Sequence[int | str] = detail["loc"]
    context: Mapping[str, Any] = detail.get("ctx", {})
    match detail["type"]:
        case "value_error" if not place:
            said = str(context.get("error", detail["msg"]))
        case "value_error":
            said = f"{_field(place)} {context.get('error', detail['msg'])}"
        case "extra_forbidden":
            said = unknown_key(str(place[-1]), model.model_fields)
        case "literal_error":
            said = f"{_field(place)} is {shown(detail['input'])}; write {_quoted(context['expected'])}"
        case kind if kind in _LIMITS:
            limit = next(iter(context.values()))
            said = f"{_field(place)} is {shown(detail['input'])}; it must be {_LIMITS[kind]} {limit:g}"
        case "missing" if len(place) == 1:
            said = f"{_field(place)} {_MUST_BE['missing']}"
        case "missing" | "too_long" if place[0] in _PAIRS:
            said = f'"{place[0]}" must name two leads'
        case kind:
            must_be = _MUST_BE.get(kind, f"is not as it should be ({detail['msg']})")
            said = f"{_field(place)} {must_be}, not {shown(detail['input'])}"
    return said


def _quoted(expected: str) -> str:
    return expected.replace("'", '"')


def _field(place: Sequence[int | str]) -> str:
    name = f'"{place[0]}"' if place else "the entry"
    numbers = [part for part in place[1:] if isinstance(part, int)]
    return f"{name} item {numbers[0] + 1}" if numbers else name
