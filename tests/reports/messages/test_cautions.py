"""Which cautions go with which job."""

from __future__ import annotations

from typing import Any

import pytest

from reports.messages import cautions


def chosen(**changed: Any) -> tuple[str, ...]:
    plain = {"gestures": set(), "meter_used": False, "any_loose": False, "any_shield_on_ground": False}
    return cautions.cautions_for(**{**plain, **changed})


def test_an_idle_job_has_only_the_last_word() -> None:
    assert chosen() == (cautions.JUDGEMENT,)


@pytest.mark.parametrize(
    ("changed", "caution"),
    [
        ({"gestures": {"pluck"}}, cautions.PHANTOM),
        ({"gestures": {"hum"}}, cautions.EARTH),
        ({"gestures": {"pluck"}}, cautions.TINGLE),
        ({"gestures": {"lift"}}, cautions.THUMP),
        ({"gestures": {"touch"}}, cautions.BARE_COIL),
        ({"gestures": {"drive"}}, cautions.AMPLIFIER),
        ({"meter_used": True}, cautions.ACTIVE),
        ({"meter_used": True}, cautions.BARE_COIL),
        ({"meter_used": True, "any_fitted": True}, cautions.COMMON_GROUND),
        ({"any_loose": True}, cautions.AMPLIFIER),
        ({"any_shield_on_ground": True}, cautions.SHIELD),
        ({"soldering": True}, cautions.SOLDERING),
        ({"turning_magnet": True}, cautions.MAGNETS),
    ],
)
def test_a_caution_comes_with_its_cause_and_not_without(changed: dict[str, object], caution: str) -> None:
    assert caution in chosen(**changed)
    assert caution not in chosen()
    assert chosen(**changed)[-1] == cautions.JUDGEMENT


def test_a_closed_guitar_is_not_told_about_coil_wire() -> None:
    said = chosen(gestures={"pluck", "switch"})
    assert not {cautions.BARE_COIL, cautions.THUMP, cautions.SOLDERING, cautions.MAGNETS} & set(said)


def test_the_last_word_is_for_the_technician() -> None:
    assert "licensed technician" in cautions.JUDGEMENT
    assert "ocal codes" in cautions.JUDGEMENT
