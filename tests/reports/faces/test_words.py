"""Wording of probabilities and of what somebody typed."""

from __future__ import annotations

import pytest

from reports import words
from reports.verdict import PairVerdict, SettingVerdict, WiringRow

from . import samples


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (None, "not known"),
        (0.0, "less than 0.1 %"),
        (1.0, "more than 99.9 %"),
        (0.9996, "more than 99.9 %"),
        (0.999, "99.9 %"),
        (0.004, "0.4 %"),
        (0.5, "50 %"),
        (0.987, "99 %"),
    ],
)
def test_percent_never_claims_certainty(p: float | None, said: str) -> None:
    assert words.percent(p) == said


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (0.004, "about 1 chance in 250 that this is wrong"),
        (0.995, "about 1 chance in 200 that this is wrong"),
        (0.0047, "about 1 chance in 200 that this is wrong"),
        (0.9, "about 1 chance in 10 that this is wrong"),
        (0.0, "less than 1 chance in 1000 that this is wrong"),
        (0.7, "about 3 chances in 10 that this is wrong"),
        (0.5, "could be either"),
        (None, "no evidence"),
    ],
)
def test_chance_of_being_wrong_is_rounded_to_the_careful_side(p: float | None, said: str) -> None:
    assert words.chance_wrong(p) == said


@pytest.mark.parametrize(
    ("sounds", "aim", "wanted"),
    [
        ("full", "in phase", "yes"),
        ("thin", "in phase", "NO"),
        ("thin", "out of phase", "yes"),
        ("full", "out of phase", "NO"),
        ("unknown", "in phase", "not known"),
    ],
)
def test_a_setting_is_held_against_its_aim(sounds: str, aim: str, wanted: str) -> None:
    setting = SettingVerdict.model_validate({"name": "both", "sounds": sounds, "hum": "unknown", "aim": aim})
    assert words.as_wanted(setting) == wanted


@pytest.mark.parametrize("typed", ["a\x1b[31mb", "a\x00b", "a\u202eb", "a\ud800b"])
def test_typed_text_cannot_steer_a_terminal(typed: str) -> None:
    shown = words.plain(typed)
    assert "\N{REPLACEMENT CHARACTER}" in shown
    assert shown.isprintable()
    assert shown.startswith("a") and shown.endswith("b")


def test_typed_text_becomes_one_line() -> None:
    assert words.plain(" two\nlines\t ") == "two lines"


def test_an_exchange_without_lead_names_still_goes_lead_by_lead() -> None:
    assert words.lead_steps(WiringRow(pickup="neck", exchange=True, why="")) == (
        ("the lead that is hot now", "becomes ground"),
        ("the lead that is ground now", "becomes hot"),
    )


def test_leads_of_an_unknown_exchange_are_not_shown() -> None:
    row = WiringRow(pickup="neck", exchange=None, leads={"grey": "hot"}, why="")
    assert words.lead_steps(row) == ()
    assert "do not solder" in words.instruction(row)


def test_a_magnet_to_turn_is_work() -> None:
    row = WiringRow(pickup="neck", exchange=False, turn_magnet=True, why="")
    assert words.instruction(row) == "TURN the magnet over"


def test_headline_names_what_is_wrong_and_what_is_open() -> None:
    verdict = samples.three_pickups().model_copy(update={"headline": ""})
    open_pair = PairVerdict(a="x", b="y", phase=None, standing="unsettled")
    said = words.headline(verdict.model_copy(update={"pairs": (*verdict.pairs, open_pair)}))
    assert said == "Out of phase: bridge and middle; middle and neck (likely). Not settled yet: x and y."


def test_a_conflict_says_first_what_would_settle_it() -> None:
    assert words.first_step(samples.out_of_phase()) == samples.READ_AGAIN
    assert words.first_step(samples.all_in_phase()) == ""
