"""References lead somewhere: each number of a source in a docstring or comment stands in SOURCES.md, once."""

import ast
import io
import re
import subprocess
import tokenize
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ROOT / "tests" / "SOURCES.md"
NUMBER = re.compile(r"(?<![\w\"'#.])[CDFHPRST][1-9]\d?(?![\w\"'#])")
NUMBERED = set(re.findall(r"^\| ([A-Z]\d+) \|", SOURCES.read_text(encoding="utf-8"), re.MULTILINE))
NOTES = re.compile(r"[A-G]#?\d")
"""Names of notes look like sources: one that is no source is a note."""


NAMED = re.compile(r"\bsources?:?\s+([A-Z]\d+(?:(?:,\s+|\s+and\s+|\s+to\s+)[A-Z]\d+)*)", re.IGNORECASE)
"""What the word "source" names is a source, whatever it looks like."""


def tracked(*patterns):
    listed = subprocess.run(
        ["git", "ls-files", "-z", *patterns], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout
    return [ROOT / name for name in listed.split("\0") if name and (ROOT / name).exists()]


def prose(source):
    """Docstrings, strings that stand as statements, and comments of a module."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield str(node.value.value)
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


def test_each_source_has_one_number():
    rows = re.findall(r"^\| ([A-Z]\d+) \|", SOURCES.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(rows) > 40
    assert not [number for number, count in Counter(rows).items() if count > 1]


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("as measured (sources T4, C3)", {"T4", "C3"}),
        ("plucks on D3 and F#3", {"D3"}),
        ("V1/R1", set()),
        ('"S4"', set()),
    ],
)
def test_what_counts_as_a_reference(text, numbers):
    assert {n for n in NUMBER.findall(text) if n != "R1"} == numbers


def unknown_in(text):
    """Numbers that look like those of sources, and are none."""
    return {n for n in NUMBER.findall(text) if n not in NUMBERED and not NOTES.fullmatch(n)}


def test_every_number_in_the_code_is_a_source():
    """Modules are only taken apart where something in them, code and all, looks like an unknown source."""
    written = {path: path.read_text(encoding="utf-8") for path in tracked("*.py")}
    assert unknown_in("as the bench has it (S99)") == {"S99"}
    unknown = {
        (path.relative_to(ROOT).as_posix(), number)
        for path, source in written.items()
        if unknown_in(source)
        for text in prose(source)
        for number in unknown_in(text)
    }
    assert not unknown


def test_what_is_called_a_source_is_one():
    named = {
        (path.relative_to(ROOT).as_posix(), number)
        for path in tracked("*.py", "*.md")
        for listed in NAMED.findall(path.read_text(encoding="utf-8"))
        for number in re.findall(r"[A-Z]\d+", listed)
    }
    assert len(named) > 20
    assert not {one for one in named if one[1] not in NUMBERED}


ABSENT = re.compile(
    r"\bdesign(?:'s)?,?\s+(?:in\s+its\s+)?(?:section|\d)|sections? \d+ of the design"
    r"|\b(?:methods|design)\.md\b|trials\s+of\s+the\s+methods",
    re.IGNORECASE,
)
"""Papers that are not in the repository."""


def test_no_text_refers_to_a_paper_that_is_not_here():
    found = [
        (path.relative_to(ROOT).as_posix(), match.group())
        for path in tracked("*.py", "*.md", "*.toml", "*.j2", "*.css", "*.js")
        if path != Path(__file__)
        for match in ABSENT.finditer(path.read_text(encoding="utf-8"))
    ]
    assert not found
