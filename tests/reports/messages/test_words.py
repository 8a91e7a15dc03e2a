"""Wording of probabilities and of what somebody typed."""

from __future__ import annotations

import pytest
import verdict_samples as samples

from reports.messages import summary
from reports.messages import wording as jack_words
from reports.messages import wording as table_words
from reports.messages import wording as words
from reports.model.verdict import HumAnswer, PairVerdict, SettingVerdict, SignRow, WiringRow


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
    assert words.lead_steps(WiringRow(pickup="neck", exchange=True)) == (
        ("the lead that is hot now", "becomes ground"),
        ("the lead that is ground now", "becomes hot"),
    )


def test_leads_of_an_unknown_exchange_are_not_shown() -> None:
    row = WiringRow(pickup="neck", exchange=None, leads={"grey": "hot"})
    assert words.lead_steps(row) == ()
    assert "do not solder" in words.instruction(row)


def test_a_magnet_to_turn_is_work() -> None:
    row = WiringRow(pickup="neck", exchange=False, turn_magnet=True)
    assert words.instruction(row) == "TURN the magnet over"


def test_headline_names_what_is_wrong_and_what_is_open() -> None:
    verdict = samples.three_pickups()
    open_pair = PairVerdict(a="x", b="y", phase=None, standing="unsettled")
    said = summary.headline(verdict.model_copy(update={"pairs": (*verdict.pairs, open_pair)}))
    assert said == "Out of phase: bridge and middle; middle and neck (likely). Not settled yet: x and y."


def test_a_conflict_says_first_what_would_settle_it() -> None:
    assert summary.first_step(samples.out_of_phase()) == samples.READ_AGAIN
    assert summary.first_step(samples.all_in_phase()) == ""


def setting(**changed: object) -> SettingVerdict:
    return SettingVerdict.model_validate({"name": "both", "sounds": "full", "hum": "unknown", **changed})


@pytest.mark.parametrize(
    ("loss", "error", "said"),
    [
        (-11.2, 1.5, "−11.2 dB ± 1.5 dB"),
        (-11.2, None, "−11.2 dB"),
        (0.26, 0.04, "+0.3 dB ± 0.0 dB"),
        (-0.04, None, "+0.0 dB"),
        (None, 1.5, "not measured"),
        (float("nan"), 1.5, "not measured"),
        (float("-inf"), None, "not measured"),
        (-3.0, float("nan"), "−3.0 dB"),
    ],
)
def test_a_loss_carries_its_sign_and_its_unit(loss: float | None, error: float | None, said: str) -> None:
    assert table_words.loss_label(setting(loss_db=loss, loss_error_db=error)) == said


@pytest.mark.parametrize(
    ("hum", "p", "quiet", "said"),
    [
        ("cancels", 0.996, True, "cancels, 99.6 %, as wanted"),
        ("cancels", 1.0, False, "cancels, more than 99.9 %"),
        ("hums", 0.02, True, "HUMS, 98 %, wanted quiet"),
        ("hums", None, False, "hums"),
        ("unknown", 0.6, True, "not known, wanted quiet"),
        ("unknown", None, False, "not known"),
    ],
)
def test_hum_is_held_against_what_is_wanted(hum: str, p: float | None, quiet: bool, said: str) -> None:
    assert words.hum_label(setting(hum=hum, p_hum_cancels=p, wanted_quiet=quiet)) == said


def test_what_is_wanted_of_one_pickup_alone_is_not_asked() -> None:
    assert table_words.wanted_label(setting(on=("neck",))) == table_words.ALONE
    assert table_words.wanted_label(setting(on=("neck", "bridge"), sounds="thin")) == "in phase: NO"


def test_a_likely_sound_is_said_to_be_likely() -> None:
    assert words.sounds_label(setting(sounds="thin", standing="likely")) == "THIN, likely"
    assert words.sounds_label(setting(sounds="full", standing="settled")) == "full"


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (0.992, "same as bridge, 99.2 %"),
        (0.0, "opposite, more than 99.9 %"),
        (0.004, "opposite, 99.6 %"),
        (0.5, "could be either"),
        (0.3, "unsettled, leans to opposite, 70 %"),
        (None, "not known"),
    ],
)
def test_a_sign_is_worded_against_the_reference(p: float | None, said: str) -> None:
    assert table_words.sign_label(SignRow(pickup="neck"), p, reference="bridge") == said
    assert table_words.sign_label(SignRow(pickup="bridge"), p, reference="bridge") == table_words.REFERENCE


@pytest.mark.parametrize(
    ("sounds", "hum", "p", "said"),
    [
        ("full", "cancels", 0.995, "full, 99.5 %, hum cancels"),
        ("thin", "hums", 0.0004, "THIN, more than 99.9 %, hums"),
        ("thin", "unknown", None, "THIN"),
        ("unknown", "unknown", 0.6, "not known"),
        ("unknown", "hums", None, "not known, hums"),
    ],
)
def test_a_stage_is_worded_with_its_own_probability(
    sounds: str, hum: str, p: float | None, said: str
) -> None:
    assert table_words.stage_cell(sounds, hum, p_full=p) == said


def test_hum_of_a_method_is_worded_as_hum() -> None:
    word = HumAnswer(method="hum levels", p_hum_cancels=0.02, takes=("t1",), entries=("m1",))
    assert words.hum_method_label(word) == "does not cancel, 98 % (t1, m1)"
    assert words.leaning_hum(None) == "says nothing"


def test_units_stay_with_their_numbers_and_words_do_not() -> None:
    kept = words.unbroken("−11.2 dB ± 1.5 dB, 99 %, 50 Hz, 12 dBm, t001 said")
    assert kept.replace("\N{NO-BREAK SPACE}", "_") == "−11.2_dB ±_1.5_dB, 99_%, 50_Hz, 12 dBm, t001 said"


def test_levels_without_number_are_not_measured() -> None:
    assert jack_words.decibels(-62.04) == "−62.0 dB"
    assert jack_words.decibels(None) == jack_words.decibels(float("nan")) == words.NOT_MEASURED
    assert jack_words.hum_axis(float("nan")) == "hum of the mains (dB, full scale = 0)"
