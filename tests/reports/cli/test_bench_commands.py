"""The bench's commands as a person calls them: what they write and what they say."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from capture_bench import bench, write_audio, write_log
from typer.testing import CliRunner

from capture.job import read_job
from capture.log import Pole, append_entry, new_entry, read_log
from reports.messages import cautions

COMMANDS = ("new", "take", "meter", "ohms", "pole", "check", "change", "tag", "void", "list")
ROOT = Path(__file__).resolve().parents[3]


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
    assert f"{home}: made, with bridge (44 mm), neck (168 mm, 2 coils, loose)." in out
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
        '"long" is no length',
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
    again = call(*words)[1]
    assert "t002: does NOT count (hum: bridge | neck). The same audio as t001, so it counts once" in again


@pytest.mark.parametrize(("gesture", "expected"), [("lift", True), ("touch", True), ("pluck", False)])
def test_tools_near_poles_come_with_a_caution(call, folder: Path, recording: Path, gesture, expected):
    out = call(
        "take", folder, recording, "--gesture", gesture, "--coil", 1, "--on", "neck", "--on", "nothing"
    )[1]
    assert (cautions.THUMP in out, cautions.BARE_COIL in out) == (expected, expected)
    assert last(folder)["coil"] == 1


def test_several_readings_in_one_line_are_all_entered_or_none(call, folder: Path):
    words = ("--move", "away", "--red", "hot")
    status, out, _ = call("meter", folder, "bridge:rises:6.6k", "neck:falls:7k1", *words)
    assert status == 0
    assert [(e.pickup, e.reading, e.kohm) for e in entries(folder)] == [
        ("bridge", "rises", 6.6),
        ("neck", "falls", 7.1),
    ]
    assert out.count("Caution: Unplug") == 1
    assert call("meter", folder, "bridge:rises:6.6k", "nek:falls", *words)[0] == 2
    assert len(entries(folder)) == 2
    assert "Caution" not in call("meter", folder, "bridge:rises", *words)[1]


def test_the_last_entry_is_corrected_or_taken_back_in_one_command(call, folder: Path):
    swing = ("--move", "away", "--red", "hot")
    call("meter", folder, "bridge:rises", *swing)
    call("meter", folder, "neck:falls", *swing)
    assert call("meter", folder, "neck:rises", *swing, "--instead", "last")[0] == 0
    assert [(e.id, e.reading) for e in standing(folder)] == [("m001", "rises"), ("m003", "rises")]
    assert "m003 does not count" in call("void", folder, "last")[1]
    assert "void already" in call("void", folder, "m003")[1]
    assert "m003 counts again" in call("void", folder, "m003", "--back")[1]
    assert [e.id for e in standing(folder)] == ["m001", "m003"]
    assert '"m001" is a meter' in call("pole", folder, "bridge", "north", "--instead", "m001")[2]


def entries(folder: Path) -> list:
    """What the log holds."""
    return [e.entry for e in read_log(folder, read_job(folder)).entries]


def standing(folder: Path) -> list:
    """What counts of it."""
    return list(read_log(folder, read_job(folder)).standing)


def test_a_job_is_found_from_a_subfolder_and_named_where_it_is_missing(call, tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    call("new", "my job", "--pickup", "bridge:1.75in", "--pickup", "neck:168")
    assert "there are 'my job'" in call("list")[2]
    assert "there are 'my job'" in call("list", "another")[2]
    (tmp_path / "my job" / "takes").mkdir(exist_ok=True)
    for inside in (tmp_path / "my job", tmp_path / "my job" / "takes"):
        monkeypatch.chdir(inside)
        assert call("list", ".")[0] == 0
        assert call("list", "my job")[0] == 0


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
    assert out.startswith("m001: bridge: tool pulled away (steel rod): rises; red on hot, 6.6 k at rest.\n")
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


CHECKED = [
    (("clip-lead", "--input", 2, "--tip", "red", "--kohm", 0), {"input": 2, "tip": "red", "kohm": 0.0}),
    (("tool", "--tool", "rod", "--staple", "not lifted"), {"tool": "rod", "staple": "not lifted"}),
    (("held", "--pickup", "neck", "--side", "over"), {"pickup": "neck", "side": "over"}),
    (("bypass", "--pickup", "neck", "--no-inverts"), {"pickup": "neck", "inverts": False}),
]


@pytest.mark.parametrize(("words", "expected"), CHECKED)
def test_checks(call, folder: Path, words, expected):
    status, _, err = call("check", folder, *words)
    assert (status, err) == (0, "")
    entry = last(folder)
    what = words[0].replace("-", " ")
    assert {k: v for k, v in entry.items() if k not in ("id", "at")} == {
        "kind": "check",
        "what": what,
        **expected,
    }
    assert call("list", folder)[1].count("check") >= 1


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
    append_entry(folder, new_entry(Pole, pickup="bridge", facing="south"))
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


NECK = 'format = 1\n[[pickup]]\nname = "bridge"\n[[pickup]]\nname = "neck"\n'
NAMED = NECK + 'hot = "violet"\nground = "grey"\n'


@pytest.mark.parametrize(
    ("toml", "leads", "said"),
    [
        (NAMED, ["grey=hot", "violet=ground"], "hot and ground of neck are exchanged"),
        (NAMED, ["violet=hot", "grey=ground"], "nothing is exchanged"),
        (NECK, ["red=hot", "white=ground"], "taken for an exchange of hot and ground"),
    ],
)
def test_a_change_says_what_it_was_understood_as_and_how_it_is_taken_back(call, tmp_path, toml, leads, said):
    home = tmp_path / "two words"
    home.mkdir()
    (home / "job.toml").write_text(toml)
    status, out, err = call("change", home, "neck", *leads)
    assert (status, err) == (0, "")
    assert said in out
    assert f"coilwise void '{home}' c001" in out
