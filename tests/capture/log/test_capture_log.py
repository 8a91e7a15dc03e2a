"""bench.jsonl read: every refusal and warning with its words, voids, torn lines."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from capture_bench import EXAMPLES, METER, TAKE, write_log

from capture import LOG_FILE, LogError
from capture.job import Job
from capture.log import (
    Change,
    LeadsInput,
    Meter,
    Ohms,
    Pole,
    Take,
    Void,
    append_entry,
    new_entry,
    read_log,
    reading,
)


def test_the_examples_of_the_format_are_read(folder: Path, job: Job):
    write_log(folder, *EXAMPLES)
    log = read_log(folder, job)
    assert log.warnings == ()
    assert [type(e.entry) for e in log.entries] == [Take] * 6 + [Meter] * 2 + [Ohms] * 2 + [
        Pole,
        Change,
        Void,
    ]
    assert [e.line for e in log.entries] == list(range(1, 14))
    first = log.entries[0].entry
    assert (first.string, first.fret, first.rig, first.stage) == (
        "A2",
        0,
        "two-input box, short cable",
        "found",
    )
    entries = {one.entry.id: one.entry for one in log.entries}
    assert entries["t003"].inputs == (("bridge", "both", "neck"),)
    assert entries["t005"].inputs == (LeadsInput(pickup="neck", hot="violet", ground="orange"),)
    assert entries["t006"].inputs == ("neck", None)
    assert entries["t004"].is_split_check
    assert not entries["t002"].is_split_check
    assert entries["r001"].kohm == 4.1
    assert entries["r002"].kohm is None
    assert entries["p001"].stage == "after"
    assert entries["c001"].leads == {"grey": "hot", "violet": "ground"}
    assert [e.entry.id for e in log.entries if e.voided] == ["t002"]
    assert "t002" not in [e.id for e in log.standing]


def test_no_log_is_an_empty_log(folder: Path, job: Job):
    assert read_log(folder, job).entries == ()


def without(entry, *keys):
    return {k: v for k, v in entry.items() if k not in keys}


REFUSED = [
    ({**TAKE, "kind": "talk"}, 'unknown kind "talk"; did you mean "take"'),
    ({**TAKE, "kind": 3}, "unknown kind 3; there is"),
    (without(TAKE, "kind"), '"kind" is missing; there is "take", "meter"'),
    (without(TAKE, "id"), '"id" is missing'),
    ({**TAKE, "id": ""}, '"id" is missing'),
    ({**TAKE, "id": 5}, '"id" must be text in quotes, not 5'),
    (without(TAKE, "file"), '"file" is missing'),
    (without(TAKE, "gesture"), '"gesture" is missing'),
    (without(TAKE, "inputs"), '"inputs" is missing'),
    ({**TAKE, "gesture": "strum"}, '"gesture" is "strum"; write "pluck", "press"'),
    ({**TAKE, "inputs": []}, '"inputs" has too few items'),
    ({**TAKE, "inputs": "bridge"}, '"inputs" must be a list'),
    ({**TAKE, "inputs": ["bridge", 5]}, '"inputs" item 2 must be a setting\'s name'),
    ({**TAKE, "inputs": ["midle"]}, 'no setting or pickup "midle"; there is "bridge", "neck" and "both"'),
    ({**TAKE, "inputs": ["nek"]}, 'no setting or pickup "nek"; did you mean "neck"'),
    ({**TAKE, "inputs": [["bridge", "bth"]]}, 'no setting or pickup "bth"; did you mean "both"'),
    (
        {**TAKE, "inputs": [{"pickup": "nick", "hot": "a", "ground": "b"}]},
        'no pickup "nick"; did you mean "neck"',
    ),
    (
        {**TAKE, "inputs": [{"pickup": "neck", "hot": "violett", "ground": "grey"}]},
        'pickup "neck" has no lead "violett"; did you mean "violet"',
    ),
    ({**TAKE, "inputs": [{"pickup": "neck", "hot": "grey", "ground": "grey"}]}, '"inputs" item 1 must be'),
    ({**TAKE, "inputs": [{"pickup": "neck", "hot": "hot", "ground": "grey"}]}, '"inputs" item 1 must be'),
    ({**TAKE, "string": "H3"}, '"string" is "H3", which is no note name'),
    ({**TAKE, "fret": -1}, '"fret" is -1; it must be at least 0'),
    ({**TAKE, "fret": 99}, '"fret" is 99; it must be at most 36'),
    ({**TAKE, "fret": True}, '"fret" must be a whole number, not True'),
    ({**TAKE, "coil": 2}, '"coil" is 2, and no pickup of this take has two coils'),
    ({**TAKE, "coil": 5}, '"coil" is 5; write 1, 2, 3 or 4'),
    ({**TAKE, "coil": True}, '"coil" must be a whole number'),
    ({**TAKE, "stage": "before"}, '"stage" is "before"; write "found" or "after"'),
    ({**TAKE, "sha256": "abc"}, '"sha256" is no SHA-256'),
    ({**TAKE, "file": "/etc/passwd"}, '"file" is "/etc/passwd", an absolute path'),
    ({**TAKE, "file": "C:\\takes\\a.wav"}, "an absolute path"),
    ({**TAKE, "file": "\\\\host\\a.wav"}, "an absolute path"),
    ({**TAKE, "file": "../other/t.wav"}, "which leads out of the job folder"),
    ({**TAKE, "file": "takes/../../t.wav"}, "which leads out of the job folder"),
    ({**TAKE, "file": "takes/\x00.wav"}, "which is no path that can be followed"),
    ({**METER, "pickup": "mid"}, 'no pickup "mid"; there is "bridge" and "neck"'),
    ({**METER, "move": "up"}, '"move" is "up"; write "away" or "toward"'),
    ({**METER, "reading": "jumps"}, '"reading" is "jumps"; write "rises", "falls" or "unclear"'),
    ({**METER, "kohm": -1}, '"kohm" is -1; it must be at least 0'),
    ({**METER, "kohm": "6"}, '"kohm" must be a number, not "6"'),
    ({**METER, "red": "violet"}, '"red" is a lead\'s colour, so "black" is needed'),
    ({**METER, "red": "hot", "black": "hot"}, '"red" is on hot, so "black" is on ground'),
    ({**METER, "red": "violet", "black": "violet"}, "are on the same lead"),
    ({**METER, "pickup": "neck", "red": "pink", "black": "grey"}, 'pickup "neck" has no lead "pink"'),
    ({"kind": "ohms", "id": "r1", "pickup": "neck", "between": ["violet"]}, '"between" must name two leads'),
    ({"kind": "ohms", "id": "r1", "pickup": "neck", "between": ["grey", "grey"]}, 'names "grey" twice'),
    ({"kind": "ohms", "id": "r1", "pickup": "neck", "between": ["grey", "pink"]}, 'has no lead "pink"'),
    (
        {"kind": "pole", "id": "p1", "pickup": "bridge", "facing": "up"},
        '"facing" is "up"; write "north" or "south"',
    ),
    (
        {"kind": "pole", "id": "p1", "pickup": "bridge", "facing": "north", "coil": 2},
        'pickup "bridge" has one coil',
    ),
    (
        {"kind": "change", "id": "c1", "pickup": "neck", "leads": {"grey": "hot"}},
        "does not say which lead is ground",
    ),
    (
        {"kind": "change", "id": "c1", "pickup": "neck", "leads": {"hot": "hot", "grey": "ground"}},
        "no colour",
    ),
    (
        {"kind": "change", "id": "c1", "pickup": "neck", "leads": {"pink": "hot", "grey": "ground"}},
        'no lead "pink"',
    ),
    ({"kind": "change", "id": "c1", "pickup": "neck", "leads": {"grey": "live"}}, 'write "hot", "ground"'),
    ({"kind": "void", "id": "v1", "entry": "t009"}, 'voids "t009", and there is no such entry before it'),
    ({"kind": "void", "id": "v1", "entry": "v1"}, 'voids "v1", and there is no such entry before it'),
    ('{"kind": "pole", "kind": "pole"}', 'has the key "kind" twice'),
    ('{"kind": "meter", "kohm": NaN}', "holds NaN, which is no number"),
    ('{"kind": "meter", "kohm": -Infinity}', "holds -Infinity, which is no number"),
    ('{"kind": "meter", "kohm": 1e999}', 'holds "1e999", too large a number'),
    (r'{"kind": "pole", "who": "\ud800"}', "holds half a character"),
    ("[1, 2]", "must be an object in braces"),
    ("5", "must be an object in braces"),
]


@pytest.mark.parametrize(("entry", "words"), REFUSED)
def test_refused_with_file_and_line(folder: Path, job: Job, entry, words):
    write_log(folder, {**METER, "id": "m900"}, "", entry)
    with pytest.raises(LogError, match=rf"^bench\.jsonl line 3: .*({words})") as caught:
        read_log(folder, job)
    assert "\n" not in str(caught.value)


def test_two_entries_of_one_id_are_refused(folder: Path, job: Job):
    write_log(folder, TAKE, {**METER, "id": "t001"})
    with pytest.raises(LogError, match=r'line 2: the id "t001" is taken by line 1'):
        read_log(folder, job)


@pytest.mark.parametrize("broken", ["{", "hello", '{"kind": "take"', "{'kind': 1}", "[" * 100_000])
def test_a_broken_line_before_the_last_is_refused(folder: Path, job: Job, broken):
    write_log(folder, TAKE, broken, METER)
    with pytest.raises(LogError, match=r"^bench\.jsonl line 2: broken, not JSON"):
        read_log(folder, job)


def test_bytes_that_are_no_text_are_refused(folder: Path, job: Job):
    (folder / "bench.jsonl").write_bytes(b'{"kind": "\xff"}\n' + json.dumps(METER).encode() + b"\n")
    with pytest.raises(LogError, match="line 1: broken"):
        read_log(folder, job)


def test_a_log_that_is_a_folder(folder: Path, job: Job):
    (folder / "bench.jsonl").mkdir()
    with pytest.raises(LogError, match=r"bench\.jsonl: cannot be read"):
        read_log(folder, job)
    with pytest.raises(LogError, match=r"bench\.jsonl: cannot be written"):
        append_entry(folder, new_entry(Pole, pickup="bridge", facing="north"))


def test_a_link_that_climbs_out_is_refused(folder: Path, job: Job, tmp_path: Path):
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "t001.wav").write_bytes(b"x")
    (folder / "takes").symlink_to(tmp_path / "outside")
    write_log(folder, TAKE)
    with pytest.raises(LogError, match=r"line 1: .*leads out of the job folder"):
        read_log(folder, job)


def test_a_link_within_the_folder_and_dots_that_stay_inside_are_read(folder: Path, job: Job):
    (folder / "audio").mkdir()
    (folder / "takes").symlink_to("audio")
    write_log(folder, TAKE, {**TAKE, "id": "t002", "file": "takes/../audio/t.wav"})
    assert len(read_log(folder, job).entries) == 2


WARNED = [
    ({**TAKE, "strng": "A2"}, 'unknown key "strng"; did you mean "string"? It is kept.'),
    ({**TAKE, "string": "A4"}, 'no string "A4" on this guitar; there is "B1"'),
    ({**TAKE, "gesture": "switch"}, "a switch take needs"),
    ({**TAKE, "inputs": [["bridge", "neck"]]}, "goes with a switch take, and this is a pluck"),
    ({**TAKE, "gesture": "switch", "inputs": [["bridge"]]}, "needs two or more"),
    ({**TAKE, "inputs": [None]}, "nothing was plugged in"),
    ({**TAKE, "at": "yesterday"}, '"at" is "yesterday", which is no time'),
    ({"kind": "pole", "id": "p1", "pickup": "neck", "facing": "north"}, 'has two coils; name the "coil"'),
]


@pytest.mark.parametrize(("entry", "words"), WARNED)
def test_odd_but_read_with_a_warning(folder: Path, job: Job, entry, words):
    write_log(folder, METER, entry)
    log = read_log(folder, job)
    assert [e.entry.id for e in log.entries] == ["m001", entry["id"]]
    assert len(log.warnings) == 1
    assert log.warnings[0].startswith("bench.jsonl line 2 (")
    assert words in log.warnings[0]


@pytest.mark.parametrize(("entry", "words"), WARNED[1:])
def test_what_is_only_odd_in_a_log_is_not_added_to_one(folder: Path, entry, words):
    models = {"take": Take, "pole": Pole}
    said = {
        k: tuple(tuple(i) if isinstance(i, list) else i for i in v) if k == "inputs" else v
        for k, v in entry.items()
    }
    with pytest.raises(LogError) as caught:
        append_entry(folder, new_entry(models[entry["kind"]], **said))
    assert words in str(caught.value)
    assert (folder / "bench.jsonl").read_bytes() == b""


def test_colours_are_free_where_the_pickup_names_none(folder: Path, job: Job):
    write_log(folder, {**METER, "red": "pink", "black": "braid"})
    assert read_log(folder, job).warnings == ()


def voided(folder: Path, job: Job, *voids: tuple[str, str]) -> list[str]:
    lines = [{"kind": "void", "id": name, "entry": entry} for name, entry in voids]
    write_log(folder, TAKE, METER, *lines)
    return [e.entry.id for e in read_log(folder, job).entries if e.voided]


@pytest.mark.parametrize(
    ("voids", "expected"),
    [
        ([("v1", "t001")], ["t001"]),
        ([("v1", "t001"), ("v2", "v1")], ["v1"]),
        ([("v1", "t001"), ("v2", "v1"), ("v3", "v2")], ["t001", "v2"]),
        ([("v1", "t001"), ("v2", "t001"), ("v3", "v1")], ["t001", "v1"]),
        ([("v1", "t001"), ("v2", "v1"), ("v3", "t001")], ["t001", "v1"]),
        ([("v1", "m001"), ("v2", "t001")], ["t001", "m001"]),
    ],
)
def test_voids(folder: Path, job: Job, voids, expected):
    assert voided(folder, job, *voids) == expected


@pytest.mark.parametrize(("end", "cut"), [("", 20), ("\n", 20), ("", 1)])
def test_a_torn_last_line_is_a_warning(folder: Path, job: Job, end, cut):
    write_log(folder, METER, json.dumps(TAKE)[:-cut], end=end)
    log = read_log(folder, job)
    assert [e.entry.id for e in log.entries] == ["m001"]
    assert len(log.warnings) == 1
    assert log.warnings[0].startswith("bench.jsonl line 2: torn, so it is left out")


def test_a_last_line_that_only_lacks_its_end_counts(folder: Path, job: Job):
    write_log(folder, METER, TAKE, end="")
    assert [e.entry.id for e in read_log(folder, job).entries] == ["m001", "t001"]
    append_entry(folder, new_entry(Pole, pickup="bridge", facing="north"))
    log = read_log(folder, job)
    assert ([e.entry.id for e in log.entries], log.warnings) == (["m001", "t001", "p001"], ())


def test_a_log_that_grew_is_read_as_it_would_be_anew(folder: Path, job: Job, monkeypatch):
    """Torn lines, voids, what is odd; a line that changed, and another job, are seen."""
    lines = [json.dumps(entry, ensure_ascii=False).encode() + b"\n" for entry in EXAMPLES]
    lines[3:3] = [
        b'{"kind": "pole", "id"',
        b"\n",
        b'{"kind": "void", "id": "v9", "entry": "t001", "after_torn": true}\n',
    ]
    lines += [
        b"\n",
        b'{"kind": "take", "id": "t9", "odd": 1, "file": "takes/t9.wav", "gesture": "pluck", ',
        b"\n",
    ]
    file, raw = folder / LOG_FILE, b""
    for line in lines:
        raw += line
        file.write_bytes(raw)
        grown = read_log(folder, job)
        monkeypatch.setattr(reading, "_READ_BEFORE", {})
        assert grown == read_log(folder, job)
    with pytest.raises(LogError, match="line 2: "):
        file.write_bytes(raw.replace(lines[1], b"{}\n") + lines[0])
        read_log(folder, job)
    with pytest.raises(LogError, match="line 2: no setting or pickup"):
        file.write_bytes(raw)
        read_log(folder, job.model_copy(update={"pickups": job.pickups[:1], "settings": ()}))
