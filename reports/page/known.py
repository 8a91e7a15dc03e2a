"""What is known of each pickup, in words and as one of a few kinds, for the view of the guitar.

Task: from a verdict to one `Known` a pickup and one `SettingRow` a setting. Units: probabilities. Signs:
relative to the reference pickup, as everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from capture.job import Job
from reports.verdict import PairVerdict, Verdict, standing_of
from reports.words import NOT_KNOWN, hum_label, members, percent_at_least, sounds_label, unbroken

Kind = Literal["reference", "in phase", "opposed", "not known"]
SettingKind = Literal["full", "thin", "unknown"]

REFERENCE = "the reference"
IN_PHASE = "in phase with {reference}"
OPPOSED = "opposed to {reference}: thin together"
NOT_KNOWN_YET = "not known yet"
LEANING = "not known yet, leaning to {word}"
SURE = "{word} ({standing}, {percent})"
CANCELS = "hum cancels with {names}"
ADDS = "hum does not cancel with {names}"
NO_HUM = "hum not known"
LIKELY = "likely"


@dataclass(frozen=True)
class Known:
    """One pickup: its kind, how sure that is, and the same in words."""

    pickup: str
    kind: Kind
    likely: bool
    relation: str
    hum: str


@dataclass(frozen=True)
class SettingRow:
    """One setting of the selector: what is on, and what it does, in words."""

    name: str
    on: str
    kind: SettingKind
    sounds: str
    hum: str


def known_pickups(job: Job, verdict: Verdict | None) -> tuple[Known, ...]:
    """What is known of every pickup of the job, in its order."""
    reference = job.reference.name
    pairs = () if verdict is None else verdict.pairs
    return tuple(_known(p.name, reference, pairs) for p in job.pickups)


def setting_rows(job: Job, verdict: Verdict | None) -> tuple[SettingRow, ...]:
    """What every setting of several pickups does."""
    if verdict is None:
        return tuple(
            SettingRow(s.name, " + ".join(m.pickup for m in s.on), "unknown", NOT_KNOWN, NOT_KNOWN)
            for s in job.settings
        )
    return tuple(
        SettingRow(s.name, members(s), s.sounds, sounds_label(s), hum_label(s))
        for s in verdict.settings
        if len(s.on) > 1
    )


def _known(name: str, reference: str, pairs: Sequence[PairVerdict]) -> Known:
    hum = _hum(name, pairs)
    if name == reference:
        return Known(name, "reference", False, REFERENCE, hum)
    pair = next((p for p in pairs if {p.a, p.b} == {name, reference}), None)
    if pair is None or pair.p_in_phase is None:
        return Known(name, "not known", False, NOT_KNOWN_YET, hum)
    same = pair.p_in_phase > 1 - pair.p_in_phase
    word = (IN_PHASE if same else OPPOSED).format(reference=reference)
    if pair.standing == "unsettled":
        said = LEANING.format(word=word.split(":")[0])
        return Known(name, "not known", False, said, hum)
    sure = SURE.format(word=word, standing=pair.standing, percent=unbroken(percent_at_least(pair.p_in_phase)))
    return Known(name, "in phase" if same else "opposed", pair.standing == LIKELY, sure, hum)


def _hum(name: str, pairs: Sequence[PairVerdict]) -> str:
    cancels: list[str] = []
    adds: list[str] = []
    for pair in pairs:
        if name not in (pair.a, pair.b) or standing_of(pair.p_hum_cancels) == "unsettled":
            continue
        other = pair.b if pair.a == name else pair.a
        p = pair.p_hum_cancels or 0.0
        (cancels if p > 1 - p else adds).append(other)
    said = [
        form.format(names=" and ".join(names)) for form, names in ((CANCELS, cancels), (ADDS, adds)) if names
    ]
    return "; ".join(said) or NO_HUM
