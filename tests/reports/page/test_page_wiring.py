"""What the page shows of the report is the report's own markup; which reports there are."""

from __future__ import annotations

import html
import os
import subprocess
import sys

import pytest

from reports.messages.sentences import say
from reports.model.lead_notes import (
    CoilJoint,
    CompromisePlan,
    LeadWarning,
    MoreEqualPlans,
    PlanReason,
    SettingProof,
)
from reports.model.notes import LikelyCause, RecordHum, RecordPair
from reports.model.verdict import (
    AimProof,
    Conflict,
    JackOhms,
    LeadsRow,
    PairVerdict,
    StageRow,
    Verdict,
    WiringRow,
)
from reports.model.work_notes import WorkResult
from reports.page.screens.report import reports_in
from reports.render.lead_drawing import LeadPicture
from reports.render.parts import PAGE, answer, fragments
from reports.render.report import as_html

WHY = PlanReason("exchanged", "neck", "bridge")
COVER = LeadWarning("shield unknown", "neck")
NEAREST = CompromisePlan((), (("both", "in phase"),))
TIE = MoreEqualPlans(2)
PROOF = SettingProof("both", ("bridge", "neck"), "in phase", "in phase", False, None, False, ())
LIKE_ENDS = CoilJoint(("violet", "grey"))
HOSTILE = "<script>alert(1)</script>"
LEADS = (LeadPicture("neck", (("violet", "grey"),), {"grey": "hot", "violet": "ground"}, "own lead"),)


def whole(name: str = "neck") -> Verdict:
    """Everything that the screen with the wiring can show."""
    row = WiringRow(
        pickup=name, exchange=True, leads={"grey": "hot", "violet": "ground"}, why=WHY, warnings=(COVER,)
    )
    return Verdict(
        title=name,
        stage="after",
        reference="bridge",
        pairs=(PairVerdict(a="bridge", b=name, p_in_phase=0.001, phase="out of phase", standing="settled"),),
        wiring=(row,),
        nearest=(row,),
        nearest_says=NEAREST,
        ties=(TIE,),
        stages=(StageRow(setting="both", found="thin", planned="full", after="full", as_planned="yes"),),
        came_out=WorkResult("as planned"),
        proof=(AimProof(setting="both", aim="in phase", aim_met=True, says=PROOF),),
        coil_leads=(LeadsRow(pickup=name, coils=(("violet", "grey"),), kohm=(4.1,), why=LIKE_ENDS),),
        jack_ohms=(JackOhms(setting="both", kohm=3.4, with_pot={"250": 3.3}),),
        conflicts=(
            Conflict(
                between=("a", "b"),
                pair=("bridge", name),
                likely_cause=LikelyCause(()),
                next=RecordPair("two more", "bridge", name),
            ),
        ),
        next=(RecordHum("both", again=False),),
    )


@pytest.mark.parametrize("verdict", [whole(), Verdict(title="", stage="found", reference="bridge", pairs=())])
def test_every_line_stands_in_the_report_too(verdict):
    report = set(as_html(verdict, (), made_at="today", leads=LEADS).splitlines())
    shown = fragments(verdict, leads=LEADS).splitlines()
    assert answer(verdict) and not [line for line in shown if line and line not in report]


def test_nothing_of_the_wiring_is_missing():
    plain = html.unescape(fragments(whole(), leads=LEADS)).replace("\N{NO-BREAK SPACE}", " ")
    asked = ("EXCHANGE", "came out as planned", *map(say, (WHY, COVER, NEAREST, TIE, PROOF, LIKE_ENDS)))
    asked += ("3.4 k", "cause", "Record two more takes", "record hum", "<svg")
    assert not [words for words in asked if words not in plain]


def test_nothing_typed_is_taken_for_markup():
    told = fragments(whole(HOSTILE), leads=(LeadPicture(HOSTILE, (("a", "b"),), {"a": "hot"}),))
    assert HOSTILE not in told and "&lt;script&gt;" in told


def test_the_parts_come_without_the_plotting_library():
    code = "import sys, reports.render.parts\nprint('matplotlib' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"


def test_reports_are_listed_the_one_after_the_work_first_and_old_ones_are_told(tmp_path):
    assert reports_in(None) == () and reports_in(tmp_path) == ()
    (tmp_path / "report").mkdir()
    for name, at in ((f"report/{PAGE.format('found')}", 100), ("job.toml", 50), ("bench.jsonl", 200)):
        (tmp_path / name).write_text("")
        os.utime(tmp_path / name, (at, at))
    (one,) = reports_in(tmp_path)
    assert (one.stage, one.old) == ("found", True)
    later = tmp_path / "report" / PAGE.format("after")
    later.write_text("")
    os.utime(later, (300, 300))
    assert [(r.stage, r.old) for r in reports_in(tmp_path)] == [("after", False), ("found", True)]
    assert len({r.address for r in reports_in(tmp_path)}) == 2
