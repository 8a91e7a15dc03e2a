"""Labels and table cells shared by terminal, report and page, and captions of drawings; no layout.

All functions are pure except `our_fault`. In go probabilities in 0..1, levels in dB, resistances in kilohms,
None where nothing is known; out comes text. No probability is worded as certain: beyond 99.9 % it stays at
"more than 99.9 %", and chances are rounded to the careful side. Text that somebody typed goes through
``plain`` before it is shown anywhere.
"""

from __future__ import annotations

import math
import os
import re
import sys
import traceback
from collections.abc import Sequence
from typing import TYPE_CHECKING

from capture.log import Input, LeadsInput
from capture.log.entries import OTHER, TAG_WORDS, TAGGED
from dsp import plain as plain  # noqa: PLC0414 (every face takes it from here)
from reports.messages.builds import differs, divided_label, thin_on_some
from reports.messages.commands import in_a_sentence
from reports.model.notes import Hum, HumBasis, Sounds, Standing
from reports.model.verdict import (
    ORDINARY_BENCHES,
    TEN_TIMES_THE_MISTAKES,
    HumAnswer,
    LeadsRow,
    MethodAnswer,
    PairVerdict,
    SettingVerdict,
    SignRow,
    StageRow,
    TakeRow,
    Verdict,
    WiringRow,
    standing_of,
    threshold,
)

if TYPE_CHECKING:
    from dsp.methods.curves import PairExhibit

NEARLY_CERTAIN = 0.999
WHOLE_PER_CENT = 0.99
"""Up to here a probability is said in whole per cent; beyond, with one decimal, so that none reads 100 %."""
NOT_KNOWN = "not known"
NOT_MEASURED = "not measured"
NO_EVIDENCE = "no evidence"
SET_ASIDE = "set aside"
NOT_JOINED = "no setting joins them"
LEADS_STAY = "as they are"
EITHER = "could be either"
OUT_OF_PHASE = "out of phase"
IN_PHASE = "in phase"
CANCELS = "cancels"
CANCELS_NOT = "does not cancel"
CLOSE_TO_EVEN = 0.55
"""Below it a probability leans nowhere."""

SECTIONS = {
    "verdict": "Verdict",
    "next": "What to do next",
    "conflicts": "Where the evidence disagrees",
    "findings": "Not a matter of phase",
    "stages": "Found, planned, after the work",
    "leads": "What to exchange, lead by lead",
    "nearest": "The nearest plan",
    "proof": "What the plan makes of every setting",
    "coil_leads": "Which lead is which",
    "built": "How unusual pickups and circuits are made",
    "settings": "What each setting does now",
    "pairs": "Pickups in pairs",
    "readings": "Read, checked and changed by hand",
    "evidence": "The evidence, pair by pair",
    "jack": "What the jack told",
    "jack_ohms": "What a meter should read at the jack",
    "networks": "What the circuits inside pickups give",
    "signs": "Strings, windings and magnets",
    "refused": "Takes that do not count",
    "remarks": "Remarks on takes",
    "warnings": "Warnings",
    "ask": "What no recording can tell: was it so?",
    "provenance": "Takes and files",
    "cautions": "Cautions",
}
"""Headings, in the order in which text and bench sheet show them."""
TEXT_SECTIONS = tuple(key for key in SECTIONS if key != "provenance")
"""What the terminal shows of them."""
WIRING_SECTIONS = frozenset(
    (
        *("stages", "leads", "nearest", "proof", "conflicts"),
        *("next", "coil_leads", "built", "jack_ohms", "networks"),
    )
)
"""What the page of the bench shows of the wiring, beside the verdict."""

MEANING = {
    IN_PHASE: "In phase: played together, the two pickups add up and the sound is full.",
    OUT_OF_PHASE: "Out of phase: played together, the two pickups take from each other and the sound is "
    "thin and weak, although each of them is fine alone.",
    None: "Unsettled: what was heard and measured so far does not say which of the two it is.",
}

CAPTIONS = {
    "belief": "What each method alone makes of the pair, and all of them together.",
}

TRACES = (
    "{method}: what was recorded at {a} (whole line) and at {b} (dashed), no sign changed. {found} Pickups "
    "in phase "
    "move the same way."
)
TRACES_FOUND = {
    1: "They move the same way.",
    -1: "Where one goes up, the other goes down.",
    0: "Not all of them agree.",
}


def traces_caption(exhibit: PairExhibit) -> str:
    """What takes drawn over each other show, in a sentence."""
    signs = {p: {t.sign for t in exhibit.traces if t.pickup == p} for p in (exhibit.a, exhibit.b)}
    seen = {x * y for x in signs[exhibit.a] for y in signs[exhibit.b]}
    found = TRACES_FOUND[seen.pop() if len(seen) == 1 else 0]
    method, a, b = (plain(name) for name in (exhibit.method, exhibit.a, exhibit.b))
    return TRACES.format(method=method[:1].upper() + method[1:], a=a, b=b, found=found)


_CHANCES = (10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500, 600, 800, 1000)
_UNIT = re.compile(r"(?<=\d) (?=(?:%|dB|Hz|kHz|mm|ms|s|kohm)(?!\w))|(?<=±) (?=\d)")
SOUNDS: dict[Sounds, str] = {"full": "full", "thin": "THIN", "unknown": NOT_KNOWN}
_STAGES = {"found": "as found", "after": "after the work"}
_PLACES = {"hot": "hot", "ground": "ground", "link": "the link"}


def as_sentence(text: str) -> str:
    """``text`` with a capital letter in front and a full stop behind, to stand before another sentence."""
    label = text.strip()
    return f"{label[:1].upper()}{label[1:]}" + ("" if label.endswith((".", "!", "?")) else ".")


def unbroken(text: str) -> str:
    """``text`` with no number parted from its unit where lines are broken."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def percent(p: float | None) -> str:
    """Per cent of a probability, never 0 or 100."""
    if p is None:
        return NOT_KNOWN
    if p > NEARLY_CERTAIN:
        return f"more than {100 * NEARLY_CERTAIN:.1f} %"
    if p < 1 - NEARLY_CERTAIN:
        return f"less than {100 * (1 - NEARLY_CERTAIN):.1f} %"
    return f"{100 * p:.{0 if 1 - WHOLE_PER_CENT <= p <= WHOLE_PER_CENT else 1}f} %"


def threshold_label(standing: Standing) -> str:
    """Least probability of a standing: "99 %"."""
    return f"{100 * threshold(standing):g} %"


def percent_at_least(p: float) -> str:
    """How sure the better of two answers is, rounded down, so that it never claims more."""
    return f"{math.floor(1000 * max(p, 1 - p)) / 10} %"


OF_WRONG, OF_WRONG_SHORT = "that this is wrong", "of error"


def chance_wrong(p: float | None, *, of: str = OF_WRONG) -> str:
    """How likely the better of two answers is wrong: "about 1 chance in 200 that this is wrong"."""
    if p is None:
        return NO_EVIDENCE
    right = max(p, 1 - p)
    if right < CLOSE_TO_EVEN:
        return EITHER
    if standing_of(p) == "unsettled":
        chances = round(10 * (1 - right)) or 1
        return f"about {chances} chance{'s' if chances > 1 else ''} in 10 {of}"
    if 1 - right < 1 / _CHANCES[-1]:
        return f"less than 1 chance in {_CHANCES[-1]} {of}"
    careful = max((n for n in _CHANCES if n * (1 - right) <= 1 + 1e-9), default=_CHANCES[0])
    return f"about 1 chance in {careful} {of}"


def leaning(p: float | None) -> str:
    """Which way a probability of "in phase" leans, and by how much: "out of phase, 98 %"."""
    return _leaning(p, yes=IN_PHASE, no=OUT_OF_PHASE)


def leaning_hum(p: float | None) -> str:
    """Which way a probability of "hum cancels" leans, and by how much: "does not cancel, 98 %"."""
    return _leaning(p, yes=CANCELS, no=CANCELS_NOT)


def _leaning(p: float | None, *, yes: str, no: str) -> str:
    if p is None:
        return "says nothing"
    if max(p, 1 - p) < CLOSE_TO_EVEN:
        return EITHER
    right = max(p, 1 - p)
    shown = f"{math.floor(100 * right)} %" if standing_of(p) == "unsettled" else percent(right)
    return f"{yes if p > 1 - p else no}, {shown}"


def pair_name(pair: PairVerdict) -> str:
    """Both pickups of a pair."""
    return f"{plain(pair.a)} and {plain(pair.b)}"


def phase_label(pair: PairVerdict) -> str:
    """Answer for a pair, in capitals where it is the one that needs work."""
    if differs(pair):
        return divided_label(pair)
    if pair.phase is None:
        return "UNSETTLED" if pair.p_in_phase is not None else NOT_KNOWN.upper()
    return pair.phase.upper() if pair.phase == OUT_OF_PHASE else pair.phase


def standing_label(pair: PairVerdict, *, of: str = OF_WRONG) -> str:
    """Standing of a pair with its chance of being wrong: "settled: about 1 chance in 200 ..."."""
    if differs(pair):
        return pair.standing
    return f"{pair.standing}: {sureness(pair, of=of)}" if pair.phase else sureness(pair)


def sureness(pair: PairVerdict, *, of: str = OF_WRONG) -> str:
    """Chance that the answer for a pair is wrong, or where it leans while there is none."""
    if pair.p_in_phase is None:
        return f"{NO_EVIDENCE} connects them"
    if pair.phase is not None:
        return chance_wrong(pair.p_in_phase, of=of)
    label = leaning(pair.p_in_phase)
    return label if label == EITHER else f"leans to {label}"


def range_sentence(pair: PairVerdict) -> str:
    """How far the answer for a pair hangs on what is assumed of mistakes; empty where there is none."""
    if pair.phase is None or pair.p_in_phase_range is None:
        return ""
    low, high = pair.p_in_phase_range
    least, most = (low, high) if pair.phase == IN_PHASE else (1 - high, 1 - low)
    return RANGE.format(percent(least), percent(most))


def care_sentence(verdict: Verdict) -> str:
    """How careful the bench seems by this job; nothing where nothing was heard or measured."""
    care = verdict.care
    if care is None:
        return ""
    known = CARE_KNOWN.format(checked_jobs(care.from_jobs)) if care.from_jobs else ""
    return CARE.format(known, percent(care.careful), percent(care.usual), percent(care.careless))


def checked_jobs(count: int) -> str:
    """So many jobs: "1 job checked after soldering"."""
    return f"{count} job{'' if count == 1 else 's'} checked after soldering"


def study_sentence() -> str:
    """What "settled" was worth on simulated benches, and what that rests on."""
    ordinary, tenfold = ORDINARY_BENCHES, TEN_TIMES_THE_MISTAKES
    return STUDY.format(ordinary.wrong, ordinary.settled, tenfold.wrong, tenfold.settled, tenfold.traceless)


STUDY = (
    "On simulated benches {} of {} settled answers were wrong. With the mistakes of people ten times as "
    "frequent "
    "it was {} of {}, and in {} of these nothing in the job spoke against it. How often mistakes happen is "
    "assumed; "
    "no real bench was counted."
)
RANGE = "From {} to {} as the priors are varied: as they stand, twice as large, and averaged over care."
CARE = (
    "How often mistakes happen at this bench,{} judged by what contradicts itself in this job: rarely {}, as "
    "usual {}, often {}. What is said above is the average."
)
CARE_KNOWN = " known from {} on this machine and"


HUM_FROM: dict[HumBasis, str] = {
    "heard": "heard",
    "compass": "by the compass",
    "coils": "by how the coils are built",
}
HUM_BY_COILS = (
    "By how the coils are built: two coils of one pickup cancel hum between them, and a single coil that is "
    "left over hums (common practice); that was not heard here."
)


def hum_basis(basis: Sequence[HumBasis]) -> str:
    """What a word about hum rests on: "heard", "by the compass"."""
    return " and ".join(HUM_FROM[one] for one in basis)


def hum_by_coils(verdict: Verdict) -> bool:
    """Whether some word about hum rests on how coils are built."""
    bases = (*(s.hum_from for s in verdict.settings), *(p.hum_from for p in verdict.pairs))
    return any("coils" in basis for basis in bases)


def hum_of_pair(pair: PairVerdict) -> str:
    """Hum in a combination of the pair, and what that rests on."""
    p, basis = pair.p_hum_cancels, hum_basis(pair.hum_from)
    if p is None:
        word = {"cancels": CANCELS, "hums": CANCELS_NOT, "unknown": NOT_KNOWN}[pair.hum]
        return f"{word}, {basis}" if basis else word
    right = max(p, 1 - p)
    if standing_of(p) == "unsettled":
        return f"unsettled, cancels {percent(p)}"
    return ", ".join(filter(None, (CANCELS if p > 1 - p else CANCELS_NOT, percent(right), basis)))


def method_label(word: MethodAnswer) -> str:
    """Answer of one method, with where it comes from: "out of phase, 98 % (t002)"."""
    sources = ", ".join(plain(s) for s in (*word.takes, *word.entries))
    return leaning(word.p_in_phase) + (f" ({sources})" if sources else "")


FROM_BEFORE = ", from before the work"


def method_name(word: MethodAnswer) -> str:
    """The name of a method, with the stage where it is not what was heard last."""
    return plain(word.method) + (FROM_BEFORE if word.before_work else "")


def method_short(word: MethodAnswer, name: str) -> str:
    """The same where there is little room; ``name`` is the method's, as long as it may be."""
    return f"before: {name}" if word.before_work else name


def hum_method_label(word: HumAnswer) -> str:
    """Answer of one method on the hum of a pair, with where it comes from: "cancels, 98 % (t002)"."""
    sources = ", ".join(plain(s) for s in (*word.takes, *word.entries))
    return leaning_hum(word.p_hum_cancels) + (f" ({sources})" if sources else "")


def sounds_label(setting: SettingVerdict) -> str:
    """How a setting sounds as the guitar stands."""
    alike = SOUNDS[setting.sounds] + (", likely" if setting.standing == "likely" else "")
    return thin_on_some(setting) or alike


def hum_label(setting: SettingVerdict) -> str:
    """Hum from outside in a setting, and whether that is as wanted: "HUMS, 99 %, wanted quiet"."""
    if setting.hum == "unknown":
        label = NOT_KNOWN
    elif setting.hum == "hums" and setting.wanted_quiet:
        label = "HUMS"
    else:
        label = setting.hum
    if setting.p_hum_cancels not in (None, 0.0) and setting.hum != "unknown":
        p = setting.p_hum_cancels or 0.0
        label += f", {percent(p if setting.hum == 'cancels' else 1 - p)}"
    if setting.hum != "unknown" and setting.hum_from:
        label += f", {hum_basis(setting.hum_from)}"
    if not setting.wanted_quiet:
        return label
    return f"{label}, as wanted" if setting.hum == "cancels" else f"{label}, wanted quiet"


def members(setting: SettingVerdict) -> str:
    """Pickups of a setting and how they are joined."""
    names = " + ".join(plain(n) for n in setting.on)
    return f"{names}, {plain(setting.join)}" if len(setting.on) > 1 else names


def as_wanted(setting: SettingVerdict) -> str:
    """Whether a setting comes out as its aim has it."""
    if thin_on_some(setting):
        return "NO"
    if setting.sounds == "unknown":
        return NOT_KNOWN
    return "yes" if (setting.sounds == "thin") == (setting.aim == OUT_OF_PHASE) else "NO"


WOULD_BE = "likely, not settled: it would be to {}"


def instruction(row: WiringRow) -> str:
    """Work at one pickup, in capitals where there is work to be done; of what is likely, what it would be."""
    work = work_at(row)
    return WOULD_BE.format(in_a_sentence(work)) if is_work(row) and row.standing == "likely" else work


def work_at(row: WiringRow) -> str:
    """Work at one pickup, in capitals where there is work, however sure it is."""
    if row.exchange is None and not row.turn_magnet:
        return "not known yet: do not solder"
    work = ["EXCHANGE hot and ground"] if row.exchange else []
    tagged, other = (row.leads.get(name, "") for name in TAG_WORDS)
    if row.tag and {tagged, other} == {"hot", "ground"}:
        ends = (tagged.upper(), other.upper()) if row.exchange else (tagged, other)
        work = [
            ("SOLDER" if row.exchange else "solder") + " the tagged lead to {}, the other to {}".format(*ends)
        ]
    if row.open_braid:
        work = ["Do NOT solder the braid to hot: HAVE THE PICKUP OPENED to exchange hot and ground inside"]
    if row.coils_exchanged:
        coils = [_coil_name(row, k) for k in row.coils_exchanged]
        work.append(f"EXCHANGE the two leads of {' and of '.join(coils)}")
    work += ["TURN the magnet over"] if row.turn_magnet else []
    if row.join_coils:
        work = ["JOIN its coils and wire it as below"]
    return " and ".join(work) or "leave as it is"


def _coil_name(row: WiringRow, number: int) -> str:
    return f"the half under {' and '.join(row.halves[number - 1])}" if row.halves else f"coil {number}"


def is_work(row: WiringRow) -> bool:
    """Whether something is to be done at a pickup."""
    return bool(row.exchange or row.turn_magnet or row.coils_exchanged or row.join_coils)


TAG_NAMES = {TAGGED: "the tagged lead", OTHER: "the other lead"}
"""What leads that are told by a tag are called."""


def lead_places(row: WiringRow) -> tuple[tuple[str, str], ...]:
    """Each lead and the place where it ends; empty where nothing is known or no lead has a name."""
    if row.exchange is None or row.open_braid:
        return ()
    leads = row.leads or ({"hot": "ground", "ground": "hot"} if row.exchange else {})
    named = {lead: TAG_NAMES.get(lead, lead) if row.read_as else lead for lead in leads}
    return tuple((_lead_name(named[lead]), _PLACES.get(role, plain(role))) for lead, role in leads.items())


def lead_steps(row: WiringRow) -> tuple[tuple[str, str], ...]:
    """Each lead and what it becomes, as the rest of a sentence."""
    verb = "becomes" if row.exchange or row.coils_exchanged else "is"
    return tuple(
        (lead, f"{'joins' if place == _PLACES['link'] else verb} {place}") for lead, place in lead_places(row)
    )


def _lead_name(lead: str) -> str:
    return f"the lead that is {lead} now" if lead in _PLACES else plain(lead)


def stage_label(stage: str) -> str:
    """When the guitar was in the state that the verdict is about."""
    return _STAGES.get(stage, plain(stage))


def refused(verdict: Verdict) -> tuple[TakeRow, ...]:
    """List the takes that do not count."""
    return tuple(t for t in verdict.takes if not t.used or t.faults)


def remarked(verdict: Verdict) -> tuple[TakeRow, ...]:
    """List the takes that count, with a remark."""
    return tuple(t for t in verdict.takes if t.used and not t.faults and t.remarks)


def id_list(ids: Sequence[str]) -> str:
    """Ids of the log, those that follow each other drawn together: "t002, t006 to t011, m001"."""
    runs: list[list[str]] = []
    for one in sorted(map(plain, ids), key=_id_order):
        follows = bool(runs) and _id_order(one) == (
            _id_order(runs[-1][-1])[0],
            _id_order(runs[-1][-1])[1] + 1,
        )
        runs[-1].append(one) if follows else runs.append([one])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) > FEW_IDS else ", ".join(r) for r in runs)


FEW_IDS = 2
"""So many ids in a row are listed one by one."""


def _id_order(one: str) -> tuple[str, int]:
    """The letter and the number of an id; takes go first."""
    letters = one.rstrip("0123456789")
    number = int(one[len(letters) :]) if one[len(letters) :].isascii() and one != letters else -1
    return ("" if letters == "t" else letters, number)


def takes_label(takes: Sequence[TakeRow]) -> str:
    """Takes with what they were where that is one thing: "t006 to t008, lift, bridge"."""
    first = take_label(takes[0])
    if len(takes) == 1:
        return first
    played = {take_label(t).removeprefix(plain(t.id)) for t in takes}
    return id_list([t.id for t in takes]) + (played.pop() if len(played) == 1 else "")


def minute(at: str | None) -> str:
    """A moment of the log as it is read: "2026-11-25 10:12"."""
    return NOT_KNOWN if at is None else plain(at).replace("T", " ")[:16]


def kohm(value: float | None) -> str:
    """A resistance as a bench rounds it: "4.1 k", "250 k", "0.45 k", "1.2 M"."""
    if value is None:
        return NOT_KNOWN
    if value >= 1000:
        return f"{float(f'{value / 1000:.2g}'):g} M"
    if value >= 100:
        return f"{value:.0f} k"
    if value < 0.1:
        return f"{1000 * value:.0f} ohm"
    return f"{value:.2g} k" if value < 1 else f"{value:.1f} k"


def joined(verdict: Verdict, pair: PairVerdict) -> bool:
    """Whether a setting has both pickups of a pair on, or the job lists none that has two."""
    shared = [s.pickups or s.on for s in verdict.settings if len(s.on) > 1]
    return not shared or any({pair.a, pair.b} <= set(on) for on in shared)


def meanings(verdict: Verdict) -> tuple[str, ...]:
    """What the answers that occur mean, the one that needs work first."""
    phases = {p.phase for p in verdict.pairs if p.phase or not (p.by_string or p.about == "hum")}
    return tuple(MEANING[phase] for phase in (OUT_OF_PHASE, IN_PHASE, None) if phase in phases)


def take_label(take: TakeRow) -> str:
    """Id of a take with what it was: "t001, pluck A2, bridge / neck"."""
    played = " ".join(plain(x) for x in (take.gesture, take.string or "") if x)
    where = " / ".join(plain(i) for i in take.inputs)
    return ", ".join(x for x in (plain(take.id), played, where) if x)


WRITTEN_DOWN = "{id}: written down."


TRACE = "COILWISE_TRACE"

OUR_FAULT = (
    "a fault of the tool itself ({}: {}). Nothing recorded was changed. Please report it, with what is "
    f"printed when {TRACE}=1 is set"
)


def system_error(error: OSError) -> str:
    """Return what the system says of a file or device, its name first, and what to do unless that is said."""
    says = plain(f"{error.filename}: {error.strerror or error}" if error.filename else str(error))
    return says if ";" in says else f"{says}; check permissions and free space, then try again"


def our_fault(error: Exception) -> str:
    """Return the message for an internal error.

    If COILWISE_TRACE is set, also print the traceback to standard error.
    """
    if os.environ.get(TRACE):
        traceback.print_exception(error, file=sys.stderr)
    return OUR_FAULT.format(type(error).__name__, error)


def on_words(item: Input) -> str:
    """What one input carried, in words."""
    if item is None:
        return "nothing"
    if isinstance(item, LeadsInput):
        return f"{item.pickup} ({item.hot} on tip, {item.ground} on sleeve)"
    return item if isinstance(item, str) else ", ".join(item)


NOTHING = "nothing"

REFERENCE = "reference"
ALONE = "one pickup alone"
LOSS_MEANING = (
    "Fundamental: its measured level against what the pickups alone give if they add up; well below 0 dB "
    "it is lost, and the setting is thin."
)
SIGN_HEADS = ("Pickup", "On the strings", "Winding", "Magnet")


def wanted_label(setting: SettingVerdict) -> str:
    """What a setting is for, and whether it comes out so: "in phase: yes"."""
    if len(setting.on) - len(setting.deaf) <= 1:
        return ALONE
    return f"{plain(setting.aim)}: {as_wanted(setting)}"


def loss_label(setting: SettingVerdict) -> str:
    """Measured loss of the fundamental against what the pickups alone give: "−11.2 dB ± 1.5 dB"."""
    if setting.loss_db is None or not math.isfinite(setting.loss_db):
        return NOT_MEASURED
    lost = f"{round(setting.loss_db, 1) + 0.0:+.1f} dB".replace("-", "−")
    error = setting.loss_error_db
    return lost if error is None or not math.isfinite(error) else f"{lost} ± {abs(error):.1f} dB"


def any_loss(verdict: Verdict) -> bool:
    """Whether the loss of any setting was measured."""
    return any(loss_label(s) != NOT_MEASURED for s in verdict.settings)


def sign_label(row: SignRow, p_same: float | None, *, reference: str) -> str:
    """One sign of a pickup against the reference: "same as bridge, 99.2 %"."""
    if row.pickup == reference:
        return REFERENCE
    if p_same is None:
        return NOT_KNOWN
    right = max(p_same, 1 - p_same)
    if right < CLOSE_TO_EVEN:
        return EITHER
    answer = f"same as {plain(reference)}" if p_same > 1 - p_same else "opposite"
    return f"{'' if standing_of(p_same) != 'unsettled' else 'unsettled, leans to '}{answer}, {percent(right)}"


def stage_cell(sounds: Sounds, hum: Hum, *, p_full: float | None = None) -> str:
    """How a setting sounds and hums at one stage: "full, 99 %, hum cancels"."""
    label = [SOUNDS[sounds]]
    if p_full is not None and sounds != "unknown":
        label.append(percent(p_full if sounds == "full" else 1 - p_full))
    if hum != "unknown":
        label.append({"cancels": "hum cancels", "hums": "hums"}[hum])
    return ", ".join(label)


def as_planned(row: StageRow) -> str:
    """Whether a setting came out as planned, in capitals where it did not."""
    return {"yes": "yes", "no": "NO", "unknown": NOT_KNOWN}[row.as_planned]


def coils_label(row: LeadsRow) -> str:
    """The ends of each coil with its resistance: "coil 1 grey and brown (4.1 k), coil 2 ..."."""
    each = [
        f"coil {k} {plain(a)} and {plain(b)}" + (f" ({kohm(read)})" if read is not None else "")
        for k, ((a, b), read) in enumerate(zip(row.coils, row.kohm, strict=True), start=1)
    ]
    return ", ".join(each) or "no coil is known yet"


def jack_table(verdict: Verdict) -> list[tuple[str, ...]]:
    """Head and rows of what a meter should read at the jack, everything full up; the head alone if none."""
    pots = list(dict.fromkeys(pot for row in verdict.jack_ohms for pot in row.with_pot))
    head = ("setting", "no pot", *(f"{pot} k volume pot" for pot in pots))
    rows = [
        (plain(row.setting), kohm(row.kohm), *(kohm(row.with_pot.get(pot)) for pot in pots))
        for row in verdict.jack_ohms
    ]
    return [head, *rows]


SAME_SIGN, OPPOSED = "same sign", "opposed"
STEPS = {1: SAME_SIGN, -1: OPPOSED, 0: "not told"}
IF_ADDING = "if they add"
IF_OPPOSED = "if they oppose"
MEASURED = "measured"
WOULD_HUM = "wound alike: would hum"
WOULD_CANCEL = "wound against each other: would cancel"
WOULD_HUM_SHORT = "would hum"
WOULD_CANCEL_SHORT = "would cancel"
NOISE = "noise"
IN_NOISE = "in the noise"

CAPTIONS_JACK_WORDS = {
    "switch": "each number is a partial of a string that rang on while the selector moved. At the bottom it "
    "did "
    "not turn: the same sign. At the top it turned by half: opposed. In a square: the places of the pickups "
    "alone "
    "turn it, which is taken out here.",
    "profile": "the points are what the setting gave, harmonic by harmonic; see which of the two curves they "
    "follow, that of pickups that add up or that of pickups that take from each other.",
    "hum": "the dot is the hum of a setting; near the one mark its pickups are wound alike and hum together, "
    "near the other they are wound against each other and cancel it.",
}


def decibels(value: float | None) -> str:
    """Level with its unit; a number that could not be had is said not to be measured."""
    if value is None or not math.isfinite(value):
        return NOT_MEASURED
    return f"{value:.1f} dB".replace("-", "−")


def turned_by_place(partials: Sequence[int]) -> str:
    """Which partials turn over because of where the pickups lie: "partial 5 turns by its place"."""
    if len(partials) == 1:
        return f"partial {partials[0]} turns by its place"
    listed = ", ".join(map(str, partials[:-1]))
    return f"partials {listed} and {partials[-1]} turn by their places"


def nearer_curve(adding_db: float | None, opposed_db: float | None, *, by: float) -> str:
    """Which predicted curve the measured points lie nearer to, in one sentence."""
    if adding_db is None or opposed_db is None:
        return "Too few harmonics were measured to tell the curves apart."
    off = f"{decibels(min(adding_db, opposed_db))} off against {decibels(max(adding_db, opposed_db))}"
    if abs(adding_db - opposed_db) < by:
        return f"The points lie about as near to one curve as to the other: {off}."
    return f'The points lie nearer to "{IF_ADDING if adding_db < opposed_db else IF_OPPOSED}": {off}.'


def hum_axis(mains_hz: float, *, shaded: bool = False) -> str:
    """What the hum of settings is drawn against, and what is shaded there."""
    mains = f"{mains_hz:.0f} Hz mains" if math.isfinite(mains_hz) else "mains"
    return f"hum of the {mains} (dB, full scale = 0)" + (f"; shaded: {NOISE}" if shaded else "")
