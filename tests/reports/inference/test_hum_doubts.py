"""What hum takes of one job share: the field at each pickup, the way in, and the place where they were made.

A field that points opposite ways at two pickups turns every method over (a dipole's field does on its two
sides: derived); hum by capacitance ignores the winding (sources R2).
"""

from __future__ import annotations

import numpy as np
import pytest

from capture.job import Job, Member, Pickup, Setting
from capture.log import Take, TakeFields
from dsp.methods.hum import NUMBERS, HumLines
from reports.evidence.leads import lead_history
from reports.evidence.results import ChannelSource, SettingHum, SignTable, TakeResult
from reports.inference.hum_doubts import place_of_take, turned_nats
from reports.inference.posterior import gather_evidence
from reports.messages.sentences import say
from reports.model.gestures import HUM_PHASE
from reports.model.verdict import LIKELY_FROM, SETTLED_FROM
from reports.verdict.advice import hum_next_for

TWO = ("bridge", "neck")
JOB = Job(
    pickups=tuple(Pickup(name=name) for name in TWO),
    settings=(Setting(name="both", on=tuple(Member(pickup=name) for name in TWO)),),
)
PROFILE = np.array([1, 0.2, 0.45, 0.25, 0.13])
NATS = 4.0


def take(number, inputs, where=None):
    return TakeFields("hum", inputs, rig="box", where=where).entry(kind="take", id=f"t{number:03}")


def lines(db):
    return HumLines(50.0, NUMBERS, PROFILE * 10 ** (db / 20) + 0j, np.full(5, 1e-3), 0.0, 2.0, 0.0, 0.005)


def by_level(both_db, places=(None,), *, turned_db=0.0):
    """Two rounds a place of hum on bridge, both and neck; at each next place softer by so much."""
    results: list[TakeResult] = []
    for k, where in enumerate(places):
        for name, db in (("bridge", 0.0), ("both", both_db), ("neck", 0.0)) * 2:
            entry = take(len(results), (name,), where)
            heard = (SettingHum(name, 0, lines(db - k * turned_db)),)
            results.append(TakeResult(entry, hums=heard))
    return results


def at_once(same, places=(None,), *, times=3):
    """Takes on two inputs at once, of windings that are the ``same`` or not."""
    table = np.array([[0.0, -NATS], [-NATS, 0.0]])
    results = []
    for where in places:
        for _ in range(times):
            sources = tuple(ChannelSource(n, None, False, 0, False) for n in TWO)
            heard = SignTable(HUM_PHASE, "w", sources, table if same else table[::-1])
            results.append(TakeResult(take(len(results) + 50, TWO, where), tables=(heard,)))
    return results


def believed(results):
    entries = [one.entry for one in results]
    return gather_evidence(JOB, lead_history(JOB, entries), entries, results).posterior


def cancels(results):
    p = believed(results).hum_cancels(*TWO)
    assert p is not None
    return p


PLACES = ("on the bench", "2 m beyond the headstock, on its edge")


def test_two_ways_of_listening_at_one_place_are_never_settled():
    """Both hear one field: a transformer between the pickups turns both over."""
    p = cancels([*by_level(-25), *at_once(False)])
    assert LIKELY_FROM < p < SETTLED_FROM
    assert LIKELY_FROM < 1 - cancels([*by_level(0), *at_once(True)]) < SETTLED_FROM


def test_another_place_lifts_that():
    posterior = believed([*by_level(-25, PLACES), *at_once(False, PLACES)])
    found = posterior.assess(lambda one: one.hum_cancels(*TWO))
    assert found.standing == "settled" and found.p > SETTLED_FROM


def test_levels_alone_are_not_settled_by_another_place():
    """A hand or a heater that goes with a setting goes with it there too."""
    assert LIKELY_FROM < cancels(by_level(-25, PLACES)) < SETTLED_FROM


def test_places_that_contradict_each_other_are_no_answer():
    p = cancels([*at_once(False, PLACES[:1]), *at_once(True, PLACES[1:])])
    assert 1 - LIKELY_FROM < p < LIKELY_FROM


@pytest.mark.parametrize("same_place", ["On the  bench", "on the bench "])
def test_the_same_words_are_the_same_place(same_place):
    once = cancels(at_once(False, PLACES[:1], times=6))
    assert cancels(at_once(False, (PLACES[0], same_place))) == pytest.approx(once, abs=1e-9)


def test_levels_of_two_places_are_not_compared():
    """Singles at one place and the sum at another say nothing of each other."""
    first = [one for one in by_level(-25) if one.hums[0].setting != "both"]
    there = [one for one in by_level(-25, PLACES[1:]) if one.hums[0].setting == "both"]
    results = [
        *first,
        *(TakeResult(take(90 + k, ("both",), PLACES[1]), hums=o.hums) for k, o in enumerate(there)),
    ]
    assert believed(results).hum_cancels(*TWO) is None


def test_a_change_of_level_proves_no_field():
    """R2: hum by capacitance changes by as much when a hand or a lamp comes nearer."""
    still = cancels([*by_level(0), *at_once(True)])
    louder = [
        TakeResult(take(80 + k, (name,)), hums=(SettingHum(name, 0, lines(-9.0)),))
        for k, name in enumerate(TWO)
    ]
    assert cancels([*by_level(0), *at_once(True), *louder]) >= still - 0.005


def test_a_turn_that_was_said_speaks_a_little_where_all_change_alike():
    """A field has a null as the guitar is turned, buzz has none (practice)."""
    alike = [{"bridge": 0.0, "neck": 1.0}, {"bridge": -16.0, "neck": -15.0}]
    assert turned_nats(alike) == pytest.approx(2.0)
    assert turned_nats([{"bridge": 0.0, "neck": 1.0}, {"bridge": -5.0, "neck": -4.0}]) == 0
    assert turned_nats([{"bridge": 0.0, "neck": 1.0}, {"bridge": -16.0, "neck": -8.0}]) == 0, "a hand"
    least = turned_nats([{"bridge": 0.0, "neck": 0.0}, {"bridge": -10.5, "neck": -14.0}])
    assert least == pytest.approx(1.0), "half way from 6 to 15 dB: the setting that changed least tells"
    assert turned_nats([{"bridge": 0.0}, {"bridge": -16.0}]) == 0
    assert turned_nats(alike[:1]) == 0


def test_a_turn_that_was_said_makes_alike_surer_and_against_no_surer():
    """Hum by capacitance looks alike, so what speaks against it speaks for alike alone."""
    alike, against = (
        [cancels(by_level(db, PLACES, turned_db=turned)) for turned in (0.0, 16.0)] for db in (0.0, -25.0)
    )
    assert alike[1] < alike[0] - 0.005
    assert against[1] == pytest.approx(against[0], abs=0.002)


def test_the_place_is_read_back_from_the_log():
    said = take(1, ("bridge",), " On its EDGE ")
    assert Take.model_validate(said.model_dump()).where == " On its EDGE "
    assert place_of_take(said) == "on its edge"
    assert place_of_take(take(2, ("bridge",))) == ""


def test_a_channel_turned_over_turns_the_answer_over():
    """R4; not quite: only "wound alike" may be hum by capacitance."""
    assert cancels(at_once(False)) == pytest.approx(1 - cancels(at_once(True)), abs=0.04)


@pytest.mark.parametrize(
    ("results", "kind"),
    [
        pytest.param(at_once(False), "field differs", id="one place: another one"),
        pytest.param(at_once(True), "capacitive hum", id="alike: a turn"),
        pytest.param(at_once(False, PLACES), None, id="settled"),
    ],
)
def test_what_would_make_it_surer(results, kind):
    posterior = believed(results)
    found = posterior.assess(lambda one: one.hum_cancels(*TWO))
    check = hum_next_for(posterior, *TWO, standing=found.standing)
    assert (check.error.kind if check else None) == kind
    if check:
        assert "level axis" in say(check) or "beyond one end" in say(check)
