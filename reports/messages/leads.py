"""The sentences for notes on leads, coils, readings in ohms and the wiring plan (reports.model.lead_notes).

`lead_sentence` is the way from a note to its text; each table has a template for every code of its kind,
filled with the fields of the note. k is kilo-ohm, as on the meter.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from reports.model import lead_notes as notes
from reports.model.plan import Demand, PickupWork

PLAN_REASONS: dict[notes.PlanReasonCode, str] = {
    "not settled": "Not settled: measure before you solder. {request}",
    "of the shelf": "A reference coil of the bench: nothing is planned for it.",
    "shares no setting": "Shares no setting with another pickup, so its leads do not matter to any of them.",
    "is the reference": "The reference: all others are compared with it.",
    "in phase": "In phase with {reference} as it is.",
    "in phase once the reference is exchanged": "In phase with {reference} once that is exchanged.",
    "out of phase wanted": "Stays as it is: {settings} is meant to be out of phase.",
    "reversed in a setting": "Stays as it is: {settings} has it reversed.",
    "in phase with others": "In phase with {others} as it is, and no setting joins it with {reference}.",
    "waits for others": (
        "Left as it is for now: no setting joins it with {reference}, and {others}, with which it shares a "
        "setting, is not known yet."
    ),
    "waits in its setting": "Left as it is for now: {others}, which is on with it, is not known yet.",
    "magnet turned for hum": "Its magnet turned, so that hum cancels and the strings still add up.",
    "magnet turned for strings": "Its magnet turned, so that the strings come out as they are meant to.",
    "coils exchanged": (
        "The leads of coil {coils} exchanged by themselves, so that every setting does what it is meant to."
    ),
    "exchanged": "Out of phase with {reference} as it is wired now; exchanged, the two add up.",
    "exchanged with others": (
        "Exchanged together with the rest, so that every setting does what it is meant to."
    ),
    "exchanged instead of others": (
        "Exchanged here and nowhere else, since that is less work than at the others: so every setting does "
        "what it is meant to."
    ),
    "half exchanged": (
        "Its halves oppose each other; the leads of one of them exchanged where they are joined, all strings "
        "have one sign, and it cancels hum by itself."
    ),
    "exchanged for hum": (
        "A dummy coil that hums with the pickups it is on with; exchanged, it takes their hum away. It hears "
        "no string, so no sound turns over."
    ),
    "quiet as it is": "A dummy coil that takes hum away as it is wired.",
    "hum not known": (
        "A dummy coil, of which no string and no tool tells how it is wound: record hum with it on, and with "
        "the pickup alone."
    ),
}

LEAD_WARNINGS: dict[notes.LeadWarningCode, str] = {
    "braid is ground": (
        "{pickup} has two leads, and its shield is one with the ground lead: a braid cannot simply be "
        "exchanged, or it is hot, hums, and mutes the guitar where it touches the strings. A technician has "
        "to open the pickup, take the coil's end off the braid inside and give it a lead of its own. If it "
        "is only a cover that is joined, separate it first and put it to ground by itself."
    ),
    "braid stays": (
        "Do not exchange the leads of {pickup} instead of the work at the others: it has two leads, and its "
        "shield is one with the ground lead."
    ),
    "shield on ground": (
        "The shield of {pickup} is joined to its ground lead: separate it first, and put it to ground by "
        "itself. Otherwise it ends up on the hot side, hums, and mutes the guitar where it touches the "
        "strings."
    ),
    "shield unknown": (
        "It is not known whether the shield or cover of {pickup} is joined to one of its leads: check with "
        "the meter before the leads are exchanged, and separate it if it is."
    ),
    "fitted": (
        "{pickup} is fitted: look for a second path to ground (a cover, a plate, a common ground wire) "
        "before its leads are exchanged."
    ),
    "other coil of a split": (
        "{pickup} is split in {settings}: exchanging hot and ground also changes which coil is left there. "
        "The plan reckons with the other coil; check that its place under the strings is the one you want."
    ),
    "go by the tag": (
        "Tagged is the lead of {pickup} that was under the tip's clip in {take}{read_as}, other is the one "
        "under the sleeve's. Go by the tag, not by a colour, and leave it on until the work is done."
    ),
    "leads as read": (
        "The leads of {pickup} are named as they were read at this bench. A tag on the lead under the tip's "
        "clip, put on before unclipping and entered with coilwise tag, is surer."
    ),
}

READ_AS = " (read there as {})"
NOT_SETTLED = "{}: not settled, so nothing is promised; measure before you solder."
AS_IT_IS, AFTER_WORK = "as it is", "after the work"
AIM_MISSED, QUIET_MISSED = ", where {} was wanted", ", where quiet was wanted"
MEASURE_WINDING = ": measure the winding first (hum on each and on both)"
HUM = {
    True: "hum cancels",
    False: "hum does not cancel",
    None: "whether hum cancels is not known",
}

NO_WORK = "leave everything as it is"
EQUAL_PLAN = "As little work: {}."
MORE_EQUAL_PLANS = "As little work in {} other ways besides."
NEAREST_PLAN = "The nearest plan, which is not all that was wanted: {}. It gives up {}."
QUIETER_PLAN = "A dearer plan keeps more of the quiet: {}. It gives up {}."
PLAN_WITHHELD = {
    "recordings lost": "Do not solder: nothing is planned while recordings are missing or changed.",
    "work contradicted": (
        "Do not solder yet: what is heard after the work is not what the log makes of it, so which lead is "
        "hot now is not known."
    ),
    "list contradicted": (
        "Do not solder yet: a setting measures otherwise than its pickups say, so that what was recorded "
        "through the selector may be of others."
    ),
}

STRINGS_ALONE = "The plan is for the strings alone."
ONE_CANNOT = (
    "No exchange of leads makes {} {}; a magnet would have to be turned, or one of its pickups replaced."
)
POLES_CANNOT = (
    "No exchange of leads makes {} {} on all strings: the poles of one pickup alternate and those of "
    "another do not, so that an exchange only exchanges which strings oppose each other."
)
ODD_COILS = (
    "Hum cannot cancel in {}: its coils cannot be paired off, so that one is always left over. Leave one "
    "out, or live with the hum."
)
TWO_CANNOT = (
    "{} cannot both be met by exchanging leads. Give up one of them, or put a phase switch on one pickup."
)
SEVERAL_CANNOT = (
    "{} cannot all be met: an exchange turns a pickup over in all of them at once, so what mends one spoils "
    "another. Give up one of them, or put a phase switch on one pickup."
)
MAGNETS_FIXED = "The magnet of {} cannot be turned."

LIKE_ENDS = "{} and {} are like ends: on a lift both coils go the same way with these on the tip."
JOIN_ENDS = "Join {1} and {2}; {0} is hot, {3} is ground: so both coils add on the strings"
JOINED_INSIDE = "{1} joins them inside; {0} is hot, {3} is ground: so both coils add on the strings"
JOIN_STACK = "Join {1} and {2}; {0} is hot, {3} is ground: so hum cancels"
STACK_INSIDE = "{1} joins them inside; {0} is hot, {3} is ground: so hum cancels"
IN_PHASE_WITH = ", in phase with {}."
EITHER_WAY = (
    "; it is the pickup that the others are compared with, so this way round is as good as the other."
)

JOINT_ADVICE: dict[notes.JointAdviceCode, str] = {
    "hum not known": (
        "Hum cancels as well if their magnets face opposite ways: hold a compass over each coil."
    ),
    "stack is quiet": (
        "Stacked coils hear the strings through one magnet, so like ends meet: joined as coils side by side "
        "are, they would hum twice as loud. What the lower coil hears of the strings it takes away; it "
        "hears little."
    ),
    "if stacked": (
        "This is for coils side by side, each with a row of poles of its own. Has it one row alone, through "
        "both coils, it is stacked, and joined like this it would hum: then enter that first (this pickup "
        "is unusual)."
    ),
    "in parallel": "In parallel instead: {0} and {1} together are hot, {2} and {3} together are ground.",
    "link to ground": "Link to ground leaves the coil of {0} and {1}.",
    "link to hot": "Link to hot leaves the coil of {0} and {1}.",
    "shield to ground": "The shield goes to ground, whichever lead that is.",
    "shield on another lead": (
        "The shield lies on {0}, which would not be ground: part the two first, or it ends up on the hot "
        "side."
    ),
    "shield makes ground": (
        "The shield lies on {0}, so that lead is ground and this coil is the one at ground."
    ),
}

MEASURE_PAIR = "Measure {} to {}."
MEASURE_COILS = "No coil of {} is known yet: measure between its leads, two at a time, with the ohmmeter."
RECORD_COIL = (
    "Record three lifts on the coil of {} with {} on the tip and {} on the sleeve, over the poles that "
    "answer."
)
RECORD_REFERENCE = "Record three lifts on {} on the same input, with the same tool."
MORE_ON_BOTH = (
    "The lifts on the two coils of {} lean too little to either side: unclip, read the colours anew, and "
    "record two more on each."
)
MORE_ON_ONE = (
    "The lifts on the coil of {} between {} and {} lean too little to either side: unclip, read the colours "
    "anew, and record two more."
)
OPPOSED_INSIDE = (
    "Inside {0} the two coils are joined at {1} so that they oppose each other between {2} and {3}: use them "
    "in parallel, {2} and {3} together against {1}, or have the joint parted."
)

STACK_HUMS_INSIDE = (
    "Inside {0} the two coils are joined so that they hum together, which no stack is meant to do: look "
    "whether they lie side by side after all, or have the joint parted."
)
WHICH_LAYOUT = (
    "The compass reads alike over both coils of {0}. Side by side they face opposite ways; stacked, one row "
    "of poles goes through both, and it cannot read otherwise. Look: one row of poles and the height of two "
    "coils is a stack; a lift from its poles is heard through both pairs of leads, softer through the lower "
    "coil's. Then enter which it is, or read the compass again."
)
ONE_SOFTER = (
    "Look at {0} before it is joined: lifts are much softer through {1} and {2} than through {3} and {4}, as "
    "of a stack. "
)
HOW_THEY_LIE = "Look at {0} before it is joined: no lifts on both of its coils say yet how these lie. "
SIDE_OR_STACKED = (
    "Two rows of poles: side by side. One row, and the height of two coils: stacked, and joined as the other "
    'it would hum. Enter which: coilwise unusual FOLDER --pickup {0} --build stacked (or "side by side"); or '
    "hold a compass over each coil."
)
WHICH_ABOVE = (
    "{0} is stacked, and which of its coils is the upper one is not entered. It is the one that is louder on "
    "three lifts from the same pole, one pair of leads after the other at the same gain: {1} and {2}, or {3} "
    "and {4}. Enter a lead of it as upper."
)

OHMS_CONFLICTS: dict[notes.OhmsConflictCode, str] = {
    "cannot all be true": "{entries} cannot all be true of {pickup}.",
    "probably wrong": (
        "{entries} ({leads[0]} to {leads[1]}: {kohm}) is most probably wrong; measure {leads[0]} to "
        "{leads[1]} once more, and void {entries} if it reads otherwise."
    ),
    "one is wrong": "One of {entries} is wrong; measure each of these again, hands off the clips.",
    "too many leads": (
        "{pickup} has {lead_count} leads in the log, more than {most_leads}: check the colours, and void "
        "readings of another pickup."
    ),
}

OHMS_REMARKS: dict[notes.OhmsRemarkCode, str] = {
    "hands on the clips": (
        "{entry}: {kohm[0]:g} k between {leads[0]} and {leads[1]} is no coil, it is your fingers on the "
        "clips: read as open. Measure again with hands off."
    ),
    "still open": ("Every pair of leads of {pickup} is measured, and more than one reading of it is left."),
    "two leads alone": (
        "Two leads alone: whether there are two coils between {leads[0]} and {leads[1]}, joined inside, no "
        "ohmmeter tells."
    ),
    "no path": (
        "No coil was found on {listed}: either it is open, or the clip did not bite. Scrape the lead and "
        "measure again."
    ),
    "on no coil": (
        "{listed} is on no coil: a shield or cover under another name, an open coil, or a lead whose partner "
        "is not measured yet. Treat it as a shield, not as an end of a coil, until that is known."
    ),
    "leads joined": (
        "{listed} are joined to each other: one may be the shield. Part them before anything is recorded on "
        "one coil, or know that it stays so."
    ),
    "shield on a lead": (
        "The shield is joined to {leads[0]}: that lead goes to ground, or part the two first."
    ),
    "shield not measured": (
        "It is not known whether the shield or cover lies on a lead: measure shield to {and_to} as well, "
        "open or not."
    ),
    "tapped": (
        "{span} reads the sum of the other two: three leads, joined inside at {joint}. One coil with a tap, "
        "or two coils with a common joint; the ohmmeter does not tell which."
    ),
    "coil count differs": (
        "job.toml gives {pickup} {coils[0]} coil(s), and the readings show {coils[1]}: put that right in "
        "job.toml."
    ),
    "typed in ohms": (
        "{entry}: {kohm[0]:g} k is no coil; did you mean {kohm[1]:g} (kilo-ohm)? If it really is "
        "{kohm[1]:g} M, it is your fingers."
    ),
    "open coil": (
        "The coil of {pickup} between {leads[0]} and {leads[1]} is open: a broken wire or a bad joint at its "
        "leads."
    ),
    "open against the swing": (
        "{pickup} reads open between {leads[0]} and {leads[1]}, and read {kohm[0]:g} k at rest ({entry}): in "
        "one of the two a clip did not bite. Scrape the leads, and measure between them once more."
    ),
    "shorted coil": (
        "The coil of {pickup} between {leads[0]} and {leads[1]} reads {kohm[0]:g} k: it is shorted, or its "
        "two leads touch."
    ),
    "partly shorted coil": (
        "The coil of {pickup} between {leads[0]} and {leads[1]} reads {kohm[0]:g} k, its twin {kohm[1]:g} k: "
        "part of it may be shorted, or the two are meant to differ. Compare with what its maker states."
    ),
    "meter range": "On a meter that is set by hand use the {kohm[0]:g} k range",
    "hands off": (
        "With a hand on each clip {kohm[0]:.4g} k would read about {kohm[1]:.4g} k: let go of the clips."
    ),
}
OVER_RANGE, LOSES_DIGITS = "; {:g} k reads over-range", "; {:g} k loses digits"
OPEN, KOHM = "open", "{:g} k"

JACK_READINGS: dict[notes.JackReadingCode, str] = {
    "as expected": "{read:.3g} k was read at the jack and {expected:.3g} k expected: as it should be.",
    "open": (
        "The jack reads open where {expected:.3g} k was expected: a broken joint on the way to the jack, or "
        "the wrong plug contact."
    ),
    "short": (
        "The jack reads {read:.3g} k where {expected:.3g} k was expected: a short, or the volume is down. "
        "Turn it full up and measure again."
    ),
    "pickup missing": (
        "{read:.3g} k was read and {expected:.3g} k expected: that is what it reads without {missing}. Check "
        "its joints."
    ),
    "volume pot alone": (
        "{read:.3g} k is the volume pot alone, where {expected:.3g} k was expected: no pickup reaches the "
        "jack, or a coil is open."
    ),
    "low": (
        "{read:.3g} k was read and {expected:.3g} k expected: the volume is not full up, a coil is partly "
        "shorted, or another pickup is on as well."
    ),
    "low by hands": (
        "{read:.3g} k was read and {expected:.3g} k expected: that is what hands across the clips take off. "
        "Measure with hands off."
    ),
    "typed in ohms": (
        "{read:g} k is no reading of pickups; did you mean {thousandth:g} k ({read:g} ohm)? Then it is as it "
        "should be."
    ),
    "high": (
        "{read:.3g} k was read and {expected:.3g} k expected: the volume is not full up, one pickup is "
        "missing, or a coil or joint is bad."
    ),
    "high alone": (
        "{read:.3g} k was read and {expected:.3g} k expected: the volume is not full up, or a joint or the "
        "coil is bad."
    ),
}


def lead_sentence(note: notes.AnyLeadNote, *, request: str = "") -> str:
    """The sentence for a note; ``request`` is that of the note inside a `PlanReason`."""
    match note:
        case notes.PlanReason():
            fields = vars(note) | {
                "coils": " and of coil ".join(map(str, note.coils)),
                "request": request,
                "others": _listed(note.others),
                "settings": _listed([f'"{name}"' for name in note.settings]),
            }
            return PLAN_REASONS[note.code].format(**fields).strip()
        case notes.LeadWarning():
            names = ", ".join(f'"{name}"' for name in note.settings)
            read_as = READ_AS.format(note.read_as) if note.read_as else ""
            return LEAD_WARNINGS[note.code].format(
                pickup=note.pickup, settings=names, take=note.take, read_as=read_as
            )
        case notes.SettingProof():
            return _setting_proof(note)
        case notes.SettingNotSettled():
            return NOT_SETTLED.format(note.setting)
        case notes.EqualPlan():
            return EQUAL_PLAN.format(_work(note.work))
        case notes.MoreEqualPlans():
            return MORE_EQUAL_PLANS.format(note.count)
        case notes.CompromisePlan():
            missed = " and ".join(f'"{name}" ({what})' for name, what in note.missed)
            return (QUIETER_PLAN if note.quieter else NEAREST_PLAN).format(_work(note.work), missed)
        case notes.DemandsConflict():
            return _demands_conflict(note)
        case notes.PlanWithheld():
            return PLAN_WITHHELD[note.code]
        case notes.CoilJoint():
            return _coil_joint(note)
        case notes.JointAdvice():
            return JOINT_ADVICE[note.code].format(*note.leads)
        case notes.LeadRequest():
            return _lead_request(note)
        case notes.OhmsConflict():
            kohm = OPEN if note.kohm is None else KOHM.format(note.kohm)
            fields = vars(note) | {"entries": _listed(note.entries), "kohm": kohm}
            return OHMS_CONFLICTS[note.code].format(**fields)
        case notes.OhmsRemark():
            return _ohms_remark(note)
        case notes.JackReading():
            read = note.read_kohm or 0.0
            return JACK_READINGS[note.code].format(
                read=read,
                thousandth=read / 1000,
                expected=note.expected_kohm,
                missing=" or ".join(note.missing),
            )
        case _:
            assert_never(note)


def _listed(names: Sequence[str]) -> str:
    """Names with "and" before the last; empty for none."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def _work(work: Sequence[notes.NamedWork]) -> str:
    """All work of a plan in one phrase."""
    return "; ".join(_work_at(name, one) for name, one in work) or NO_WORK


def _work_at(name: str, work: PickupWork) -> str:
    parts = [f"exchange hot and ground of {name}"] if work.exchange else []
    parts += [f"exchange the leads of coil {k} of {name} alone" for k in work.coils]
    parts += [f"turn the magnet of {name}"] if work.magnet else []
    return " and ".join(parts)


def _setting_proof(note: notes.SettingProof) -> str:
    parts = []
    if note.phase is not None:
        missed = "" if note.phase == note.aim else AIM_MISSED.format(note.aim)
        parts.append(f"{note.phase} {AFTER_WORK if note.changed else AS_IT_IS}{missed}")
    missed = QUIET_MISSED if note.quiet_wanted and note.hum_cancels is False else ""
    windings = ", ".join(f"{coil} wound {'+' if w > 0 else '-'}" for coil, w in note.windings)
    if note.quiet_wanted and note.hum_cancels is None:
        reason = MEASURE_WINDING
    else:
        reason = f": {windings}" if windings else ""
    parts.append(f"{HUM[note.hum_cancels]}{missed}{reason}")
    return f"{note.setting}: {' + '.join(note.pickups)}, {'; '.join(parts)}."


def _demand(demand: Demand) -> str:
    parts: list[str] = [] if demand.aim is None else [demand.aim]
    return " and ".join([*parts, "quiet"] if demand.quiet else parts)


def _demands_conflict(note: notes.DemandsConflict) -> str:
    named = [f'"{d.name}" ({_demand(d)})' for d in note.demands]
    if len(named) == 1:
        name, demand = f'"{note.demands[0].name}"', _demand(note.demands[0])
        cannot = POLES_CANNOT if note.by_poles else ONE_CANNOT
        first = ODD_COILS.format(name) if note.odd_coils else cannot.format(name, demand)
    else:
        first = (TWO_CANNOT if len(named) == 2 else SEVERAL_CANNOT).format(_listed(named))
    parts = [first]
    if note.fixed_magnets and not note.odd_coils:
        parts.append(MAGNETS_FIXED.format(" and of ".join(note.fixed_magnets)))
    if note.strings_planned:
        parts.append(STRINGS_ALONE)
    return " ".join(parts)


def _coil_joint(note: notes.CoilJoint) -> str:
    like_ends = LIKE_ENDS.format(*note.like_ends)
    if note.chain is None:
        return like_ends
    if note.stacked:
        joined = (STACK_INSIDE if note.inside else JOIN_STACK).format(*note.chain)
    else:
        joined = (JOINED_INSIDE if note.inside else JOIN_ENDS).format(*note.chain)
    ending = EITHER_WAY if note.reference is None else IN_PHASE_WITH.format(note.reference)
    return f"{like_ends} {joined}{ending}"


def _lead_request(note: notes.LeadRequest) -> str:
    match note.code:
        case "measure a pair":
            return MEASURE_PAIR.format(*note.coils[0])
        case "measure the coils":
            return MEASURE_COILS.format(note.pickup)
        case "record lifts":
            parts = [RECORD_COIL.format(note.pickup, *coil) for coil in note.coils]
            parts += [] if note.reference is None else [RECORD_REFERENCE.format(note.reference)]
            return " ".join(parts)
        case "more lifts on both coils":
            return MORE_ON_BOTH.format(note.pickup)
        case "more lifts on one coil":
            return MORE_ON_ONE.format(note.pickup, *note.coils[0])
        case "coils oppose inside":
            outer = (end for coil in note.coils for end in coil if end != note.joint)
            return OPPOSED_INSIDE.format(note.pickup, note.joint, *outer)
        case "stack hums inside":
            return STACK_HUMS_INSIDE.format(note.pickup)
        case "stacked or side by side":
            return WHICH_LAYOUT.format(note.pickup)
        case "one coil softer":
            softer_first = (end for coil in note.coils for end in coil)
            return (ONE_SOFTER + SIDE_OR_STACKED).format(note.pickup, *softer_first)
        case "how coils lie":
            return (HOW_THEY_LIE + SIDE_OR_STACKED).format(note.pickup)
        case "which coil is above":
            return WHICH_ABOVE.format(note.pickup, *(end for coil in note.coils for end in coil))
        case _:
            assert_never(note.code)


def _ohms_remark(note: notes.OhmsRemark) -> str:
    fields = vars(note) | {
        "listed": _listed(note.leads),
        "and_to": " and to ".join(note.leads),
        "span": " to ".join(note.leads),
        "joint": _listed(note.joint),
    }
    sentence = OHMS_REMARKS[note.code].format(**fields)
    if note.code == "meter range":
        _, below, above = note.kohm
        sentence += "" if below is None else OVER_RANGE.format(below)
        sentence += "" if above is None else LOSES_DIGITS.format(above)
        sentence += "."
    return sentence
