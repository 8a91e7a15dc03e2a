"""``coilwise page`` before it serves: what is missing, which port, which key."""

from __future__ import annotations

import os
import socket
import stat
import sys

import pytest

from reports.cli import app
from reports.cli.shared import run_plainly
from reports.page import serving


def test_without_the_extra_it_is_one_line_with_what_to_do(monkeypatch, capsys):
    monkeypatch.setattr(sys.modules["reports.cli.record"], "find_spec", lambda name: None)
    assert run_plainly(app, ["page"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "pip install 'coilwise[page]'" in line


def test_a_job_that_is_none_is_refused_before_anything_is_served(tmp_path, capsys):
    assert run_plainly(app, ["page", str(tmp_path), "--no-show"]) == 2
    assert "job.toml" in capsys.readouterr().err


def test_a_port_in_use_is_one_line_and_the_usual_one_gives_way():
    with socket.socket() as other:
        other.bind((serving.LOOPBACK, 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(serving.PortError, match=str(port)):
            serving._bound_socket(port)


def test_only_this_machine_is_listened_to():
    with serving._bound_socket(None) as held:
        assert held.getsockname()[0] == "127.0.0.1"


def test_the_key_is_the_same_after_a_restart_and_nobody_else_reads_it(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    key, other = serving.access_key(8471), serving.access_key(8472)
    assert serving.access_key(8471) == key != other
    assert len(key) >= 32
    (path,) = tmp_path.rglob("page-8471.json")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    os.chmod(path, 0o644)
    assert serving.access_key(8471) != key


def test_where_no_key_can_be_kept_each_start_has_a_new_one(tmp_path, monkeypatch):
    (tmp_path / "coilwise").write_text("in the way")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert serving.access_key(8471) != serving.access_key(8471)
