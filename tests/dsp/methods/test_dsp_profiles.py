"""Harmonic profiles: sources alone and together, by the formulas that the code has too, and on the bench."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.scenes import random_bench

from dsp.methods.plucks import analyse_plucks
from dsp.methods.profile import (
    HARMONICS,
    PluckLevels,
    ProfilePluck,
    fundamental_loss,
    group_plucks,
    pluck_levels,
    profile_of,
)
from dsp.methods.profile_likelihood import USUAL_KOHM, shares_of
from dsp.model.settings import Mix, Place, Source

QUICK = settings(settings.get_profile("dsp"), max_examples=5)
SCALE_MM = 648.0
NECK, MIDDLE, BRIDGE = 162.0, 98.0, 41.0
"""S3: places from the bridge in mm."""
NUMBERS = np.arange(1, HARMONICS + 1)
PLUCK_PLACE = 0.23


def source(sign, centre_mm, **more):
    return Source(sign, Place(centre_mm, SCALE_MM), **more)


A, B, C = source(0, NECK), source(1, BRIDGE), source(2, MIDDLE)


def heard(mix, signs, rng, *, string="D3", strength=(1.0, 1.0, 1.0), gain_db=0.0, f0=146.83):
    """One pluck by S1 (string), S3 and S4 (place), C3 (equal sources in parallel), with some scatter."""
    string_db = 20 * np.log10(np.abs(np.sin(np.pi * NUMBERS * PLUCK_PLACE)) / NUMBERS + 0.02)
    total = np.zeros(HARMONICS)
    for s in mix.sources:
        place = {0: NECK, 1: BRIDGE, 2: MIDDLE}[s.sign]
        turn = signs[s.sign] * (-1 if s.reversed else 1)
        total += turn * strength[s.sign] * np.sin(np.pi * NUMBERS * place / SCALE_MM)
    if mix.join == "parallel":
        total /= len(mix.sources)
    level = string_db + 10 * np.log10(np.square(total) + 0.03**2) - 20 + gain_db
    level = (
        level + 1.5 * rng.standard_normal() + np.minimum(0.3 * NUMBERS, 2.0) * rng.standard_normal(HARMONICS)
    )
    levels = PluckLevels(level, np.full(HARMONICS, -120.0), np.ones(HARMONICS, dtype=bool), f0)
    return ProfilePluck(levels, mix, string, 0)


def job(mixes, signs, *, seed=0, count=4, **options):
    rng = np.random.default_rng(seed)
    return [heard(mix, signs, rng, **options) for mix in mixes for _ in range(count)]


def both(a=A, b=B, **more):
    return [Mix((a,)), Mix((b,)), Mix((a, b), **more)]


def ratio(table):
    """Log likelihood ratio of "the same sign" of the first two."""
    return table[0, 0] - table[0, 1]


def turned(plucks, number):
    """The same plucks, with the pickup of one sign said to be the other way round in every setting."""
    out = []
    for p in plucks:
        sources = tuple(
            Source(s.sign, s.place, s.coils, s.reversed != (s.sign == number), s.kohm) for s in p.mix.sources
        )
        out.append(ProfilePluck(p.levels, Mix(sources, p.mix.join), p.string, p.fret))
    return out


@pytest.mark.parametrize("join", ["parallel", "series"])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("other", [B, C])
def test_a_pair_is_told(join, sign, other):
    """Adding and opposing differ harmonic by harmonic with the sign of the places (S4)."""
    signs = (1, sign, sign)
    table = profile_of(job(both(A, other, join=join), signs), count=3).table
    same, opposed = table.take(0, axis=other.sign), table.take(1, axis=other.sign)
    assert sign * (same[0].max() - opposed[0].max()) > 2.0


@pytest.mark.parametrize("signs", [(1, 1, 1), (1, -1, 1), (1, 1, -1), (1, -1, -1)])
def test_three_at_once(signs):
    result = profile_of(job([*(Mix((s,)) for s in (A, B, C)), Mix((A, B, C))], signs, count=6), count=3)
    assert result.table[tuple(0 if s > 0 else 1 for s in signs)] == 0.0
    assert result.table.min() < -2.0


@QUICK
@given(st.integers(0, 40), st.sampled_from([1, -1]))
def test_turning_a_pickup_over_turns_the_table(seed, sign):
    plucks = job(both(), (1, sign), seed=seed, count=2)
    plain, over = profile_of(plucks, count=2).table, profile_of(turned(plucks, 1), count=2).table
    assert over == pytest.approx(plain[:, ::-1], abs=1e-9)
    assert plain == pytest.approx(plain[::-1, ::-1])


@QUICK
@given(st.integers(0, 40), st.floats(-30, 20))
def test_gain_changes_nothing(seed, gain_db):
    quiet, loud = (
        profile_of(job(both(), (1, -1), seed=seed, count=2, gain_db=g), count=2).table for g in (0.0, gain_db)
    )
    assert loud == pytest.approx(quiet, abs=1e-6)


def test_plucks_of_one_note_on_one_setting_are_one_group():
    rng = np.random.default_rng(0)
    notes = [("D3", 146.83), ("A2", 110.0), (None, 196.0), (None, 110.3)]
    plucks = [heard(Mix((s,)), (1, 1), rng, string=n, f0=hz) for s in (A, B, A) for n, hz in notes]
    groups = group_plucks(plucks).groups
    assert [g.count for g in groups.values()] == [2] * 4 + [1] * 4
    assert [(g.string, g.f0_hz) for g in groups.values()] == notes * 2
    assert [note for _, note in groups] == [0, 1, 2, 3] * 2


def test_no_job_says_more_than_it_may():
    table = profile_of(job(both(), (1, -1), count=10), count=2).table
    assert -4.75 <= table.min() < -3.0


def test_levels_without_shape_say_little():
    """Levels of noise alone have nothing to do with signs."""
    rng = np.random.default_rng(5)
    found = []
    for _ in range(20):
        plucks = job(both(), (1, 1), count=3)
        noise = [
            ProfilePluck(
                PluckLevels(
                    -60 + 8 * rng.standard_normal(HARMONICS), p.levels.floor_db, p.levels.usable, 146.83
                ),
                p.mix,
                p.string,
                p.fret,
            )
            for p in plucks
        ]
        found.append(ratio(profile_of(noise, count=2).table))
    assert np.max(np.abs(found)) < 3.0
    assert np.median(np.abs(found)) < 1.5


@pytest.mark.parametrize("as_heard", [A, B])
def test_a_selector_that_was_not_moved_says_nothing(as_heard):
    """Plucks logged as both that are one pickup again."""
    plucks = job([Mix((A,)), Mix((B,))], (1, 1), count=10)
    again = job([Mix((as_heard,))], (1, 1), seed=9, count=10)
    plucks += [ProfilePluck(p.levels, Mix((A, B)), p.string, p.fret) for p in again]
    result = profile_of(plucks, count=2)
    assert "twin settings" in result.remarks
    assert not result.table.any()


def test_one_source_is_missing():
    result = profile_of(job([Mix((A,)), Mix((A, B))], (1, 1)), count=2)
    assert not result.table.any()
    assert result.remarks == ("one source not heard alone",)
    assert result.profiles == ()


def test_a_string_that_not_all_settings_share_does_not_count():
    plucks = job(both()[:2], (1, 1), string="D3") + job(both()[2:], (1, 1), string="A2", f0=110.0)
    assert not profile_of(plucks, count=2).table.any()


@pytest.mark.parametrize("settings", [[], both()[:2]])
def test_nothing_together_is_flat(settings):
    result = profile_of(job(settings, (1, 1)), count=2)
    assert not result.table.any()
    assert result.remarks == ()


def test_unknown_places_let_fewer_harmonics_vote():
    nowhere = [Source(0), Source(1)]
    result = profile_of(job(both(*nowhere), (1, -1), count=5), count=2)
    assert "fewer harmonics" in result.remarks
    assert "fewer harmonics" in result.remarks
    assert ratio(result.table) < 0
    assert max(len(p.harmonics) for p in result.profiles) <= 6


def test_a_weak_pickup_is_trusted_less():
    strong = profile_of(job(both(), (1, -1)), count=2)
    weak = profile_of(job(both(), (1, -1), strength=(1.0, 0.1, 1.0)), count=2)
    assert "imbalanced" in weak.remarks
    assert "imbalanced" not in strong.remarks
    assert abs(ratio(weak.table)) < 0.5


@pytest.mark.parametrize("sign", [1, -1])
def test_the_drawing_follows_the_truth(sign):
    shape = profile_of(job(both(), (1, sign)), count=2).profiles[0]
    right, wrong = (shape.adding_db, shape.opposed_db)[::sign]
    low = slice(0, 6)
    assert np.std((shape.measured_db - right)[low]) < np.std((shape.measured_db - wrong)[low])
    assert shape.string == "D3"


@pytest.mark.parametrize(
    ("sign", "join", "expected"),
    [
        (1, "parallel", 0.0),
        (1, "series", 0.0),
        (-1, "parallel", 20 * np.log10((0.7071 - 0.1975) / (0.7071 + 0.1975))),
    ],
)
def test_loss_of_the_fundamental(sign, join, expected):
    """sin(pi x / L) at 162 and 41 mm of 648 is 0.7071 and 0.1975 (S3)."""
    mixes = both(join=join)
    loss = fundamental_loss(job(mixes, (1, sign), count=20), mixes[-1])
    assert loss.loss_db == pytest.approx(expected, abs=1.5)
    assert 1.0 < loss.error_db < 3.0
    assert loss.plucks == 20


def test_loss_needs_each_source_alone():
    assert fundamental_loss(job([Mix((A,)), Mix((A, B))], (1, 1)), Mix((A, B))) is None


def on_the_bench(seed):
    """Log ratio for the truth: neck and bridge, three plucks a setting on one string."""
    rng = np.random.default_rng(seed)
    bench = random_bench(rng, pickups=2)
    sources = [
        Source(i, Place(bench.pickup(n).centre_mm, bench.scale_mm), coils=len(bench.pickup(n).coils))
        for i, n in enumerate(("neck", "bridge"))
    ]
    plucks = []
    for names, mix in zip(["neck", "bridge", ("neck", "bridge")], both(*sources), strict=True):
        for _ in range(3):
            take = bench.pluck(rng, names, "D3", rate=16000)
            hearing = analyse_plucks(take, rate=16000, channels=(0,), inputs_differ=False, named_hz=146.83)
            for p in hearing.plucks:
                levels = pluck_levels(hearing.channels[0], onset=p.rough, quiet=p.rough - 320, pitch=p.pitch)
                plucks.append(ProfilePluck(levels, mix, "D3", 0))
    return ratio(profile_of(plucks, count=2).table) * (1 if bench.in_phase("neck", "bridge") else -1)


def test_on_the_bench():
    """One string and three plucks leave some jobs unsure; none may be surely wrong, and most are right."""
    told = np.array([on_the_bench(seed) for seed in range(5)])
    assert told.min() > -3.0
    assert np.sum(told > 0.5) >= 3


@pytest.mark.parametrize(
    ("coils", "hz", "shares"),
    [((1, 1), 0.01, (4 / 7, 3 / 7)), ((1, 2), 1e6, (2 / 3, 1 / 3)), ((1, 1), 1e6, (1 / 2, 1 / 2))],
    ids=["by resistance", "by inductance", "equal inductance"],
)
def test_in_parallel_the_lower_impedance_has_the_larger_share(coils, hz, shares):
    """6 k and 8 k (sources C3); far up the inductances tell, and two coils have twice that of one."""
    sources = tuple(
        Source(k, kohm=kohm, coils=c) for k, (kohm, c) in enumerate(zip((6.0, 8.0), coils, strict=True))
    )
    found = shares_of(Mix(sources), hz=np.array([hz]))
    assert found[:, 0] == pytest.approx(shares, rel=1e-3)


def test_a_coil_that_was_not_measured_counts_as_a_usual_one_beside_a_knob_too():
    hz = np.array([110.0, 880.0])
    bare, usual = (
        shares_of(Mix((Source(0, kohm=kohm), Source(1, kohm=kohm, share=0.5))), hz=hz)
        for kohm in (None, USUAL_KOHM)
    )
    np.testing.assert_allclose(bare, usual)
    assert (bare[1] < bare[0]).all()
