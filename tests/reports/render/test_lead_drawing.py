"""The drawing of a pickup's leads: every lead once with its role, nothing over anything else."""

from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_parts import SVG, described, texts

from reports.render.lead_drawing import LeadPicture, lead_figure

SERIES = LeadPicture(
    "bridge",
    (("grey", "orange"), ("brown", "violet")),
    {"grey": "hot", "orange": "link", "brown": "link", "violet": "ground"},
    "none",
)
CASES = {
    "single": LeadPicture("neck", (("white", "black"),), {"white": "hot", "black": "ground"}, "none"),
    "own shield": LeadPicture(
        "neck", (("white", "black"),), {"white": "hot", "black": "ground", "bare": "shield"}, "own lead"
    ),
    "series": SERIES,
    "three leads": LeadPicture(
        "neck",
        (("red", "tap"), ("tap", "blue")),
        {"red": "hot", "tap": "link", "blue": "ground"},
        "on ground",
    ),
    "unknown": LeadPicture("neck", SERIES.coils, {}),
    "parallel": LeadPicture(
        "neck",
        SERIES.coils,
        {"grey": "hot", "brown": "hot", "orange": "ground", "violet": "ground"},
        "on ground",
    ),
    "hot on the second coil": LeadPicture(
        "neck",
        (("link A", "earthy"), ("hottest", "link B")),
        {"hottest": "hot", "earthy": "ground", "link A": "link", "link B": "link"},
    ),
    "joined inside": LeadPicture(
        "neck", (("red", "blue"), ("red", "blue")), {"red": "hot", "blue": "ground"}, "none"
    ),
    "no coils": LeadPicture("neck", (), {"red": "hot", "blue": "ground", "bare": "shield"}),
    "nothing": LeadPicture("neck", (), {}),
}
WORDS = {
    "hot": "hot -> tip",
    "ground": "ground -> sleeve",
    "link": "link: join and tape off",
    "shield": "shield -> ground",
}
every = pytest.mark.parametrize("picture", [pytest.param(p, id=name) for name, p in CASES.items()])


def leads_of(picture):
    return list(dict.fromkeys([*(end for pair in picture.coils for end in pair), *picture.roles]))


def labels(svg):
    """Lead to role as the drawing has them: the two texts at one place, one below the other."""
    column = [n for n in ElementTree.fromstring(svg).iter(f"{SVG}text") if n.attrib["x"] == "240"]
    column.sort(key=lambda n: float(n.attrib["y"]))
    return [(a.text, b.text) for a, b in zip(column[::2], column[1::2], strict=True)]


def of_class(svg, name):
    return [n for n in ElementTree.fromstring(svg).iter() if n.attrib.get("class") == name]


def boxes(svg):
    """Box of every text; 0.6 of the size a letter, which is about the mean of a plain bold face."""
    found = []
    for node in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        x, y, size = (float(node.attrib[k]) for k in ("x", "y", "font-size"))
        found.append((x, y - 0.78 * size, x + 0.6 * size * len(node.text or ""), y + 0.22 * size))
    return found


def assert_tidy(svg):
    _, _, width, height = (float(v) for v in ElementTree.fromstring(svg).attrib["viewBox"].split())
    placed = boxes(svg)
    for left, top, right, low in placed:
        assert left >= 0 and top >= 0 and right <= width and low <= height
    for a, b in combinations(placed, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (a, b)


@every
def test_every_lead_once_with_its_role(picture):
    shared = {"tap"} if "tap" in picture.roles else set()
    expected = {
        lead: "link: tape off" if lead in shared else WORDS.get(picture.roles.get(lead), "not known yet")
        for lead in leads_of(picture)
    }
    found = labels(lead_figure(picture))
    assert len(found) == len(expected)
    assert dict(found) == expected


@every
def test_texts_stand_apart_and_inside(picture):
    assert_tidy(lead_figure(picture))


@every
def test_joined_only_where_two_leads_are_links(picture):
    svg = lead_figure(picture)
    two = list(picture.roles.values()).count("link") == 2
    assert ("joined" in texts(svg)) == two
    assert len(of_class(svg, "joint")) == two
    assert ("are joined" in described(svg)[1]) == two


def test_the_bracket_runs_from_link_to_link_and_meets_no_other_lead():
    for name in ("series", "hot on the second coil"):
        roles = [role for _, role in labels(lead_figure(CASES[name]))]
        assert roles == [WORDS[r] for r in ("hot", "link", "link", "ground")]
        (bracket,) = of_class(lead_figure(CASES[name]), "joint")
        links = [n.attrib["d"].split()[1].split("H")[0] for n in of_class(lead_figure(CASES[name]), "link")]
        assert bracket.attrib["d"].split()[1] == "V".join(links)


def test_the_second_coil_keeps_its_number_where_it_stands_first():
    shown = texts(lead_figure(CASES["hot on the second coil"]))
    assert shown.index("coil 2") < shown.index("coil 1")


@every
def test_line_kinds_tell_roles_apart_and_no_colour_does(picture):
    svg = lead_figure(picture)
    root = ElementTree.fromstring(svg)
    colours = {n.attrib[k] for n in root.iter() for k in ("fill", "stroke") if k in n.attrib}
    assert colours <= {"#000", "none"}
    kinds = {
        (n.attrib["stroke-width"], n.attrib.get("stroke-dasharray")): role
        for role in (*WORDS, "unknown")
        for n in of_class(svg, role)
    }
    drawn = {role for role in (*WORDS, "unknown") if of_class(svg, role)}
    assert set(kinds.values()) == drawn
    earthed = [r for r in picture.roles.values() if r in ("ground", "shield")]
    assert len(of_class(svg, "earth")) == len(earthed)


def test_hot_is_the_thick_solid_line_and_ground_the_thick_dashed_one():
    svg = lead_figure(SERIES)
    (hot,), (ground,), links = (of_class(svg, role) for role in ("hot", "ground", "link"))
    assert "stroke-dasharray" not in hot.attrib
    assert "stroke-dasharray" in ground.attrib
    for link in links:
        assert "stroke-dasharray" not in link.attrib
        assert float(link.attrib["stroke-width"]) < float(hot.attrib["stroke-width"]) / 2


def test_a_shield_of_its_own_goes_to_ground_although_nobody_named_it():
    found = labels(lead_figure(LeadPicture("neck", SERIES.coils, SERIES.roles, "own lead")))
    assert found[-1] == ("bare or shield", "shield -> ground")
    assert len(found) == 5


@pytest.mark.parametrize(
    ("shield", "note"),
    [
        ("none", "shield: none"),
        ("on ground", "shield: joined to ground inside"),
        (None, "shield: not known yet"),
    ],
)
def test_a_shield_without_a_lead_is_told_below(shield, note):
    svg = lead_figure(LeadPicture("neck", SERIES.coils, SERIES.roles, shield))
    assert note in texts(svg)
    assert len(of_class(svg, "shield")) == (shield == "on ground")


def test_it_can_be_read_aloud():
    svg = lead_figure(SERIES)
    root = ElementTree.fromstring(svg)
    title, told = described(svg)
    assert root.attrib["role"] == "img"
    assert "bridge" in title
    assert "from grey to orange" in told
    assert "orange and brown are joined." in told
    for lead, role in SERIES.roles.items():
        assert f"{lead}: {WORDS[role]}." in told


def test_a_name_cannot_become_markup():
    bad = "<script>alert(1)</script>"
    svg = lead_figure(LeadPicture(bad, ((f"{bad}&", '"><b'),), {f"{bad}&": "hot"}))
    tags = {n.tag.removeprefix(SVG) for n in ElementTree.fromstring(svg).iter()}
    assert tags <= {"svg", "title", "desc", "g", "rect", "ellipse", "path", "circle", "text"}
    assert "<script" not in svg
    assert bad in texts(svg)
    assert "href" not in svg
    assert svg.count("http") == 1


def test_long_names_are_shortened_and_stand_whole_in_a_title():
    long = "lead with a very long description by somebody with time"
    svg = lead_figure(LeadPicture(long * 3, ((long, "W" * 40),), {long: "hot"}))
    titles = [n.text for n in ElementTree.fromstring(svg).iter(f"{SVG}title")]
    assert {long, "W" * 40, long * 3} <= set(titles)
    assert sum(t.endswith("…") for t in texts(svg)) == 3
    assert_tidy(svg)


NAMES = st.text(min_size=1, max_size=60)


@given(pickup=NAMES, leads=st.lists(NAMES, min_size=4, max_size=4, unique=True), data=st.data())
def test_any_typed_names_give_a_tidy_drawing(pickup, leads, data):
    role = st.sampled_from([*WORDS, None])
    roles = {lead: r for lead in leads if (r := data.draw(role)) is not None}
    shield = data.draw(st.sampled_from(["own lead", "on ground", "none", None]))
    a, b, c, d = leads
    svg = lead_figure(LeadPicture(pickup, ((a, b), (c, d)), roles, shield))
    root = ElementTree.fromstring(svg)
    assert len(labels(svg)) == 4 + (shield == "own lead" and "shield" not in roles.values())
    ids = [n.attrib["id"] for n in root.iter() if "id" in n.attrib]
    assert len(ids) == len(set(ids))
    assert_tidy(svg)


@pytest.mark.parametrize("coils", [(("a", "a"),), (("a", "b"), ("c", "d"), ("e", "f"))])
def test_what_cannot_be_drawn_is_refused(coils):
    with pytest.raises(ValueError, match="two different ends"):
        LeadPicture("neck", coils, {})


def test_a_stack_is_drawn_with_one_pole_through_both_coils_and_named_by_where_they_lie():
    coils = (("grey", "brown"), ("violet", "orange"))
    roles = {"grey": "hot", "brown": "link", "violet": "link", "orange": "ground"}
    svg = lead_figure(LeadPicture("neck", coils, roles, labels=("lower", "upper"), build="stacked"))
    assert svg.count('class="pole"') == 2
    assert "Lower: from grey to brown." in svg
    assert "One row of poles goes through both coils." in svg
    assert 'class="pole"' not in lead_figure(LeadPicture("neck", coils, roles))
