"""What the circuits inside pickups give, as a table: ohms, hum that is left, level and phase line by line.

Figures of one kind stand in one cell, in the order of their frequencies. Units: dB, degrees, Hz.
"""

from __future__ import annotations

from reports.messages import wording as words
from reports.model.verdict import Verdict

NETWORK_HEADS = ("setting", "circuit", "meter", "hum left", "level", "phase")
NETWORKS_FROM = {
    "ohms": "Reckoned from the ohms of each coil.",
    "usual coils": "Reckoned for usual coils, since not all of them were measured.",
}
NETWORKS = (
    "Hum is against the loudest coil alone, level and phase of a string against all coils in series. {} "
    "Above a few kilohertz cable and windings count too."
)


def network_table(verdict: Verdict) -> list[tuple[str, ...]]:
    """What each circuit inside a pickup gives, heads first."""
    rows: list[tuple[str, ...]] = [NETWORK_HEADS]
    for one in verdict.networks:
        meter = (
            "open" if one.open_for_meter else words.NOT_KNOWN if one.kohm is None else words.kohm(one.kohm)
        )
        figures = (one.hum_left_db, one.level_db, one.phase_deg)
        cells = (
            f"{' / '.join(f'{value:g}' for value in table.values())} {unit} at {' / '.join(table)} Hz"
            for table, unit in zip(figures, ("dB", "dB", "degrees"), strict=True)
        )
        rows.append((words.plain(one.setting), words.plain(one.circuit), meter, *cells))
    return rows
