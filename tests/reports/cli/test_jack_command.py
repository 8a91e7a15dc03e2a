"""`coilwise jack`: a reading at the jack, told in one sentence; the values are parallel resistances."""

import pytest


@pytest.fixture
def measured(call, folder):
    (folder / "job.toml").write_text(
        (folder / "job.toml")
        .read_text()
        .replace(', {pickup = "neck", coil = 1, reversed = true}', ', "neck"')
    )
    for name, kohm in (("bridge", 6), ("neck", 8)):
        call("meter", folder, name, "--move", "away", "--reading", "rises", "--red", "hot", "--kohm", kohm)
    return folder


@pytest.mark.parametrize(
    ("read", "volume", "said"),
    [
        ("3.43", None, "as it should be"),
        ("3.38", 250, "as it should be"),
        ("6.0", None, "that is what it reads without neck"),
        ("8.0", None, "that is what it reads without bridge"),
        ("open", None, "reads open where 3.43 k was expected"),
        ("0", None, "a short, or the volume is down"),
        ("248", 250, "the volume pot alone"),
        ("3430", None, "3.43 k was read at the jack and 3.43 k expected"),
    ],
)
def test_what_a_reading_says(call, measured, read, volume, said):
    words = () if volume is None else ("--volume", volume)
    status, out, _ = call("jack", measured, "both", read, *words)
    assert status == 0
    assert said in out
    assert "Caution: No ohmmeter into active electronics." in out


@pytest.mark.parametrize(
    ("setting", "read", "said"),
    [
        ("bridge", "much", '"much" is no resistance'),
        ("bridge", "-1", '"-1" is no resistance'),
        ("nowhere", "3", '"nowhere" is no setting of this job'),
    ],
)
def test_refused_with_one_line(call, measured, setting, read, said):
    status, _, err = call("jack", measured, setting, "--", read)
    assert status == 2
    assert said in err


def test_a_pickup_that_was_not_measured(call, folder):
    status, _, err = call("jack", folder, "bridge", "6")
    assert status == 2
    assert "the resistance of bridge is not in the job" in err
