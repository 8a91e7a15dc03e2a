"""Drawings of unusual pickups and circuits: one for each, none for an ordinary guitar, words escaped."""

import xml.etree.ElementTree as ET

from capture.job import parse_job
from reports.render.circuit_drawing import built_figures

ORDINARY = """format = 1
[[pickup]]
name = "bridge"
coils = 2
[[pickup]]
name = "neck"
[[setting]]
name = "both"
on = ["bridge", {pickup = "neck", reversed = true}]
"""
UNUSUAL = """format = 1
strings = ["E1", "A1", "D2", "G2"]
[[pickup]]
name = "bridge"
coils = 2
coil_kohm = [4.1, 4.0]
circuit = "1 + (-2 | 22n)"
[[pickup]]
name = "a < b"
build = "dummy"
[[pickup]]
name = "neck"
coils = 2
build = "halves"
under = [["E1", "A1"], ["D2", "G2"]]
[[setting]]
name = "mixed"
on = ["neck", {pickup = "bridge", coil = 1, group = "g"}, {pickup = "a < b", group = "g"}]
"""


def described(svg):
    root = ET.fromstring(svg)
    (told,) = (node.text for node in root.iter() if node.tag.endswith("desc"))
    return told, [node.text for node in root.iter() if node.tag.endswith("text")]


def test_an_ordinary_guitar_has_no_drawing_of_how_it_is_built():
    assert built_figures(parse_job(ORDINARY)) == ()


def test_what_is_unusual_is_drawn_and_said():
    figures = [described(svg) for svg in built_figures(parse_job(UNUSUAL))]
    dummy, halves, circuit, mixed = figures
    assert "without magnet" in dummy[0] and "How a < b is built" in dummy[1]
    assert "coil 1 under E1 A1; coil 2 under D2 G2" in halves[0]
    assert circuit[0] == "From hot to ground: coil 1, 4.1 k, then (coil 2, 4 k, turned over beside 22 nF)."
    assert {"hot", "ground", "22 nF", "turned over"} <= set(circuit[1])
    assert mixed[0] == "From hot to ground: neck beside (bridge coil 1, then a < b)."
