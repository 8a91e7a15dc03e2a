"""What keeps a pair from being settled, which methods contradict each other, and what to record next.

All of it follows from the posterior and is notes; reports.messages.advice has their sentences.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from operator import methodcaller
from typing import Final, Literal

from capture.job import Job, Pickup
from capture.job.model import HIGHEST_FRET, note_hz
from capture.log import AnyEntry, LeadsInput, Meter, Take
from dsp.live.gestures import Gesture
from reports.evidence.leads import LATEST, LeadHistory
from reports.evidence.results import TakeResult
from reports.inference.channel_ratios import probable_error_of_pair
from reports.inference.checks import CHECKED
from reports.inference.error_priors import ERROR_PRIORS
from reports.inference.evidence_graph import Evidence, HeardSign, LatentError, UnknownSign
from reports.inference.factor_graph import Factor
from reports.inference.meter import METER
from reports.inference.posterior import (
    Among,
    Assessment,
    MethodPosterior,
    Posterior,
    is_from,
    log_likelihood_ratio,
    opposed_evidence,
)
from reports.model.build_notes import ExchangeHalf, HalvesOpposed, PerhapsStacked, SayBuild
from reports.model.gestures import PAIRED, SPLIT, SWITCH, gesture_row
from reports.model.notes import (
    BenchError,
    CheckError,
    CorrectMains,
    EnterFrets,
    ErrorKind,
    InputsCompared,
    LikelyCause,
    NameLeads,
    NotSettled,
    OneErrorLeft,
    OnInput,
    OnPickups,
    Phase,
    ProveStage,
    Question,
    QuestionCode,
    RecordPair,
    SignsByString,
    Standing,
    StopHere,
    TakeBack,
)
from reports.model.take_notes import OutvotedNote, SoundNote
from reports.model.verdict import (
    Conflict,
    Finding,
    PairRequest,
    PairVerdict,
    WiringRow,
    likely_sign,
    standing_of,
)
from reports.model.work_notes import EnteredTurned, EnterWiring, NamedLeads, ReadElsewhere
from reports.plan.joints import side_by_side_doubted
from reports.verdict.rechecked import was_checked

CONFLICT_FROM = 0.8
"""Least probability by one method alone that can contradict another method."""
CONFLICT_NATS = 1.0
"""Least log-likelihood ratio of one paired pluck that can contradict another."""
CLOSE_ERRORS = 0.6
"""Errors at least this probable, as a share of the likeliest, are named with it."""
MOST_NAMED = 2
OPEN_FROM = 0.25
"""An error at least so probable, which keeps a pair from being surer, is what more takes would not tell."""
FOUND_FROM = 0.5
"""Least probability at which signs that go with the string are a finding, and an input is taken to invert."""
ODD_ONE = 2
"""So many times as many entries on the other side make one the odd one."""
FEW_TAKES = 2
"""Up to so many takes in a conflict, two more tell which is wrong."""
VOIDED: Final[frozenset[ErrorKind]] = frozenset(
    (
        "misread swing",
        "meter leads",
        "one clip-up for both",
        "compass",
        "one pickup twice",
        "same setting twice",
    )
)
"""Errors of which nothing but taking the entry back rids the evidence."""
LEAST_SHARE = 0.1
"""A pickup is named in it from this share of that probability on."""


# one return for each reason, in the order in which they are looked at
def next_for(  # noqa: PLR0911 (each reason why a pair is open has a step of its own)
    posterior: Posterior, a: str, b: str, *, found: Assessment | None, conflicts: Sequence[Conflict]
) -> tuple[NotSettled | OneErrorLeft, PairRequest]:
    """Why a pair is not settled, and what to do next; ``found`` is how sure it is of being in phase."""
    p = None if found is None else found.p
    if p is None and posterior.graph.paths.apart(a, b):
        return NotSettled("recorded otherwise"), RecordPair("one recorder", a, b)
    if found is None or p is None:
        for name in (a, b):
            if posterior.graph.history.not_carried(name):
                return NotSettled("leads not named"), NameLeads(name)
        if _on_the_shelf(posterior, a, b):
            return NotSettled("no evidence"), RecordPair("lift both", a, b)
        return NotSettled("no evidence"), RecordPair(_way_to_record(posterior, a, b), a, b)
    unproved = posterior.unproved_stage(a, b)
    if unproved is not None:
        return NotSettled("active stage"), ProveStage(unproved)
    behind = probable_error_of_pair(posterior, a, b)
    if behind is not None:
        return OneErrorLeft(behind.error), CheckError(behind.error)
    if conflicts:
        return NotSettled("contradictions"), conflicts[0].next
    limiting_error = posterior.limiting_error(a, b)
    if (limiting_error is None or standing_of(p) == "unsettled") and _on_the_shelf(posterior, a, b):
        return NotSettled("too little evidence"), RecordPair("lift both", a, b)
    open_yet = limiting_error is not None and posterior.error_probability(limiting_error) > OPEN_FROM
    swept = any(p.method == SWITCH and {a, b} <= p.pickups for p in posterior.graph.evidence)
    if limiting_error is None or (standing_of(p) == "unsettled" and (swept or not open_yet)):
        return NotSettled("too little evidence"), RecordPair("sweep again" if swept else "two more", a, b)
    if found.fragile and posterior.care["careless"] > posterior.care_prior["careless"]:
        return NotSettled("little care"), RecordPair("two more", a, b)
    wired = _not_entered(posterior.graph.history, (a, b))
    return OneErrorLeft(limiting_error.error), wired or CheckError(limiting_error.error)


HUM_ERRORS: Final[tuple[ErrorKind, ...]] = (
    "field differs",
    "capacitive hum",
    "hum levels",
    "field differs everywhere",
    "channels",
    "coil's face",
    "selector list",
    "settings",
)
"""Those that a check of hum can rule out, in the order in which one of equal worth is named."""
CHECKED_NATS = 5.0
"""What a check that went well would say against its error."""
LEAST_GAIN = 1e-4


def hum_next_for(posterior: Posterior, a: str, b: str, *, standing: Standing) -> CheckError | None:
    """What to check for the hum of a pair that is likely and not settled; None where it is not that."""
    if posterior.hum_cancels(a, b) is None or standing != "likely":
        return None
    gains = posterior.usual.surer_without(a, b, known_nats=CHECKED_NATS, letter="w")
    best, gain = None, LEAST_GAIN
    for kind in HUM_ERRORS:
        for error, more in gains.items():
            if error.kind == kind and more > gain + LEAST_GAIN:
                best, gain = error, more
    return None if best is None else CheckError(best.error)


def _not_entered(history: LeadHistory, names: Sequence[str]) -> EnterWiring | None:
    """What to enter of a loose pickup after the work, where nothing says how it was wired in."""
    for name in names if history.stage == LATEST else ():
        pickup, leads = history.job.pickup(name), history.leads_now(name)
        if pickup is not None and not pickup.fitted and not leads.entered:
            return EnterWiring(NamedLeads(name, leads.hot or "", leads.ground or ""), history.first_after)
    return None


def _on_the_shelf(posterior: Posterior, *names: str) -> bool:
    """Whether one of these is a reference coil of the bench, which no string passes."""
    pickups = map(posterior.graph.history.job.pickup, names)
    return any(p is not None and p.shelf is not None for p in pickups)


def _way_to_record(posterior: Posterior, a: str, b: str) -> Literal["switch", "volumes", "paired or in turn"]:
    """How two pickups are recorded first: where both are wired in and a setting joins them, at the jack."""
    job = posterior.graph.history.job
    fitted = all((p := job.pickup(name)) is not None and p.fitted for name in (a, b))
    if not (fitted and any({a, b} <= {m.pickup for m in s.on} for s in job.settings)):
        return "paired or in turn"
    return "volumes" if job.control == "volumes" else "switch"


def build_findings(
    job: Job, posterior: Posterior, rows: Sequence[WiringRow], *, entries: Sequence[AnyEntry]
) -> tuple[Finding, ...]:
    """Pickups that are not joined, or not built, as job.toml has it; ``rows``: the wiring plan."""
    found: list[Finding] = []
    for pickup in job.pickups:
        name, made = pickup.name, pickup.made
        if side_by_side_doubted(pickup, entries):
            found.append(Finding(pickup_or_setting=name, what=PerhapsStacked(name), next=SayBuild(name)))
        if made.layout != "halves":
            continue
        alike = posterior.assess(methodcaller("all_agree", [(name, 1, False), (name, 2, False)]))
        if alike is None or likely_sign(alike.p) != -1:
            continue
        under = tuple(coil.under or () for coil in made.coils)
        planned = {k for row in rows if row.pickup == name for k in row.coils_exchanged}
        half = next((under[k - 1] for k in planned), None) if len(planned) == 1 else None
        what = HalvesOpposed(name, under, likely=alike.standing != "settled")
        found.append(Finding(pickup_or_setting=name, what=what, next=ExchangeHalf(name, half)))
    return tuple(found)


def string_findings(posterior: Posterior) -> tuple[Finding, ...]:
    """Signs that go with the string, where that is the likeliest of all there is."""
    found = []
    kinds: tuple[Literal["poles alternate", "halves opposed"], ...] = ("poles alternate", "halves opposed")
    for kind in kinds:
        mine = {e: posterior.error_probability(e) for e in posterior.graph.errors if e.kind == kind}
        likely = sorted((e for e, p in mine.items() if p > LEAST_SHARE * sum(mine.values())), key=str)
        if sum(mine.values()) >= FOUND_FROM and likely:
            names = tuple(dict.fromkeys(e.key[0] for e in likely))
            check = CheckError(BenchError(kind, OnPickups(names)))
            found.append(
                Finding(pickup_or_setting=" or ".join(names), what=SignsByString(kind, names), next=check)
            )
    return tuple(found)


def conflicts_of(
    posterior: Posterior,
    a: str,
    b: str,
    methods: Sequence[MethodPosterior],
    *,
    entries: Sequence[AnyEntry] = (),
) -> list[Conflict]:
    """Methods that contradict each other on a pair.

    Each method of the smaller party is set against the surest of the larger. ``entries``: the log, which
    tells what was checked since.
    """
    same = sorted((m for m in methods if m.same >= CONFLICT_FROM), key=lambda m: -m.same)
    opposed = sorted((m for m in methods if m.same <= 1 - CONFLICT_FROM), key=lambda m: m.same)
    fewer, more = sorted((same, opposed), key=len)
    return [
        _conflict(
            posterior,
            a,
            b,
            between=(odd.method, more[0].method),
            parties=((*odd.takes, *odd.entries), _sources(more)),
            entries=entries,
        )
        for odd in fewer
    ]


def _sources(methods: Sequence[MethodPosterior]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(x for m in methods for x in (*m.takes, *m.entries)))


def paired_conflicts(
    posterior: Posterior, a: str, b: str, *, among: Among = None, entries: Sequence[AnyEntry] = ()
) -> list[Conflict]:
    """Paired plucks that contradict each other on a pair; ``among``: those of these entries alone."""
    plucks = [
        p
        for p in posterior.graph.evidence
        if p.method == PAIRED and {a, b} == set(p.pickups) and is_from(p, among)
    ]
    clear = [p for p in plucks if abs(log_likelihood_ratio(p)) > CONFLICT_NATS]
    found = []
    for coils in dict.fromkeys(map(_coils_of, clear)):  # halves under their own strings are two things
        agree, against = opposed_evidence([p for p in clear if _coils_of(p) == coils])
        if agree and against:
            takes = tuple(_ids(agree)), tuple(_ids(against))
            conflict = _conflict(posterior, a, b, between=(PAIRED, PAIRED), parties=takes, entries=entries)
            turned = _entered_turned(posterior.graph.history.job, takes, entries)
            step = {"next": turned} if turned else {}
            found.append(conflict.model_copy(update={"sides": takes, **step}))
    return found


def _entered_turned(
    job: Job, sides: tuple[tuple[str, ...], ...], entries: Sequence[AnyEntry]
) -> EnteredTurned | None:
    """The takes of the smaller side, where all of them, and they alone, have the clips the other way round.

    Not once the clips were put on anew: then it was looked into.
    """
    takes = {e.id: e for e in entries if isinstance(e, Take)}
    few, more = sorted(sides, key=len)
    for pickup in (p for p in job.pickups if p.hot and p.ground):
        on_tip = [{_tip(takes[one], pickup) for one in side if one in takes} for side in (few, more)]
        if all(len(tips) == 1 for tips in on_tip):
            (odd,), (usual,) = on_tip
            known = {pickup.hot, pickup.ground}
            if odd != usual and {odd, usual} == known and not any(takes[one].anew for one in (*few, *more)):
                return EnteredTurned(pickup.name, few, str(usual), str(odd), more)
    return None


def _tip(entry: Take, pickup: Pickup) -> str | None:
    """The lead of a pickup that was on the tip in a take; None where the take is not of it."""
    for item in entry.inputs:
        if isinstance(item, LeadsInput) and item.pickup == pickup.name:
            return item.hot
        if item == pickup.name:
            return pickup.hot
    return None


def _coils_of(piece: Evidence) -> frozenset[tuple[str, int | None]]:
    """The coils that a paired pluck was heard by."""
    heard = (v for f in piece.factors for v in f.variables if isinstance(v, HeardSign))
    signs = (s for v in heard for s in v.variables if isinstance(s, UnknownSign))
    return frozenset((s.pickup, s.coil) for s in signs)


def sweep_conflicts(
    posterior: Posterior,
    a: str,
    b: str,
    *,
    settled: Phase | None = None,
    among: Among = None,
    entries: Sequence[AnyEntry] = (),
) -> list[Conflict]:
    """Switch takes that contradict each other on a pair; ``among``: those of these entries alone.

    One that went backwards, or began at another position than its list says, is heard so. Where the pair is
    ``settled`` with everything counted in, one alone that is against it is outvoted, and no contradiction.
    """
    parties = _sweep_parties(posterior, a, b, among=among)
    odd, more = sorted(parties, key=len)
    if not odd or (settled is not None and len(_against(parties, settled)[0]) == 1):
        return []
    found = _conflict(posterior, a, b, between=(SWITCH, SWITCH), parties=parties, entries=entries)
    step = TakeBack(odd) if ODD_ONE * len(odd) <= len(more) else RecordPair("sweep again", a, b)
    return [found.model_copy(update={"next": step, "sides": parties})]


def outvoted_sweeps(
    posterior: Posterior, pairs: Sequence[PairVerdict], *, among: Callable[[str, str], Among]
) -> dict[str, OutvotedNote]:
    """Each switch take that alone, and against others, says otherwise of a pair that is settled."""
    found: dict[str, OutvotedNote] = {}
    for pair in pairs:
        if pair.standing == "settled" and pair.phase is not None:
            parties = _sweep_parties(posterior, pair.a, pair.b, among=among(pair.a, pair.b))
            odd, others = _against(parties, pair.phase)
            if len(odd) == 1 and others:
                found.setdefault(odd[0], OutvotedNote(pair.a, pair.b, others))
    return found


def _against(
    parties: tuple[tuple[str, ...], tuple[str, ...]], phase: Phase
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The takes that are against an answer, and those that are for it."""
    alike, opposed = parties
    return (opposed, alike) if phase == "in phase" else (alike, opposed)


def may_be_outvoted(conflict: Conflict) -> bool:
    """Whether more takes can end a contradiction: one switch take alone is against others."""
    return set(conflict.between) == {SWITCH} and min(map(len, conflict.sides), default=0) == 1


def _sweep_parties(
    posterior: Posterior, a: str, b: str, *, among: Among
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The switch takes that say likely of a pair that it is in phase, and those that say the opposite."""
    swept = [
        p
        for p in posterior.graph.evidence
        if p.method == SWITCH and {a, b} <= p.pickups and is_from(p, among)
    ]
    if len(swept) < 2:
        return (), ()
    heard = {p.takes: posterior.in_phase_by(a, b, among=p.takes) for p in swept}
    return (
        tuple(take for takes, m in heard.items() if m and m.same >= CONFLICT_FROM for take in takes),
        tuple(take for takes, m in heard.items() if m and m.same <= 1 - CONFLICT_FROM for take in takes),
    )


def _ids(evidence: Sequence[Evidence]) -> dict[str, None]:
    return dict.fromkeys(x for p in evidence for x in (*p.takes, *p.entries))


def meter_conflicts(
    posterior: Posterior, reference: str, *, among: Among = None, entries: Sequence[AnyEntry] = ()
) -> list[Conflict]:
    """Pickups on which meter readings contradict each other; ``among``: those of these, where any are."""
    conflicts = []
    swings: dict[tuple[str, int | None], list[Evidence]] = {}
    for piece in posterior.graph.evidence:
        if piece.method == METER:
            swings.setdefault((next(iter(piece.pickups)), _coil_of(piece)), []).append(piece)
    for (pickup, _), every in swings.items():
        evidence = [p for p in every if is_from(p, among)] or every
        agree, against = opposed_evidence(evidence)
        if agree and against:
            read = tuple(_ids(agree)), tuple(_ids(against))
            names = [p.name for p in posterior.graph.history.job.pickups if p.name != pickup]
            pair = (reference, pickup) if pickup != reference else (pickup, next(iter(names), pickup))
            found = _conflict(posterior, *pair, between=(METER, METER), parties=read, entries=entries)
            stray = _stray(pickup, read, entries)
            if stray is not None:
                found = found.model_copy(update={"next": stray})
            conflicts.append(found.model_copy(update={"at": pickup, "sides": read}))
    return conflicts


SAME_COIL = 0.015
"""Resistances that differ by a smaller share are of one coil: what a bench meter and a warm hand do to it."""


def _stray(
    pickup: str, parties: tuple[tuple[str, ...], ...], entries: Sequence[AnyEntry]
) -> ReadElsewhere | None:
    """A reading in a conflict that was alone on its side, and whose resistance is another pickup's."""
    readings = {e.id: e for e in entries if isinstance(e, Meter) and e.kohm}
    for alone in (side[0] for side in parties if len(side) == 1):
        stray = readings.get(alone)
        if stray is None or stray.kohm is None:
            continue
        usual: dict[str, list[float]] = {}
        for one in readings.values():
            if one.id != alone and one.kohm is not None:
                usual.setdefault(one.pickup, []).append(one.kohm)
        middle = {name: sorted(kohm)[len(kohm) // 2] for name, kohm in usual.items()}
        off = {name: abs(stray.kohm / kohm - 1) for name, kohm in middle.items()}
        fits = min(off, key=lambda name: off[name], default=pickup)
        if fits != pickup and pickup in off and off[fits] < SAME_COIL < off[pickup]:
            return ReadElsewhere(
                alone, pickup, fits, stray.kohm, middle[pickup], stray.move, stray.reading, stray.red
            )
    return None


OTHER_NOTE = ("wrong string", "wrong octave")


def with_mains_put_right(pairs: Sequence[PairVerdict], results: Sequence[TakeResult]) -> list[PairVerdict]:
    """Pairs of which nothing is known, while takes wait for the right mains frequency: that is next."""
    waiting: dict[int, list[str]] = {}
    for result in results:
        for note in result.faults:
            if isinstance(note, SoundNote) and note.code == "other mains" and note.fault.detail:
                waiting.setdefault(round(note.fault.detail), []).append(result.entry.id)
    if not waiting:
        return list(pairs)
    hz, takes = max(waiting.items(), key=lambda item: len(item[1]))
    put_right = CorrectMains(hz, tuple(dict.fromkeys(takes)))
    return [p.model_copy(update={"next": put_right}) if p.p_in_phase is None else p for p in pairs]


FEWEST_ALIKE = 2


def with_frets_put_right(pairs: Sequence[PairVerdict], results: Sequence[TakeResult]) -> list[PairVerdict]:
    """Pairs of which nothing is known, while takes sound above what was entered, all by the same frets."""
    above: dict[int, list[str]] = {}
    for result in results:
        entry = result.entry
        for note in result.faults:
            heard = note.fault.detail if isinstance(note, SoundNote) and note.code in OTHER_NOTE else None
            if heard and entry.string is not None:
                named = note_hz(entry.string, fret=entry.fret)
                above.setdefault(round(12 * math.log2(heard / named)), []).append(entry.id)
    frets, takes = max(above.items(), key=lambda item: len(item[1]), default=(0, []))
    if not 0 < frets <= HIGHEST_FRET or len(takes) < FEWEST_ALIKE:
        return list(pairs)
    put_right = EnterFrets(frets, tuple(dict.fromkeys(takes)))
    return [p.model_copy(update={"next": put_right}) if p.p_in_phase is None else p for p in pairs]


def inputs_compared(posterior: Posterior) -> tuple[InputsCompared, ...]:
    """What split checks say of the inputs of each rig."""
    takes: dict[LatentError, list[str]] = {}
    for piece in posterior.graph.evidence:
        if piece.method == SPLIT:
            for error in posterior.graph.variables_of(piece):
                if isinstance(error, LatentError) and error.kind == "channels":
                    takes.setdefault(error, []).extend(piece.takes)
    codes: dict[int | None, InputsCode] = {1: "opposite", -1: "alike", None: "not clear"}
    doubted: dict[int, InputsCode] = {1: "opposite, doubted", -1: "alike, doubted"}
    against = doubted_checks(posterior)
    return tuple(
        InputsCompared(
            doubted[against[error]]
            if error in against
            else codes[likely_sign(posterior.error_probability(error))],
            error.subject.number,
            error.subject.rig,
            tuple(dict.fromkeys(takes[error])),
        )
        for error in sorted(takes, key=str)
        if isinstance(error.subject, OnInput)
    )


InputsCode = Literal["opposite", "alike", "not clear", "opposite, doubted", "alike, doubted"]


def doubted_checks(posterior: Posterior) -> dict[LatentError, int]:
    """Inputs of which all that is known together says otherwise than their split checks alone.

    +1 where the checks heard an input turned over, -1 where they heard it agree. Checks through clip leads
    that are in doubt themselves say nothing of the input alone, and are left out.
    """
    heard: dict[LatentError, float] = {}
    for piece in posterior.graph.evidence:
        if piece.method != SPLIT:
            continue
        for factor in (f for f in piece.factors if isinstance(f, Factor)):
            inside = [v for h in factor.variables if isinstance(h, HeardSign) for v in h.variables]
            odd = [v for v in inside if isinstance(v, LatentError) and inside.count(v) % 2]
            if len(odd) == 1 and odd[0].kind == "channels":
                sign = math.prod(h.sign for h in factor.variables if isinstance(h, HeardSign))
                alike = sign * float(factor.log[0, 0] - factor.log[0, 1])
                heard[odd[0]] = heard.get(odd[0], 0.0) - alike
    return {
        error: 1 if turned > 0 else -1
        for error, turned in heard.items()
        if turned and (posterior.error_probability(error) > FOUND_FROM) != (turned > 0)
    }


def questions_for(gestures: Collection[Gesture], *, split_checked: bool) -> tuple[Question, ...]:
    """What to ask a person about takes of these gestures; nothing where nothing was recorded.

    ``split_checked``: whether the inputs were compared by one signal on both.
    """
    rows = [gesture_row(g) for g in gestures]
    applies: dict[QuestionCode, bool] = {
        "selector order": any(row.needs_list for row in rows),
        "knobs": True,
        "phase switch": True,
        "plug": True,
        "battery": True,
        "phantom power": True,
        "input buttons": True,
        "split lead": split_checked,
        "magnets near": True,
        "same string": any(row.sounds_string for row in rows),
    }
    return tuple(Question(code) for code, asked in applies.items() if rows and asked)


def _coil_of(piece: Evidence) -> int | None:
    """The coil whose sign a piece is about; None for a whole pickup."""
    signs = (v for f in piece.factors for v in f.variables if isinstance(v, UnknownSign) and v.letter == "s")
    return next((v.coil for v in signs if v.coil is not None), None)


def _conflict(
    posterior: Posterior,
    a: str,
    b: str,
    *,
    between: tuple[str, str],
    parties: tuple[tuple[str, ...], tuple[str, ...]],
    entries: Sequence[AnyEntry],
) -> Conflict:
    """A conflict with its likeliest errors and the one thing to do; ``parties``: the entries on each side."""
    sources = (*parties[0], *parties[1])
    likely = _likeliest(posterior, sources)
    return Conflict(
        between=between,
        pair=(a, b),
        likely_cause=LikelyCause(tuple(h.error for h in likely)),
        next=_step(posterior, a, b, likely=likely, parties=parties, entries=entries),
    )


def _likeliest(posterior: Posterior, sources: Sequence[str]) -> list[LatentError]:
    """The errors that most probably explain a conflict, those left out that a check was made of."""
    ranked = [
        (h, p)
        for h, p in posterior.likely_errors()
        if _concerns(posterior, h, sources) and not _verified(posterior, h)
    ]
    if not ranked or ranked[0][1] < 2 * ERROR_PRIORS[ranked[0][0].kind].probability:
        return []
    return [h for h, p in ranked if p >= CLOSE_ERRORS * ranked[0][1]][:MOST_NAMED]


def _step(
    posterior: Posterior,
    a: str,
    b: str,
    *,
    likely: Sequence[LatentError],
    parties: tuple[tuple[str, ...], tuple[str, ...]],
    entries: Sequence[AnyEntry],
) -> RecordPair | CheckError | TakeBack | StopHere:
    """The one thing to do about a conflict, which ends it in a few steps.

    A split check that all the rest speaks against is made once more before anything is taken back.
    An error is checked once. What was checked, and still is the likeliest, has its entries taken back; so has
    the odd one among many. Where neither tells, two more takes do, or the meter.
    """
    odd, more = sorted(parties, key=len)
    sources = (*odd, *more)
    doubted = [h for h in doubted_checks(posterior) if _concerns(posterior, h, sources)]
    if doubted:
        return CheckError(doubted[0].error)
    if likely:
        spoiled = _spoiled(posterior, likely[:1], sources)
        one_each = likely[0].kind == "misread swing" and len(more) == 1  # a third reading tells which
        if one_each or not was_checked(likely[0], entries):
            voided = likely[0].kind in VOIDED and not one_each
            alike = [h for h in likely if voided and h.kind == likely[0].kind] or likely[:1]
            return CheckError(
                likely[0].error,
                also=tuple(h.error for h in alike[1:]),
                take_back=_spoiled(posterior, alike, sources) if voided else (),
            )
        return TakeBack(spoiled, likely[0].error) if 0 < len(spoiled) < len(sources) else StopHere(a, b)
    if ODD_ONE * len(odd) <= len(more):
        return TakeBack(odd)
    return RecordPair("two more", a, b) if len(sources) <= FEW_TAKES else StopHere(a, b)


def _spoiled(posterior: Posterior, errors: Sequence[LatentError], sources: Sequence[str]) -> tuple[str, ...]:
    """The entries among ``sources`` whose evidence one of these errors turns over."""
    told = [p for p in posterior.graph.evidence if posterior.graph.variables_of(p) & set(errors)]
    return tuple(x for x in dict.fromkeys(sources) if any(x in (*p.takes, *p.entries) for p in told))


def _verified(posterior: Posterior, error: LatentError) -> bool:
    """Whether a split check or an entry of kind check tells whether this error happened."""
    return any(
        piece.method in (SPLIT, CHECKED) and error in posterior.graph.variables_of(piece)
        for piece in posterior.graph.evidence
    )


def _concerns(posterior: Posterior, error: LatentError, sources: Sequence[str]) -> bool:
    """Whether an error is shared by evidence from the entries in question."""
    wanted = set(sources)
    return any(
        error in posterior.graph.variables_of(piece)
        for piece in posterior.graph.evidence
        if wanted & {*piece.takes, *piece.entries}
    )
