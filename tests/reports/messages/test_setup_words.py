"""What is said of the inputs before anything is recorded: each finding with input, figure and remedy."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from capture.audio.setup_check import SetupProgress, SetupResult
from capture.audio.streams import LostSamples
from capture.log import Take, new_entry
from dsp.health.inputs import QuietLevels, SetupFinding
from dsp.signal.codes import SetupCode
from reports.messages import cautions
from reports.messages import page as page_words
from reports.messages.setup import (
    NOTHING_WRONG,
    REMEDIES,
    SENTENCES,
    finding_lines,
    lacks_split_check,
    level_bar,
    level_lines,
    opening_lines,
    setup_lines,
)

USUAL = (QuietLevels(1, -72.4, -61.0, 50.02), QuietLevels(2, -71.0, None, None))


def hearing(*findings, levels=USUAL, peaks_db=(-12.0, -9.6), lost=(), mains_hz=None):
    return SetupResult(tuple(findings), levels, peaks_db, tuple(lost), 48_000, mains_hz)


def first(*findings, **said):
    return setup_lines(hearing(*findings, **said))[0]


SAID = [
    (
        SetupFinding("loud noise", 1, -45.2),
        "Input 1: noise at -45 dB",
        "below -50 dB",
        "gain of the input down",
    ),
    (SetupFinding("much hum", 2, -29.8), "Input 2: hum at -30 dB", "below -38 dB", "Turn the guitar until"),
    (SetupFinding("offset", 1, 0.05), "Input 1: an offset", "5 % of full scale", "phantom power off"),
    (SetupFinding("one signal on both", 2, 1.0), "Inputs 1 and 2: one signal", "splitter", "mix to stereo"),
    (SetupFinding("gain rides", 2, 4.4), "Input 2: the gain rides", "4 dB in a second", "automatic gain"),
    (
        SetupFinding("noise is cut off", 1, 1.15),
        "Input 1: noise is cut off",
        "for 1.1 s",
        "noise suppression",
    ),
    (SetupFinding("noise is cut off", 1), "Input 1: noise is cut off", "comes and goes", "noise gate"),
    (SetupFinding("clips", 2, 0.97), "Input 2: clips", "97 % of full scale", "Turn the gain down"),
    (SetupFinding("clips", 2, 0.4), "Input 2: clips", "flat at 40 %", "limiter"),
    (SetupFinding("nothing plugged in", 2, -99.0), "Input 2: as if nothing", "-99 dB", "say --inputs 1"),
    (SetupFinding("nothing plugged in", 1, -72.0), "Input 1: no pluck was heard", "-72 dB", "volume up"),
]


@pytest.mark.parametrize(("finding", "what", "figure", "remedy"), SAID)
def test_a_finding_has_its_input_its_figure_and_what_to_do(finding, what, figure, remedy):
    said = first(finding)
    assert said.startswith(what)
    assert figure in said
    assert remedy in said
    assert "{" not in said


def test_every_code_has_words():
    assert set(SENTENCES) == set(get_args(SetupCode))


def test_hum_is_not_chased_by_lifting_the_earth():
    assert cautions.EARTH in first(SetupFinding("much hum", 1, -30.0))


def test_exact_zeros_on_all_inputs_are_the_permission_and_on_one_the_switch():
    one, two = SetupFinding("exact zeros", 1), SetupFinding("exact zeros", 2)
    both = setup_lines(hearing(one, two))
    assert both[0].startswith("Inputs 1 and 2: exact zeros, no sound at all arrives")
    assert "may not use the microphone" in both[0]
    assert not any("exact zeros" in line for line in both[1:])
    assert "may not use the microphone" in first(one, levels=USUAL[:1], peaks_db=(-math.inf,))
    alone = first(two)
    assert alone.startswith("Input 2: exact zeros, no sound at all arrives")
    assert "though another input is alive. Switch this input on" in alone
    assert "microphone" not in alone


def test_on_one_input_nothing_is_said_of_using_fewer():
    said = first(SetupFinding("nothing plugged in", 1, -99.0), levels=USUAL[:1], peaks_db=(-70.0,))
    assert "--inputs" not in said
    assert "coilwise inputs" in said


EMPTY = tuple(SetupFinding("nothing plugged in", k, -99.0) for k in (1, 2))
SILENT = tuple(SetupFinding("exact zeros", k) for k in (1, 2))
ON_ONE_INPUT = {"levels": USUAL[:1], "peaks_db": (-70.0,)}


@pytest.mark.parametrize(
    ("heard", "field"),
    [
        (hearing(EMPTY[0]), page_words.HOW_MANY_FIELD),
        (hearing(EMPTY[0], **ON_ONE_INPUT), page_words.INPUT_FIELD),
        (hearing(*(replace(f, detail=-40.0) for f in EMPTY)), page_words.CHECK),
        (hearing(*SILENT), page_words.INPUT_FIELD),
    ],
)
def test_a_remedy_on_the_page_is_a_field_or_a_button_and_no_option(heard, field):
    sentence = finding_lines(heard, surface="page")[0]
    assert f'"{field}"' in sentence
    assert "--" not in sentence and "coilwise inputs" not in sentence
    assert set(REMEDIES["page"]) == set(REMEDIES["terminal"])


@pytest.mark.parametrize(
    ("lost", "often"),
    [
        ([LostSamples(0, 10, 0)], "(once)"),
        ([LostSamples(0, 10, 0), LostSamples(20, 30, 9600)], "(twice, 0.2 s in all)"),
        ([LostSamples(k, k, 0) for k in range(5)], "(5 times)"),
    ],
)
def test_lost_samples_are_a_finding(lost, often):
    heard = hearing(lost=lost)
    said = setup_lines(heard)[0]
    assert said.startswith(f"Samples were lost while listening {often}. Close other programs")
    assert not heard.clear


def test_nothing_wrong_and_the_levels():
    heard = hearing(mains_hz=50)
    assert heard.clear
    assert setup_lines(heard) == (
        NOTHING_WRONG,
        "Input 1: noise -72 dB, hum -61 dB at 50.0 Hz, loudest -12 dB.",
        "Input 2: noise -71 dB, hardly any hum, loudest -10 dB.",
    )


def test_mains_of_another_country():
    heard = hearing(mains_hz=60)
    assert not heard.clear
    assert setup_lines(heard)[0].startswith("The mains hum at 50 Hz, and job.toml says mains_hz = 60.")


def test_lines_under_the_noise_say_nothing_of_the_mains():
    faint = (QuietLevels(1, -60.0, -75.0, 50.0), QuietLevels(2, -60.0, -80.0, 50.0))
    heard = hearing(levels=faint, mains_hz=60)
    assert heard.clear
    assert "hardly any hum" in setup_lines(heard)[1]


def test_an_input_of_zeros_has_no_levels():
    levels = (USUAL[0], QuietLevels(2, -math.inf, None, None))
    said = setup_lines(
        hearing(SetupFinding("exact zeros", 2), levels=levels, peaks_db=(-12.0, -math.inf)),
    )
    assert said[-1] == "Input 2: nothing at all."


def test_the_split_check_is_offered_with_its_next_words():
    said = setup_lines(hearing(), split_check_in=Path("recordings/my job"))[-1]
    assert said.startswith("Next, once for this box: the split check")
    assert "one pickup into both inputs at once, with a Y-lead or a splitter" in said
    assert "\n  coilwise record 'recordings/my job' --split\n" in said
    wrong = hearing(SetupFinding("clips", 1, 1.0))
    assert setup_lines(wrong, split_check_in=Path("job"))[-1].startswith("When that is put right, once")
    one = hearing(levels=USUAL[:1], peaks_db=(-12.0,))
    assert not any("--split" in line for line in setup_lines(one, split_check_in=Path("job")))


def test_a_split_check_in_the_log():
    def take(*inputs):
        return new_entry(Take, id="t001", file="takes/t001.wav", gesture="pluck", inputs=inputs)

    assert lacks_split_check(())
    assert lacks_split_check([take("bridge", "neck"), take("bridge", None)])
    assert not lacks_split_check([take("bridge", "neck"), take("neck", "neck")])


def test_before_plugging_in():
    said = "\n".join(opening_lines())
    for caution in (cautions.AMPLIFIER, cautions.PHANTOM, cautions.THUMP, cautions.TINGLE):
        assert f"Caution: {caution}" in said
    for word in ("phantom power off", "volume and tone", "switch at rest", "battery", "mono"):
        assert word in said.partition("Nobody can hear these")[2]


def test_bars_grow_with_the_level_and_have_a_figure():
    filled = [level_bar("Input 1", db).count("#") for db in (-math.inf, -80.0, -40.0, 0.0, 6.0)]
    assert filled == [0, 0, 20, 40, 40]
    assert level_bar("Input 2", -0.3).endswith("] 0 dB")
    assert level_bar("Input 2", -40.0).startswith("Input 2 [####")
    assert level_bar("Input 2", -40.0).endswith("] -40 dB")
    assert level_bar("Input 2", -math.inf).endswith("] nothing")


def test_a_moment_says_what_to_do_and_how_long_yet():
    do, one, two = level_lines(SetupProgress("pluck", 2.31, (-40.0, -20.0)))
    assert do == "Now pluck one string hard, once, and let it ring. 3 s"
    assert (one.count("#"), two.count("#")) == (20, 30)
