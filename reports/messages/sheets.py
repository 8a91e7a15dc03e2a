"""Words of the printed report: the sheet that goes with the guitar, and the bench sheet behind it.

Labels and heads alone; sentences that follow from a verdict are made in `reports.messages.summary`, and what
a cell says in `reports.messages.wording`. Nothing here is computed.
"""

from __future__ import annotations

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
