"""Figures of the structure of the code at any revision, from the files that git tracks, without a checkout.

    python tests/studies/house.py [--rev REVISION]... [--names]

Prints a Markdown table with a column for each ``--rev`` and one for the working tree. Counted are the Python
modules of capture, dsp and reports, without the bench simulator (`dsp/bench` in older revisions). A room is a
folder with modules in it; an arrow goes from a room to one that it imports. The head of a module is its
docstring and imports. ``--names`` lists what is defined twice or more.
"""

from __future__ import annotations

import argparse
import ast
import re
import statistics
import subprocess
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PRODUCT = re.compile(r"(capture|dsp|reports)/.*\.py")
SIMULATOR = re.compile(r"dsp/bench/")


@dataclass(frozen=True)
class Module:
    """What is counted of one module: top-level definitions, names of modules imported, lines."""

    lines: int
    head: int
    classes: tuple[str, ...]
    functions: tuple[str, ...]
    imports: frozenset[str]


def git(*words: str, given: str | None = None) -> bytes:
    """Output of a git command in this repository."""
    encoded = None if given is None else given.encode()
    return subprocess.run(["git", *words], cwd=ROOT, input=encoded, capture_output=True, check=True).stdout


def sources(revision: str | None) -> dict[str, str]:
    """Source of each product module by its path, at a revision or (None) in the working tree."""
    listing = ("ls-files",) if revision is None else ("ls-tree", "-r", "--name-only", revision)
    paths = [
        p for p in git(*listing).decode().splitlines() if PRODUCT.fullmatch(p) and not SIMULATOR.match(p)
    ]
    if revision is None:
        return {p: (ROOT / p).read_text(encoding="utf-8") for p in paths if (ROOT / p).exists()}
    raw = git("cat-file", "--batch", given="".join(f"{revision}:{p}\n" for p in paths))
    texts, at = {}, 0
    for path in paths:  # each blob comes as "<hash> blob <size>\n<content>\n"
        end = raw.index(b"\n", at)
        size = int(raw[at:end].split()[-1])
        texts[path] = raw[end + 1 : end + 1 + size].decode()
        at = end + size + 2
    return texts


def read(source: str) -> Module:
    """Count one module."""
    tree = ast.parse(source)
    head = 0
    for k, node in enumerate(tree.body):
        docstring = k == 0 and isinstance(node, ast.Expr)
        if not (docstring or isinstance(node, ast.Import | ast.ImportFrom)):
            break
        head = node.end_lineno or 0
    imports: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            imports |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            imports |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    functions = [n.name for n in tree.body if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    classes = [n.name for n in tree.body if isinstance(n, ast.ClassDef)]
    return Module(len(source.splitlines()), head, tuple(classes), tuple(functions), frozenset(imports))


def dotted(path: str) -> str:
    """Import name of the module in a file."""
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def room(path: str) -> str:
    """Folder of a module."""
    return path.rsplit("/", 1)[0]


def arrows(modules: Mapping[str, Module]) -> set[tuple[str, str]]:
    """Pairs of rooms of which the first imports the second."""
    rooms = {dotted(path): room(path) for path in modules}
    pairs = ((room(path), rooms[name]) for path, m in modules.items() for name in m.imports if name in rooms)
    return {(a, b) for a, b in pairs if a != b}


def in_circles(edges: set[tuple[str, str]]) -> set[str]:
    """Rooms from which a way over arrows leads back to themselves."""
    after: dict[str, set[str]] = defaultdict(set)
    for a, b in edges:
        after[a].add(b)

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        todo = list(after[start])
        while todo:
            here = todo.pop()
            if here not in seen:
                seen.add(here)
                todo += after[here]
        return seen

    return {a for a in list(after) if a in reached(a)}


def repeated(modules: Mapping[str, Module]) -> dict[str, list[str]]:
    """Names defined in two modules or more, by kind, each with how often."""
    kinds = {
        "classes": [name for m in modules.values() for name in m.classes],
        "public functions": [n for m in modules.values() for n in m.functions if not n.startswith("_")],
        "private functions": [n for m in modules.values() for n in m.functions if n.startswith("_")],
    }
    return {
        kind: [f"{name} {count}" for name, count in Counter(names).most_common() if count > 1]
        for kind, names in kinds.items()
    }


def figures(modules: Mapping[str, Module]) -> dict[str, str]:
    """Rows of the table."""
    lines = [m.lines for m in modules.values()]
    edges = arrows(modules)
    twice = {kind: len(names) for kind, names in repeated(modules).items()}
    return {
        "modules": str(len(lines)),
        "lines": str(sum(lines)),
        "median module, lines": f"{statistics.median(n for n in lines if n > 1):.0f}",
        "longest module, lines": str(max(lines)),
        "share of module heads": f"{100 * sum(m.head for m in modules.values()) / sum(lines):.1f} %",
        "classes": str(sum(len(m.classes) for m in modules.values())),
        "functions": str(sum(len(m.functions) for m in modules.values())),
        **{f"{kind} of one name in two modules or more": str(count) for kind, count in twice.items()},
        "rooms": str(len({room(path) for path in modules})),
        "arrows between rooms": str(len(edges)),
        "rooms in a circle of arrows": str(len(in_circles(edges))),
    }


def main() -> None:
    """Print the table, and the names."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument(
        "--rev", action="append", default=[], metavar="REVISION", help="may be given several times"
    )
    ask.add_argument("--names", action="store_true", help="list what is defined twice or more")
    asked = ask.parse_args()
    columns = {
        revision or "now": {path: read(source) for path, source in sources(revision).items()}
        for revision in (*asked.rev, None)
    }
    tables = {name: figures(modules) for name, modules in columns.items()}
    print("| | " + " | ".join(tables) + " |\n|---" + "|--:" * len(tables) + "|")
    for row in next(iter(tables.values())):
        print(f"| {row} | " + " | ".join(table[row] for table in tables.values()) + " |")
    if asked.names:
        for name, modules in columns.items():
            for kind, names in repeated(modules).items():
                print(f"\n{name}, {kind}: {', '.join(names)}")


if __name__ == "__main__":
    main()
