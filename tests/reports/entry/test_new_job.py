"""A new job from what was typed into its form, and numbers as they are typed."""

from __future__ import annotations

from datetime import date
from functools import partial

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from capture import JobError, LogError
from capture.audio.devices import InputDevice, pick_device
from capture.takes.folder import JobFolder
from reports.entry.bench_memory import BenchMemory, bench_lines, usual_input
from reports.entry.first_job import LOOSE_PAIR, first_job
from reports.entry.new_job import (
    MEMBER_FORMS,
    OFF,
    JobFields,
    PickupFields,
    SettingFields,
    create_job_folder,
    pickup_of,
    setting_of,
    typed_job_folder,
)
from reports.entry.spelling import number_from, pickup_from, setting_from

NECK = PickupFields(
    name="neck",
    centre="168,5",
    coils=2,
    fitted=False,
    turnable=True,
    active=True,
    hot="violet",
    ground="grey",
    link=("orange", "brown"),
    shield="on ground",
)


def a_job(place, name="sunday", **said):
    return create_job_folder(
        JobFields(folder=name, **{"pickups": (PickupFields(name="bridge"), NECK)} | said), under=place
    )


def test_the_pickups_are_those_of_the_command_line():
    spelt = (
        "neck:168.5:coils=2:loose:turnable:active:hot=violet:ground=grey:link=orange/brown:shield=on ground"
    )
    assert pickup_of(NECK, 1) == pickup_from(spelt)
    assert pickup_of(PickupFields(name="bridge", centre="44"), 1) == pickup_from("bridge:44")


@pytest.mark.parametrize(
    ("how", "spelt"),
    [
        ("whole", "neck"),
        ("whole reversed", "neck/reversed"),
        ("coil 1", "neck/1"),
        ("coil 2", "neck/2"),
        ("coil 1 reversed", "neck/1/reversed"),
        ("coil 2 reversed", "neck/2/reversed"),
    ],
)
def test_the_settings_are_those_of_the_command_line(how, spelt):
    said = SettingFields("both", (("bridge", "whole"), ("middle", OFF), ("neck", how)))
    assert setting_of(said, 1) == setting_from(f"both=bridge+{spelt}")
    assert how in MEMBER_FORMS


def test_join_aim_and_quiet():
    said = SettingFields("odd", (("a", "whole"), ("b", "whole")), "series", "out of phase", True)
    assert setting_of(said, 1) == setting_from("odd=a+b:series:out of phase:quiet")


def test_a_bare_name_goes_under_the_place_for_jobs(tmp_path):
    settings = (SettingFields("both", (("bridge", "whole"), ("neck", "coil 1"))), SettingFields())
    path = a_job(tmp_path, title="", scale="648,5", mains_hz=50, strings="E2, A2 D3", settings=settings)
    assert path == tmp_path / "sunday"
    job = JobFolder.open(path).job
    assert (job.title, job.scale_mm, job.mains_hz) == ("sunday", 648.5, 50)
    assert job.strings == ("E2", "A2", "D3")
    assert [p.name for p in job.pickups] == ["bridge", "neck"]
    assert [(s.name, s.on[1].coil) for s in job.settings] == [("both", 1)]
    assert typed_job_folder(str(tmp_path / "x"), under=tmp_path / "y") == tmp_path / "x"


def test_the_home_folder_may_be_a_tilde(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    assert typed_job_folder("~/guitars/one", under=tmp_path / "y") == tmp_path / "guitars" / "one"
    assert typed_job_folder("~nobody-of-that-name", under=tmp_path) == tmp_path / "~nobody-of-that-name"


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        ({"name": ""}, "give the job's folder a name"),
        ({"pickups": (PickupFields(), PickupFields())}, "name one pickup at least"),
        ({"pickups": (PickupFields(centre="44"),)}, "pickup 1: has no name"),
        (
            {"pickups": (PickupFields(name="neck", centre="4 ells"),)},
            'pickup "neck": Centre, mm: "4 ells" is no length',
        ),
        ({"pickups": (PickupFields(name="neck", coils=2, link=("a", "")),)}, "the link is two leads"),
        ({"pickups": (PickupFields(name="neck", hot="hot"),)}, "which is no colour"),
        ({"settings": (SettingFields(on=(("bridge", "whole"),)),)}, "setting 1: has no name"),
        ({"settings": (SettingFields("both", (("bridge", OFF),)),)}, 'setting "both": says nothing'),
        ({"scale": "long"}, 'Scale length, mm: "long" is no length'),
        ({"strings": "E2 X9"}, "X9"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence_and_nothing_is_made(tmp_path, said, refusal):
    with pytest.raises(JobError) as refused:
        a_job(tmp_path, **said)
    assert refusal in str(refused.value) and "\n" not in str(refused.value)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_holds_something_is_left_alone(tmp_path):
    a_job(tmp_path)
    before = (tmp_path / "sunday" / "job.toml").read_bytes()
    with pytest.raises(JobError, match="holds something already"):
        a_job(tmp_path, title="another")
    assert (tmp_path / "sunday" / "job.toml").read_bytes() == before


@given(st.decimals(0, 9999, places=3))
def test_point_and_comma_are_the_same(number):
    text = str(number)
    assert (
        number_from(text, what="x") == number_from(f" {text.replace('.', ',')} ", what="x") == float(number)
    )


@given(st.text(min_size=1, max_size=12))
@example("nan")
@example("1e999")
@example("1_000")
@example("1.234,5")
@example("６.6")
@example("6.6k")
def test_what_is_no_number_is_refused_and_never_guessed(text):
    """Whatever is taken is made of digits with one point or comma at most."""
    try:
        number = number_from(text, what="Kilohms")
    except LogError as refused:
        assert str(refused).startswith("Kilohms: ")
        return
    said = text.strip().lstrip("+-")
    assert (number is None) == (not said)
    assert set(said) <= set("0123456789.,") and said.count(".") + said.count(",") <= 1


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("COILWISE_BOX", str(tmp_path / "data"))
    return BenchMemory.default()


def test_mains_and_the_input_that_was_named_last_are_remembered_until_they_are_forgotten(bench, tmp_path):
    """The next job has the mains in its job.toml; an input that is not there any more is left alone."""
    create_job_folder(
        JobFields(folder="one", mains_hz=60, pickups=(PickupFields(name="neck"),)), under=tmp_path
    )
    assert first_job(LOOSE_PAIR, (1, 1), under=tmp_path, today=date(2026, 3, 5)).mains_hz == 60
    devices = [
        InputDevice(n, name, 2, 48_000, "x", is_default=not n) for n, name in enumerate(("room", "box"))
    ]
    choose = partial(pick_device, devices)
    assert usual_input(choose, "box").name == usual_input(choose).name == "box"
    assert usual_input(partial(pick_device, devices[:1])).name == "room"
    assert len(bench_lines(bench.read())) == 2
    bench.forget()
    assert usual_input(choose).name == choose(None).name
    assert first_job(LOOSE_PAIR, (1, 1), under=tmp_path, today=date(2026, 3, 5)).mains_hz is None
