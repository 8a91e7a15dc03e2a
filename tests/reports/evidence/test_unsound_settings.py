"""Which settings' plucks are no evidence once two of them are found to sound alike."""

from __future__ import annotations

import numpy as np
import pytest

from capture.job import Job, Member, Pickup, Setting
from capture.log import Take
from dsp.health.levels import HealthFinding
from dsp.methods.hum import NUMBERS, HumLines
from dsp.methods.profile import HARMONICS, PluckLevels
from reports.evidence import health
from reports.evidence.results import SettingHum, SettingPluck, TakeResult

NAMES = ("bridge", "middle", "neck")
BOTH = Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))
JOB = Job(pickups=tuple(Pickup(name=name) for name in NAMES), settings=(BOTH,))
LEVELS = PluckLevels(
    np.full(HARMONICS, -40.0), np.full(HARMONICS, -120.0), np.ones(HARMONICS, dtype=bool), 147.0
)


def pluck(number, setting):
    entry = Take(id=f"t{number}", file=f"takes/t{number}.wav", gesture="pluck", inputs=(setting,))
    return TakeResult(entry, plucks=(SettingPluck(setting, LEVELS),))


@pytest.mark.parametrize(
    ("code", "setting", "other", "unsound"),
    [
        ("twin settings", "both", "neck", {"both"}),
        ("twin settings", "neck", "both", {"both"}),
        ("twin settings", "middle", "neck", {"middle", "neck"}),
        ("thin", "neck", None, {"neck", "both"}),
        ("hums although it has two coils", "neck", None, set()),
    ],
)
def test_of_twins_the_sum_is_no_evidence_and_of_two_pickups_both(monkeypatch, code, setting, other, unsound):
    """What is wrong with a pickup itself is in all settings that have it."""
    found = HealthFinding(code, setting, other, 1.0, 0.99)
    monkeypatch.setattr(health.health, "findings", lambda *_, **__: [found])
    monkeypatch.setattr(health.health, "setting_similarities", lambda _: [])
    takes = [pluck(k, name) for k, name in enumerate((*NAMES, "both"))]
    assert health.health_findings(JOB, takes).unsound == unsound


def hum(number, setting, db, rig="box"):
    entry = Take(id=f"h{number}", file=f"takes/h{number}.wav", gesture="hum", inputs=(setting,), rig=rig)
    size = np.sqrt(2) * 10 ** (db / 20) * np.eye(5)[0] + 0j
    lines = HumLines(50.0, NUMBERS, size, np.full(5, 1e-9), 0.0, 2.0, 0.0, 0.005)
    return TakeResult(entry, hums=(SettingHum(setting, 0, lines),))


def test_a_settings_hum_is_that_of_its_loudest_take_on_the_same_rig(monkeypatch):
    heard = []
    monkeypatch.setattr(health.health, "findings", lambda _, hum_db, **_rest: heard.append(hum_db) or [])
    monkeypatch.setattr(health.health, "setting_similarities", lambda _: [])
    plucked = pluck(0, "neck")
    on_rig = TakeResult(plucked.entry.model_copy(update={"rig": "box"}), plucks=plucked.plucks)
    levels = [("neck", -60.0), ("neck", -45.0), ("neck", -50.0), ("both", -70.0)]
    takes = [hum(k, name, db) for k, (name, db) in enumerate(levels)]
    health.health_findings(JOB, [on_rig, *takes, hum(9, "neck", -20.0, rig="another box")])
    assert heard == [{"neck": pytest.approx(-45.0, abs=0.1), "both": pytest.approx(-70.0, abs=0.1)}]
