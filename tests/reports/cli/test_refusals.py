"""The bench's commands when they refuse, and their help: one plain line, nothing heavy."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from capture_bench import bench
from typer.testing import CliRunner

from reports.cli.shared import run_plainly

COMMANDS = ("new", "take", "meter", "ohms", "pole", "check", "change", "tag", "void", "list")
ROOT = Path(__file__).resolve().parents[3]


REFUSED = [
    (("nw",), 2, "No such command 'nw'"),
    (("take",), 2, "name the job: "),
    (("list", "{folder}", "more"), 2, "unexpected extra argument"),
    (("pole", "{folder}", "neck", "north"), 2, 'pickup "neck" has two coils'),
    (("pole", "{folder}", "nek", "north"), 2, 'no pickup "nek"; did you mean "neck"?'),
    (("check", "{folder}", "clip-lead"), 2, 'a check of "clip lead" needs "tip"'),
    (("check", "{folder}", "same-path", "--take", "t001", "--take", "t009"), 2, 'there is no take "t00'),
    (("pole", "{folder}", "bridge", "up"), 2, '"facing" is "up"; write "north" or "south"'),
    (("ohms", "{folder}", "neck", "violet", "grey"), 2, "say what the meter showed behind the two leads"),
    (("take", "{folder}", "a.wav", "--gesture", "hum"), 2, "Missing option '--on': What was plugged in"),
    (
        ("meter", "{folder}", "neck:falls", "--move", "away", "--red", "pink"),
        2,
        'has no lead "pink"; red is on',
    ),
    (
        ("meter", "{folder}", "neck:falls:6.6M", "--move", "away", "--red", "hot"),
        2,
        "an open one does not swing; did you mean 6.6k?",
    ),
    (("change", "{folder}", "neck", "hot=grey", "ground=violet"), 2, "write the lead first, as in grey=hot"),
    (("change", "{folder}", "bridge", "hot=ground"), 2, "write each lead as you see it"),
    (
        ("take", "{folder}", "a.wav", "--gesture", "switch", "--on", "bridge-neck"),
        2,
        "with commas: bridge,neck",
    ),
    (("bring", "{folder}", "a.wav", "--order", "neck 5"), 2, "say what was played, with --gesture: pluck"),
    (("report", "{folder}", "--to", "{folder}/job.toml"), 2, "the report is written into a folder"),
    (("check", "{folder}", "held", "--pickup", "neck"), 2, "under the strings, between them and the body"),
    (("new", "{folder}/x", "--pickup", "b:700"), 2, "measure from there, not from the nut"),
    (("ohms", "{folder}", "neck", "violet", "grey", "--kohm", "1", "--open"), 2, "give either --kohm"),
    (("ohms", "{folder}", "neck", "violet", "grey", "--kohm", "nan"), 2, '"nan" is no resistance'),
    (("change", "{folder}", "neck", "grey"), 2, '"grey" is not understood; spell it as grey=hot'),
    (("change", "{folder}", "neck", "grey=hot", "grey=ground"), 2, 'the lead "grey" is named twice'),
    (("change", "{folder}", "neck", "grey=hot"), 2, "does not say which lead is ground"),
    (("ohms", "{folder}", "neck", "violet", "grey", "0"), 2, "both clips on one lead"),
    (
        ("meter", "{folder}", "bridge", "--move", "away", "--red", "hot", "--kohm", "OL"),
        2,
        "no open coil swings",
    ),
    (("take", "{folder}", "a.wav", "--gesture", "hum", "--on", ""), 2, "--on: names nothing"),
    (("new",), 2, "give the new job a name"),
    (("new", "{folder}/x", "--pickup", "b", "--scale", "25.5"), 2, "did you mean 25.5in (647.7 mm)?"),
    (("new", "{folder}/x", "--pickup", "b:coil=2"), 2, '"coil=2" is not understood'),
    (("void", "{folder}", "t009"), 2, 'there is no entry "t009" to void'),
    (("list", "{folder}/nowhere"), 2, "there is no job.toml here"),
    (("take", "{folder}", "{folder}/a.wav", "--gesture", "hum", "--on", "neck"), 2, "there is no such file"),
    (
        ("take", "{folder}", "a.wav", "--gesture", "hum", "--on", "neck:violet"),
        2,
        "spell leads as neck:violet/orange",
    ),
    (
        ("take", "{folder}", "a.wav", "--gesture", "hum", "--on", "neck:grey/grey"),
        2,
        "name two different lead colours",
    ),
    (("new", "{folder}", "--pickup", "bridge"), 2, "the folder holds something already"),
    (("new", "{folder}/x", "--pickup", "bridge:coils=two"), 2, '"coils" must be a whole number'),
    (("new", "{folder}/x", "--pickup", "bridge:hot=hot"), 2, '"hot" is "hot", which is no colour'),
    (("new", "{folder}/x", "--pickup", "bridge:loos"), 2, '"loos" is not understood; did you mean "loose"?'),
    (("new", "{folder}/x", "--pickup", "b", "--mains", "55"), 2, '"55" is neither 50 nor 60'),
    (("new", "{folder}/x", "--pickup", "b", "--setting", "both=b+c"), 2, 'no pickup "c"'),
    (
        ("new", "{folder}/x", "--pickup", "b", "--setting", "both=b/5"),
        2,
        '"b/5" is not understood; write neck',
    ),
    (("new", "{folder}/x", "--pickup", "b", "--setting", "both=b:loud"), 2, '"loud" is not understood'),
]


@pytest.mark.parametrize(("words", "status", "said"), REFUSED)
def test_a_refusal_is_one_plain_line_and_status_2(call, folder: Path, words, status, said):
    got, _, err = call(*(word.replace("{folder}", str(folder)) for word in words))
    assert got == status
    assert said in err
    assert err.startswith("coilwise: ")
    assert err.count("\n") == 1


def test_a_folder_that_is_a_link_to_itself_is_one_line(call, tmp_path: Path):
    (tmp_path / "round").symlink_to("round")
    status, _, said = call("verdict", tmp_path / "round")
    assert (status, said.count("\n"), "round" in said) == (2, 1, True)


def test_a_folder_that_cannot_be_written_is_one_line(call, folder: Path, monkeypatch):
    def full(*_: object) -> None:
        raise PermissionError(13, "Permission denied", "bench.jsonl")

    monkeypatch.setattr("capture.log.append_entries", full)
    status, _, err = call("pole", folder, "bridge", "north")
    assert (status, err) == (
        2,
        "coilwise: bench.jsonl: Permission denied; check permissions and free space, then try again\n",
    )


@pytest.mark.parametrize("error", [KeyboardInterrupt, typer.Abort])
def test_stopped_from_the_keyboard(call, folder: Path, monkeypatch, error):
    def stop(*_: object) -> None:
        raise error

    monkeypatch.setattr("capture.log.append_entries", stop)
    assert call("pole", folder, "bridge", "north")[0] == 130


def test_a_fault_of_our_own_is_one_line_and_shows_its_trace_on_request(folder: Path, monkeypatch, capsys):
    def wrong(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("capture.log.append_entries", wrong)
    words = ["pole", str(folder), "bridge", "north"]
    assert run_plainly(bench(), words) == 70
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "a fault of the tool itself (ZeroDivisionError" in said
    monkeypatch.setenv("COILWISE_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        run_plainly(bench(), words)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example(command):
    result = CliRunner().invoke(bench(), [command, "--help"])
    assert result.exit_code == 0
    assert f"Example: coilwise {command} " in " ".join(result.output.split())


IN_TURN = """
import shlex, sys, typer
from reports.cli import register
from reports.cli.shared import run_plainly
app = typer.Typer(add_completion=False)
register(app)
for words in sys.argv[1:]:
    status = run_plainly(app, shlex.split(words))
    heavy = sorted({"scipy", "librosa", "matplotlib", "soundfile", "numpy"} & set(sys.modules))
    print("HEAVY", status, words, *heavy)
"""


def test_neither_help_nor_writing_down_a_pole_imports_anything_heavy(folder: Path):
    """One call after the other in one process: each says what is loaded by then."""
    calls = ["--help", *(f"{command} --help" for command in COMMANDS), f"pole {folder} bridge north"]
    ran = subprocess.run(
        [sys.executable, "-c", IN_TURN, *calls], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    said = [line for line in ran.stdout.splitlines() if line.startswith("HEAVY")]
    assert said == [f"HEAVY 0 {words}" for words in calls]


@pytest.mark.skipif(
    importlib.util.find_spec("reports.cli") is None, reason="the main command is not there yet"
)
def test_the_real_command_refuses_plainly(tmp_path: Path):
    ran = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from reports.cli import main; sys.exit(main())",
            "list",
            str(tmp_path),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 2
    assert ran.stderr.startswith("coilwise: ")
    assert ran.stderr.count("\n") == 1
    assert "there is no job.toml here" in ran.stderr
