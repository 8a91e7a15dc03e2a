"""A heard take as bytes, and back, without running anything that the bytes say.

Task: `encoded` and `decoded`, inverse to each other for everything that a `HeardTake` is made of; its log
entry is left out and given anew. Shapes and signs: as they are; arrays keep their type, numbers every bit.
Whatever is not a record, a tuple, an array or a plain value that the fields of `HeardTake` name is refused.
"""

from __future__ import annotations

import io
import json
import typing
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

import numpy as np

from capture.bench_log import Take
from reports.heard import HeardTake

ENTRY = "entry"
PLAIN = (str, bool, int, float, type(None))
_TEXT = "text"


class CodecError(ValueError):
    """Bytes that are no heard take."""


def encoded(heard: HeardTake, *, key: str) -> bytes:
    """The bytes of a heard take, with the key that it is kept under."""
    arrays: list[np.ndarray[Any, Any]] = []
    said = {f.name: _packed(getattr(heard, f.name), arrays) for f in fields(heard) if f.name != ENTRY}
    text = json.dumps({"key": key, "heard": said}).encode()
    out = io.BytesIO()
    kept = {f"a{k}": array for k, array in enumerate(arrays)}
    np.savez(out, allow_pickle=False, **{_TEXT: np.frombuffer(text, dtype=np.uint8)}, **kept)
    return out.getvalue()


def decoded(raw: bytes, *, key: str, entry: Take) -> HeardTake:
    """The heard take of these bytes, as one of ``entry``.

    Raises
    ------
    CodecError
        They are no heard take, or one of another key.

    """
    try:
        with np.load(io.BytesIO(raw), allow_pickle=False) as kept:
            said = json.loads(bytes(kept[_TEXT]))
            if said["key"] != key:
                raise CodecError("it is kept under another key")
            values = {
                name: _unpacked(value, lambda k: np.asarray(kept[f"a{int(k)}"]))
                for name, value in said["heard"].items()
            }
            return HeardTake(entry=entry, **values)
    except CodecError:
        raise
    except (
        Exception
    ) as error:  # bytes from anywhere break zip, array and JSON readers in more ways than can be named
        raise CodecError(f"{type(error).__name__}: {error}") from None


def _packed(value: Any, arrays: list[np.ndarray[Any, Any]]) -> Any:
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if isinstance(value, np.generic):
        return _packed(value.item(), arrays)
    if isinstance(value, complex):
        return {"complex": [value.real, value.imag]}
    if isinstance(value, PLAIN):
        return value
    if isinstance(value, tuple):
        return {"tuple": [_packed(item, arrays) for item in value]}
    name = type(value).__name__
    if is_dataclass(value) and _records().get(name) is type(value):
        return {
            "record": name,
            "of": {f.name: _packed(getattr(value, f.name), arrays) for f in fields(value)},
        }
    raise CodecError(f"{name} is nothing that a heard take is made of")


def _unpacked(value: Any, array: typing.Callable[[int], np.ndarray[Any, Any]]) -> Any:
    if isinstance(value, PLAIN):
        return value
    if "array" in value:
        return array(value["array"])
    if "complex" in value:
        return complex(*value["complex"])
    if "tuple" in value:
        return tuple(_unpacked(item, array) for item in value["tuple"])
    return _records()[value["record"]](**{k: _unpacked(v, array) for k, v in value["of"].items()})


@cache
def _records() -> dict[str, type]:
    """Every record that a field of `HeardTake` may hold, by name: these and no others are made."""
    found: dict[str, type] = {}
    open_types: list[Any] = list(typing.get_type_hints(HeardTake).values())
    while open_types:
        kind = open_types.pop()
        open_types += typing.get_args(kind)
        if isinstance(kind, type) and is_dataclass(kind) and kind.__name__ not in found:
            found[kind.__name__] = kind
            open_types += typing.get_type_hints(kind).values()
    return found
