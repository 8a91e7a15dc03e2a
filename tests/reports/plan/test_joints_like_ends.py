"""How two coils are joined, against every way round they can have been wound; expected by construction.

Truth: each coil has a hot end, the one that on the tip is in phase with the reference.
"""

from itertools import product

import pytest

from reports.messages.sentences import say
from reports.ohms.coil_ends import CoilEnds
from reports.plan.joints import CoilRelation, joint_of

COILS = (("a", "b"), ("c", "d"))
SURE = 0.99


def joint(p_alike, p_first=None, p_both=None, *, coils=COILS, inside=None, shield_on=None, **more):
    """The joint of two coils from these probabilities; ``inside``: the lead at which they are joined."""
    joints = () if inside is None else ((inside,),)
    ends = CoilEnds("neck", coils, joints, shield_on)
    return joint_of(ends, CoilRelation(p_alike, p_first, p_both), **more)


def joint_for(hot, *, coils=COILS, **more):
    """The joint of coils whose hot ends are these."""
    straight = [ends[0] == end for ends, end in zip(coils, hot, strict=True)]
    p_alike = SURE if straight[0] == straight[1] else 1 - SURE
    p_first = SURE if straight[0] else 1 - SURE
    return joint(p_alike, p_first, SURE * SURE, coils=coils, **{"reference": "bridge", **more})


def advice(one):
    return {note.code: note for note in one.advice}


@pytest.mark.parametrize("hot", list(product("ab", "cd")))
def test_series_adds_and_is_in_phase(hot):
    one = joint_for(hot)
    hot_lead, inner, outer, ground = one.why.chain
    assert {hot_lead, outer} == set(hot)
    assert {ground, inner} == {"a", "b", "c", "d"} - set(hot)
    assert {hot_lead, inner} in [set(c) for c in COILS]
    assert one.p == pytest.approx(SURE * SURE)


def test_the_words():
    one = joint_for(("a", "c"))
    assert say(one.why) == (
        "a and c are like ends: on a lift both coils go the same way with these on the tip. "
        "Join b and c; a is hot, d is ground: so both coils add on the strings, in phase with bridge."
    )
    sentences = [say(note) for note in one.advice]
    assert "In parallel instead: a and c together are hot, b and d together are ground." in sentences
    assert "Link to ground leaves the coil of a and b." in sentences
    assert "Link to hot leaves the coil of c and d." in sentences


@pytest.mark.parametrize(
    ("p_alike", "code"),
    [(None, "record lifts"), (0.5, "more lifts on both coils"), (0.89, "more lifts on both coils")],
)
def test_unsure_of_like_ends_joins_nothing(p_alike, code):
    one = joint(p_alike, SURE, reference="bridge")
    assert (one.why, one.roles) == (None, {})
    assert one.request.code == code


@pytest.mark.parametrize(
    ("p_first", "code", "reference"),
    [(None, "record lifts", "bridge"), (0.8, "more lifts on one coil", None)],
)
def test_unsure_of_the_reference_names_like_ends_alone(p_first, code, reference):
    one = joint(SURE, p_first, reference="bridge")
    assert one.roles == {}
    assert (one.why.like_ends, one.why.chain) == (("a", "c"), None)
    assert (one.request.code, one.request.coils, one.request.reference) == (code, (("a", "b"),), reference)


@pytest.mark.parametrize(("p_both", "known"), [(0.93 * 0.93, False), (0.92, True)])
def test_both_answers_together_have_to_be_likely(p_both, known):
    one = joint(0.93, 0.93, p_both, reference="bridge")
    assert (one.roles.get("a") == "hot", one.request is None) == (known, known)


def test_the_reference_itself_may_be_either_way_round():
    one = joint(SURE, p_both=SURE)
    assert one.roles["a"] == "hot"
    assert say(one.why).endswith("so this way round is as good as the other.")


@pytest.mark.parametrize("lead", ["b", "d"])
def test_a_shield_on_a_cold_end_makes_it_ground(lead):
    one = joint_for(("a", "c"), shield_on=lead)
    assert one.roles[lead] == "ground"
    assert advice(one)["shield makes ground"].leads == (lead,)


def test_a_shield_on_a_hot_end_is_to_be_parted():
    assert advice(joint_for(("a", "c"), shield_on="a"))["shield on another lead"].leads == ("a",)


def test_a_bare_lead_is_shield_and_goes_to_ground():
    one = joint_for(("a", "c"), shields=("bare",))
    assert one.roles == {"a": "hot", "b": "link", "c": "link", "d": "ground", "bare": "shield"}
    assert "shield to ground" in advice(one)


@pytest.mark.parametrize(("hot", "wired"), [(("a", "b"), ("a", "c")), (("b", "c"), ("c", "a"))])
def test_joined_inside_so_that_both_add(hot, wired):
    one = joint_for(hot, coils=(("a", "b"), ("b", "c")), inside="b")
    assert one.why.inside
    assert (one.why.chain[0], one.why.chain[-1]) == wired
    assert one.roles["b"] == "link"
    assert "in parallel" not in advice(one)


@pytest.mark.parametrize("hot", [("a", "c"), ("b", "b")])
def test_joined_inside_so_that_they_oppose(hot):
    one = joint_for(hot, coils=(("a", "b"), ("b", "c")), inside="b")
    assert one.roles == {}
    assert one.request.code == "coils oppose inside"
    assert "a and c together against b" in say(one.request)
