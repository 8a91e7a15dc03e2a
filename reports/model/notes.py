"""Judgement as data: what is found, advised or refused is a code with typed parameters.

A `Note` is made where something is decided, compared and counted as it is, and becomes a sentence only where
a person reads it: reports.messages.sentences.say is the one way from a note to text. Each kind of note is a
frozen dataclass, so two notes are equal when code and parameters are; no parameter is a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dsp.signal.codes import HealthCode

Phase = Literal["in phase", "out of phase"]
Standing = Literal["settled", "likely", "unsettled"]
Sounds = Literal["full", "thin", "unknown"]
Hum = Literal["cancels", "hums", "unknown"]


@dataclass(frozen=True)
class Note:
    """One judgement; the kinds of it are its subclasses."""


@dataclass(frozen=True)
class HealthProblem(Note):
    """A setting that is not as it should be, which is no matter of phase.

    ``detail_db`` is by how much, in dB; ``other`` the setting it was compared with, if there is one.
    """

    code: HealthCode
    detail_db: float
    other: str | None


@dataclass(frozen=True)
class HealthRemedy(Note):
    """What to do about such a setting."""

    code: HealthCode
