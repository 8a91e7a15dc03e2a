"""The rooms as in DEVELOPERS.md: what may import what, and what may stand at the top."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("capture", "dsp", "reports")
STDLIB = set(sys.stdlib_module_names)
MAY_IMPORT = {
    "dsp": {"dsp", "numpy", "scipy", "librosa"},
    "capture": {
        "capture",
        "dsp",
        "numpy",
        "platformdirs",
        "portalocker",
        "pydantic",
        "pydantic_core",
        "tomlkit",
        "soundfile",
        "sounddevice",
    },
}
MOST_LINES = 700
ROOM_ORDER = (
    "reports.cli",
    "reports.page.serving",
    "reports.page.screens",
    "reports.page.widgets",
    "reports.page.server",
    "reports.session",
    "reports.entry",
    "reports.render",
    "reports.verdict",
    "reports.plan",
    "reports.inference",
    "reports.evidence",
    "reports.ohms",
    "reports.messages",
    "reports.model",
    "capture.takes",
    "capture.audio",
    "capture.log",
    "capture.job",
    "capture.disk",
    "dsp.live",
    "dsp.health",
    "dsp.methods",
    "dsp.model",
    "dsp.signal",
)
"""Rooms from top to bottom: each imports only rooms below it."""


def modules(room):
    return sorted((ROOT / room).rglob("*.py"))


@cache
def tree(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imported(path):
    """Full dotted names of what a module imports anywhere in it, functions too."""
    names = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import hides where it goes"
            names.add(node.module)
    return names


def tops(path):
    return {name.split(".")[0] for name in imported(path)}


def shown(path):
    return path.relative_to(ROOT).as_posix()


EVERY = [pytest.param(room, path, id=shown(path)) for room in ROOMS for path in modules(room)]


def test_the_walk_finds_all_rooms():
    assert {room for room in ROOMS if len(modules(room)) > 10} == set(ROOMS)


@pytest.mark.parametrize(("room", "path"), EVERY)
def test_imports_go_one_way(room, path):
    """dsp imports no room, capture only dsp, and nothing but reports imports reports."""
    rooms = {"dsp": {"dsp"}, "capture": {"capture", "dsp"}, "reports": set(ROOMS)}[room]
    assert tops(path) & {*ROOMS, "tests"} <= rooms
    if room in MAY_IMPORT:
        assert tops(path) - STDLIB <= MAY_IMPORT[room]


@pytest.mark.parametrize(("room", "path"), EVERY)
def test_a_module_has_the_length_of_one_subject(room, path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


def dotted(path):
    return shown(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def height(name):
    """The place of a module's room in the order, counted from the top; None for the packages themselves."""
    return next((k for k, room in enumerate(ROOM_ORDER) if name == room or name.startswith(room + ".")), None)


@pytest.mark.parametrize(("room", "path"), EVERY)
def test_a_room_imports_only_rooms_below_it(room, path):
    here = height(dotted(path))
    if here is None:
        assert path.name == "__init__.py"
        return
    heights = {name: height(name) for name in imported(path)}
    assert not [name for name, there in heights.items() if there is not None and there < here]


def test_every_room_is_in_the_order():
    rooms = {dotted(p.parent / "__init__.py") for room in ROOMS for p in modules(room)}
    assert rooms - set(ROOM_ORDER) == {*ROOMS, "reports.page"}


@pytest.mark.parametrize("library", ["soundfile", "sounddevice"])
def test_audio_libraries_have_one_door(library):
    doors = [shown(path) for room in ROOMS for path in modules(room) if library in tops(path)]
    assert len(doors) <= 1
    assert all(door.startswith("capture/") for door in doors)


def test_sounddevice_is_imported_when_used():
    """It starts the audio system: only inside a function, never where a module is loaded."""
    for room in ROOMS:
        for path in modules(room):
            at_load = {
                alias.name
                for node in tree(path).body
                if isinstance(node, ast.Import | ast.ImportFrom)
                for alias in node.names
            } | {node.module for node in tree(path).body if isinstance(node, ast.ImportFrom)}
            assert "sounddevice" not in at_load, shown(path)


CLOCK_FILES_PLOTS = {"pathlib", "os", "io", "shutil", "tempfile", "time", "datetime", "matplotlib", "logging"}


@pytest.mark.parametrize("path", [pytest.param(p, id=shown(p)) for p in modules("dsp")])
def test_dsp_has_no_files_clock_printing_or_plotting(path):
    assert not tops(path) & CLOCK_FILES_PLOTS
    called = {
        n.func.id for n in ast.walk(tree(path)) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
    }
    assert not called & {"open", "print", "input", "exec", "eval"}
    attributes = {
        n.attr
        for n in ast.walk(tree(path))
        if isinstance(n, ast.Attribute) and isinstance(n.value, ast.Name) and n.value.id in ("np", "librosa")
    }
    # numpy's own files; librosa.load resamples and averages the channels, which cancels opposite polarities
    assert not attributes & {"load", "save", "savez", "tofile", "fromfile", "loadtxt", "savetxt", "memmap"}


TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "capture", "dsp", "reports", "tests", "recordings"}


def test_the_top_level_is_fixed():
    """Dot files and a licence may stand beside the list; nothing else."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")  # only git tells what belongs to the project and what a build left
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    top = {name.split("/")[0] for name in listed.split("\0") if name}
    assert {name for name in top if not name.startswith(".")} - {"LICENSE"} == TOP


SLOW = ("scipy", "librosa", "matplotlib", "soundfile", "sounddevice", "numba")


def test_the_command_line_starts_without_the_slow_libraries():
    """Nothing on the way to --help, to a listing or to recording imports librosa, nor matplotlib."""
    code = f"import sys, reports.cli\nprint(sorted(name for name in {SLOW!r} if name in sys.modules))"
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
