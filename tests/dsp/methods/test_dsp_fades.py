"""Two volumes and no selector: one turned up and the other down while a string rings."""

import numpy as np
import pytest
from dsp_parts import BRIDGE, NECK, SCALE_MM, TURNED, swept
from simulator.volumes import TurnSpec

from dsp.methods.switch import analyse_switch
from dsp.model.settings import Mix, Place, Source

RATE = 16_000
MIXES = tuple(Mix((Source(k, Place(x, SCALE_MM)),)) for k, x in enumerate((BRIDGE, NECK)))
SLOW = (TurnSpec(1, 0.5, 1.0, 0.7, 0.2), TurnSpec(0, 1.7, 0.05, 0.6))
"""In two goes, and at last not quite home."""


def heard(x, mixes=MIXES):
    return analyse_switch(x, rate=RATE, mixes=mixes, count=2, named_hz=110.0, knobs=True)


def ratio(result):
    table = result.table
    return np.logaddexp(table[0, 0], table[1, 1]) - np.logaddexp(table[0, 1], table[1, 0])


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("turns", [TURNED, SLOW], ids=["tidy", "slow"])
def test_one_up_and_the_other_down_is_told_by_construction(sign, turns):
    result = heard(swept(sign, turns, ringing_s=3.2 if turns is SLOW else 2.5))
    assert result.faults == ()
    assert sign * ratio(result) > 1.0
    assert sign * result.step_ratios[0] > 1.0


@pytest.mark.parametrize("sign", [1, -1])
def test_a_divider_that_is_left_at_two_is_told_too(sign):
    turns = (TurnSpec(1, 0.6, 1.0, 0.25), TurnSpec(0, 1.3, 0.2, 0.25))
    assert sign * ratio(heard(swept(sign, turns, wired="divider", down=0.2))) > 1.0


def test_the_recording_turned_over_changes_nothing_and_an_entry_reversed_turns_it_over():
    x = swept(-1)
    assert ratio(heard(-3.0 * x)) == pytest.approx(ratio(heard(x)), abs=1e-6)
    turned = (MIXES[0], Mix((Source(1, MIXES[1].sources[0].place, reversed=True),)))
    assert ratio(heard(x, turned)) == pytest.approx(-ratio(heard(x)), abs=1e-6)


def test_a_sweep_that_ends_where_it_began_is_no_sweep():
    back = (TurnSpec(1, 0.6, 1.0, 0.25), TurnSpec(1, 1.3, 0.0, 0.25))
    for sign in (1, -1):
        assert [f.code for f in heard(swept(sign, back)).faults] == ["not switched"]


def test_a_string_that_dies_before_the_second_knob_says_nothing():
    x = swept(-1).copy()
    x[round(1.6 * RATE) :] *= 1e-4
    assert [f.code for f in heard(x).faults] == ["string died"]
