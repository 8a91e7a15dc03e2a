"""Studies are run by hand, seldom: what they import has to exist whenever the code moves."""

import ast
import importlib
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent
STUDIES = sorted((TESTS / "studies").rglob("*.py"))
OURS = ("capture", "dsp", "reports", "simulator")


@pytest.mark.parametrize("path", [pytest.param(p, id=p.relative_to(TESTS).as_posix()) for p in STUDIES])
def test_what_a_study_imports_exists(path, monkeypatch):
    monkeypatch.setattr(sys, "path", [str(TESTS), *sys.path])
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module.split(".")[0] in OURS:
            module = importlib.import_module(node.module)
            for alias in node.names:
                assert hasattr(module, alias.name) or importlib.import_module(f"{node.module}.{alias.name}")
