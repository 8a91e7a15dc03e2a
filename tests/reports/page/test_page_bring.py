"""Recordings dropped on the page: kept apart, looked at, cut and brought in without a browser."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from hypothesis import given
from hypothesis import strategies as st

from capture import RecordingError
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from reports.entry import recordings as bring_in
from reports.entry.spelling import take_fields
from reports.messages import page as words
from reports.messages.imported import COUNTS_DIFFER
from reports.messages.sentences import say
from reports.model.take_notes import TakeNote
from reports.model.verdict import TakeRow, Verdict
from reports.page.screens.bring import cuts_html, imported_html, names_html
from reports.page.server.uploads import LONGEST_NAME, UploadStore, safe_name

RATE = 16_000
TIMES = (1.0, 4.0, 7.0)
HOSTILE = "<script>alert(1)</script>"
JOB = """\
format = 1
title = "Sunday"
strings = ["D3"]

[[pickup]]
name = "bridge"

[[pickup]]
name = "neck"
"""


def plucks(times, *, seconds: float = 10.0, channels: int = 1) -> np.ndarray:
    """A decaying string at each of these seconds over a little noise."""
    sound = np.random.default_rng(1).normal(0, 2e-4, round(seconds * RATE))
    t = np.arange(round(1.5 * RATE)) / RATE
    string = sum(np.sin(2 * np.pi * 147.0 * n * t) * np.exp(-t * n) / n for n in range(1, 8))
    for k, at in enumerate(times):
        first = round(at * RATE)
        sound[first : first + len(t)] += (0.2 + 0.02 * k) * string[: len(sound) - first]
    return np.repeat(sound[:, None], channels, axis=1)


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "job.toml").write_text(JOB, encoding="utf-8")
    return JobFolder.open(tmp_path / "job")


@pytest.fixture
def tray():
    made = UploadStore()
    yield made
    made.close()


def drop(tray: UploadStore, name: str, sound: np.ndarray | bytes):
    path = tray.path_for(name)
    if isinstance(sound, bytes):
        path.write_bytes(sound)
    else:
        sf.write(path, sound, RATE, subtype="PCM_24", format="WAV")
    return tray.add(path)


@given(st.text(max_size=300))
def test_a_name_from_a_browser_becomes_one_harmless_name(name):
    safe = safe_name(name)
    assert 0 < len(safe) <= LONGEST_NAME
    assert not re.search(r'[/\\:*?"<>|\x00-\x1f\x7f]', safe)
    assert safe[0] not in ".- " and safe[-1] not in ". "


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("sunday long.wav", "sunday long.wav"),
        ("Brücke 3.FLAC", "Brücke 3.FLAC"),
        ("../../etc/passwd", "passwd"),
        ("C:\\takes\\one.wav", "one.wav"),
        (".hidden.wav", "hidden.wav"),
        ("", words.NO_NAME),
    ],
)
def test_an_ordinary_name_stays(said, kept):
    assert safe_name(said) == kept


def test_files_lie_where_only_this_user_reads_them_and_go_with_the_tray(tray):
    one = drop(tray, "one.wav", plucks(TIMES))
    inside = one.path.parent.parent
    assert stat.S_IMODE(inside.stat().st_mode) == 0o700
    tray.close()
    assert not inside.exists() and tray.files == ()


def test_no_more_files_are_taken_in_than_a_job_could_have(tray, monkeypatch):
    monkeypatch.setattr("reports.page.server.uploads.MOST_FILES", 1)
    drop(tray, "one.wav", plucks(TIMES))
    with pytest.raises(RecordingError, match="There are 1 files here"):
        tray.path_for("two.wav")
    assert len(list(tray.files[0].path.parent.parent.iterdir())) == 1


def test_files_stand_as_people_count_them_until_one_is_moved(tray):
    for name in ("take 10.wav", "take 2.wav", "take 1.wav"):
        drop(tray, name, plucks(TIMES[: int(name[5])]))
    assert [f.name for f in tray.files] == ["take 1.wav", "take 2.wav", "take 10.wav"]
    tray.move_up(tray.files[2])
    drop(tray, "take 0.wav", plucks((2.0,)))
    assert [f.name for f in tray.files] == ["take 1.wav", "take 10.wav", "take 2.wav", "take 0.wav"]
    gone = tray.files[0]
    tray.remove(gone)
    assert gone not in tray.files and not gone.path.exists()


@pytest.mark.parametrize("content", [b"", b"shopping list"])
def test_what_is_no_recording_is_refused_by_its_name_and_leaves_nothing(tray, content):
    with pytest.raises(RecordingError, match=r"^notes\.wav: "):
        drop(tray, "notes.wav", content)
    inside = tray.path_for("x").parent.parent
    assert tray.files == () and not list(inside.rglob("notes.wav"))


def test_the_same_recording_again_is_refused_and_another_of_its_name_is_not(tray):
    drop(tray, "one.wav", plucks(TIMES))
    with pytest.raises(RecordingError, match="here already"):
        drop(tray, "one.wav", plucks(TIMES))
    drop(tray, "one.wav", plucks(TIMES[:1]))
    assert len(tray.files) == 2


def test_too_large_a_recording_is_refused(tray, monkeypatch):
    monkeypatch.setattr("reports.page.server.uploads.LIMIT_BYTES", 1000)
    with pytest.raises(RecordingError, match=r"one\.wav: is larger"):
        drop(tray, "one.wav", plucks(TIMES))


def test_each_file_is_a_take_and_one_that_does_not_fit_keeps_none_back(folder, tray):
    one, two = (
        drop(tray, "one.wav", plucks((1.0,), seconds=3)),
        drop(tray, "two.wav", plucks((1.2,), seconds=3)),
    )
    both = drop(tray, "both.wav", plucks((1.0,), channels=2))
    before = one.path.read_bytes()
    said = take_fields("pluck", string="D3", fret=2, stage="after", rig="box")
    outcome = bring_in.import_each(folder, tray.files, said, on=["neck"])
    assert [c.id for c in outcome.came] == ["t001", "t002"]
    assert set(outcome.done) == {one, two}
    assert len(outcome.refused) == 1 and outcome.refused[0].startswith(f"{both.name}: ")
    entries = JobFolder.open(folder.path).log.standing
    assert [(e.inputs, e.string, e.fret, e.stage, e.rig) for e in entries] == [
        (("neck",), "D3", 2, "after", "box")
    ] * 2
    assert (folder.path / entries[0].file).read_bytes() == before


def listened(folder, tray, order: str, said: TakeFields):
    played = bring_in.parse_order(folder, tray.files, said, order)
    return bring_in.search_onsets(folder, tray.files, played), played


def test_a_recording_is_cut_and_what_is_left_out_is_no_take(folder, tray):
    drop(tray, "long.wav", plucks(TIMES))
    said = take_fields("pluck", string="D3")
    heard, played = listened(folder, tray, "neck 1, bridge 1", said)
    differ = bring_in.share_out(heard, played, left_out=())
    assert differ.refusal == COUNTS_DIFFER["page"].format(found=3, played=2) and not differ.cuts
    cuts = bring_in.share_out(heard, played, left_out={2})
    assert not cuts.refusal
    assert [c.take.inputs for c in cuts.cuts] == [("neck",), ("bridge",)]
    assert [c.onset.at_s for c in cuts.cuts] == pytest.approx([TIMES[0], TIMES[2]], abs=0.05)
    outcome = bring_in.import_cuts(folder, cuts)
    assert [c.id for c in outcome.came] == ["t001", "t002"] and outcome.done == tray.files
    assert all("long.wav" in c.what and "/" not in c.what for c in outcome.came)
    again = bring_in.import_cuts(JobFolder.open(folder.path), cuts)
    assert all(c.note.startswith("was in already") for c in again.came)


def test_what_was_heard_is_not_heard_again_unless_the_inputs_or_the_gesture_differ(folder, tray):
    drop(tray, "long.wav", plucks(TIMES, channels=2))
    said = take_fields("pluck", string="D3")
    heard, _ = listened(folder, tray, "neck|bridge 3", said)
    other = bring_in.parse_order(folder, tray.files, said, "bridge|neck 2")
    assert bring_in.search_onsets(folder, tray.files, other, before=heard) is heard
    one = bring_in.parse_order(folder, tray.files, said, "bridge|nothing 2")
    assert bring_in.search_onsets(folder, tray.files, one, before=heard) is not heard


def test_no_refusal_speaks_of_the_command_line_or_of_where_the_files_lie(folder, tray):
    drop(tray, "close.wav", plucks((1.0, 1.42, 5.0)))
    said = take_fields("pluck", string="D3")
    heard, played = listened(folder, tray, "neck 3", said)
    refusals = [bring_in.share_out(heard, played, left_out=out).refusal for out in ((), {1}, {1, 2, 3})]
    with pytest.raises(RecordingError) as error:
        bring_in.parse_order(folder, tray.files, said, "neck|bridge 3")
    refusals.append(str(error.value))
    assert all(refusals)
    assert not [r for r in refusals if "--" in r or "/" in r.replace("neck|nothing", "")]


def test_tables_take_nothing_typed_for_markup(folder, tray):
    came = bring_in.ImportedEntry("t001", f"pluck: {HOSTILE}", HOSTILE)
    assert "<script" not in imported_html([came], None) + names_html("names", [HOSTILE, '" onfocus="x'])
    assert 'value="&quot; onfocus=&quot;x"' in names_html("names", ['" onfocus="x'])


def test_every_onset_has_a_box_and_the_ones_left_out_are_ticked(folder, tray):
    drop(tray, "long & short.wav", plucks(TIMES))
    said = take_fields("pluck", string="D3")
    heard, played = listened(folder, tray, "neck 2", said)
    html = cuts_html(bring_in.share_out(heard, played, left_out={3}))
    assert re.findall(r'data-onset="(\d)"><input type="checkbox"( checked)?>', html) == [
        ("1", ""),
        ("2", ""),
        ("3", " checked"),
    ]
    assert "long &amp; short.wav" in html


def test_what_was_heard_is_told_in_the_words_of_the_verdict():
    no_list = TakeNote("no list of settings")
    took = (
        TakeRow(id="t001", used=False, faults=(no_list,)),
        TakeRow(id="t002", used=True),
    )
    verdict = Verdict(title="", stage="found", reference="bridge", pairs=(), takes=took)
    said = [
        bring_in.entry_result(bring_in.ImportedEntry(i, "pluck"), verdict) for i in ("t001", "t002", "t003")
    ]
    assert said == [f"{words.COUNTS_NOT} {say(no_list)}", words.COUNTS, words.NOT_JUDGED]
