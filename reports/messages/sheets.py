"""Words of the printed report: the sheet that goes with the guitar, and the bench sheet behind it.

Labels and heads, and the table of what circuits inside pickups give; sentences that follow from a verdict
are made in `reports.messages.summary`, and what other cells say in `reports.messages.wording`. Units: dB,
degrees, Hz.
"""

from __future__ import annotations

from reports.messages.wording import NOT_KNOWN, kohm, plain
from reports.model.verdict import Verdict

WHY, MIND = "Why: {}", "Mind: {}"
CAUSE, REMEDY = "Likely cause: {}", "To settle it: {}"
AGAINST = " against "
SURER_OF_HUM = "Surer of hum: {}"
EVIDENCE_HEADS = ("Method", "Alone it says", "From")
READING_HEADS = ("Entry", "What was read or done", "When")
TAKE_HEADS = ("Take", "Recorded", "Counts", "File, checksum")
COUNTS, COUNTS_NOT = "yes", "NO"
MADE_AT = "Report of {}, made with"
WHOLE_HASHES = "Whole checksums (SHA-256) are in the report's JSON file."

FRONT = "The sheet that goes with the guitar"
BENCH_SHEET = "Bench sheet"
BENCH_FOR = "For whoever checks the work or goes on with it."
HOW_SURE, TO_DO, DONE, RESULT, NOTE, NEXT = "How sure", "To do", "Done", "Result", "Note", "Next"
TAKES = "Not counted"
ENTERED = "Entered as done, and heard otherwise"
NOT_YET = "What is missing, and what would settle it, is on the bench sheet."
WIRED_AS_PLANNED, WIRED_NOW = "Leads as planned", "Leads as they are"
FOUND, PLANNED, AFTER = "found", "planned", "after the work"
HUM_CANCELS, HUMS = "hum cancels", "hums"
DRAWN = "The guitar from above, its settings, and its leads"
CUT = " … (the rest is on the bench sheet)"
NO_ROOM = "the first sheet takes more than one side; give the job a shorter title and shorter names"
UNTITLED = "Untitled job"
STATE = "The guitar {state}. {date}."
DONE_BY, CHECKED_BY, ON_DATE = "Work done by", "Checked by", "Date"
FOR_OWNER = "Keep this sheet with the guitar."
BEHIND = "The measurements are on the bench sheet. Full: the pickups add up. Thin: they take from each other."

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
    """What each circuit inside a pickup gives, heads first; figures of one kind in one cell, by frequency."""
    rows: list[tuple[str, ...]] = [NETWORK_HEADS]
    for one in verdict.networks:
        meter = "open" if one.open_for_meter else NOT_KNOWN if one.kohm is None else kohm(one.kohm)
        figures = (one.hum_left_db, one.level_db, one.phase_deg)
        cells = (
            f"{' / '.join(f'{value:g}' for value in table.values())} {unit} at {' / '.join(table)} Hz"
            for table, unit in zip(figures, ("dB", "dB", "degrees"), strict=True)
        )
        rows.append((plain(one.setting), plain(one.circuit), meter, *cells))
    return rows
