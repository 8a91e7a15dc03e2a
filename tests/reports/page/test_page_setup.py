"""What the set-up screen offers and what it says of a check, without a browser and without a sound card."""

from __future__ import annotations

import math
from dataclasses import replace
from html import unescape

import pytest

from capture.audio.devices import DeviceError, InputDevice, SoundMissingError, pick_device
from capture.audio.setup_check import SetupResult
from dsp.health.inputs import QuietLevels, SetupFinding
from reports.messages import page as words
from reports.messages.gestures import GOOD_FOR
from reports.model.gestures import SESSION_GESTURES
from reports.model.session import Failure
from reports.page.screens.setup import SetupCheck, check_html
from reports.page.server.recording import PageState
from reports.page.widgets import view as input_choice
from reports.page.widgets.view import AUTOMATIC, bars_html, input_choices, list_choices

BOX = InputDevice(1, "Two In Box", 2, 48_000, "ALSA")
LAPTOP = InputDevice(0, "Microphone", 1, 44_100, "ALSA")
HOSTILE = "<script>alert(1)</script>"


def heard(*findings: SetupFinding) -> SetupResult:
    levels = tuple(QuietLevels(channel=k, noise_db=-79.0, hum_db=None, mains_hz=None) for k in (1, 2))
    return SetupResult(findings, levels, (-8.0, -math.inf), (), 48_000)


def test_every_gesture_of_a_session_says_what_it_is_good_for():
    assert tuple(GOOD_FOR) == SESSION_GESTURES


def test_each_input_can_be_chosen_and_means_itself():
    there = input_choices((LAPTOP, BOX))
    assert there.any and "Two In Box" in there.options[AUTOMATIC]
    for word, named in ((w, n) for w, n in there.options.items() if w != AUTOMATIC):
        assert pick_device(there.devices, word).name in named
    assert there.option_for(None) == AUTOMATIC
    assert there.option_for("two in") == there.option_for("1") == "1"


def test_what_is_not_there_stays_wanted_and_is_said():
    there = input_choices((LAPTOP, BOX))
    assert there.option_for("old box") == "old box"
    assert "not in the list" in there.options_with("old box")["old box"]
    assert there.options_with("1") == dict(there.options)


def test_where_several_would_do_none_is_taken_by_itself():
    two = (BOX, replace(BOX, number=2, name="Other Box"))
    with pytest.raises(DeviceError):
        pick_device(two, None)
    assert input_choices(two).options[AUTOMATIC] == words.INPUT_NONE_TAKEN


def test_without_a_sound_card_it_is_one_sentence(monkeypatch):
    none = input_choices(())
    assert not none.any and none.sentence == words.NO_INPUTS and list(none.options) == [AUTOMATIC]

    def missing():
        raise SoundMissingError("PortAudio is missing; install it")

    monkeypatch.setattr(input_choice, "list_inputs", missing)
    there = list_choices()
    assert not there.any and there.sentence == words.NO_SOUND.format(why="PortAudio is missing; install it")


def test_what_was_heard_is_told_apart_from_the_levels():
    check = SetupCheck()
    assert words.CHECK_FIRST in check_html(check)
    check.begin()
    check.finish(heard(SetupFinding("clips", 1, 1.0)))
    told = check_html(check)
    wrong, levels = told.split(words.INPUT_LEVELS_HEAD)
    assert "clips" in wrong and words.CHECK_AGAIN in wrong
    assert levels.count("<li>") == 2 and "Input 2: nothing at all." in levels
    check.begin()
    assert check.running and check.hearing is None
    check.finish(heard())
    assert words.CHECK_THEN_PLAY in check_html(check)


def test_a_check_that_broke_off_says_why_and_only_its_own_end_counts():
    check = SetupCheck()
    failed = PageState(phase="failed", outcome=Failure("check", f"the input is gone {HOSTILE}"))
    check.update(failed, running=False)
    assert check.failure is None
    check.begin()
    check.update(failed, running=True)
    assert check.running
    check.update(failed, running=False)
    assert not check.running and words.failure_text(failed.outcome) in unescape(check_html(check))
    assert HOSTILE not in check_html(check)


def test_a_bar_for_each_input():
    bars = bars_html(["Input 1", HOSTILE])
    assert bars.count('role="meter"') == 2 and HOSTILE not in bars


def test_a_check_that_never_began_because_a_session_did_first_is_over_with_it():
    check = SetupCheck()
    check.begin()
    check.update(PageState(phase="ended"), running=False)
    assert (check.running, check.hearing, check.failure) == (False, None, None)
