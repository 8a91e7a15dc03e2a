"""What stands where in a drawing."""

from __future__ import annotations

import re
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


def parts(svg: str) -> dict[str, ElementTree.Element]:
    return {node.attrib["id"]: node for node in ElementTree.fromstring(svg).iter() if "id" in node.attrib}


def texts(svg: str) -> list[str]:
    return [node.text or "" for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def places(svg: str, name: str) -> list[tuple[float, float]]:
    """Where each marker of a line stands; y grows downwards."""
    uses = parts(svg)[name].iter(f"{SVG}use")
    return [(float(use.attrib["x"]), float(use.attrib["y"])) for use in uses]


def place(svg: str, name: str) -> tuple[float, float]:
    (only,) = places(svg, name)
    return only


def shape(svg: str, name: str) -> str:
    """The one marker of a line, whichever number of times it is drawn."""
    uses = parts(svg)[name].iter(f"{SVG}use")
    (only,) = {use.attrib["{http://www.w3.org/1999/xlink}href"] for use in uses}
    return only


def dashed(svg: str, name: str) -> bool:
    return "dasharray" in ElementTree.tostring(parts(svg)[name], encoding="unicode")


def text_place(svg: str, said: str) -> tuple[float, float]:
    """Where the one text with these words is anchored."""
    (node,) = (n for n in ElementTree.fromstring(svg).iter(f"{SVG}text") if n.text == said)
    if "x" in node.attrib:
        return float(node.attrib["x"]), float(node.attrib["y"])
    found = re.match(r"translate\(([-\d.]+)[ ,]([-\d.]+)\)", node.attrib["transform"])
    assert found is not None
    return float(found[1]), float(found[2])


def described(svg: str) -> tuple[str, str]:
    """Title and description, as they are read aloud."""
    title, told = (
        parts(svg)[name].text or "" for name in ElementTree.fromstring(svg).attrib["aria-labelledby"].split()
    )
    return title, told
