"""The verdict as JSON: the contract of ``coilwise verdict FOLDER --json``.

Every field of `Verdict` under its own name; a note is spelled as its sentence, and one that is not there as
an empty text. Numbers that could not be had are null. Keys are added over time, and none is taken away.
"""

from __future__ import annotations

import json
import typing
from functools import cache
from typing import Any

from pydantic import BaseModel

from reports.messages.sentences import say
from reports.model.notes import Note
from reports.model.verdict import Verdict


def as_json(verdict: Verdict) -> str:
    """The verdict as JSON text, indented."""
    return json.dumps(spelled(verdict), indent=2, ensure_ascii=False, allow_nan=False)


def spelled(value: Any) -> Any:
    """A verdict, or a part of it, as what JSON is made of."""
    if isinstance(value, BaseModel):
        notes = _note_fields(type(value))
        return {name: "" if name in notes and field is None else spelled(field) for name, field in value}
    if isinstance(value, Note):
        return say(typing.cast(Any, value))
    if isinstance(value, tuple | list):
        return [spelled(item) for item in value]
    if isinstance(value, dict):
        return {key: spelled(item) for key, item in value.items()}
    return value


@cache
def _note_fields(model: type[BaseModel]) -> frozenset[str]:
    """The fields of a model that hold one note, or none."""
    return frozenset(name for name, field in model.model_fields.items() if _holds_note(field.annotation))


def _holds_note(annotation: Any) -> bool:
    kinds = typing.get_args(annotation) or (annotation,)
    return any(isinstance(kind, type) and issubclass(kind, Note) for kind in kinds)
