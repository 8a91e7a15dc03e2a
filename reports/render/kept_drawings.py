"""Drawings by their content: what was drawn before is taken from the cache, and matplotlib is not loaded.

In go one of the drawing functions, by module and name, what it draws and its options; out comes the text of
one SVG. It is kept under a digest of all of that, of the code that draws and of matplotlib's version. What
comes from a cache is shown only if it is a drawing and nothing else: no script, no link to anywhere.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from importlib import import_module
from typing import Any
from xml.etree import ElementTree

import numpy as np
from pydantic import BaseModel

from reports.evidence.store import Store, code_version

DRAWING_CODE = (
    *("dsp/__init__.py", "dsp/methods/curves.py"),
    *("reports/messages", "reports/model", "reports/render"),
)
"""All code that a drawing can depend on."""
PACKAGES = ("matplotlib", "numpy")
SHAPES = frozenset(
    ("svg", "title", "desc", "g", "defs", "path", "use", "clipPath", "rect", "text", "tspan", "circle")
)
"""All that a drawing is made of."""


def drawn(module: str, name: str, what: object, **options: object) -> str:
    """The drawing of ``what`` by the function ``name`` of ``reports.render.<module>``."""
    store, told = Store.default(), (module, name, what, tuple(sorted(options.items())))
    parts = (code_version(DRAWING_CODE, PACKAGES).encode(), *_content(told))
    key = hashlib.sha256(b"\n".join(hashlib.sha256(part).digest() for part in parts)).hexdigest()
    kept = store.get(key)
    if kept is not None and (text := _as_drawing(kept)):
        return text
    made: str = getattr(import_module(f"reports.render.{module}"), name)(what, **options)
    store.put(key, made.encode())
    return made


def _content(value: Any) -> Iterator[bytes]:
    """What a record is made of, in order; records that are equal give equal bytes, and no others."""
    if isinstance(value, np.ndarray):
        yield f"{value.dtype.str} {value.shape}".encode()
        yield value.tobytes()
    elif isinstance(value, BaseModel):
        yield f"{type(value).__name__} {value.model_dump_json()}".encode()
    elif is_dataclass(value):
        yield f"{type(value).__name__} {len(fields(value))}".encode()
        for field in fields(value):
            yield from _content(getattr(value, field.name))
    elif isinstance(value, (tuple, list)):
        yield f"{len(value)}".encode()
        for item in value:
            yield from _content(item)
    else:
        yield repr(value).encode()


def _as_drawing(raw: bytes) -> str:
    """The text of a drawing; nothing where it is cut off, or holds what no drawing of ours does."""
    try:
        text = raw.decode()
        nodes = list(ElementTree.fromstring(text).iter())
    except (ValueError, ElementTree.ParseError):
        return ""
    for node in nodes:
        if node.tag.rpartition("}")[2] not in SHAPES:
            return ""
        for attribute, value in node.attrib.items():
            plain = attribute.rpartition("}")[2].lower()
            if plain.startswith("on") or (plain == "href" and not value.startswith("#")):
                return ""
    return text
