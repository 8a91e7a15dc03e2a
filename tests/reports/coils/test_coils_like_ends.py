"""How two coils are joined, against every way round they can have been wound; expected by construction.

Truth: each coil has a hot end, the one that on the tip is in phase with the reference.
"""

from itertools import product

import pytest

from reports.plan.joints import joining

COILS = (("a", "b"), ("c", "d"))
SURE = 0.99


def asked(hot, *, coils=COILS, sure=SURE, **more):
    """The joining for coils whose hot ends are these."""
    straight = [ends[0] == end for ends, end in zip(coils, hot, strict=True)]
    like = sure if straight[0] == straight[1] else 1 - sure
    first = sure if straight[0] else 1 - sure
    said = {"p_first": first, "reference": "bridge", **more}
    return joining("neck", coils, like, **said)


@pytest.mark.parametrize("hot", list(product("ab", "cd")))
def test_series_adds_and_is_in_phase(hot):
    join = asked(hot)
    cold = {"a", "b", "c", "d"} - set(hot)
    assert {join.hot, join.link[1]} == set(hot)
    assert {join.ground, join.link[0]} == cold
    assert {join.hot, join.link[0]} in [set(c) for c in COILS]
    assert join.p == pytest.approx(SURE * SURE)


def test_the_words():
    join = asked(("a", "c"))
    assert join.why == (
        "a and c are like ends: on a lift both coils go the same way with these on the tip. "
        "Join b and c; a is hot, d is ground: so both coils add on the strings, in phase with bridge."
    )
    assert "In parallel instead: a and c together are hot, b and d together are ground." in join.also
    assert "Link to ground leaves the coil of a and b." in join.also
    assert "Link to hot leaves the coil of c and d." in join.also


@pytest.mark.parametrize(
    ("p_like", "word"), [(None, "Record three lifts"), (0.5, "lean too little"), (0.89, "lean")]
)
def test_unsure_of_like_ends_joins_nothing(p_like, word):
    join = joining("neck", COILS, p_like, p_first=SURE, reference="bridge")
    assert (join.hot, join.ground, join.link, join.like_ends, join.roles) == (None, None, None, None, {})
    assert word in join.ask


@pytest.mark.parametrize(
    ("p_first", "word"), [(None, "Record three lifts on bridge"), (0.8, "between a and b lean")]
)
def test_unsure_of_the_reference_names_like_ends_alone(p_first, word):
    join = joining("neck", COILS, SURE, p_first=p_first, reference="bridge")
    assert join.hot is None
    assert join.like_ends == ("a", "c")
    assert word in join.ask


def test_both_answers_together_have_to_be_likely():
    join = joining("neck", COILS, 0.93, p_first=0.93, reference="bridge")
    assert join.hot is None
    assert joining("neck", COILS, 0.93, p_first=0.93, p_all=0.92, reference="bridge").hot == "a"


def test_the_reference_itself_may_be_either_way_round():
    join = joining("neck", COILS, SURE)
    assert join.hot == "a"
    assert join.why.endswith("so this way round is as good as the other.")


@pytest.mark.parametrize("lead", ["b", "d"])
def test_a_shield_on_a_cold_end_makes_it_ground(lead):
    join = asked(("a", "c"), shield_on=lead)
    assert join.ground == join.shield == lead
    assert any(s.startswith(f"The shield lies on {lead}, so that lead is ground") for s in join.also)


def test_a_shield_on_a_hot_end_is_to_be_parted():
    join = asked(("a", "c"), shield_on="a")
    assert any("part the two first" in s for s in join.also)


def test_a_bare_lead_is_shield_and_goes_to_ground():
    join = asked(("a", "c"), shields=("bare",))
    assert join.roles == {"a": "hot", "b": "link", "c": "link", "d": "ground", "bare": "shield"}
    assert "The shield goes to ground, whichever lead that is." in join.also


@pytest.mark.parametrize(("hot", "wired"), [(("a", "b"), ("a", "c")), (("b", "c"), ("c", "a"))])
def test_joined_inside_so_that_both_add(hot, wired):
    join = asked(hot, coils=(("a", "b"), ("b", "c")), inside="b")
    assert (join.hot, join.ground) == wired
    assert join.link is None
    assert join.roles["b"] == "link"


@pytest.mark.parametrize("hot", [("a", "c"), ("b", "b")])
def test_joined_inside_so_that_they_oppose(hot):
    join = asked(hot, coils=(("a", "b"), ("b", "c")), inside="b")
    assert join.hot is None
    assert "a and c together against b" in join.ask
