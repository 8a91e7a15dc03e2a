"""One row of the table of constructions: how its jobs are made, and how their answers are counted."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

import numpy as np

Outcome = Literal["right", "wrong", "likely right", "likely wrong", "unsettled"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
Answer = tuple[str, bool]
"""A standing, and whether what it stands for is true."""


@dataclass(frozen=True)
class Case:
    """One row: a job is made in a folder and judged, with an outcome, or one for each of its octaves."""

    construction: str
    entered: str
    gesture: str
    outcomes: Callable[[Path, np.random.Generator], Outcome | Iterable[Outcome]]
    wanted: str = "right"

    @property
    def key(self) -> str:
        """What the row is found by."""
        return f"{self.construction} | {self.entered} | {self.gesture}"


def counted(answer: Answer) -> Outcome:
    """An answer as it is counted: settled, likely or neither, and whether it is true."""
    standing, true = answer
    if standing == "settled":
        return "right" if true else "wrong"
    if standing == "likely":
        return "likely right" if true else "likely wrong"
    return "unsettled"
