"""Moved."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class BeliefStep:
    """What was believed after a take, or at the start: probability of "in phase", None for no evidence."""

    take: str
    p_in_phase: float | None
