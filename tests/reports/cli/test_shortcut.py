"""The entry among a user's programs: made by one command, run as it says, and taken away again."""

from __future__ import annotations

import configparser
import shlex
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from typer.testing import CliRunner

from reports.cli import app
from reports.cli.shortcut import shortcut_files

AWKWARD = Path('/tmp/a "b" $c %d')


@pytest.mark.skipif("sys.platform != 'linux'", reason="a desktop entry is what Linux has")
def test_one_command_makes_the_entry_and_one_takes_it_away(tmp_path: Path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    made = CliRunner().invoke(app, ["shortcut", "--folder", str(tmp_path)])
    assert made.exit_code == 0
    entry = tmp_path / "applications" / "coilwise.desktop"
    assert str(entry) in made.output
    read = configparser.ConfigParser(interpolation=None)
    read.optionxform = str
    read.read(entry)
    said = read["Desktop Entry"]
    assert (said["Type"], said["Path"], said["Terminal"]) == ("Application", str(tmp_path), "true")
    assert ET.parse(said["Icon"]).getroot().tag.endswith("svg")
    assert Path(shlex.split(said["Exec"])[0]).is_file()
    assert CliRunner().invoke(app, ["shortcut", "--remove"]).exit_code == 0
    assert not list(tmp_path.rglob("coilwise*"))


def test_what_is_awkward_in_a_path_is_quoted():
    places = {"menu": Path("/m"), "icons": Path("/i")}
    entry = shortcut_files("linux", [str(AWKWARD)], folder=AWKWARD, places=places)[
        Path("/m/coilwise.desktop")
    ]
    command = next(row for row in entry.splitlines() if row.startswith("Exec="))
    assert command == r'Exec="/tmp/a \\"b\\" \\$c %%d"'
    shell = shortcut_files("darwin", [str(AWKWARD)], folder=AWKWARD, places=places)[
        Path("/m/coilwise.command")
    ]
    assert shlex.split(shell.splitlines()[1]) == ["cd", str(AWKWARD), "&&", "exec", str(AWKWARD)]
