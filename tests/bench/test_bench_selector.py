import numpy as np
import pytest
from bench_parts import RATE, around, lines, pickup, seeded, setting, string
from simulator.hum import MainsSpec
from simulator.selector import SwitchSpec, selected
from simulator.strings import PluckSpec
from simulator.takes import hum, switch

from dsp import SignalError
from dsp.model.signs import CoilSigns

PLAIN = CoilSigns(1, 1)
TURNS = [
    pytest.param(PLAIN, 1, 1, id="R1: the same"),
    pytest.param(PLAIN.leads_exchanged(), -1, -1, id="R1: leads exchanged"),
    pytest.param(PLAIN.magnet_turned(), -1, 1, id="R1: magnet turned"),
]


@pytest.mark.parametrize(("other", "turns_string", "turns_hum"), TURNS)
def test_phases_over_a_switching(other, turns_string, turns_hum):
    """R5, `switch`: the string's partial turns with s, the mains line with w."""
    humming = around(mains=MainsSpec(field_v=1e-3), ringing_s=2.0)
    settings = (setting(pickup(PLAIN)), setting(pickup(other)))
    steady = string(detune_hz=0.0, body_loss=1.0)
    take = switch(seeded(1), steady, settings, PluckSpec(), humming, switching=[SwitchSpec(1.0, gap_s=0.01)])[
        :, 0
    ]
    for hz, turn in ((110.0, turns_string), (50.0, turns_hum)):
        middles = (0.9, 1.9)
        parts = [take[round((at - 0.4) * RATE) : round((at + 0.4) * RATE)] for at in middles]
        before, after = (lines(part, [hz])[0] for part in parts)
        cosine = np.real(after * np.conj(before)) / abs(after * before)
        assert cosine == pytest.approx(turn, abs=0.05)


@pytest.mark.parametrize(("other", "expected"), [(PLAIN, 1.0), (PLAIN.leads_exchanged(), -1.0)])
def test_hum_on_two_channels(other, expected):
    """R1: hum carries w alone."""
    humming = around(mains=MainsSpec(field_v=1e-3))
    take = hum(seeded(), (setting(pickup(PLAIN)), setting(pickup(other))), humming)
    assert np.corrcoef(take.T)[0, 1] == pytest.approx(expected, abs=1e-6)


def test_gap_pops_and_bounces():
    volts = np.stack([np.full(4000, 1.0), np.full(4000, 2.0)], axis=1)
    step = SwitchSpec(0.1, gap_s=0.05, bounces=2, bounce_s=0.01)
    heard = selected(seeded(), volts, [step], begin_s=0.1, rate=RATE)[:, 0]
    expected = [(0.19, 1.0), (0.22, 0.0), (0.255, 2.0), (0.265, 0.0), (0.275, 2.0), (0.285, 0.0), (0.3, 2.0)]
    assert [heard[round(at * RATE)] for at, _ in expected] == [value for _, value in expected]
    popped = selected(seeded(), volts, [SwitchSpec(0.1, pop_v=0.5)], begin_s=0.1, rate=RATE)[:, 0]
    assert np.ptp(popped[1590:1700]) > 1.1


def test_switchings_that_do_not_fit_are_refused():
    with pytest.raises(SignalError, match="0 switchings for 2 settings"):
        switch(
            seeded(), string(), [setting(pickup()), setting(pickup())], PluckSpec(), around(), switching=[]
        )
    with pytest.raises(SignalError, match="outside the take"):
        selected(seeded(), np.zeros((100, 2)), [SwitchSpec(1.0)], begin_s=0.0, rate=RATE)
