"""What settings do, and what came of the work, from meter and compass readings alone: no sound needed.

Which signs mean what: "Assessing a Pickup's Polarity and Phase", Premier Guitar (sources P1): in phase when
both of winding and magnet differ or neither does, hum cancels only when the windings differ.
"""

import pytest
from judging_jobs import JobOnDisk

from reports.model.work_notes import SettingResult, WorkResult

THREE = """format = 1
title = "Three"
[[pickup]]
name = "bridge"
[[pickup]]
name = "middle"
[[pickup]]
name = "neck"
[[setting]]
name = "front"
on = ["middle", "neck"]
[[setting]]
name = "rear"
on = ["bridge", "middle"]
[[setting]]
name = "all"
on = ["bridge", "middle", "neck"]
[[setting]]
name = "turned"
on = ["bridge", {pickup = "middle", reversed = true}]
"""
TWO_SETTINGS = THREE.partition('[[setting]]\nname = "all"')[0]
WORDS = {1: ("rises", "north"), -1: ("falls", "south")}


def read(job, pickup, *, w, m, times=3, **said):
    """Meter swings (about s = w m) and compass readings (about m) of one pickup."""
    for k in range(times):
        tool = {"tool": f"rod {k}"}
        job.log("meter", pickup=pickup, move="away", reading=WORDS[w * m][0], red="hot", **tool, **said)
        job.log("meter", pickup=pickup, move="toward", reading=WORDS[-w * m][0], red="hot", **tool, **said)
    job.log("pole", pickup=pickup, facing=WORDS[m][1], **said)


def setting(verdict, name):
    (found,) = [s for s in verdict.settings if s.name == name]
    return found


@pytest.mark.parametrize("wa", [1, -1])
@pytest.mark.parametrize("ma", [1, -1])
@pytest.mark.parametrize("wb", [1, -1])
@pytest.mark.parametrize("mb", [1, -1])
def test_all_sixteen_pairs(tmp_path, wa, ma, wb, mb):
    """Sources P1, all sixteen pairs: full or thin, cancels or hums, and each sign against the reference."""
    job = JobOnDisk(tmp_path / "job", THREE)
    read(job, "bridge", w=wa, m=ma)
    read(job, "middle", w=wb, m=mb)
    verdict = job.verdict
    rear = setting(verdict, "rear")
    in_phase = (wa != wb) == (ma != mb)
    assert rear.sounds == ("full" if in_phase else "thin")
    assert rear.hum == ("cancels" if wa != wb else "hums")
    turned = setting(verdict, "turned")
    assert turned.sounds == ("thin" if in_phase else "full")
    assert turned.hum == ("hums" if wa != wb else "cancels")
    (middle, neck) = verdict.signs
    assert (middle.p_same_s > 0.9, middle.p_same_w > 0.9, middle.p_same_m > 0.9) == (
        wa * ma == wb * mb,
        wa == wb,
        ma == mb,
    )
    assert (neck.p_same_s, neck.p_same_w, neck.p_same_m) == (None, None, None)
    assert setting(verdict, "front").p_full is None
    assert setting(verdict, "front").hum == "unknown"


def test_three_single_coils_hum_whatever_their_windings(tmp_path):
    """An odd number of coils cannot cancel (sources P1: hum goes by the winding alone)."""
    job = JobOnDisk(tmp_path / "job", THREE)
    for name, w in (("bridge", 1), ("middle", -1), ("neck", 1)):
        read(job, name, w=w, m=w)
    assert setting(job.verdict, "all").hum == "hums"
    assert setting(job.verdict, "all").sounds == "full"


@pytest.mark.parametrize(
    ("after_w", "as_planned", "result"),
    [
        (
            1,
            "yes",
            WorkResult(
                "not entered", tuple(SettingResult(name, "full", "full") for name in ("front", "rear"))
            ),
        ),
        (
            -1,
            "no",
            WorkResult(
                "not as planned",
                tuple(SettingResult(name, "full", "thin") for name in ("front", "rear")),
                entered=False,
            ),
        ),
    ],
)
def test_found_planned_and_after_side_by_side(tmp_path, after_w, as_planned, result):
    """Middle is found reversed (w); exchanged it is w = +1; left as it is it stays -1."""
    job = JobOnDisk(tmp_path / "job", TWO_SETTINGS)
    for name, w in (("bridge", 1), ("middle", -1), ("neck", 1)):
        read(job, name, w=w, m=1)
    for name, w in (("bridge", 1), ("middle", after_w), ("neck", 1)):
        read(job, name, w=w, m=1, stage="after")
    verdict = job.verdict
    assert verdict.stage == "after"
    for row in verdict.stages:
        assert (row.found, row.planned, row.as_planned) == ("thin", "full", as_planned)
        assert (row.hum_found, row.hum_planned) == ("cancels", "hums")
        assert row.hum_after == ("hums" if after_w == 1 else "cancels")
    assert {row.setting for row in verdict.stages} == {"front", "rear"}
    assert verdict.came_out == result


def test_what_was_found_does_not_speak_for_after(tmp_path):
    """One reading after the work, on one pickup, says nothing of a pair: the plan does not confirm itself."""
    job = JobOnDisk(tmp_path / "job", TWO_SETTINGS)
    for name in ("bridge", "middle", "neck"):
        read(job, name, w=1, m=1)
    read(job, "bridge", w=1, m=1, stage="after")
    verdict = job.verdict
    assert [row.as_planned for row in verdict.stages] == ["unknown", "unknown"]
    assert [row.after for row in verdict.stages] == ["unknown", "unknown"]
    assert verdict.came_out.code == "not recorded"


def test_no_stage_rows_before_the_work(tmp_path):
    job = JobOnDisk(tmp_path / "job", THREE)
    read(job, "bridge", w=1, m=1)
    assert job.verdict.stages == ()
    assert job.verdict.came_out is None
