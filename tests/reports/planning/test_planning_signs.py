"""The signs that a plan starts from, coil by coil, from belief."""

from __future__ import annotations

import pytest
from planning_jobs import on

from capture.job import Job, Pickup
from reports.belief.factors import product_factor
from reports.belief.ledger import Ledger, Piece, now
from reports.belief.summing import Belief
from reports.planning.wiring import signs_now, wiring_plan
from reports.wires import Seen, follow

STRONG = 8.0
JOB = Job(
    pickups=(Pickup(name="single"), Pickup(name="humbucker", coils=2, fitted=False)),
    settings=(on("split", "single", ("humbucker", 1), quiet=True),),
)


def believed(*, string, winding):
    """Belief that the pickups are alike on the strings, and coil 1 alike in winding, as the signs say."""
    ledger = Ledger(follow(JOB, ()))
    (coil,), _ = ledger.sign_of(Seen("humbucker", 1, False, 0, True, False), letter="w")
    about = frozenset(("single", "humbucker"))
    s = product_factor((now("single"), now("humbucker")), string * STRONG)
    ledger.pieces.append(Piece("paired pluck", (s,), about, takes=("t001",)))
    if winding:
        w = product_factor((now("single", letter="w"), coil), winding * STRONG)
        ledger.pieces.append(Piece("hum", (w,), about, takes=("t002",), about="w"))
    return Belief(ledger)


@pytest.mark.parametrize("string", [1, -1])
@pytest.mark.parametrize("winding", [1, -1, 0])
def test_a_split_coil_is_known_by_its_own_winding(string, winding):
    belief = believed(string=string, winding=winding)
    signs = signs_now(JOB, belief)
    assert signs.s == {"single": 1, "humbucker": string}
    assert signs.coil_w == ({("humbucker", 1): winding} if winding else {})
    assert signs.coil_s == {}
    (proof,) = wiring_plan(JOB, follow(JOB, ()), signs, ask={}).proof
    assert proof.aim_met is True
    assert proof.s_before == (1, string)
    assert (proof.hum_cancels is None) == (winding == 0)
