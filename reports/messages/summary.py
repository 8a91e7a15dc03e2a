"""The verdict as a whole in sentences: headline, work, next steps, proof, and what is known of leads.

Task: from a verdict to what a person reads first. All text that somebody typed is in one line (`plain`).
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.log import AnyEntry, Change
from reports.messages.blends import blend_headline
from reports.messages.commands import in_a_sentence
from reports.messages.faults import in_brief
from reports.messages.sentences import say, say_each
from reports.messages.sheets import AGAINST
from reports.messages.wording import (
    OF_WRONG_SHORT,
    SECTIONS,
    TAG_NAMES,
    id_list,
    is_work,
    joined,
    lead_steps,
    minute,
    pair_name,
    phase_label,
    plain,
    refused,
    remarked,
    standing_label,
    takes_label,
    work_at,
)
from reports.model.take_notes import InputNote, NoStringNote, TakeNote
from reports.model.verdict import Conflict, LeadsRow, TakeRow, Verdict, WiringRow, phase_headline
from reports.model.work_notes import WorkContradicted


def headline(verdict: Verdict) -> str:
    """The verdict in one or two sentences, with the ranges in which other sources add."""
    others = [blend_headline(row) for row in verdict.blends]
    first = verdict.headline or (phase_headline(verdict) if verdict.pairs or not others else None)
    return plain(" ".join([*([] if first is None else [say(first)]), *others]))


def to_do(verdict: Verdict, *, for_owner: bool = False) -> str:
    """Work in one sentence a pickup, lead by lead; of what is likely, after the one thing that settles it.

    ``for_owner``: that thing is told on the bench sheet, with what is to be typed.
    """
    reason = [] if verdict.plan_reason is None else [plain(say(verdict.plan_reason))]
    if not verdict.wiring or not verdict.pairs:
        if reason:
            return reason[0]
        if not verdict.pairs:
            return BLEND_BY_EAR if verdict.blends else ONE_PICKUP
        if verdict.pairs and all(p.phase is None for p in verdict.pairs):
            return "Do not solder yet: there is not enough evidence."
        return "There is no wiring plan for this job."
    said = [_work_at(r) for r in verdict.wiring if is_work(r)]
    unknown = [plain(r.pickup) for r in verdict.wiring if r.exchange is None and not r.turn_magnet]
    if unknown:
        said.append(f"Do not solder yet, not known: {', '.join(unknown)}.")
    work = " ".join((said or ["Nothing to exchange."]) + reason)
    if unknown and len(said) == 1:  # there is no work that anything could settle
        return work
    first = settles_first(verdict)
    if first and for_owner:
        first = FIRST_ON_BENCH_SHEET.format(SECTIONS["next"])
    unsure = any(is_work(r) and r.standing != "settled" for r in verdict.wiring)
    frame = LIKELY_WORK if first else LIKELY_ALONE if unsure else "{work}"
    return frame.format(first=first, work=work)


ONE_PICKUP = "There is one pickup alone in job.toml, and nothing to compare it with: add the other."
BLEND_BY_EAR = "Nothing is planned by one word: choose by ear in which range they are to add."
FIRST_ON_BENCH_SHEET = 'What the bench sheet asks for under "{}".'
LIKELY_ALONE = "Likely, not settled: {work}"
LIKELY_WORK = "Likely, not settled. First: {first} Then, if it stays so: {work}"


def settles_first(verdict: Verdict) -> str:
    """The one thing that settles the least sure of the likely pairs; empty where none is likely."""
    likely = [p for p in verdict.pairs if p.standing == "likely" and joined(verdict, p) and p.next]
    likely.sort(key=lambda p: max(p.p_in_phase or 0.0, 1 - (p.p_in_phase or 0.0)))
    return plain(say(likely[0].next)) if likely and likely[0].next else ""


def _work_at(row: WiringRow) -> str:
    told = TAG_NAMES.values() if row.tag else ()  # by the instruction
    steps = [step for step in lead_steps(row) if row.leads and step[0] not in told]
    leads = ", ".join(f"{lead} {becomes}" for lead, becomes in steps)
    return f"At {plain(row.pickup)}, {in_a_sentence(work_at(row))}" + (f": {leads}." if leads else ".")


def noted(verdict: Verdict) -> tuple[str, ...]:
    """What bears on the answer and is neither work nor a pair, a sentence each.

    What the ohms of a pickup contradict, which inputs are opposite, what is no matter of phase, where
    evidence disagrees (which the work, or what is next, tells too), and, while a pair is open, which entries
    are not compared, not used, or say less than they could.
    """
    opposite = [say(one) for one in verdict.inputs if one.code == "opposite"]
    ohms = [say(note) for row in verdict.coil_leads for note in row.contradictions]
    ohms += [say(note) for row in verdict.coil_leads for note in row.remarks if note.code in BROKEN]
    open_yet = any(p.standing == "unsettled" for p in verdict.pairs if joined(verdict, p))
    left_out = [say(w) for w in verdict.warnings if open_yet and not isinstance(w, str)]
    left_out += [
        f"{take.id}: {say(note)}"
        for take in (remarked(verdict) if open_yet else ())
        for note in take.remarks
        if isinstance(note, TakeNote | NoStringNote)
    ]
    disagree = disagreement(verdict)
    found = [f"{f.pickup_or_setting}: {say(f.what)}" for f in verdict.findings]
    said = ohms + opposite + found + ([disagree] if disagree else []) + left_out
    return tuple(dict.fromkeys(map(plain, said)))


def disagreement(verdict: Verdict) -> str:
    """One sentence that says where evidence disagrees, and what against what; empty where it does not."""
    pairs = dict.fromkeys(map(conflict_on, verdict.conflicts))
    return DISAGREES.format("; ".join(pairs)) if pairs else ""


BROKEN = ("open against the swing", "open coil", "shorted coil")
"""What ohms tell of a pickup that no work at its leads mends."""
DISAGREES = "The evidence disagrees on {}."


def conflict_on(conflict: Conflict) -> str:
    """What a conflict is on, and what stands against what: a pair of pickups, or the readings of one."""
    against = AGAINST.join(id_list(side) for side in conflict.sides)
    if conflict.at is not None:
        return READINGS_AT.format(pickup=plain(conflict.at), against=against)
    between = AGAINST.join(map(plain, dict.fromkeys(conflict.between)))
    told = f"{between}: {against}" if against else between if AGAINST in between else OF_ONE.format(between)
    return f"{plain(conflict.pair[0])} and {plain(conflict.pair[1])} ({told})"


READINGS_AT = "the readings at {pickup} ({against})"
OF_ONE = "one {0} against another"


def not_counted(verdict: Verdict, *, brief: bool = False) -> str:
    """Say which takes do not count, and why, each reason once; empty where all count.

    Recordings that are missing or changed stand first; what is wrong with the inputs goes before what that
    made of the sound. ``brief``: the reason in a word or two.
    """
    left_out = sorted(refused(verdict), key=lambda t: t.id not in verdict.missing)
    concerned: dict[str, list[TakeRow]] = {}
    for take in left_out:
        notes = sorted(take.faults + take.remarks, key=lambda note: not isinstance(note, InputNote))
        why = (in_brief(notes[0]) if brief else next(iter(say_each(notes)), "")) if notes else ""
        concerned.setdefault(why, []).append(take)
    if brief:
        said = [
            id_list([t.id for t in takes]) + (f" ({plain(why)})" if why else "")
            for why, takes in concerned.items()
        ]
        return f"{', '.join(said)}." if said else ""
    return " ".join(
        f"{takes_label(takes)}: {plain(why)}" if why else takes_label(takes)
        for why, takes in concerned.items()
    )


def first_step(verdict: Verdict) -> str:
    """Say what would settle most, where something is unsettled or in conflict; else empty.

    Empty as well where the work says it already.
    """
    if verdict.missing:
        return plain(say(verdict.next[0])) if verdict.next else ""
    steps = (*(c.next for c in verdict.conflicts), *(p.next for p in verdict.pairs if p.phase is None))
    step = next((plain(say(s)) for s in (*steps, *verdict.next) if s), "") if steps else ""
    return "" if verdict.wiring and step == settles_first(verdict) else step


def steps(verdict: Verdict) -> tuple[str, ...]:
    """List what to do next, each thing once: the verdict's own list, then what pairs and conflicts ask."""
    asked = (
        *verdict.next,
        *(p.next for p in verdict.pairs if p.next),
        *(c.next for c in verdict.conflicts if c.next),
    )
    return tuple(dict.fromkeys(plain(say(s)) for s in asked))


def proof_lines(verdict: Verdict) -> tuple[str, ...]:
    """What the plan makes of every setting, a line each; nothing where all of it is unknown.

    Beside a plan, a setting that is not settled is left out: its pickups are named as not known there.
    """
    if all(p.aim_met is None for p in verdict.proof):
        return ()
    settled = (p for p in verdict.proof if p.aim_met is not None or not verdict.wiring)
    return tuple(say(p.says) for p in settled if p.says is not None)


def leads_lines(row: LeadsRow) -> tuple[str, ...]:
    """What is known, contradicts or is missing of a pickup's leads, in sentences."""
    sure = f"{row.standing.capitalize()}, {100 * row.p:.1f} %." if row.p is not None else ""
    request = None if row.next in row.contradictions else row.next
    notes = (*row.contradictions, request, *row.also, *row.remarks)
    lines = (
        "" if row.why is None else say(row.why),
        sure,
        *(say(note) for note in notes if note is not None),
    )
    return tuple(line for line in lines if line)


def result(verdict: Verdict) -> str:
    """What came of the work, in a sentence; empty where that is not said."""
    return plain(say(verdict.came_out)) if verdict.came_out else ""


def heard_otherwise(verdict: Verdict) -> bool:
    """Whether what is heard after the work is against the change that was entered."""
    return any(isinstance(c.likely_cause, WorkContradicted) for c in verdict.conflicts)


def done(entries: Sequence[AnyEntry]) -> str:
    """What was soldered by the log, a sentence a pickup, with the day; empty where nothing was."""
    said = []
    for entry in entries:
        if isinstance(entry, Change):
            leads = ", ".join(f"{plain(lead)} to {plain(role)}" for lead, role in entry.leads.items())
            day = f" ({minute(entry.at)[:10]})" if entry.at else ""
            said.append(f"At {plain(entry.pickup)}, {leads}{day}.")
    return " ".join(said)


def sure_lines(verdict: Verdict) -> tuple[str, ...]:
    """How sure the answer is, a line for each pair that a setting joins, the least sure first."""
    pairs = [p for p in verdict.pairs if joined(verdict, p)]
    pairs.sort(key=lambda p: 0.5 if p.p_in_phase is None else max(p.p_in_phase, 1 - p.p_in_phase))
    return tuple(f"{pair_name(p)}: {phase_label(p)}, {standing_label(p, of=OF_WRONG_SHORT)}" for p in pairs)


def and_more(count: int) -> str:
    """So many more things are not shown here."""
    return f"and {count} more"


def and_more_notes(count: int) -> str:
    """So many more things are noted that find no room here."""
    return f"{count} note{'' if count == 1 else 's'} more with --all."
