from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp import SignalError
from dsp.health import HealthPluck, findings
from dsp.health.pickups import high_pass_db, low_pass_db, tone_down_db
from dsp.model.settings import Mix, Place, Source, place_factor

SCALE_MM = 648.0
PLACES = {"bridge": 41.0, "middle": 98.0, "neck": 162.0}
"""S3: places from the bridge in mm."""
STRINGS = {"E2": 82.4069, "A2": 110.0, "D3": 146.8324}
"""S5: open strings."""
N = np.arange(1, 13)
NUMBER = {name: k for k, name in enumerate(PLACES)}


def source(name, *, coils=1, reversed=False):
    return Source(NUMBER[name], Place(PLACES[name], SCALE_MM), coils=coils, reversed=reversed)


def plucks(on=None, *, wrong=None, sounding=None, coils=None, repeats=3, seed=0, known=True):
    """Plucks of an ideal string (S1) at places (S3), 1.5 dB of scatter a harmonic and 3 dB a pluck.

    ``wrong``: what is added to a setting's levels, by frequency; ``sounding``: which setting really sounds.
    """
    rng = np.random.default_rng(seed)
    on = on or {name: (name,) for name in PLACES}
    out = []
    for setting, names in on.items():
        real = on[(sounding or {}).get(setting, setting)]
        mix = Mix(tuple(source(n, coils=(coils or {}).get(n, 1)) for n in names))
        if not known:
            mix = replace(mix, sources=tuple(replace(s, place=Place()) for s in mix.sources))
        for string, f0 in STRINGS.items():
            for _ in range(repeats):
                plucked = np.clip(0.22 + 0.02 * rng.standard_normal(), 0.1, 0.35)
                place = np.mean(
                    [
                        [place_factor(int(n), centre_mm=PLACES[m], length_mm=SCALE_MM) for n in N]
                        for m in real
                    ],
                    axis=0,
                )
                amplitude = (np.abs(np.sin(N * np.pi * plucked)) + 0.1) / N * (np.abs(place) + 0.05)
                level = (
                    -30 + 20 * np.log10(amplitude) + 3 * rng.standard_normal() + 1.5 * rng.standard_normal(12)
                )
                if wrong and setting in wrong:
                    level = level + wrong[setting](N * f0)
                usable = level > -95
                out.append(
                    HealthPluck(
                        setting, np.where(usable, level, -95.0), usable, f0_hz=f0, mix=mix, string=string
                    )
                )
    return out


WITH_BOTH = {**{name: (name,) for name in PLACES}, "both": ("bridge", "neck")}


@pytest.mark.parametrize("known", [True, False], ids=["places known", "places unknown"])
@pytest.mark.parametrize("seed", range(4))
def test_a_sound_guitar_has_no_findings(seed, known):
    """By construction; the false alarm rate is measured on simulated benches, not here."""
    hum = {"bridge": -60.0, "middle": -61.0, "neck": -59.0, "both": -75.0}
    assert findings(plucks(WITH_BOTH, seed=seed, known=known), hum_db=hum) == ()


FAULTS = [
    pytest.param(lambda hz: high_pass_db(hz, 900.0), {"fundamental missing"}, id="series capacitor"),
    pytest.param(lambda hz: high_pass_db(hz, 1500.0) - 34, {"open coil"}, id="open coil"),
    pytest.param(lambda hz: low_pass_db(hz, 400.0) - 26, {"shorted coil", "far weaker"}, id="shorted coil"),
    pytest.param(lambda hz: np.full(hz.shape, -28.0), {"far weaker"}, id="volume nearly down"),
]
"""R8: first-order sections and levels worked out under simulator.ailments."""


@pytest.mark.parametrize("setting", PLACES)
@pytest.mark.parametrize(("change", "codes"), FAULTS)
def test_a_fault_is_found_where_it_is(change, codes, setting):
    found = findings(plucks(wrong={setting: change}))
    assert [f.setting for f in found] == [setting]
    assert found[0].code in codes
    assert 0.9 <= found[0].sure <= 1.0
    assert found[0].detail_db > 5


def test_a_tone_knob_down_on_one_setting():
    found = findings(plucks(wrong={"middle": lambda hz: tone_down_db(hz, 500.0)}, repeats=8))
    assert [(f.code, f.setting) for f in found] == [("dull", "middle")]


@pytest.mark.parametrize("loss", [3.0, 6.0])
def test_a_weaker_make_is_no_fault(loss):
    """Makers' differences: one pickup some dB weaker is nothing to report."""
    assert findings(plucks(wrong={"neck": lambda hz: np.full(hz.shape, -loss)})) == ()


def test_a_knob_that_all_share_cannot_be_heard():
    """The volume for all: levels alone say nothing, the person has to be asked."""
    quiet = {name: (lambda hz: np.full(hz.shape, -30.0)) for name in PLACES}
    assert findings(plucks(wrong=quiet)) == ()


@pytest.mark.parametrize(("a", "b"), [("bridge", "neck"), ("neck", "middle")])
def test_a_selector_that_was_not_moved(a, b):
    found = findings(plucks(sounding={a: b}, repeats=5))
    assert ("twin settings", {a, b}) in [(f.code, {f.setting, f.other}) for f in found]
    assert all(f.code != "twin settings" or {f.setting, f.other} == {a, b} for f in found)


def test_one_pluck_each_is_not_enough_for_twins():
    one = [p for p in plucks(sounding={"neck": "bridge"}, repeats=1) if p.string == "A2"]
    assert all(f.code != "twin settings" for f in findings(one))


def test_twins_by_a_dead_pickup_are_explained_by_it():
    """Both and bridge alike because the neck hardly sounds: one finding, the neck's."""
    on = {"bridge": ("bridge",), "neck": ("neck",), "both": ("bridge", "neck")}
    dead = {"neck": lambda hz: high_pass_db(hz, 1500.0) - 34}
    found = findings(plucks(on, wrong=dead, sounding={"both": "bridge"}, repeats=5))
    assert [f.setting for f in found] == ["neck"]


SPLIT = [
    # hum in dB by setting; P1, P2: two coils wound against each other cancel hum, one of them does not
    pytest.param(
        {"bridge": -60.0, "neck": -61.0, "both": -80.0}, True, id="like a single coil, and another is quiet"
    ),
    pytest.param({"bridge": -60.0, "neck": -78.0, "both": -66.0}, False, id="quiet itself"),
    pytest.param(
        {"bridge": -60.0, "neck": -60.0, "both": -60.0}, False, id="the same everywhere: buzz by capacitance"
    ),
    pytest.param({"bridge": -60.0, "neck": -70.0, "both": -85.0}, False, id="far below the single coil"),
    pytest.param({"bridge": -60.0}, False, id="not measured"),
    pytest.param({}, False, id="nothing measured"),
]


@pytest.mark.parametrize(("hum", "suspected"), SPLIT)
def test_two_coils_that_hum(hum, suspected):
    on = {"bridge": ("bridge",), "neck": ("neck",), "both": ("bridge", "neck")}
    found = findings(plucks(on, coils={"neck": 2}), hum_db=hum)
    assert [f.setting for f in found if f.code == "hums although it has two coils"] == ["neck"] * suspected


@pytest.mark.parametrize(("weaker_db", "suspected"), [(8.0, True), (0.0, False)])
def test_two_of_two_coils_and_one_hums(weaker_db, suspected):
    """Without a single coil to compare with, the one that hums has to be weaker on the strings too."""
    on = {"bridge": ("bridge",), "neck": ("neck",)}
    weak = {"neck": lambda hz: np.full(hz.shape, -weaker_db)}
    heard = plucks(on, coils={"bridge": 2, "neck": 2}, wrong=weak)
    found = findings(heard, hum_db={"bridge": -80.0, "neck": -62.0})
    assert [f.code for f in found] == ["hums although it has two coils"] * suspected


@settings(settings.get_profile("dsp"), max_examples=4)
@given(gain_db=st.floats(-40, 20), pick=st.sampled_from(["bridge", "neck"]), seed=st.integers(0, 3))
def test_gain_and_order_change_nothing(gain_db, pick, seed):
    heard = plucks(wrong={pick: lambda hz: high_pass_db(hz, 1500.0) - 34}, repeats=2, seed=seed)
    plain = findings(heard)
    louder = findings([replace(p, levels_db=p.levels_db + gain_db) for p in heard])
    backwards = findings(heard[::-1])
    for other in (louder, backwards):
        assert [(f.code, f.setting) for f in other] == [(f.code, f.setting) for f in plain]
        assert [f.sure for f in other] == pytest.approx([f.sure for f in plain], abs=1e-3)


def test_noise_gives_nothing():
    """Levels that are nothing but noise, none of them usable; and no plucks at all."""
    nothing = [replace(p, usable=np.zeros(12, dtype=bool)) for p in plucks()]
    assert findings(nothing) == ()
    assert findings([]) == ()
    unread = [replace(p, levels_db=np.full(12, np.nan)) for p in nothing]
    assert findings(unread) == ()


def test_a_fundamental_under_the_noise_is_missing_too():
    """A bound counts as a reading where the other settings have much more."""
    heard = plucks(wrong={"neck": lambda hz: high_pass_db(hz, 900.0)})
    buried = [
        replace(p, usable=p.usable & (N > 3), levels_db=np.where(N > 3, p.levels_db, -58.0))
        if p.setting == "neck"
        else p
        for p in heard
    ]
    unread = [replace(p, levels_db=np.where(p.usable, p.levels_db, np.nan)) for p in buried]
    assert [(f.code, f.setting) for f in findings(buried)] == [("fundamental missing", "neck")]
    assert findings(unread) == ()


WRONG = [
    pytest.param({"levels_db": np.zeros(5)}, "one level and one flag", id="shapes"),
    pytest.param(
        {"levels_db": np.full(12, np.nan), "usable": np.ones(12, dtype=bool)}, "must be a number", id="NaN"
    ),
    pytest.param({"f0_hz": 0.0}, "no pitch", id="pitch"),
]


@pytest.mark.parametrize(("changed", "says"), WRONG)
def test_impossible_plucks_are_refused(changed, says):
    with pytest.raises(SignalError, match=says):
        replace(plucks(repeats=1)[0], **changed)
