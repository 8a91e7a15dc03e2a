"""One browser acts, the others watch.

Task: who sits at the bench. Who comes while the seat is free takes it; it is free again when that browser's
page is gone (closed or loaded anew). Who watches may take it over, on purpose only. Signs: none.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Seat:
    """Who acts, by the name of their page; None where nobody does."""

    sitting: str | None = None

    def came(self, page: str) -> None:
        """A page was opened."""
        if self.sitting is None:
            self.sitting = page

    def left(self, page: str) -> None:
        """A page is gone."""
        if self.sitting == page:
            self.sitting = None

    def take_over(self, page: str) -> None:
        """Somebody says that they act from now on."""
        self.sitting = page

    def may_act(self, page: str) -> bool:
        """Whether this page acts; a free seat is taken by acting."""
        self.came(page)
        return self.sitting == page
