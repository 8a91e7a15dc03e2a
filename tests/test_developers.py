"""DEVELOPERS.md, README.md and the manual name what exists: paths, modules, names defined in them, pages."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("capture", "dsp", "reports", "tests", "recordings")
QUOTED = re.compile(r"`([^`\n]+)`")


def quoted(page):
    return sorted(set(QUOTED.findall((ROOT / page).read_text(encoding="utf-8"))))


@cache
def definitions():
    """Names of classes, functions and constants at the top level of each module, by its dotted name."""
    found = {}
    for path in (p for room in PACKAGES[:3] for p in (ROOT / room).rglob("*.py")):
        names = set()
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef | ast.FunctionDef):
                names.add(node.name)
            elif isinstance(node, ast.Assign):
                names |= {t.id for t in node.targets if isinstance(t, ast.Name)}
            elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                names.add(node.target.id)
        dotted = path.relative_to(ROOT).as_posix().removesuffix(".py").removesuffix("/__init__")
        found[dotted.replace("/", ".")] = names
    return found


def exists(name):
    """Whether a quoted name exists; None where it is no name of ours (an option, a field, a word)."""
    if re.fullmatch(rf"({'|'.join(PACKAGES)})(/[\w.-]+)*/?", name):
        return (ROOT / name).exists()
    if re.fullmatch(r"(capture|dsp|reports)(\.\w+)+", name):
        module, _, last = name.rpartition(".")
        return name in definitions() or last in definitions().get(module, ())
    if re.fullmatch(r"[A-Z]\w*[a-z]\w*|[A-Z][A-Z_]{3,}", name):
        return any(name in names for names in definitions().values())
    return None


@pytest.mark.parametrize(
    ("name", "there"),
    [
        ("dsp/model/signs.py", True),
        ("dsp/bench", False),
        ("reports.verdict.building.judge", True),
        ("reports.belief", False),
        ("Ledger", False),
        ("--json", None),
    ],
)
def test_what_is_looked_for(name, there):
    assert exists(name) is there


def test_what_developers_names_exists():
    names = {name: exists(name) for name in quoted("DEVELOPERS.md")}
    assert sum(there is True for there in names.values()) > 50
    assert not [name for name, there in names.items() if there is False]


MANUAL = sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "reports/manual").glob("*.md"))


@pytest.mark.parametrize("page", ["README.md", *MANUAL])
def test_what_pages_for_users_name_exists(page):
    paths = [name for name in quoted(page) if name.startswith(("capture/", "dsp/", "reports/"))]
    assert not [name for name in paths if not exists(name)]


def test_every_link_of_the_readme_leads_to_a_file_and_every_page_of_the_manual_is_linked():
    links = re.findall(r"\]\(([^)#:]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert not [link for link in links if not (ROOT / link).is_file()]
    assert not set(MANUAL) - set(links)
