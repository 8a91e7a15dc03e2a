"""The log kind ``check``: what it needs, what it refuses, and that it is written and read back."""

from __future__ import annotations

import pytest
from capture_bench import TAKE, write_log

from capture import LogError
from capture.log import Check, append_entry, new_entry, read_log

GOOD = (
    {"what": "clip lead", "rig": "box", "input": 2, "tip": "red", "kohm": 0.0},
    {"what": "clip lead", "tip": "black"},
    {"what": "tool", "tool": "steel rod", "staple": "not lifted"},
    {"what": "held", "pickup": "neck", "side": "under"},
    {"what": "bypass", "pickup": "bridge", "inverts": False},
)


@pytest.mark.parametrize("said", GOOD)
def test_a_check_is_written_and_read_back(folder, job, said):
    written = append_entry(folder, new_entry(Check, **said))
    assert written.id == "k001"
    log = read_log(folder, job)
    assert log.standing == (written,)
    assert log.warnings == ()


def test_takes_of_one_path_are_in_the_log_before_it(folder, job):
    check = {"kind": "check", "id": "k001", "what": "same path", "takes": [TAKE["id"], "t999"]}
    write_log(folder, TAKE, check)
    with pytest.raises(LogError, match='line 2: there is no take "t999" before it'):
        read_log(folder, job)
    write_log(folder, TAKE)
    with pytest.raises(LogError, match='no take "t998"'):
        append_entry(folder, new_entry(Check, what="same path", takes=("t998", "t997")))


@pytest.mark.parametrize(
    ("said", "complaint"),
    [
        ({"what": "clip lead"}, 'a check of "clip lead" needs "tip"'),
        ({"what": "clip lead", "tip": "red", "kohm": 3.0}, '"kohm" is 3, so tip and clip are not joined'),
        ({"what": "tool", "tool": "rod", "staple": "lifted", "pickup": "neck"}, '"tool" has no "pickup"'),
        ({"what": "same path", "takes": ("t001", "t001")}, '"takes" needs two or more'),
        ({"what": "held", "pickup": "neck", "side": "up"}, '"side" is "up"; write'),
        ({"what": "moon"}, '"what" is "moon"; write'),
    ],
)
def test_a_check_that_does_not_say_enough_is_refused(said, complaint):
    with pytest.raises(LogError) as refused:
        new_entry(Check, **said)
    assert complaint in str(refused.value)


def test_a_pickup_that_is_not_there_is_refused(folder):
    with pytest.raises(LogError, match='no pickup "nek"'):
        append_entry(folder, new_entry(Check, what="held", pickup="nek", side="under"))
