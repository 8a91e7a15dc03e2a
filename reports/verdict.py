"""The verdict as one frozen data model; every face (text, HTML, JSON, exit status) is a view of it.

Signs: ``p_in_phase`` is the probability that ``s_a = s_b``, ``p_hum_cancels`` that ``w_a = -w_b``
(dsp/signs.py). A number that could not be had is None, never a guess. The JSON form is
``Verdict.model_dump_json()``: a contract that others read, extended but never broken; a file with
another ``format`` is refused.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field

FORMAT: Final = 1
SETTLED_FROM: Final = 0.99
LIKELY_FROM: Final = 0.90
"""Standing of the better of two answers; below the second it is unsettled."""

Phase = Literal["in phase", "out of phase"]
Standing = Literal["settled", "likely", "unsettled"]
Sounds = Literal["full", "thin", "unknown"]
Hum = Literal["cancels", "hums", "unknown"]

Probability = Field(default=None, ge=0.0, le=1.0)


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class MethodWord(_Frozen):
    """What one method alone says of a pair, under an even prior."""

    method: str
    p_in_phase: float | None = Probability
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()


class PairVerdict(_Frozen):
    """What is believed of two pickups; ``phase`` is None while the pair is unsettled.

    ``because`` is one plain sentence why it is not settled (empty when it is), ``next`` what to do.
    """

    a: str
    b: str
    p_in_phase: float | None = Probability
    phase: Phase | None
    standing: Standing
    p_hum_cancels: float | None = Probability
    by: tuple[MethodWord, ...] = ()
    because: str = ""
    next: str = ""


class SettingVerdict(_Frozen):
    """What a selector setting does as the guitar stands now; ``p_full``: all members add."""

    name: str
    sounds: Sounds
    p_full: float | None = Probability
    hum: Hum
    on: tuple[str, ...] = ()
    join: str = "parallel"
    aim: str = "in phase"


class Conflict(_Frozen):
    """Two methods (or takes of one) that contradict each other on a pair."""

    between: tuple[str, ...]
    pair: tuple[str, str]
    likely_cause: str
    next: str


class WiringRow(_Frozen):
    """What to do at one pickup's leads; ``exchange`` is None where nothing is known."""

    pickup: str
    exchange: bool | None
    turn_magnet: bool = False
    leads: dict[str, str] = Field(default_factory=dict)
    why: str
    warnings: tuple[str, ...] = ()


class TakeWord(_Frozen):
    """One recording: whether it counts, and if not, why and what to do.

    ``faults`` keep a take out of the evidence (each a full sentence with its remedy); ``remarks``
    mark it down or only inform.
    """

    id: str
    used: bool
    faults: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    gesture: str = ""
    inputs: tuple[str, ...] = ()
    string: str | None = None
    stage: str = "found"
    at: str | None = None
    file: str = ""
    sha256: str | None = None


class Provenance(_Frozen):
    """With what the verdict was made. ``versions`` maps a package to its version."""

    coilwise: str
    versions: dict[str, str] = Field(default_factory=dict)
    job_sha256: str = ""
    log_sha256: str = ""


class Verdict(_Frozen):
    """The whole verdict on a job at its latest stage.

    ``headline`` is one or two sentences a customer understands. ``plan_reason`` says why the wiring
    plan is empty, where it is. ``ask`` are the questions no recording can answer.
    """

    format: Literal[1] = FORMAT
    title: str
    stage: str
    reference: str
    pairs: tuple[PairVerdict, ...]
    settings: tuple[SettingVerdict, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    wiring: tuple[WiringRow, ...] = ()
    takes: tuple[TakeWord, ...] = ()
    headline: str = ""
    plan_reason: str = ""
    next: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    provenance: Provenance | None = None


def standing_of(p: float | None) -> Standing:
    """How settled a two-sided probability is; unsettled where there is none."""
    right = 0.5 if p is None else max(p, 1 - p)
    if right >= SETTLED_FROM:
        return "settled"
    return "likely" if right >= LIKELY_FROM else "unsettled"
