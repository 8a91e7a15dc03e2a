"""``coilwise page`` before it serves: what is missing, which port, which key."""

from __future__ import annotations

import socket
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


def test_where_no_browser_could_be_let_in_it_says_which_file(tmp_path):
    (tmp_path / "coilwise").write_text("in the way")
    with pytest.raises(serving.PortError, match=r"start-1\.html"):
        serving._start_key(tmp_path / "coilwise" / "start-1.html", port=1)


def test_a_browser_of_a_snap_gets_a_file_that_it_can_read(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / ".state"))
    monkeypatch.setattr(serving.sys, "platform", "linux")
    assert serving._start_folder() == tmp_path / ".state" / "coilwise"
    (tmp_path / "snap").mkdir()
    assert serving._start_folder() == tmp_path


def test_coilwise_alone_opens_the_page_where_somebody_sits_at_a_screen(monkeypatch, capsys):
    """In a pipe, without the page's library or without a screen it says what to type instead."""
    opened = []
    monkeypatch.setattr(sys.modules["reports.cli"], "page", lambda: opened.append(True))
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    assert run_plainly(app, []) == 0
    assert opened and capsys.readouterr().out == ""
    for gone in (
        lambda: monkeypatch.setattr(sys.modules["reports.cli.record"], "find_spec", lambda name: None),
        lambda: monkeypatch.setattr(sys.stdout, "isatty", lambda: False, raising=False),
    ):
        gone()
        assert run_plainly(app, []) == 0
        assert "coilwise new" in capsys.readouterr().out
    assert opened == [True]
