"""scipy without what none of our functions calls: loading it is most of what a first verdict waits for.

`scipy.signal` imports whole packages for single functions: scipy.stats for a score in one peak finder, and
scipy.interpolate, scipy.optimize, scipy.spatial, scipy.integrate likewise; its array helpers star-import
numpy's compiler wrappers and test tools. Half of its second goes there. While it loads, a stand-in lies in
the place of each such package; what was taken from one loads the package when it is called, and the
stand-ins are gone afterwards, so that an import of any of them later is the real one. It also reads the
docstring of each of some four hundred functions apart, to add a table of array libraries to it: half of what
is left. While it loads, docstrings stay as they are written. The
functions themselves are scipy's own, to the last bit. Should a version of scipy want more of these packages
while it loads than names to call later, or more of a docstring, all of it is loaded as usual.
"""

from __future__ import annotations

import importlib
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

LOADED = ("scipy.signal", "scipy.special", "scipy.linalg", "scipy.fft")
"""What analysing and judging call."""
CALLED_BY_NONE = (
    *("scipy.stats", "scipy.interpolate", "scipy.optimize", "scipy.spatial", "scipy.integrate"),
    *("numpy.f2py", "numpy.testing"),
)
"""What these load for functions that analysing and judging do not call."""


class _Later:
    """A function of a package that is loaded when the function is called."""

    def __init__(self, package: str, name: str) -> None:
        self._package, self.__name__ = package, name

    def __call__(self, *args: Any, **options: Any) -> Any:
        return getattr(importlib.import_module(self._package), self.__name__)(*args, **options)


class _StandIn(ModuleType):
    """In the place of a package while others load: any name in it is a function for later."""

    def __getattr__(self, name: str) -> _Later:
        if name.startswith("__"):
            raise AttributeError(name)
        return _Later(self.__name__, name)


class _AsWritten(defaultdict[str, Any]):
    """A docstring of which no section is read, in the place of scipy's reader of docstrings."""

    def __init__(self, function: Callable[..., object]) -> None:
        super().__init__(list)
        self._text = function.__doc__ or ""

    def __str__(self) -> str:
        return "\n" + self._text


def load_scipy() -> None:
    """Load what analysing and judging call of scipy, once, and nothing besides."""
    if all(name in sys.modules for name in LOADED):
        return
    before = set(sys.modules)
    stand_ins = [_StandIn(name) for name in CALLED_BY_NONE if name not in before]
    try:
        _put(stand_ins)
        with _docstrings_as_written():
            _import(LOADED)
    except Exception:  # a version that asks for more of a stand-in than names to call
        for name in set(sys.modules) - before:
            if name.startswith("scipy."):
                del sys.modules[name]
    finally:
        _take_away(stand_ins)
    _import(LOADED)


def _import(names: Iterable[str]) -> None:
    for name in names:
        importlib.import_module(name)


@contextmanager
def _docstrings_as_written() -> Iterator[None]:
    """While it lasts, scipy reads no docstring apart; its own reader is there again afterwards."""
    reading = vars(importlib.import_module("scipy._lib._docscrape"))
    reader = reading["FunctionDoc"]
    reading["FunctionDoc"] = _AsWritten
    try:
        yield
    finally:
        reading["FunctionDoc"] = reader
        for name in [name for name in sys.modules if name.startswith("scipy._lib.")]:
            names = vars(sys.modules[name])
            if names.get("FunctionDoc") is _AsWritten:
                names["FunctionDoc"] = reader


def _put(stand_ins: list[_StandIn]) -> None:
    for stand_in in stand_ins:
        parent, _, name = stand_in.__name__.rpartition(".")
        sys.modules[stand_in.__name__] = stand_in
        setattr(importlib.import_module(parent), name, stand_in)


def _take_away(stand_ins: list[_StandIn]) -> None:
    for stand_in in stand_ins:
        parent, _, name = stand_in.__name__.rpartition(".")
        if sys.modules.get(stand_in.__name__) is stand_in:
            del sys.modules[stand_in.__name__]
        if vars(sys.modules[parent]).get(name) is stand_in:
            delattr(sys.modules[parent], name)
