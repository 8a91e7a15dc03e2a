"""Taps in a guided session: asked for in doubt, or where the person asks for nothing else, and heeded."""

from dataclasses import replace

import pytest
from guided_parts import bench_of, closed_guitar, guided, player
from guitarist import Guitarist

from capture.takes.folder import JobFolder
from reports.evidence.leads import lead_history
from reports.inference.posterior import gather_evidence
from reports.model.notes import HealthProblem, HealthRemedy
from reports.model.verdict import Finding
from reports.session.tapping import positions_in_doubt, tap_round


class FromTheOtherEnd(Guitarist):
    """Whose selector gives the neck where the list has the bridge."""

    def _on(self, name):
        other = {"bridge": "neck", "neck": "bridge"}
        return tuple(other.get(n, n) for n in super()._on(name))


@pytest.fixture
def folder(tmp_path):
    return closed_guitar(tmp_path, bench_of(2))


def nothing_known(folder):
    return gather_evidence(folder.job, lead_history(folder.job, []), [], [])


def test_nothing_is_in_doubt_before_anything_says_so(folder):
    assert positions_in_doubt(nothing_known(folder)) == ()


def test_positions_that_sound_alike_are_in_doubt_and_each_pole_is_asked_for(folder):
    known = nothing_known(folder)
    twins = Finding(
        pickup_or_setting="rear",
        what=HealthProblem("twin settings", 0.0, "bridge"),
        next=HealthRemedy("twin settings"),
    )
    doubted = positions_in_doubt(replace(known, health=replace(known.health, findings=(twins,))))
    assert set(doubted) == {"rear", "bridge"}
    asked = tap_round(folder.job, doubted, [], stage="found", tool=None)
    assert {(s.inputs[0], s.tapped) for s in asked.steps} == {
        (name, pole) for name in doubted for pole in ("bridge", "middle", "neck")
    }
    assert [s.part for s in asked.steps] == list(range(1, 7))
    assert tap_round(folder.job, (), [], stage="found", tool=None) is None


def test_a_list_from_the_wrong_end_ends_the_session_with_what_to_do(folder):
    guitarist = player(bench_of(2), folder, kind=FromTheOtherEnd)
    ended, shown = guided(folder, guitarist, gestures=("tap",))
    takes = JobFolder.open(folder.path).takes()
    assert (ended.ending, ended.refused, len(takes)) == ("no more", 0, 15)
    assert {t.entry.gesture for t in takes} == {"tap"}
    assert {f.pickup_or_setting for f in ended.verdict.findings} == {"bridge", "rear", "front", "neck"}
    assert any("tap the poles of bridge" in line for line in shown.lines)
    again = player(bench_of(2), folder, kind=FromTheOtherEnd)
    after, shown = guided(folder, again, gestures=("switch", "tap"))
    assert (after.ending, again.asked) == ("no more", [])
