"""The verdict as one frozen data model; every face (text, HTML, JSON, exit status) is a view of it.

Signs: ``p_in_phase`` is the probability that ``s_a = s_b``, ``p_hum_cancels`` that ``w_a = -w_b``
(dsp/model/signs.py). A number that could not be had is None, never a guess. Judgement is
kept as notes (reports.model.notes); reports.render.exports spells them for the JSON form, which is a contract
that others read, extended but never broken. A file with another ``format`` is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from reports.model.build_notes import (
    BlendNote,
    BlendRemedy,
    ExchangeHalf,
    HalvesOpposed,
    PerhapsStacked,
    SayBuild,
    StringsDiffer,
)
from reports.model.lead_notes import (
    CoilJoint,
    CompromisePlan,
    DemandsConflict,
    EqualPlan,
    JointAdvice,
    LeadRequest,
    LeadWarning,
    MoreEqualPlans,
    OhmsConflict,
    OhmsRemark,
    PlanReason,
    PlanWithheld,
    SettingNotSettled,
    SettingProof,
)
from reports.model.notes import (
    CheckError,
    CoilsNotJoined,
    CorrectList,
    CorrectMains,
    EnterFrets,
    HealthProblem,
    HealthRemedy,
    Hum,
    HumBasis,
    HumLeft,
    HumLeftBasis,
    InputsCompared,
    LikelyCause,
    ListContradicted,
    ListHeadline,
    LostHeadline,
    NameLeads,
    NotSettled,
    OneErrorLeft,
    PairPhase,
    Phase,
    PhaseHeadline,
    PlaceProblem,
    PlaceRemedy,
    PromisedHeadline,
    ProveStage,
    PutRecordingsBack,
    Question,
    RecordAfterWork,
    RecordHum,
    RecordPair,
    SettingRemark,
    SignsByString,
    Sounds,
    Standing,
    StopHere,
    TakeBack,
    WireThenRecord,
)
from reports.model.rig_notes import OtherRecorderNote, RememberedBoxNote, ShelfNote
from reports.model.take_notes import AnyTakeNote, IdleTagNote, MeterLeadsNote
from reports.model.work_notes import (
    EnteredTurned,
    EnterWiring,
    ReadElsewhere,
    SettleWork,
    WorkContradicted,
    WorkResult,
)

FORMAT: Final = 1


@dataclass(frozen=True)
class StudyFigures:
    """Settled answers of a study, how many of them were wrong, and how many of the wrong left no trace."""

    settled: int
    wrong: int
    traceless: int


ORDINARY_BENCHES = StudyFigures(settled=1263, wrong=0, traceless=0)
TEN_TIMES_THE_MISTAKES = StudyFigures(settled=206, wrong=6, traceless=6)
"""What tests/studies/calibration found on simulated benches, at the mistakes of people that are assumed and
at ten times those; a test holds them against its RESULTS.md."""

SETTLED_FROM: Final = 0.99
LIKELY_FROM: Final = 0.90
"""Least probability of the better of two answers; below the second it is unsettled."""

ListCheck = Literal["confirmed", "contradicted"]
"""What taps say of what job.toml has on at a setting."""
PairRequest = (
    CorrectList
    | SettleWork
    | EnterWiring
    | RecordPair
    | ProveStage
    | CheckError
    | TakeBack
    | ReadElsewhere
    | StopHere
    | NameLeads
    | WireThenRecord
    | PutRecordingsBack
    | CorrectMains
    | EnterFrets
    | EnteredTurned
    | LeadRequest
    | OhmsConflict
)
"""What to do next about a pair."""

Probability = Field(default=None, ge=0.0, le=1.0)


class _Frozen(BaseModel):
    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid")


class MethodAnswer(_Frozen):
    """What one method alone says of a pair, under an even prior.

    ``before_work``: it rests on what was found before the work.
    """

    method: str
    p_in_phase: float | None = Probability
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    before_work: bool = False


class HumAnswer(_Frozen):
    """What one method alone says of the hum of a pair, under an even prior."""

    method: str
    p_hum_cancels: float | None = Probability
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()


class StageAnswer(_Frozen):
    """What the evidence of one stage alone says of a pair, for the pickups as they are wired now."""

    p_in_phase: float | None = Probability
    phase: Phase | None
    standing: Standing
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()


class StringPhase(_Frozen):
    """Whether pickups add on one string, where that goes with the string."""

    string: str
    p_in_phase: float | None = Probability
    phase: Phase | None
    standing: Standing


class PairVerdict(_Frozen):
    """What is believed of two pickups; ``phase`` is None while the pair is unsettled.

    ``by_string``: the same string by string, where the sign goes with the string; there is no one ``phase``
    then while strings differ, and ``standing`` is that of the least sure of them. ``about`` hum alone: one of
    the two hears no string, and ``standing`` is that of the hum.

    ``because``: why it is not settled; ``next``: what to do then.
    ``hum_by`` is what each method alone says of the windings. ``p_in_phase_range`` and
    ``p_hum_cancels_range`` are the least and the largest value over the priors that were tried: doubled, all
    together and one at a time, and averaged over care. ``hum_standing`` is that of ``p_hum_cancels``,
    ``hum`` the word and ``hum_from`` what it rests on,
    ``hum_next`` what would make it surer. After the work, ``from_before_work`` is what was found before,
    carried over by the change that was entered, and ``from_after_work`` what was heard since.
    """

    a: str
    b: str
    p_in_phase: float | None = Probability
    phase: Phase | None
    standing: Standing
    p_hum_cancels: float | None = Probability
    by: tuple[MethodAnswer, ...] = ()
    hum_by: tuple[HumAnswer, ...] = ()
    because: NotSettled | OneErrorLeft | CoilsNotJoined | StringsDiffer | None = None
    next: PairRequest | None = None
    p_in_phase_range: tuple[float, float] | None = None
    p_hum_cancels_range: tuple[float, float] | None = None
    hum_standing: Standing = "unsettled"
    hum_next: CheckError | None = None
    hum: Hum = "unknown"
    hum_from: tuple[HumBasis, ...] = ()
    from_before_work: StageAnswer | None = None
    from_after_work: StageAnswer | None = None
    by_string: tuple[StringPhase, ...] = ()
    about: Literal["strings", "hum"] = "strings"
    shelf: bool = False
    """One of the two is a reference coil of the bench, which is no part of the guitar."""


class SettingVerdict(_Frozen):
    """What a selector setting does as the guitar stands now; ``p_full``: all members add.

    ``loss_db``: the measured level of the fundamental against what the pickups alone predict if they add
    (negative: lost), with one standard deviation ``loss_error_db``. ``standing`` is None for one pickup.
    ``hum_from``: what ``hum`` rests on.
    ``taps``: whether taps heard on what the list has on; None where they do not say. ``hum_left_db``: what
    the network of two single coils leaves of hum, dB re the louder one alone, by mains line in Hz, reckoned
    from ``hum_left_from``; None where that is not known.
    """

    name: str
    sounds: Sounds
    p_full: float | None = Probability
    hum: Hum
    on: tuple[str, ...] = ()
    join: str = "parallel"
    aim: str = "in phase"
    standing: Standing | None = None
    loss_db: float | None = None
    loss_error_db: float | None = None
    p_hum_cancels: float | None = Probability
    wanted_quiet: bool = False
    notes: tuple[SettingRemark | HumLeft, ...] = ()
    taps: ListCheck | None = None
    hum_from: tuple[HumBasis, ...] = ()
    hum_left_db: dict[str, float] | None = None
    hum_left_from: HumLeftBasis | None = None
    by_string: tuple[StringPhase, ...] = ()
    pickups: tuple[str, ...] = ()
    """The names of those that are on, however they are on."""
    deaf: tuple[str, ...] = ()
    """Those of them that hear no string, as a dummy coil does."""


class SignRow(_Frozen):
    """The signs of one pickup relative to the reference: on the strings, of the winding, of the magnet."""

    pickup: str
    p_same_s: float | None = Probability
    p_same_w: float | None = Probability
    p_same_m: float | None = Probability


class StageRow(_Frozen):
    """One setting as found, aimed at and after the work; ``p_after``: full, from the takes after it alone."""

    setting: str
    found: Sounds
    planned: Sounds
    after: Sounds
    p_after: float | None = Probability
    as_planned: Literal["yes", "no", "unknown"]
    hum_found: Hum = "unknown"
    hum_planned: Hum = "unknown"
    hum_after: Hum = "unknown"
    wanted_quiet: bool = False


class Finding(_Frozen):
    """Something that is not a matter of phase: what it is on, what was found, and what to do."""

    pickup_or_setting: str
    what: (
        HealthProblem
        | PlaceProblem
        | ListContradicted
        | SignsByString
        | HalvesOpposed
        | PerhapsStacked
        | BlendNote
    )
    next: HealthRemedy | PlaceRemedy | CorrectList | CheckError | ExchangeHalf | SayBuild | BlendRemedy


class BandRow(_Frozen):
    """What the sum of a pair does in one octave (dsp.methods.blend): dB against two strangers, degrees."""

    low_hz: float
    high_hz: float
    sense: Literal["add", "take away", "neither", "not clear"]
    likeness: float
    angle_deg: float
    level_db: float
    exchanged_db: float
    plucks: int


class BlendRow(_Frozen):
    """A magnetic pickup ``a`` and a piezo or microphone ``b``: how they add, band by band.

    ``inputs_compared``: whether a split check says which way round the whole is.
    """

    a: str
    b: str
    source: Literal["piezo", "microphone"]
    bands: tuple[BandRow, ...]
    inputs_compared: bool
    takes: tuple[str, ...]


class Conflict(_Frozen):
    """Two methods (or takes of one, or the work and what is heard) that contradict each other on a pair.

    ``at``: the one pickup whose meter readings contradict each other; ``sides``: the entries on each side.
    """

    between: tuple[str, ...]
    pair: tuple[str, str]
    at: str | None = None
    sides: tuple[tuple[str, ...], ...] = ()
    likely_cause: LikelyCause | WorkContradicted
    next: RecordPair | CheckError | TakeBack | ReadElsewhere | EnteredTurned | StopHere | SettleWork


class WiringRow(_Frozen):
    """What to do at one pickup's leads; ``exchange`` is None where nothing is known.

    ``coils_exchanged`` are the coils (1, 2) whose own leads are exchanged alone, besides ``exchange``;
    ``halves``: the strings over each coil, where each has its own.
    ``join_coils``: its coils are not joined yet, and ``leads`` says how. ``open_braid``: hot and ground
    cannot be exchanged at the leads, since the ground lead is the shield; the pickup has to be opened.
    ``standing``: the least sure of the pairs that it shares a setting with; below "settled", the row is what
    the work would be. ``tag``: the log entry by which the leads are named, "tagged" and "other" in ``leads``;
    ``read_as`` are the names that these two have in the log.
    """

    pickup: str
    exchange: bool | None
    turn_magnet: bool = False
    coils_exchanged: tuple[int, ...] = ()
    halves: tuple[tuple[str, ...], ...] = ()
    join_coils: bool = False
    open_braid: bool = False
    standing: Standing = "settled"
    leads: dict[str, str] = Field(default_factory=dict)
    tag: str | None = None
    read_as: dict[str, str] = Field(default_factory=dict)
    why: PlanReason | CoilJoint | LeadRequest | OhmsConflict | None = None
    warnings: tuple[LeadWarning, ...] = ()


class LeadsRow(_Frozen):
    """What is known of the leads of one pickup whose coils were measured, or whose leads have no names.

    ``coils`` are the two ends of each, with ``kohm``; ``shield_on`` the lead that the shield was measured to
    lie on. ``to_join``: the coils are not joined yet, and ``roles`` says what becomes of each lead (empty
    while that is not at least likely); ``p`` is the probability that all of it is right. ``next`` is the one
    measurement or take that is missing.
    """

    pickup: str
    coils: tuple[tuple[str, str], ...] = ()
    kohm: tuple[float | None, ...] = ()
    leads: tuple[str, ...] = ()
    shield_on: str | None = None
    to_join: bool = False
    roles: dict[str, str] = Field(default_factory=dict)
    like_ends: tuple[str, ...] = ()
    p: float | None = Probability
    standing: Standing = "unsettled"
    why: CoilJoint | None = None
    also: tuple[JointAdvice, ...] = ()
    contradictions: tuple[OhmsConflict, ...] = ()
    remarks: tuple[OhmsRemark, ...] = ()
    next: LeadRequest | OhmsConflict | None = None


class JackOhms(_Frozen):
    """What a meter should read at the jack on one setting, kilo-ohm: without a pot, and with one full up."""

    setting: str
    kohm: float
    with_pot: dict[str, float | None] = Field(default_factory=dict)


class NetworkRow(_Frozen):
    """What the circuit inside a pickup gives on a setting that has it alone; keys of the tables are Hz.

    ``kohm``: what a meter reads between hot and ground; None where a coil was not measured, or where a
    capacitor in the way leaves it open (``open_for_meter``). ``hum_left_db`` is re its loudest coil alone,
    ``level_db`` and ``phase_deg`` are of a string, re all its coils in series.
    """

    setting: str
    pickup: str
    circuit: str
    kohm: float | None = None
    open_for_meter: bool = False
    hum_left_db: dict[str, float] = Field(default_factory=dict)
    level_db: dict[str, float] = Field(default_factory=dict)
    phase_deg: dict[str, float] = Field(default_factory=dict)
    reckoned_from: Literal["ohms", "usual coils"] = "usual coils"


class AimProof(_Frozen):
    """What the plan makes of one setting, coil by coil in the order of ``coils``.

    ``aim_met`` is None where the evidence is not settled; ``hum_cancels`` None where it is not known. ``aim``
    is "one coil" where nothing has to add up. Signs are relative, ``w`` None where it compares with no other.
    ``says`` is all of it in one line.
    """

    setting: str
    aim: Literal["in phase", "out of phase", "one coil"]
    coils: tuple[str, ...] = ()
    s_before: tuple[int, ...] = ()
    s_after: tuple[int, ...] = ()
    w_before: tuple[int | None, ...] = ()
    w_after: tuple[int | None, ...] = ()
    aim_met: bool | None = None
    wanted_quiet: bool = False
    hum_cancels: bool | None = None
    says: SettingProof | SettingNotSettled | None = None


class TakeRow(_Frozen):
    """One recording: whether it counts, and if not, why and what to do.

    ``faults`` keep a take out of the evidence; ``remarks`` mark it down or only inform.
    """

    id: str
    used: bool
    faults: tuple[AnyTakeNote, ...] = ()
    remarks: tuple[AnyTakeNote, ...] = ()
    gesture: str = ""
    inputs: tuple[str, ...] = ()
    string: str | None = None
    stage: str = "found"
    at: str | None = None
    file: str = ""
    sha256: str | None = None


class CareRow(_Frozen):
    """How probable each level of care is at this bench, given what its takes and readings contradict.

    ``from_jobs``: how many earlier jobs of this machine said what it began with; 0 where nothing is known.
    """

    careful: float
    usual: float
    careless: float
    from_jobs: int = 0


class Provenance(_Frozen):
    """With what the verdict was made. ``versions`` maps a package to its version."""

    coilwise: str
    versions: dict[str, str] = Field(default_factory=dict)
    job_sha256: str = ""
    log_sha256: str = ""


class Verdict(_Frozen):
    """The whole verdict on a job at its latest stage.

    ``headline`` is there where recordings are lost, or where nothing was recorded since leads were changed;
    else it follows from the pairs. ``plan_reason`` says why the wiring plan is empty, where it is.
    ``findings`` are no matters of phase. ``stages`` sets found, planned and after side by side, once there
    are takes or readings after the work; ``came_out`` sums it up. ``ask`` are the questions that no recording
    can answer. ``proof`` is what the plan makes of every setting (of ``wiring``,
    or of ``nearest`` where that is empty); ``ties`` are other plans of the same cost. ``nearest`` is the plan
    that misses least where not all aims can be met, and ``nearest_says`` names it as such. ``coil_leads``:
    which lead is which; ``jack_ohms``: what a meter reads at the jack; ``networks``: circuits in pickups;
    ``inputs``: what split checks found.
    ``care``: how careful the bench seems,
    by what contradicts itself. ``missing`` are the takes whose
    recordings are missing or changed: while there are any, nothing is said of phase and nothing is planned.
    """

    format: Literal[1] = FORMAT
    title: str
    stage: str
    reference: str
    pairs: tuple[PairVerdict, ...]
    settings: tuple[SettingVerdict, ...] = ()
    signs: tuple[SignRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    stages: tuple[StageRow, ...] = ()
    came_out: WorkResult | None = None
    conflicts: tuple[Conflict, ...] = ()
    wiring: tuple[WiringRow, ...] = ()
    takes: tuple[TakeRow, ...] = ()
    plan_reason: DemandsConflict | PlanWithheld | None = None
    headline: PromisedHeadline | LostHeadline | ListHeadline | None = None
    coil_leads: tuple[LeadsRow, ...] = ()
    jack_ohms: tuple[JackOhms, ...] = ()
    networks: tuple[NetworkRow, ...] = ()
    inputs: tuple[InputsCompared, ...] = ()
    proof: tuple[AimProof, ...] = ()
    ties: tuple[EqualPlan | MoreEqualPlans, ...] = ()
    nearest: tuple[WiringRow, ...] = ()
    nearest_says: CompromisePlan | None = None
    next: tuple[RecordAfterWork | RecordHum | PutRecordingsBack | LeadRequest | OhmsConflict, ...] = ()
    missing: tuple[str, ...] = ()
    blends: tuple[BlendRow, ...] = ()
    care: CareRow | None = None
    warnings: tuple[
        str | MeterLeadsNote | OtherRecorderNote | RememberedBoxNote | ShelfNote | IdleTagNote, ...
    ] = ()
    ask: tuple[Question, ...] = ()
    cautions: tuple[str, ...] = ()
    provenance: Provenance | None = None


def phase_headline(verdict: Verdict) -> PhaseHeadline:
    """What the headline says of the pairs; of the bench's own coil only where there is nothing else."""
    own = [p for p in verdict.pairs if not p.shelf]
    return PhaseHeadline(
        tuple(
            PairPhase(
                p.a,
                p.b,
                p.phase,
                p.standing,
                p.because.oppose if isinstance(p.because, StringsDiffer) else (),
                p.about,
                p.hum,
            )
            for p in own or verdict.pairs
        )
    )


def threshold(standing: Standing) -> float:
    """The least probability of the better of two answers that has this standing."""
    return {"settled": SETTLED_FROM, "likely": LIKELY_FROM, "unsettled": 0.5}[standing]


def standing_of(p: float | None) -> Standing:
    """The standing of a two-sided probability; unsettled where there is none."""
    right = 0.5 if p is None else max(p, 1 - p)
    if right >= threshold("settled"):
        return "settled"
    return "likely" if right >= threshold("likely") else "unsettled"


def likely_sign(p: float | None) -> int | None:
    """+1 where ``p`` is at least likely, -1 where its opposite is, None where neither."""
    if p is None or standing_of(p) == "unsettled":
        return None
    return 1 if p > 1 - p else -1
