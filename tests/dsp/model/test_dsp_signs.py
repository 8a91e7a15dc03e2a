import itertools

import pytest

from dsp.model.signs import CoilSigns, hum_cancels, in_phase

COILS = [CoilSigns(w, m) for w in (1, -1) for m in (1, -1)]

# P1: "Assessing a Pickup's Polarity and Phase", Premier Guitar: sign = winding sense x magnet pole; two
# pickups are in phase when both differ or neither does; they cancel hum only when the windings differ.
# Columns: winding differs, magnet differs, in phase, hum cancels.
FOUR_CASES = {
    (False, False): (True, False),
    (True, False): (False, True),
    (False, True): (False, False),
    (True, True): (True, True),
}


@pytest.mark.parametrize(
    ("a", "b"),
    [
        pytest.param(a, b, id=f"{a.winding:+d}{a.magnet:+d} {b.winding:+d}{b.magnet:+d}")
        for a, b in itertools.product(COILS, COILS)
    ],
)
def test_sixteen_pairs(a, b):
    """P1."""
    expected = FOUR_CASES[a.winding != b.winding, a.magnet != b.magnet]
    assert (in_phase(a, b), hum_cancels(a, b)) == expected


CHANGES = [
    # P3: "Mod Garage: get a grip on pickup phase", Premier Guitar: winding is the sense at the leads.
    pytest.param(CoilSigns.leads_exchanged, (-1, 1, -1), id="P3 leads exchanged turn w and s"),
    # P2, common practice: hum does not depend on the magnet.
    pytest.param(CoilSigns.magnet_turned, (1, -1, -1), id="P2 magnet turned turns m and s"),
]


@pytest.mark.parametrize(("change", "turns"), CHANGES)
@pytest.mark.parametrize("coil", COILS, ids=str)
def test_what_a_change_turns(change, turns, coil):
    after = change(coil)
    before = (coil.winding, coil.magnet, coil.string)
    assert (after.winding, after.magnet, after.string) == tuple(
        x * t for x, t in zip(before, turns, strict=True)
    )
    assert change(after) == coil


@pytest.mark.parametrize("coil", COILS, ids=str)
def test_leads_exchanged_and_magnet_turned_make_the_quiet_partner(coil):
    """P1: the pair that is in phase and cancels hum is the one in which both differ."""
    partner = coil.leads_exchanged().magnet_turned()
    assert in_phase(coil, partner) and hum_cancels(coil, partner)
