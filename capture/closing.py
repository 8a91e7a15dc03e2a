"""What a `with` block closes at its end, whatever ended it."""

from __future__ import annotations

from abc import abstractmethod
from contextlib import AbstractContextManager
from typing import Self


class ClosedAtEnd(AbstractContextManager["ClosedAtEnd", None]):
    """Has a `close` that may be called more than once; the `with` block calls it."""

    @abstractmethod
    def close(self) -> None:
        """Let go."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()
