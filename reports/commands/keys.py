"""The keys of a session: read without waiting, one at a time, where there is a keyboard.

`wishes()` gives a function that returns what was asked for since the last call. Where standard input is no
terminal, or the system has no way to read single keys, it never returns anything.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from capture.hands_free import Wish

KEYS: dict[str, Wish] = {"v": "void", "s": "skip", "q": "stop"}


@contextmanager
def wishes() -> Iterator[Callable[[], Wish | None]]:
    """Single keys while the block lasts; the terminal is as before after it."""
    try:
        import select
        import termios
        import tty
    except ImportError:
        yield lambda: None
        return
    if not sys.stdin.isatty():
        yield lambda: None
        return
    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)

    def pressed() -> Wish | None:
        if not select.select([number], [], [], 0)[0]:
            return None
        return KEYS.get(sys.stdin.read(1).lower())

    try:
        tty.setcbreak(number)
        yield pressed
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
