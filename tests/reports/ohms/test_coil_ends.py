"""Which leads are the ends of one coil: readings made from a known structure, and the structure found again.

Expected values are by construction: readings are worked out from resistances laid between leads.
"""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.job import Pickup
from capture.log import Ohms
from reports.messages.sentences import say
from reports.ohms.coil_ends import find_coils, ohms_remarks

TWO_COILS = Pickup(name="neck", coils=2, fitted=False)
ONE_COIL = Pickup(name="neck", coils=1, fitted=False)
OPEN = None
FOUR = [
    ("a", "b", 4.1),
    ("c", "d", 4.0),
    ("a", "c", OPEN),
    ("a", "d", OPEN),
    ("b", "c", OPEN),
    ("b", "d", OPEN),
]


def readings(*rows):
    return [
        Ohms(id=f"r{k:03d}", pickup="neck", between=(a, b), kohm=kohm)
        for k, (a, b, kohm) in enumerate(rows, start=1)
    ]


def found(*rows, pickup=TWO_COILS):
    return find_coils(pickup, readings(*rows))


def remarks(*rows, pickup=TWO_COILS):
    """The remarks on readings, by their code."""
    entries = readings(*rows)
    return {note.code: note for note in ohms_remarks(pickup, entries, find_coils(pickup, entries))}


def test_four_leads_two_coils():
    ends = found(*FOUR)
    assert ends.coils == (("a", "b"), ("c", "d"))
    assert ends.kohm == (4.1, 4.0)
    assert ends.missing == ends.contradictions == ends.joints == ()


def test_one_reading_across_is_enough_besides_the_two_coils():
    ends = found(*FOUR[:3])
    assert ends.coils == (("a", "b"), ("c", "d"))
    assert ends.missing == ()


def test_two_coils_without_a_reading_across_may_still_be_joined():
    ends = found(*FOUR[:2])
    assert ends.missing == (("a", "c"),)


def test_three_leads_the_sum_tells_the_joint():
    ends = found(("a", "b", 4.1), ("b", "c", 4.0), ("a", "c", 8.1))
    assert ends.coils == (("a", "b"), ("b", "c"))
    assert ends.joints == (("b",),)
    assert ends.outer == ("a", "c")


def test_three_leads_with_one_pair_unmeasured_ask_for_it():
    ends = found(("a", "b", 4.1), ("b", "c", 4.0))
    assert ends.missing == (("a", "c"),)


@pytest.mark.parametrize("shield", [(), (("a", "shield", OPEN), ("b", "shield", OPEN))])
def test_two_ends_alone_may_hide_a_second_coil(shield):
    note = remarks(("a", "b", 8.1), *shield)["two leads alone"]
    assert say(note) == (
        "Two leads alone: whether there are two coils between a and b, joined inside, no ohmmeter tells."
    )
    assert "two leads alone" not in remarks(("a", "b", 8.1), *shield, pickup=ONE_COIL)


def test_two_leads_are_one_coil_or_two_joined_inside():
    ends = found(("a", "b", 8.1))
    assert ends.coils == (("a", "b"),)
    assert not ends.pair_may_be_part


@pytest.mark.parametrize("third", ["shield", "bare", "plain"])
def test_two_leads_and_a_shield_are_the_whole_pickup(third):
    ends = found(("a", "b", 8.1), ("a", third, OPEN), ("b", third, OPEN))
    assert ends.coils == (("a", "b"),)
    assert not ends.pair_may_be_part


def test_a_third_lead_on_nothing_may_be_the_shield_under_another_name():
    noted = remarks(("a", "b", 8.1), ("a", "plain", OPEN), ("b", "plain", OPEN))
    assert noted["on no coil"].leads == ("plain",)


@pytest.mark.parametrize("shield", ["shield", "bare"])
def test_the_shield_is_joined_to_a_lead(shield):
    rows = (*FOUR, ("a", shield, OPEN), ("d", shield, 0.01), ("c", shield, 4.0))
    ends = found(*rows)
    assert ends.coils == (("a", "b"), ("c", "d"))
    assert ends.shield_on == "d"
    assert remarks(*rows)["shield on a lead"].leads == ("d",)


def test_of_two_leads_that_are_one_either_is_the_end_of_the_coil():
    ends = found(*FOUR, ("a", "e", OPEN), ("d", "e", 0.01), ("c", "e", 4.0))
    assert ends.joined == (("d", "e"),)
    assert ends.coil_at("c", "e") == ends.coil_at("c", "d") == (2, False)


def test_fingers_on_the_clips_count_as_open():
    rows = (FOUR[0], FOUR[1], ("a", "c", 480.0))
    assert found(*rows).coils == (("a", "b"), ("c", "d"))
    note = remarks(*rows)["hands on the clips"]
    assert (note.entry, note.leads, note.kohm) == ("r003", ("a", "c"), (480.0,))


def test_a_broken_coil_leaves_the_other():
    rows = [("a", "b", 4.1), *((a, b, OPEN) for a, b in combinations("abcd", 2) if (a, b) != ("a", "b"))]
    assert found(*rows).coils == (("a", "b"),)
    assert remarks(*rows)["no path"].leads == ("c", "d")


@pytest.mark.parametrize("k", range(2, 6))
def test_one_wrong_reading_of_six_is_named(k):
    rows = [row if i != k else (*row[:2], 4.1) for i, row in enumerate(FOUR)]
    ends = found(*rows)
    last = ends.contradictions[-1]
    assert (last.code, last.entries) == ("probably wrong", (f"r{k + 1:03d}",))
    assert (last.leads, last.kohm) == (rows[k][:2], 4.1)
    assert say(last).startswith(f"r{k + 1:03d} ({rows[k][0]} to {rows[k][1]}: 4.1 k)")
    assert ends.missing == ()


def test_where_any_of_three_may_be_wrong_all_are_named():
    ends = found(("a", "b", 4.1), ("b", "c", 4.1), ("a", "c", OPEN))
    assert tuple(map(say, ends.contradictions)) == (
        "r001, r002 and r003 cannot all be true of neck.",
        "One of r001, r002 and r003 is wrong; measure each of these again, hands off the clips.",
    )


def test_two_readings_of_one_pair_that_differ_are_both_named():
    ends = found(("a", "b", 8.1), ("a", "b", 6.1), pickup=ONE_COIL)
    last = ends.contradictions[-1]
    assert (last.code, last.entries) == ("one is wrong", ("r001", "r002"))


@pytest.mark.parametrize(("different", "coils"), [(4, (("a", "b"),)), (5, ())])
def test_where_nearly_all_must_be_wrong_no_ends_are_made_up(different, coils):
    """Three wrong readings are a bad day; four are another pickup or another meter."""
    ends = found(*(("a", "b", 4.1 + 2 * k) for k in range(different)), pickup=ONE_COIL)
    assert ends.coils == coils
    assert ends.contradictions


def test_nothing_measured_says_nothing():
    ends = found()
    assert ends.coils == ends.contradictions == ()
    assert not ends.pair_may_be_part


def test_readings_of_another_pickup_do_not_count():
    other = [r.model_copy(update={"pickup": "bridge"}) for r in readings(*FOUR)]
    assert find_coils(TWO_COILS, other).coils == ()


KOHM = st.floats(min_value=1.0, max_value=15.0)


@settings(derandomize=True, deadline=None, max_examples=40, database=None)
@given(
    order=st.permutations("pqrs"), first=KOHM, second=KOHM, slips=st.lists(st.floats(-0.02, 0.02), min_size=2)
)
def test_all_readings_of_two_coils_apart_give_them_back(order, first, second, slips):
    a, b, c, d = order
    coils = {frozenset((a, b)): first * (1 + slips[0]), frozenset((c, d)): second * (1 + slips[1])}
    ends = found(*((x, y, coils.get(frozenset((x, y)))) for x, y in combinations("pqrs", 2)))
    assert {frozenset(pair) for pair in ends.coils} == set(coils)
    assert ends.missing == ends.contradictions == ()


@settings(derandomize=True, deadline=None, max_examples=40, database=None)
@given(order=st.permutations("pqr"), first=KOHM, second=KOHM)
def test_all_readings_of_two_coils_joined_give_the_joint_back(order, first, second):
    a, joint, c = order
    kohm = {frozenset((a, joint)): first, frozenset((joint, c)): second, frozenset((a, c)): first + second}
    ends = found(*((x, y, kohm[frozenset((x, y))]) for x, y in combinations("pqr", 2)))
    assert ends.joints == ((joint,),)
    assert not ends.contradictions


@settings(derandomize=True, deadline=None, max_examples=60, database=None)
@given(data=st.data(), joined=st.booleans(), first=KOHM, second=KOHM, on=st.sampled_from([None, 0, 1, 2]))
def test_measuring_what_is_asked_for_ends_at_the_coils(data, joined, first, second, on):
    """From any first readings that name all leads; ``on``: the lead that the shield is joined to."""
    leads = ["p", "q", "r"] if joined else ["p", "q", "r", "s"]
    coils = (("p", "q"), ("q", "r")) if joined else (("p", "q"), ("r", "s"))
    kohm = {frozenset(coils[0]): first, frozenset(coils[1]): second}
    if joined:
        kohm[frozenset(("p", "r"))] = first + second
    point = {lead: lead for lead in leads} | {"shield": "shield" if on is None else leads[on]}

    def read(a, b):
        return (a, b, 0.0 if point[a] == point[b] else kohm.get(frozenset((point[a], point[b]))))

    every = list(combinations([*leads, "shield"], 2))
    count = data.draw(st.integers(0, len(every)))
    measured = {*data.draw(st.permutations(every))[:count], *((lead, "shield") for lead in leads)}
    rows = [read(*pair) for pair in sorted(measured)]
    ends = found(*rows)
    for _ in every:
        if ends.missing:
            rows.append(read(*ends.missing[0]))
            ends = found(*rows)
    assert {frozenset(pair) for pair in ends.coils} == {frozenset(pair) for pair in coils}
    assert ends.shield_on == (None if on is None else leads[on])
    assert ends.missing == ends.contradictions == ()
