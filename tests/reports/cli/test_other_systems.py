"""What another system lacks is hidden here: the modules and flags of POSIX, UTF-8, and keys of Windows."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from capture import JobError
from reports.cli import terminal
from reports.entry import new_job

ROOT = Path(__file__).resolve().parents[3]
WITHOUT_POSIX = """
import asyncio, concurrent.futures, multiprocessing, os, portalocker, sys, tempfile
for name in ("fcntl", "termios", "tty", "resource", "pwd", "grp", "pty"):
    sys.modules[name] = None
for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "sched_getaffinity", "fork"):
    delattr(os, name)
from reports.cli import main
for words in [line.split("|") for line in sys.argv[1:]]:
    sys.argv[1:] = words
    try:
        main()
    except SystemExit as left:
        print("LEFT", left.code, flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="such a system is there")
def test_a_job_without_posix_and_with_code_page_1252(tmp_path: Path):
    """A job with an emoji for a title, from its folder to its verdict, as text and as JSON."""
    job, take = tmp_path / "job", ROOT / "recordings" / "demo" / "takes" / "t002.flac"
    calls = [
        f"new|{job}|--title|bass \N{GUITAR} — violet|--pickup|bridge:44|--pickup|neck:168",
        f"pole|{job}|bridge|north",
        f"take|{job}|{take}|--gesture|pluck|--on|bridge|--on|neck|--string|A1",
        f"list|{job}",
        f"verdict|{job}",
        f"verdict|{job}|--json",
    ]
    around = {"PYTHONIOENCODING": "cp1252", "PYTHONPATH": str(ROOT)}
    ran = subprocess.run(
        [sys.executable, "-c", WITHOUT_POSIX, *calls],
        env={**os.environ, **around},
        capture_output=True,
        check=False,
    )
    said = ran.stdout.decode("cp1252")
    assert ran.stderr == b""
    assert [line for line in said.splitlines() if line.startswith("LEFT")] == ["LEFT 0"] * 4 + ["LEFT 3"] * 2
    assert "bass ? — violet" in said
    assert r"bass \ud83c\udfb8 \u2014 violet" in said


def test_keys_on_windows(monkeypatch):
    """msvcrt as Windows has it: keys one by one, an arrow as two characters, nothing without a key."""
    typed = list("vS\xe0Hx")
    console = SimpleNamespace(kbhit=lambda: bool(typed), getwch=lambda: typed.pop(0))
    monkeypatch.setitem(sys.modules, "msvcrt", console)
    monkeypatch.setitem(sys.modules, "termios", None)
    monkeypatch.setattr(terminal.sys, "stdin", SimpleNamespace(isatty=lambda: True))
    with terminal.requests() as pressed:
        assert [pressed() for _ in range(6)] == ["void", "skip", None, None, None, None]
        typed.append("\x03")
        with pytest.raises(KeyboardInterrupt):
            pressed()


@pytest.mark.parametrize("name", ["NUL", "com1.job", "a:b", "what?", "trailing."])
def test_a_job_has_no_name_that_its_system_has_not(name, monkeypatch):
    monkeypatch.setattr("platform.system", lambda: "Windows")
    with pytest.raises(JobError, match="no folder can be called"):
        new_job.new_job_folder(name, under=Path())
