"""Wording in the cells of the tables on settings and signs; pure functions, no layout.

Units: dB, probabilities in 0..1; None where nothing is known. Signs: as in reports/verdict.py. What several
faces use is in reports/words.py.
"""

from __future__ import annotations

import math

from reports import words
from reports.verdict import LIKELY_FROM, LeadsRow, SettingVerdict, SignRow, StageRow, Verdict

REFERENCE = "reference"
ALONE = "one pickup alone"
LOSS_MEANING = (
    "Fundamental: its measured level against what the pickups alone give if they add up; well below 0 dB "
    "it is lost, and the setting is thin."
)
SIGN_HEADS = ("Pickup", "On the strings, s", "Winding, w", "Magnet, m")


def wanted_label(setting: SettingVerdict) -> str:
    """What a setting is for, and whether it comes out so: "in phase: yes"."""
    if len(setting.on) == 1:
        return ALONE
    return f"{words.plain(setting.aim)}: {words.as_wanted(setting)}"


def loss_label(setting: SettingVerdict) -> str:
    """Measured loss of the fundamental against what the pickups alone give: "−11.2 dB ± 1.5 dB"."""
    if setting.loss_db is None or not math.isfinite(setting.loss_db):
        return words.NOT_MEASURED
    lost = f"{round(setting.loss_db, 1) + 0.0:+.1f} dB".replace("-", "−")
    error = setting.loss_error_db
    return lost if error is None or not math.isfinite(error) else f"{lost} ± {abs(error):.1f} dB"


def any_loss(verdict: Verdict) -> bool:
    """Whether the loss of any setting was measured."""
    return any(loss_label(s) != words.NOT_MEASURED for s in verdict.settings)


def sign_label(row: SignRow, p_same: float | None, *, reference: str) -> str:
    """One sign of a pickup against the reference: "same as bridge, 99.2 %"."""
    if row.pickup == reference:
        return REFERENCE
    if p_same is None:
        return words.NOT_KNOWN
    right = max(p_same, 1 - p_same)
    if right < words.CLOSE_TO_EVEN:
        return words.EITHER
    answer = f"same as {words.plain(reference)}" if p_same > 1 - p_same else "opposite"
    return f"{'' if right >= LIKELY_FROM else 'unsettled, leans to '}{answer}, {words.percent(right)}"


def stage_cell(sounds: str, hum: str, *, p_full: float | None = None) -> str:
    """How a setting sounds and hums at one stage: "full, 99 %, hum cancels"."""
    said = [words.SOUNDS[sounds]]
    if p_full is not None and sounds != "unknown":
        said.append(words.percent(p_full if sounds == "full" else 1 - p_full))
    if hum != "unknown":
        said.append({"cancels": "hum cancels", "hums": "hums"}[hum])
    return ", ".join(said)


def as_planned(row: StageRow) -> str:
    """Whether a setting came out as planned, in capitals where it did not."""
    return {"yes": "yes", "no": "NO", "unknown": words.NOT_KNOWN}[row.as_planned]


def proof_lines(verdict: Verdict) -> tuple[str, ...]:
    """What the plan makes of every setting, a line each; nothing where all of it is unknown.

    Nothing either of a setting with a pickup that is not to be soldered yet: no plan has been made for it.
    """
    known = any(p.aim_met is not None for p in verdict.proof)
    held = {row.pickup for row in verdict.wiring if row.exchange is None}
    on = {s.name: {m.split(" coil ")[0] for m in s.on} for s in verdict.settings}
    lines = (p.says for p in verdict.proof if p.says and not held & on.get(p.setting, set()))
    return tuple(lines) if known else ()


def coils_label(row: LeadsRow) -> str:
    """The ends of each coil with its resistance: "coil 1 grey and brown (4.1 k), coil 2 ..."."""
    each = [
        f"coil {k} {words.plain(a)} and {words.plain(b)}" + (f" ({kohm:g} k)" if kohm is not None else "")
        for k, ((a, b), kohm) in enumerate(zip(row.coils, row.kohm, strict=True), start=1)
    ]
    return ", ".join(each) or "no coil is known yet"


def leads_lines(row: LeadsRow) -> tuple[str, ...]:
    """What is known, contradicts or is missing of a pickup's leads, in sentences."""
    sure = f"{row.standing.capitalize()}, {100 * row.p:.1f} %." if row.p is not None else ""
    asked = row.next if row.next not in row.contradictions else ""
    said = (row.why, sure, *row.contradictions, asked, *row.also, *row.remarks)
    return tuple(line for line in said if line)


def jack_table(verdict: Verdict) -> list[tuple[str, ...]]:
    """Head and rows of what a meter should read at the jack, everything full up; the head alone if none."""
    pots = list(dict.fromkeys(pot for row in verdict.jack_ohms for pot in row.with_pot))
    head = ("setting", "no pot", *(f"{pot} k volume pot" for pot in pots))
    rows = [
        (words.plain(row.setting), _kohm(row.kohm), *(_kohm(row.with_pot.get(pot)) for pot in pots))
        for row in verdict.jack_ohms
    ]
    return [head, *rows]


def _kohm(value: float | None) -> str:
    return words.NOT_KNOWN if value is None else f"{value:.3g} k"
