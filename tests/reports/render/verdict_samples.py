"""Verdicts on invented jobs, one for each kind of answer."""

from __future__ import annotations

from dsp.signal.codes import Fault
from reports.messages.cautions import cautions_for
from reports.messages.sentences import say
from reports.model.lead_notes import LeadWarning, PlanReason
from reports.model.notes import (
    BenchError,
    CheckError,
    HealthProblem,
    HealthRemedy,
    LikelyCause,
    NotSettled,
    OneErrorLeft,
    OnPickups,
    RecordAfterWork,
    RecordPair,
    SettingRemark,
)
from reports.model.take_notes import SoundNote
from reports.model.verdict import (
    Conflict,
    Finding,
    HumAnswer,
    MethodAnswer,
    PairVerdict,
    Provenance,
    SettingVerdict,
    SignRow,
    StageRow,
    TakeRow,
    Verdict,
    WiringRow,
)
from reports.model.work_notes import SettingResult, WorkResult

SHA = "3f1b" * 16

PROVENANCE = Provenance(
    coilwise="0.1.0",
    versions={"numpy": "2.3.1", "scipy": "1.16.0", "librosa": "0.11.0"},
    job_sha256="a0" * 32,
    log_sha256="b1" * 32,
)

CLIPPED = SoundNote(Fault("clipped", 1), "pluck")
METER_LEADS = BenchError("meter leads", OnPickups(("neck",)))
LEADS_TURNED, READ_AGAIN = say(LikelyCause((METER_LEADS,))), say(CheckError(METER_LEADS))
SWAPPED_WHY = PlanReason("exchanged", "neck", "bridge")
KEEP_WHY = PlanReason("is the reference", "bridge", "bridge")
BRAID = LeadWarning("shield on ground", "neck")


def out_of_phase() -> Verdict:
    """A settled pair, out of phase, with a meter reading that disagrees and one clipped take."""
    return Verdict(
        title="Short-scale bass, other neck pickup",
        stage="found",
        reference="bridge",
        pairs=(
            PairVerdict(
                a="bridge",
                b="neck",
                p_in_phase=0.004,
                phase="out of phase",
                standing="settled",
                p_hum_cancels=0.03,
                by=(
                    MethodAnswer(method="paired pluck", p_in_phase=0.02, takes=("t002", "t003")),
                    MethodAnswer(method="lift", p_in_phase=0.04, takes=("t004", "t005")),
                    MethodAnswer(method="meter swing", p_in_phase=0.94, entries=("m001", "m002")),
                ),
            ),
        ),
        settings=(
            SettingVerdict(
                name="both", sounds="thin", p_full=0.004, hum="hums", on=("bridge", "neck"), join="parallel"
            ),
        ),
        conflicts=(
            Conflict(
                between=("paired pluck", "meter swing"),
                pair=("bridge", "neck"),
                likely_cause=LikelyCause((METER_LEADS,)),
                next=CheckError(METER_LEADS),
            ),
        ),
        wiring=(
            WiringRow(pickup="bridge", exchange=False, why=KEEP_WHY),
            WiringRow(
                pickup="neck",
                exchange=True,
                leads={"grey": "hot", "violet": "ground"},
                why=SWAPPED_WHY,
                warnings=(BRAID,),
            ),
        ),
        takes=(
            TakeRow(
                id="t001",
                used=False,
                faults=(CLIPPED,),
                gesture="pluck",
                inputs=("bridge", "neck"),
                string="A1",
                file="takes/t001.wav",
                sha256=SHA,
                at="2026-11-25T10:12:00Z",
            ),
            TakeRow(
                id="t002",
                used=True,
                gesture="pluck",
                inputs=("bridge", "neck"),
                string="D2",
                file="takes/t002.wav",
                sha256=SHA,
                at="2026-11-25T10:13:00Z",
            ),
            TakeRow(
                id="t003",
                used=True,
                gesture="pluck",
                inputs=("bridge", "neck"),
                string="G2",
                file="takes/t003.wav",
                sha256=SHA,
                remarks=(SoundNote(Fault("overlapping"), "pluck", remark=True),),
            ),
            TakeRow(
                id="t004", used=True, gesture="lift", inputs=("bridge",), file="takes/t004.wav", sha256=SHA
            ),
            TakeRow(
                id="t005", used=True, gesture="lift", inputs=("neck",), file="takes/t005.wav", sha256=SHA
            ),
        ),
        next=(RecordAfterWork(("neck",)),),
        warnings=("The string of t003 was not written down.",),
        cautions=cautions_for(
            gestures={"pluck", "lift"},
            meter_used=True,
            any_loose=True,
            any_shield_on_ground=True,
            any_fitted=True,
            soldering=True,
        ),
        provenance=PROVENANCE,
    )


def three_pickups() -> Verdict:
    """Three pickups, five settings, every pickup with its leads and warnings: the fullest first page."""

    def by(p: float | None, *, meter: float) -> tuple[MethodAnswer, ...]:
        return (
            MethodAnswer(method="paired pluck", p_in_phase=p, takes=("t002", "t003")),
            MethodAnswer(method="switched string", p_in_phase=p, takes=("t006",)),
            MethodAnswer(method="lift", p_in_phase=meter, takes=("t004", "t005", "t007")),
            MethodAnswer(method="meter swing", p_in_phase=meter, entries=("m001", "m002")),
        )

    base = out_of_phase()
    return base.model_copy(
        update={
            "title": "Baritone, middle and neck pickup from other guitars",
            "pairs": (
                PairVerdict(
                    a="bridge",
                    b="middle",
                    p_in_phase=0.0004,
                    phase="out of phase",
                    standing="settled",
                    p_hum_cancels=0.995,
                    by=by(0.02, meter=0.05),
                ),
                PairVerdict(
                    a="bridge",
                    b="neck",
                    p_in_phase=0.96,
                    phase="in phase",
                    standing="likely",
                    p_hum_cancels=None,
                    by=by(0.95, meter=0.7),
                    because=OneErrorLeft(METER_LEADS),
                    next=CheckError(METER_LEADS),
                ),
                PairVerdict(
                    a="middle",
                    b="neck",
                    p_in_phase=0.05,
                    phase="out of phase",
                    standing="likely",
                    p_hum_cancels=0.6,
                    by=by(0.04, meter=0.35),
                    because=OneErrorLeft(METER_LEADS),
                ),
            ),
            "settings": tuple(
                SettingVerdict(name=n, sounds=s, p_full=p, hum=h, on=on, join=j, aim=aim)
                for n, s, p, h, on, j, aim in (
                    (
                        "bridge + middle",
                        "thin",
                        0.0004,
                        "cancels",
                        ("bridge", "middle"),
                        "parallel",
                        "in phase",
                    ),
                    ("middle + neck", "thin", 0.05, "unknown", ("middle", "neck"), "parallel", "in phase"),
                    ("bridge + neck", "full", 0.96, "unknown", ("bridge", "neck"), "series", "in phase"),
                    ("all", "thin", 0.02, "unknown", ("bridge", "middle", "neck"), "parallel", "in phase"),
                    ("odd one", "thin", 0.01, "cancels", ("bridge", "middle"), "series", "out of phase"),
                )
            ),
            "wiring": (
                WiringRow(pickup="bridge", exchange=False, why=KEEP_WHY),
                WiringRow(
                    pickup="middle",
                    exchange=True,
                    leads={"grey": "hot", "violet": "ground"},
                    why=SWAPPED_WHY,
                    warnings=(BRAID,),
                ),
                WiringRow(
                    pickup="neck",
                    exchange=False,
                    leads={"pink": "hot", "turquoise": "ground", "orange": "link", "brown": "link"},
                    why=PlanReason("in phase", "middle", "bridge"),
                ),
            ),
        }
    )


def unsettled() -> Verdict:
    """A pair that evidence connects but does not settle."""
    return Verdict(
        title="Hollow body, closed",
        stage="after",
        reference="bridge",
        pairs=(
            PairVerdict(
                a="bridge",
                b="neck",
                p_in_phase=0.7,
                phase=None,
                standing="unsettled",
                by=(MethodAnswer(method="harmonic profile", p_in_phase=0.7, takes=("t001", "t002", "t003")),),
                because=NotSettled("too little evidence"),
                next=RecordPair("two more", "bridge", "neck"),
            ),
        ),
        settings=(
            SettingVerdict(name="both", sounds="unknown", p_full=0.7, hum="unknown", on=("bridge", "neck")),
        ),
        wiring=(WiringRow(pickup="neck", exchange=None, why=PlanReason("not settled", "neck", "bridge")),),
        cautions=cautions_for(
            gestures={"pluck"}, meter_used=False, any_loose=False, any_shield_on_ground=False
        ),
    )


def nothing_known() -> Verdict:
    """A new job: two pickups, no evidence."""
    return Verdict(
        title="New job",
        stage="found",
        reference="bridge",
        pairs=(PairVerdict(a="bridge", b="neck", phase=None, standing="unsettled"),),
    )


def empty() -> Verdict:
    """Nothing at all: one pickup, no pair."""
    return Verdict(title="", stage="found", reference="bridge", pairs=())


def all_in_phase() -> Verdict:
    """A finished harness that came out as planned."""
    return Verdict(
        title="Harness check",
        stage="after",
        reference="bridge",
        pairs=(
            PairVerdict(
                a="bridge",
                b="neck",
                p_in_phase=1.0,
                phase="in phase",
                standing="settled",
                p_hum_cancels=1.0,
                by=(MethodAnswer(method="paired pluck", p_in_phase=1.0, takes=("t001",)),),
            ),
        ),
        settings=(
            SettingVerdict(name="both", sounds="full", p_full=1.0, hum="cancels", on=("bridge", "neck")),
        ),
        wiring=(
            WiringRow(pickup="bridge", exchange=False, why=KEEP_WHY),
            WiringRow(pickup="neck", exchange=False, why=PlanReason("in phase", "neck", "bridge")),
        ),
        cautions=cautions_for(
            gestures={"pluck"}, meter_used=False, any_loose=False, any_shield_on_ground=False
        ),
    )


RESULT = WorkResult("not as planned", (SettingResult("middle + neck", "full", "thin"),))
OPEN_COIL = Finding(
    pickup_or_setting="middle",
    what=HealthProblem("open coil", -32.0, None),
    next=HealthRemedy("open coil"),
)
REMARK = SettingRemark("one source not heard alone")
NOTE = say(REMARK)


def whole_guitar() -> Verdict:
    """Three pickups and five settings after the work, one of which did not come out as planned."""
    base = three_pickups()
    losses = (
        {
            "loss_db": 0.3,
            "loss_error_db": 1.2,
            "p_hum_cancels": 0.996,
            "wanted_quiet": True,
            "sounds": "full",
        },
        {"loss_db": -11.2, "loss_error_db": 1.5, "standing": "likely", "notes": (REMARK,)},
        {"loss_db": -0.04},
        {"hum": "hums", "p_hum_cancels": 0.02, "wanted_quiet": True},
        {"wanted_quiet": True, "hum": "unknown"},
    )
    hum_by = (HumAnswer(method="hum levels", p_hum_cancels=0.98, takes=("t020", "t021")),)
    first = base.pairs[0].model_copy(update={"hum_by": hum_by})
    return base.model_copy(
        update={
            "stage": "after",
            "pairs": (first, *base.pairs[1:]),
            "settings": tuple(
                s.model_copy(update=more) for s, more in zip(base.settings, losses, strict=True)
            ),
            "signs": (
                SignRow(pickup="bridge", p_same_s=1.0, p_same_w=1.0, p_same_m=1.0),
                SignRow(pickup="middle", p_same_s=0.992, p_same_w=0.004, p_same_m=None),
                SignRow(pickup="neck", p_same_s=0.3, p_same_w=0.5, p_same_m=0.0),
            ),
            "stages": (
                StageRow(
                    setting="bridge + middle",
                    found="thin",
                    planned="full",
                    after="full",
                    p_after=0.995,
                    as_planned="yes",
                    hum_found="hums",
                    hum_planned="cancels",
                    hum_after="cancels",
                ),
                StageRow(
                    setting="middle + neck",
                    found="unknown",
                    planned="full",
                    after="thin",
                    p_after=0.0004,
                    as_planned="no",
                ),
                StageRow(
                    setting="odd one", found="full", planned="thin", after="unknown", as_planned="unknown"
                ),
            ),
            "came_out": RESULT,
            "findings": (OPEN_COIL,),
        }
    )


ALL = {
    "out of phase": out_of_phase,
    "three pickups": three_pickups,
    "whole guitar": whole_guitar,
    "unsettled": unsettled,
    "nothing known": nothing_known,
    "empty": empty,
    "all in phase": all_in_phase,
}
