"""job.toml: what is read, and every refusal with its words."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from capture_bench import JOB
from hypothesis import given
from hypothesis import strategies as st

from capture import JobError
from capture.job import Member, note_hz, parse_job, read_job

SMALL = 'format = 1\n[[pickup]]\nname = "bridge"\n[[pickup]]\nname = "neck"\n'


def test_what_stands_in_the_file_is_read():
    job = parse_job(JOB)
    assert [p.name for p in job.pickups] == ["bridge", "neck"]
    neck = job.pickup("neck")
    assert neck is not None
    assert (neck.coils, neck.fitted, neck.leads) == (2, False, ("violet", "grey", "orange", "brown"))
    assert job.setting("both").on == (Member(pickup="bridge"), Member(pickup="neck", coil=1, reversed=True))
    assert (job.scale_mm, job.mains_hz, job.strings[4]) == (686.0, 60, "F#3")
    assert job.sounding_mm() == 686.0
    assert job.sounding_mm(fret=12) == pytest.approx(343.0)


def test_what_is_left_out_has_its_default():
    job = parse_job(SMALL, title="bench two")
    assert (job.title, job.scale_mm, job.mains_hz, job.strings, job.settings) == (
        "bench two",
        None,
        None,
        (),
        (),
    )
    first = job.pickups[0]
    assert (first.coils, first.fitted, first.turnable, first.shield, first.leads) == (
        1,
        True,
        False,
        None,
        (),
    )
    assert job.sounding_mm(fret=3) is None


def test_a_pickup_is_a_setting_of_its_own():
    job = parse_job(JOB)
    assert job.setting("neck").on == (Member(pickup="neck"),)
    assert job.setting("middle") is None
    assert job.setting_names == ("bridge", "neck", "both")


def test_a_setting_may_say_what_a_pickups_name_says_anyway():
    job = parse_job(SMALL + '[[setting]]\nname = "neck"\non = ["neck"]\naim = "out of phase"\n')
    assert job.setting("neck").aim == "out of phase"


@pytest.mark.parametrize(
    ("fitted", "expected"), [((True, True), "bridge"), ((False, True), "neck"), ((False, False), "bridge")]
)
def test_the_reference_is_the_first_that_is_fitted(fitted, expected):
    text = SMALL
    for name, value in zip(("bridge", "neck"), fitted, strict=True):
        text = text.replace(f'name = "{name}"', f'name = "{name}"\nfitted = {str(value).lower()}')
    assert parse_job(text).reference.name == expected


REFUSED = [  # what to exchange in JOB, by what, and the words
    (
        "centre_mm = 44.0",
        "centr_mm = 44.0",
        'pickup "bridge": unknown key "centr_mm"; did you mean "centre_mm"?',
    ),
    ("mains_hz = 60", "main_hz = 60", 'unknown key "main_hz"; did you mean "mains_hz"'),
    (
        'name = "both"',
        'name = "both"\nquite = true',
        'setting "both": unknown key "quite"; did you mean "quiet"',
    ),
    ("coil = 1,", "coli = 1,", 'setting "both": on: unknown key "coli"; did you mean "coil"'),
    ("format = 1", "", '"format" is missing'),
    ("format = 1", "format = 2", '"format" is 2, and this coilwise reads format 1'),
    ("format = 1", "format = true", '"format" is True'),
    ("format = 1", 'format = "1"', '"format" is "1"'),
    ('title = "Baritone, other neck pickup"', "title = 3", '"title" must be text in quotes, not 3'),
    ("coils = 1", "coils = true", 'pickup "bridge": "coils" must be a whole number'),
    ("coils = 1", "coils = 1.0", '"coils" must be a whole number'),
    ("coils = 2", "coils = 5", 'pickup "neck": "coils" is 5; write 1, 2, 3 or 4'),
    ("fitted = false", "fitted = 0", '"fitted" must be true or false, not 0'),
    ("centre_mm = 44.0", "centre_mm = true", '"centre_mm" must be a number, not True'),
    ("centre_mm = 44.0", 'centre_mm = "44"', '"centre_mm" must be a number, not "44"'),
    ("centre_mm = 44.0", "centre_mm = -44.0", '"centre_mm" is -44.0; it must be above 0'),
    ("centre_mm = 44.0", "centre_mm = nan", '"centre_mm" must be a finite number, not nan'),
    ("686.0", "inf", '"scale_mm" must be a finite number, not inf'),
    ("686.0", "-686.0", '"scale_mm" is -686.0; it must be above 0'),
    ("centre_mm = 168.0", "centre_mm = 700", 'pickup "neck": "centre_mm" is 700, beyond the scale of 686 mm'),
    ("mains_hz = 60", "mains_hz = 55", '"mains_hz" is 55; write 50 or 60'),
    ('"F#3"', '"H3"', '"strings" item 5 is "H3", which is no note name'),
    ('"F#3"', "3", '"strings" item 5 must be text'),
    ('strings = ["B1", "E2", "A2", "D3", "F#3", "B3"]', 'strings = "E2"', '"strings" must be a list'),
    ('name = "bridge"\n', "", 'pickup number 1: "name" is missing'),
    ('name = "bridge"\n', 'name = ""\n', 'pickup number 1: "name" must not be empty'),
    ('name = "bridge"\n', 'name = " bridge"\n', "leave out spaces at the ends"),
    ('name = "bridge"\n', 'name = "neck"\n', 'two pickups have the name "neck"'),
    ('name = "bridge"\n', 'name = "Neck"\n', 'two pickups have the name "neck"'),
    ('name = "both"', 'name = "neck"', 'has the name of pickup "neck", and that name is that pickup alone'),
    (
        'on = ["bridge", {pickup = "neck"',
        'on = ["bridge", {pickup = "nek"',
        'no pickup "nek"; did you mean "neck"',
    ),
    ('on = ["bridge", ', 'on = ["bridge", "bridge", ', '"bridge" is on twice'),
    ('on = ["bridge", ', 'on = ["neck", ', '"neck" is on twice'),
    ('on = ["bridge", ', 'on = [{pickup = "bridge", coil = 2}, ', 'pickup "bridge" has one coil'),
    ('on = ["bridge", ', "on = [5, ", 'setting "both": "on" holds 5; name a pickup'),
    ('on = ["bridge", {pickup = "neck", coil = 1, reversed = true}]', "on = []", '"on" has too few items'),
    ('on = ["bridge", {pickup = "neck", coil = 1, reversed = true}]', "", '"on" is missing'),
    ('on = ["bridge"', 'join = "serial"\non = ["bridge"', '"join" is "serial"; write "parallel" or "series"'),
    ('on = ["bridge"', 'aim = "loud"\non = ["bridge"', '"aim" is "loud"; write "in phase" or "out of phase"'),
    ('hot = "violet"', 'hot = "Ground"', '"hot" is "Ground", which is no colour'),
    ('ground = "grey"', 'ground = "link"', '"ground" is "link", which is no colour'),
    ('"orange"', '"SHIELD"', '"link" item 1 is "SHIELD", which is no colour'),
    ('"orange"', '"grey"', 'pickup "neck": the colour "grey" is used twice'),
    ('"orange"', '"Violet"', 'the colour "Violet" is used twice'),
    ('["orange", "brown"]', '["orange"]', '"link" must name two leads'),
    ('["orange", "brown"]', '["orange", "brown", "pink"]', '"link" must name two leads'),
    ("coils = 2", "coils = 1", '"link" joins two coils, and "coils" is 1'),
    ('shield = "own lead"', 'shield = "yes"', '"shield" is "yes"; write "own lead", "on ground" or "none"'),
    ("[[setting]]", "[setting]", r'"setting" must be a table in double brackets: \[\[setting\]\]'),
    ("scale_mm = 686.0", "scale_mm = ", "not valid TOML: .*line 4"),
    ("scale_mm = 686.0", "a = " + "[" * 5000, "nested too deeply"),
    ("scale_mm = 686.0", "scale_mm = " + "9" * 5000, "not valid TOML"),
]


@pytest.mark.parametrize(("old", "new", "words"), REFUSED)
def test_refused(old, new, words):
    assert old in JOB
    with pytest.raises(JobError, match=rf"^job\.toml: .*{words}") as caught:
        parse_job(JOB.replace(old, new, 1))
    assert "\n" not in str(caught.value)


def test_no_pickup_is_refused():
    with pytest.raises(JobError, match=r"^job\.toml: no pickup is given"):
        parse_job("format = 1\n")


def test_two_settings_of_one_name_are_refused():
    with pytest.raises(JobError, match='two settings have the name "both"'):
        parse_job(JOB + '[[setting]]\nname = "both"\non = ["neck"]\n')


def test_both_coils_of_one_pickup_are_no_repetition():
    job = parse_job(
        JOB + '[[setting]]\nname = "split"\non = [{pickup="neck", coil=1}, {pickup="neck", coil=2}]\n'
    )
    assert [m.coil for m in job.setting("split").on] == [1, 2]


def test_a_folder_without_a_job(tmp_path: Path):
    with pytest.raises(JobError, match=r'there is no job\.toml here; .*"coilwise new"'):
        read_job(tmp_path)
    with pytest.raises(JobError, match=r"there is no job\.toml here"):
        read_job(tmp_path / "nowhere")


def test_a_job_that_is_a_folder(tmp_path: Path):
    (tmp_path / "job.toml").mkdir()
    with pytest.raises(JobError, match=r"job\.toml: cannot be read"):
        read_job(tmp_path)


def test_not_utf8_names_the_line(folder: Path):
    (folder / "job.toml").write_bytes(b'format = 1\ntitle = "M\xfcnster"\n')
    with pytest.raises(JobError, match=r"^job\.toml: line 2 is not UTF-8"):
        read_job(folder)


def test_byte_order_mark_and_windows_line_ends_are_read(folder: Path):
    (folder / "job.toml").write_bytes(b"\xef\xbb\xbf" + JOB.replace("\n", "\r\n").encode())
    assert read_job(folder) == parse_job(JOB)


def test_the_folder_lends_its_name(folder: Path):
    (folder / "job.toml").write_text(SMALL)
    assert read_job(folder).title == "job"


def test_a_fret_that_is_none():
    with pytest.raises(ValueError, match="fret -1 is not from 0 to 36"):
        parse_job(JOB).sounding_mm(fret=-1)


NOTES = [  # equal temperament, A4 = 440 Hz (ISO 16); the rest is arithmetic
    ("A4", 440.0),
    ("A2", 110.0),
    ("E2", 82.40689),
    ("C4", 261.62557),
    ("F#3", 184.99721),
    ("Gb3", 184.99721),
    ("Bb2", 116.54094),
    ("Cb4", 246.94165),
    ("b#3", 261.62557),
]


@pytest.mark.parametrize(("name", "hz"), NOTES)
def test_pitch_of_a_note(name, hz):
    assert note_hz(name) == pytest.approx(hz, rel=1e-6)


def test_a_fret_raises_the_pitch_by_a_semitone():
    assert note_hz("E2", fret=5) == pytest.approx(note_hz("A2"))


@pytest.mark.parametrize("name", ["", "H2", "E", "2E", "E-1", "E2 ", "E#b2", "e 2", "E９", "F###3"])
def test_no_note(name):
    with pytest.raises(JobError, match="is no note name; write a letter"):
        note_hz(name)


@given(st.text(max_size=6))
def test_any_text_is_a_note_or_refused(text):
    try:
        hz = note_hz(text)
    except JobError:
        return
    assert math.isfinite(hz)
    assert 10 < hz < 20_000


@given(st.binary(max_size=200))
def test_any_bytes_are_a_job_or_refused(raw):
    try:
        parse_job(raw.decode("utf-8", "replace"))
    except JobError as error:
        assert "\n" not in str(error)


@given(st.integers(0, len(JOB)), st.integers(0, 20), st.text(max_size=8))
def test_a_mutated_job_is_read_or_refused(place, length, text):
    try:
        job = parse_job(JOB[:place] + text + JOB[place + length :])
    except JobError as error:
        assert str(error).startswith("job.toml: ")
        assert "\n" not in str(error)
    else:
        assert job.pickups
