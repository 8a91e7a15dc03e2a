"""The bench's commands as a person calls them: what they write, what they say, how they refuse."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from capture_bench import write_audio, write_log
from typer.testing import CliRunner

from capture.bench_log import Pole, append_entry, made
from capture.job import read_job
from reports import cautions
from reports.commands import register
from reports.commands.plainly import run_plainly

COMMANDS = ("new", "take", "meter", "ohms", "pole", "change", "void", "list")
ROOT = Path(__file__).resolve().parents[2]


def bench() -> typer.Typer:
    app = typer.Typer(add_completion=False, no_args_is_help=True)
    register(app)
    return app


@pytest.fixture
def call(capsys):
    def run(*words: object) -> tuple[int, str, str]:
        status = run_plainly(bench(), [str(word) for word in words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return write_audio(tmp_path / "pluck.wav")


def last(folder: Path) -> dict[str, object]:
    return json.loads((folder / "bench.jsonl").read_text(encoding="utf-8").splitlines()[-1])


def test_new_from_options(call, tmp_path: Path):
    home = tmp_path / "sunday"
    status, out, err = call(
        "new",
        home,
        "--title",
        "Sunday",
        "--scale-mm",
        648,
        "--mains",
        50,
        "--string",
        "E2",
        "--string",
        "A2",
        "--pickup",
        "bridge:44",
        "--pickup",
        "neck:168:coils=2:loose:turnable:hot=violet:ground=grey:link=orange/brown:shield=own lead",
        "--setting",
        "both=bridge+neck/1/reversed:series:out of phase:quiet",
    )
    assert (status, err) == (0, "")
    assert f"{home}: made, with bridge, neck." in out
    job = read_job(home)
    assert (job.title, job.scale_mm, job.mains_hz, job.strings) == ("Sunday", 648.0, 50, ("E2", "A2"))
    neck = job.pickup("neck")
    assert (neck.centre_mm, neck.coils, neck.fitted, neck.turnable) == (168.0, 2, False, True)
    assert (neck.leads, neck.shield) == (("violet", "grey", "orange", "brown"), "own lead")
    both = job.setting("both")
    assert [(m.pickup, m.coil, m.reversed) for m in both.on] == [("bridge", None, False), ("neck", 1, True)]
    assert (both.join, both.aim, both.quiet) == ("series", "out of phase", True)


def test_new_by_asking(tmp_path: Path, monkeypatch):
    answers = [
        "Sunday",
        "long",
        "648",
        "55",
        "50",
        "E2 H3",
        "E2, A2",
        "",
        "bridge:44",
        "neck:x",
        "neck",
        "",
        "both",
        "both=bridge+neck",
        "",
    ]
    result = CliRunner().invoke(bench(), ["new", str(tmp_path / "sunday")], input="\n".join(answers) + "\n")
    assert result.exit_code == 0
    for words in (
        '"long" is no number of millimetres',
        '"55" is neither 50 nor 60',
        '"H3" is no note name',
        "One pickup at least.",
        'pickup "neck:x": "x" is not understood',
        'setting "both": says nothing of what is on',
    ):
        assert words in result.output
    job = read_job(tmp_path / "sunday")
    assert (job.title, job.scale_mm, job.mains_hz, job.strings) == ("Sunday", 648.0, 50, ("E2", "A2"))
    assert [p.name for p in job.pickups] == ["bridge", "neck"]
    assert [s.name for s in job.settings] == ["both"]


def test_a_bare_name_goes_under_recordings(call, tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert call("new", "one", "--pickup", "bridge")[0] == 0
    (tmp_path / "recordings").mkdir()
    assert call("new", "two", "--pickup", "bridge")[0] == 0
    assert call("new", "./three/job", "--pickup", "bridge")[0] == 0
    assert sorted(str(p.parent.relative_to(tmp_path)) for p in tmp_path.rglob("job.toml")) == [
        "one",
        "recordings/two",
        "three/job",
    ]
    assert read_job(tmp_path / "one").title == "one"


INPUTS = [
    (["bridge", "neck"], ["bridge", "neck"]),
    (["neck:violet/orange", "nothing"], [{"pickup": "neck", "hot": "violet", "ground": "orange"}, None]),
    (["both", "both"], ["both", "both"]),
]


@pytest.mark.parametrize(("on", "written"), INPUTS)
def test_take(call, folder: Path, recording: Path, on, written):
    options = [word for item in on for word in ("--on", item)]
    status, out, err = call(
        "take",
        folder,
        recording,
        "--gesture",
        "pluck",
        *options,
        "--string",
        "D3",
        "--fret",
        5,
        "--stage",
        "after",
        "--rig",
        "box",
        "--tool",
        "rod",
    )
    assert (status, err) == (0, "")
    assert "t001: " in out
    entry = last(folder)
    assert entry["inputs"] == written
    assert [entry[k] for k in ("gesture", "string", "fret", "stage", "rig", "tool", "file")] == [
        "pluck",
        "D3",
        5,
        "after",
        "box",
        "rod",
        "takes/t001.wav",
    ]


def test_take_of_the_selector(call, folder: Path, tmp_path: Path):
    audio = write_audio(tmp_path / "a.wav", channels=1)
    assert call("take", folder, audio, "--gesture", "switch", "--on", "bridge, both,neck")[0] == 0
    assert last(folder)["inputs"] == [["bridge", "both", "neck"]]


def test_a_take_with_a_doubt_says_so(call, folder: Path, recording: Path):
    words = ("take", folder, recording, "--gesture", "hum", "--on", "bridge", "--on", "neck")
    call(*words)
    assert "Note: The same audio as t001, so it counts once, as t001.\n" in call(*words)[1]


@pytest.mark.parametrize(("gesture", "expected"), [("lift", True), ("touch", True), ("pluck", False)])
def test_tools_near_poles_come_with_a_caution(call, folder: Path, recording: Path, gesture, expected):
    out = call(
        "take", folder, recording, "--gesture", gesture, "--coil", 1, "--on", "neck", "--on", "nothing"
    )[1]
    assert (cautions.THUMP in out, cautions.BARE_COIL in out) == (expected, expected)
    assert last(folder)["coil"] == 1


def test_meter(call, folder: Path):
    status, out, _ = call(
        "meter",
        folder,
        "bridge",
        "--move",
        "away",
        "--reading",
        "rises",
        "--red",
        "hot",
        "--kohm",
        6.6,
        "--tool",
        "steel rod",
    )
    assert status == 0
    assert out.startswith("m001: written down.\n")
    for caution in (cautions.AMPLIFIER, cautions.ACTIVE, cautions.BARE_COIL, cautions.COMMON_GROUND):
        assert f"Caution: {caution}" in out
    entry = last(folder)
    assert entry.pop("at")
    assert entry == {
        "kind": "meter",
        "id": "m001",
        "pickup": "bridge",
        "move": "away",
        "reading": "rises",
        "red": "hot",
        "kohm": 6.6,
        "tool": "steel rod",
        "stage": "found",
    }
    loose = call(
        "meter",
        folder,
        "neck",
        "--move",
        "toward",
        "--reading",
        "unclear",
        "--red",
        "violet",
        "--black",
        "grey",
    )[1]
    assert cautions.COMMON_GROUND not in loose


ENTERED = [
    (["ohms", "neck", "violet", "orange", "--kohm", "4.1"], {"between": ["violet", "orange"], "kohm": 4.1}),
    (["ohms", "neck", "violet", "shield", "--open"], {"between": ["violet", "shield"]}),
    (["pole", "neck", "north", "--coil", "2"], {"facing": "north", "coil": 2}),
    (
        ["change", "neck", "grey=hot", "violet=ground"],
        {"leads": {"grey": "hot", "violet": "ground"}, "stage": "after"},
    ),
]


@pytest.mark.parametrize(("words", "expected"), ENTERED)
def test_other_entries(call, folder: Path, words, expected):
    status, _, err = call(words[0], folder, *words[1:])
    assert (status, err) == (0, "")
    entry = last(folder)
    assert entry["kind"] == words[0]
    assert {k: v for k, v in entry.items() if k not in ("kind", "id", "at", "pickup")} == {
        "stage": "found",
        **expected,
    }


def test_void_and_list(call, folder: Path, recording: Path):
    call(
        "take",
        folder,
        recording,
        "--gesture",
        "pluck",
        "--on",
        "bridge",
        "--on",
        "neck:violet/grey",
        "--string",
        "D3",
    )
    append_entry(folder, made(Pole, pickup="bridge", facing="south"))
    call("void", folder, "t001", "--why", "[red]buzzing[/red] fret")
    status, out, err = call("list", folder)
    assert (status, err) == (0, "")
    rows = {line.split()[0]: line for line in out.splitlines() if line.split()}
    assert "VOIDED" in rows["t001"]
    assert "VOIDED" not in rows["p001"]
    assert "bridge: south faces the strings" in rows["p001"]
    assert "[red]buzzing[/red]" in rows["v001"]
    assert rows["neck"].split()[1:4] == ["168", "2", "loose"]
    assert "bridge + neck coil 1 reversed" in rows["both"]
    assert call("void", folder, "v001")[0] == 0
    assert "VOIDED" not in next(
        r for r in call("list", folder)[1].splitlines() if r.strip().startswith("t001")
    )


def test_list_shows_warnings_and_what_is_wrong_with_a_take(call, folder: Path):
    write_log(
        folder,
        {"kind": "take", "id": "t001", "file": "t.wav", "gesture": "hum", "inputs": ["neck"], "hm": 1},
        '{"kind"',
        end="",
    )
    out = " ".join(call("list", folder)[1].split())
    assert "The file is not there;" in out
    assert 'Warning: bench.jsonl line 1 (t001): unknown key "hm"' in out
    assert "Warning: bench.jsonl line 2: torn" in out


def test_list_of_an_empty_job(call, folder: Path):
    assert "Nothing has been entered yet." in call("list", folder)[1]


REFUSED = [
    (("nw",), 2, "No such command 'nw'"),
    (("take",), 2, "Missing argument"),
    (("list", "{folder}", "more"), 2, "unexpected extra argument"),
    (("pole", "{folder}", "neck", "north"), 2, 'pickup "neck" has two coils'),
    (("pole", "{folder}", "nek", "north"), 2, 'no pickup "nek"; did you mean "neck"?'),
    (("pole", "{folder}", "bridge", "up"), 2, '"facing" is "up"; write "north" or "south"'),
    (("ohms", "{folder}", "neck", "violet", "grey"), 2, "give either --kohm with the reading, or --open"),
    (("ohms", "{folder}", "neck", "violet", "grey", "--kohm", "1", "--open"), 2, "give either --kohm"),
    (("ohms", "{folder}", "neck", "violet", "grey", "--kohm", "nan"), 2, '"kohm" must be a finite number'),
    (("change", "{folder}", "neck", "grey"), 2, '"grey" is not understood; spell it as grey=hot'),
    (("change", "{folder}", "neck", "grey=hot", "grey=ground"), 2, 'the lead "grey" is named twice'),
    (("change", "{folder}", "neck", "grey=hot"), 2, "does not say which lead is ground"),
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
    (("new", "{folder}/x", "--pickup", "bridge:loos"), 2, '"loos" is not understood; spell it as'),
    (("new", "{folder}/x", "--pickup", "b", "--mains", "55"), 2, '"mains_hz" is 55; write 50 or 60'),
    (("new", "{folder}/x", "--pickup", "b", "--setting", "both=b+c"), 2, 'no pickup "c"'),
    (
        ("new", "{folder}/x", "--pickup", "b", "--setting", "both=b/3"),
        2,
        '"b/3" is not understood; write neck',
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


def test_a_folder_that_cannot_be_written_is_one_line(call, folder: Path, monkeypatch):
    def full(*_: object) -> None:
        raise PermissionError(13, "Permission denied", "bench.jsonl")

    monkeypatch.setattr("capture.bench_log.append_entry", full)
    status, _, err = call("pole", folder, "bridge", "north")
    assert (status, err) == (
        2,
        "coilwise: bench.jsonl: Permission denied; check permissions and free space, then try again\n",
    )


@pytest.mark.parametrize("error", [KeyboardInterrupt, typer.Abort])
def test_stopped_from_the_keyboard(call, folder: Path, monkeypatch, error):
    def stop(*_: object) -> None:
        raise error

    monkeypatch.setattr("capture.bench_log.append_entry", stop)
    assert call("pole", folder, "bridge", "north")[0] == 130


def test_a_fault_of_our_own_is_one_line_and_shows_its_trace_on_request(folder: Path, monkeypatch, capsys):
    def wrong(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("capture.bench_log.append_entry", wrong)
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


HELP = """
import sys, typer
from reports.commands import register
from reports.commands.plainly import run_plainly
app = typer.Typer(add_completion=False)
register(app)
status = run_plainly(app, sys.argv[1:])
heavy = sorted({"scipy", "librosa", "matplotlib", "soundfile", "numpy"} & set(sys.modules))
print("HEAVY", *heavy)
sys.exit(status)
"""


@pytest.mark.parametrize("words", [["--help"], *([command, "--help"] for command in COMMANDS)])
def test_help_imports_nothing_heavy(words):
    ran = subprocess.run(
        [sys.executable, "-c", HELP, *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.splitlines()[-1].split() == ["HEAVY"]


def test_a_pole_is_written_down_without_anything_heavy(folder: Path):
    words = ["pole", str(folder), "bridge", "north"]
    ran = subprocess.run(
        [sys.executable, "-c", HELP, *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0
    assert ran.stdout.splitlines()[-1].split() == ["HEAVY"]


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
