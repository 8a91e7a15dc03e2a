"""The closed guitar: whole jobs from one jack alone, made by the simulator, whose truth is known.

What each gesture carries: sources R5; what cancels hum: "Assessing a Pickup's
Polarity and Phase", Premier Guitar (sources P1), hum is independent of the magnet: common practice (P2).
"""

import functools
import re

import numpy as np
import pytest
from judging_jobs import RATE, JobOnDisk, called
from simulator.conditions import Conditions
from simulator.scenes import random_bench
from simulator.workbench import On

from capture.takes.folder import JobFolder
from reports.messages.sentences import say
from reports.model.gestures import HUM_PHASE
from reports.model.take_notes import OutvotedNote, TakeNote
from reports.render.exports import as_json

LISTED = ("bridge", "rear", "middle", "front", "neck")
JOINS = {"rear": ("bridge", "middle"), "front": ("middle", "neck")}
EASY = Conditions(
    humbucker_rate=0.0,
    off_centre_mm=0.3,
    careless_rate=0.0,
    turned_rate=0.0,
    capacitive_rate=0.0,
    snr_db=(45.0, 60.0),
    hum_db=(25.0, 35.0),
    switch_bounce_rate=0.0,
    detune_hz=(0.05, 0.3),
    inverted_rate=0.0,
)
TOML = """format = 1
title = "Closed guitar"
scale_mm = {scale:.2f}
mains_hz = 50
[[pickup]]
name = "bridge"
centre_mm = {bridge:.2f}
[[pickup]]
name = "middle"
centre_mm = {middle:.2f}
[[pickup]]
name = "neck"
centre_mm = {neck:.2f}
[[setting]]
name = "rear"
on = ["bridge", "middle"]
[[setting]]
name = "front"
on = ["middle", "neck"]
quiet = true
"""


@functools.cache
def guitar(middle_reversed):
    """A guitar on which bridge and neck agree and middle does not, or is as the others once put right."""
    for seed in range(400):
        bench = random_bench(np.random.default_rng(seed), conditions=EASY, pickups=3, mains_hz=50)
        same = {name: bench.in_phase("bridge", name) for name in ("middle", "neck")}
        against = bench.w("bridge") != bench.w("middle") and bench.w("middle") == bench.w("neck")
        if same == {"middle": False, "neck": True} and against:
            return bench if middle_reversed else put_right(bench)
    raise AssertionError("no such bench")


def put_right(bench):
    """The same guitar with middle's hot and ground exchanged."""
    from dataclasses import replace

    def turned(pickup):
        coils = tuple(replace(c, signs=c.signs.leads_exchanged()) for c in pickup.coils)
        return replace(pickup, coils=coils)

    return replace(bench, pickups=tuple(turned(p) if p.name == "middle" else p for p in bench.pickups))


@functools.cache
def sounds():
    """Ten takes from one jack: three strings through all settings twice over, and hum on four settings."""
    bench, rng = guitar(True), np.random.default_rng(8)
    wanted = [JOINS.get(name, name) for name in LISTED]
    steps = {"at_s": (0.7, 1.0, 1.3, 1.6), "ringing_s": 3.2, "rate": RATE}
    switched = [(s, bench.switch(rng, wanted, s, **steps)) for s in ("E2", "A2", "D3", "E2", "A2", "D3")]
    hums = [
        (name, bench.hum(rng, [JOINS.get(name, name)], ringing_s=2.0, rate=RATE))
        for name in ("bridge", "middle", "neck", "front")
    ]
    return switched, hums


FRONT_ALONE = "[[".join(part for part in TOML.split("[[") if '"bridge"' not in part)
"""The same without what has the bridge pickup in it."""


def places(bench):
    return {p.name: p.centre_mm for p in bench.pickups}


def toml(bench):
    return TOML.format(scale=bench.scale_mm, **places(bench))


def closed(home, *, change=lambda x: x, few=False):
    """The guitar as it was found; ``few``: one round of its three strings, and no hum."""
    job = JobOnDisk(home, toml(guitar(True)))
    switched, hums = sounds()
    for string, audio in switched[:3] if few else switched:
        job.take(change(audio), [list(LISTED)], gesture="switch", string=string)
    for name, audio in () if few else hums:
        job.take(change(audio), [name], gesture="hum")
    return job


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return closed(tmp_path_factory.mktemp("closed") / "job")


@pytest.fixture(scope="module")
def told(found):
    """The verdict on the guitar as it was found."""
    return found.verdict


def test_one_jack_and_ten_takes_give_the_whole_table_settled(told):
    verdict = told
    bench = guitar(True)
    assert len(verdict.takes) == 10
    rows = {s.name: s for s in verdict.settings}
    for name, (a, b) in JOINS.items():
        cancels = bench.w(a) != bench.w(b)
        assert (rows[name].sounds, rows[name].standing) == ("thin", "settled")
        assert rows[name].hum == ("cancels" if cancels else "hums")
        assert rows[name].loss_db < -3, "two that oppose each other lose their fundamental"
    assert {(p.a, p.b): p.phase for p in verdict.pairs} == {
        ("bridge", "middle"): "out of phase",
        ("bridge", "neck"): "in phase",
        ("middle", "neck"): "out of phase",
    }
    for row in verdict.signs:
        assert (row.p_same_s > 0.5) == bench.in_phase("bridge", row.pickup)
        assert (row.p_same_w > 0.5) == (bench.w("bridge") == bench.w(row.pickup))


def recorded_twice(home, *, put_right):
    """Middle and neck alone, as found and after the work: all of a guitar twice over is dear to judge.

    Put right, they are wound against each other: one pickup recorded twice would look the same but for that.
    """
    before, rng = guitar(True), np.random.default_rng(3)
    job = JobOnDisk(home, FRONT_ALONE.format(scale=before.scale_mm, **places(before)))
    steps = {"at_s": (0.7, 1.0), "ringing_s": 2.5, "rate": RATE}
    for stage, bench in (("found", before), ("after", guitar(not put_right))):
        if stage == "after" and put_right:
            job.log("change", pickup="middle", leads={"grey": "hot", "violet": "ground"}, stage=stage)
        for string in ("E2", "A2", "D3", "E2"):
            audio = bench.switch(rng, ["middle", JOINS["front"], "neck"], string, **steps)
            job.take(audio, [["middle", "front", "neck"]], gesture="switch", string=string, stage=stage)
    return job


def test_put_right_the_report_says_that_it_came_out_as_planned(tmp_path):
    verdict = recorded_twice(tmp_path / "job", put_right=True).verdict
    assert verdict.stage == "after"
    (row,) = verdict.stages
    assert (row.found, row.planned, row.after, row.as_planned) == ("thin", "full", "full", "yes")
    assert verdict.came_out.code == "as planned"


def test_left_as_it_was_the_report_says_that_it_did_not(tmp_path):
    verdict = recorded_twice(tmp_path / "job", put_right=False).verdict
    (row,) = verdict.stages
    assert (row.found, row.planned, row.after, row.as_planned) == ("thin", "full", "thin", "no")
    assert verdict.came_out.code == "not as planned"


@pytest.mark.parametrize(("a", "b", "cancels"), [("bridge", "middle", True), ("middle", "neck", False)])
def test_hum_on_two_inputs_at_once_tells_how_two_are_wound(tmp_path, a, b, cancels):
    """What cancels hum is independent of the magnet: common practice (sources P2). By construction here."""
    bench, rng = guitar(True), np.random.default_rng(11)
    assert (bench.w(a) != bench.w(b)) == cancels
    job = JobOnDisk(tmp_path / "job", toml(bench))
    for _ in range(2):
        job.take(bench.hum(rng, [a, b], ringing_s=2.0, rate=RATE), [a, b], gesture="hum")
    (pair,) = (p for p in job.verdict.pairs if (p.a, p.b) == (a, b))
    assert [m.method for m in pair.hum_by] == [HUM_PHASE]
    assert (pair.p_hum_cancels > 0.6) if cancels else (pair.p_hum_cancels < 0.4)


SWEPT = ("E2", "A2", "D3") * 3


def swept(home, otherwise):
    """Sweeps of middle and neck, those of numbers ``otherwise`` from the guitar as it is once put right."""
    as_found, rng = guitar(True), np.random.default_rng(5)
    job = JobOnDisk(home, FRONT_ALONE.format(scale=as_found.scale_mm, **places(as_found)))
    for k, string in enumerate(SWEPT):
        audio = guitar(k not in otherwise).switch(
            rng, ["middle", JOINS["front"], "neck"], string, at_s=(0.7, 1.0), ringing_s=2.5, rate=RATE
        )
        job.take(audio, [["middle", "front", "neck"]], gesture="switch", string=string)
    return job.verdict


def test_one_sweep_that_misleads_is_outvoted_and_two_are_a_contradiction(tmp_path):
    one = swept(tmp_path / "one", {1})
    assert (one.pairs[0].phase, one.pairs[0].standing) == ("out of phase", "settled")
    assert not one.conflicts
    (said,) = (n for take in one.takes for n in take.remarks if isinstance(n, OutvotedNote))
    assert [t.id for t in one.takes if said in t.remarks] == ["t002"]
    assert "says the opposite of middle and neck" in say(said)
    two = swept(tmp_path / "two", {1, 4})
    assert two.pairs[0].standing != "settled"
    assert ("t002", "t005") in two.conflicts[0].sides


@pytest.fixture(scope="module")
def told_by_few(tmp_path_factory):
    return closed(tmp_path_factory.mktemp("few") / "job", few=True).verdict


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda x: -0.3 * x, id="turned over and softer"),
        pytest.param(lambda x: np.concatenate([np.full((4000, 1), 1e-5), x]), id="late"),
    ],
)
def test_one_channel_turned_over_softer_or_later_changes_no_answer(tmp_path, told_by_few, change):
    """R4: within one channel an inversion cancels."""
    said = closed(tmp_path / "job", change=change, few=True).verdict
    for before, after in zip(told_by_few.pairs, said.pairs, strict=True):
        assert before.phase is not None
        assert (before.phase, before.standing) == (after.phase, after.standing)


def test_the_page_draws_what_the_jack_told(found):
    assert called("report", found.home) == 0
    page = (found.home / "report" / "report-found.html").read_text(encoding="utf-8")
    assert "not turn: the same sign" in page
    assert "wound alike" in page
    assert re.search(r"What the jack told", page)
    assert "Nan" not in page and ">nan<" not in page


def test_a_selector_that_was_not_moved_settles_nothing(tmp_path):
    """Plucks on bridge entered as the sum: never in phase, never a settled anything."""
    bench, rng = guitar(True), np.random.default_rng(5)
    job = JobOnDisk(tmp_path / "job", toml(bench))
    for string in ("D3", "A2", "D3"):
        for name, wanted in (("bridge", "bridge"), ("rear", "bridge"), ("middle", "bridge")):
            audio = bench.pluck(rng, wanted, string, turned=False, rate=RATE)
            job.take(audio, [name], string=string)
    (rear,) = [s for s in job.verdict.settings if s.name == "rear"]
    assert rear.standing == "unsettled"


def test_a_list_that_does_not_fit_is_refused_with_what_was_heard(tmp_path):
    job = JobOnDisk(tmp_path / "job", toml(guitar(True)))
    _, audio = sounds()[0][0]
    job.take(audio, [["bridge", "neck"]], gesture="switch", string="E2")
    job.take(audio[: int(0.9 * RATE)], [["bridge", "neck"]], gesture="switch", string="E2")
    many, none = job.verdict.takes
    assert (many.faults[0].code, many.faults[0].fault.detail) == ("too many steps", 4)
    assert none.faults and not none.used


def test_hum_on_a_sum_that_cancels_is_the_best_word_for_it(tmp_path):
    """Windings against each other: the sum hums less than either (sources P1)."""
    bench = guitar(True)
    name, (a, b) = next((n, pair) for n, pair in JOINS.items() if bench.w(pair[0]) != bench.w(pair[1]))
    rng = np.random.default_rng(8)
    job = JobOnDisk(tmp_path / "job", toml(bench))
    for _ in range(2):
        for setting, wanted in ((a, a), (b, b), (name, (a, b))):
            job.take(bench.hum(rng, [wanted], ringing_s=2.0, rate=RATE), [setting], gesture="hum")
    (row,) = [s for s in job.verdict.settings if s.name == name]
    assert row.hum == "cancels"


def test_a_driven_coil_tells_the_winding_and_nothing_of_the_string(tmp_path):
    bench, rng = guitar(True), np.random.default_rng(9)
    job = JobOnDisk(tmp_path / "job", toml(bench))
    for name in ("bridge", "middle", "bridge", "middle"):
        job.take(bench.drive(rng, name, upside_down=False, rate=RATE), [name], gesture="drive")
    pair = next(p for p in job.verdict.pairs if {p.a, p.b} == {"bridge", "middle"})
    assert (pair.p_hum_cancels > 0.9) == (bench.w("bridge") != bench.w("middle"))
    assert max(pair.p_hum_cancels, 1 - pair.p_hum_cancels) > 0.9
    assert pair.p_in_phase is None


def test_a_driven_coil_over_two_coils_asks_which(tmp_path):
    bench, rng = guitar(True), np.random.default_rng(9)
    two = toml(bench).replace('name = "neck"', 'name = "neck"\ncoils = 2')
    job = JobOnDisk(tmp_path / "job", two)
    job.take(bench.drive(rng, "neck", upside_down=False, rate=RATE), ["neck"], gesture="drive")
    (take,) = job.verdict.takes
    assert not take.used
    assert take.remarks == (TakeNote("coil not named"),)


def test_a_reversed_member_turns_the_setting_and_not_the_pair(tmp_path):
    """The same sounds of a position with middle reversed: the pair stays, the setting is full."""
    bench, rng = guitar(True), np.random.default_rng(12)
    text = toml(bench).replace(
        'on = ["bridge", "middle"]', 'on = ["bridge", {pickup = "middle", reversed = true}]'
    )
    job = JobOnDisk(tmp_path / "job", text)
    rear = ("bridge", On("middle", reversed=True))
    for string in ("E2", "A2", "D3", "E2"):
        audio = bench.switch(
            rng, ["bridge", rear, "middle"], string, at_s=(0.7, 1.0), ringing_s=2.5, rate=RATE
        )
        job.take(audio, [["bridge", "rear", "middle"]], gesture="switch", string=string)
    verdict = job.verdict
    assert verdict.settings[0].sounds == "full"
    assert verdict.pairs[0].phase == "out of phase"


def test_the_same_evidence_read_again_gives_the_same_bytes(found, told):
    assert as_json(told) == as_json(found.verdict)
    assert JobFolder.open(found.home).job.title == "Closed guitar"
