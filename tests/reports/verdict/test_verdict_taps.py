"""Taps through the command: a sound list confirmed, one from the wrong end found, nothing said of noise."""

import functools
import json

import numpy as np
import pytest
from judging_jobs import JobOnDisk, called
from simulator.conditions import Conditions
from simulator.scenes import random_bench
from simulator.workbench import On

RATE = 16_000
SINGLE = Conditions(
    humbucker_rate=0.0, off_centre_mm=0.3, careless_rate=0.0, turned_rate=0.0, detune_hz=(0.05, 0.2)
)
NAMES = ("bridge", "middle", "neck")
POSITIONS = {
    "bridge": ("bridge",),
    "rear": ("bridge", "middle"),
    "middle": ("middle",),
    "front": ("middle", "neck"),
    "neck": ("neck",),
}
"""What job.toml lists."""
MIRRORED = dict(zip(POSITIONS, reversed(POSITIONS.values()), strict=True))
TWICE = {**POSITIONS, "rear": ("middle",)}
THREE = """format = 1
title = "Three pickups"
[[pickup]]
name = "bridge"
centre_mm = {bridge:.2f}
[[pickup]]
name = "middle"
centre_mm = {middle:.2f}
[[pickup]]
name = "neck"
centre_mm = {neck:.2f}
[[setting]]
name = "rear"
on = ["bridge", "middle"]
[[setting]]
name = "front"
on = ["middle", "neck"]
"""


@functools.cache
def bench():
    """One whose middle pickup opposes both others, so that a switching is heard well at either end."""
    rng = np.random.default_rng(77)
    while True:
        drawn = random_bench(rng, conditions=SINGLE, pickups=3, mains_hz=50)
        if not drawn.in_phase("bridge", "middle") and not drawn.in_phase("middle", "neck"):
            return drawn


@functools.cache
def tapped(on, at):
    rng = np.random.default_rng([NAMES.index(at), *(NAMES.index(n) for n in on)])
    return bench().tap(rng, on, at, rate=RATE)


@functools.cache
def switched(string, ways):
    rng = np.random.default_rng(len(string) + ord(string[0]))
    return bench().switch(rng, ways, string, at_s=(0.8, 1.3), rate=RATE, ringing_s=3.0)


def as_is(audio):
    return audio


def job_with_taps(
    home, real, *, change=as_is, rate=RATE, poles=NAMES, strings=(), positions=tuple(POSITIONS)
):
    """``real``: what each position puts on the jack; ``poles``: those that are tapped at each."""
    places = {p.name: p.centre_mm for p in bench().pickups}
    job = JobOnDisk(home, THREE.format(**places))
    for string in strings:
        for way in (list(real)[:3], list(real)[2:]):
            audio = switched(string, tuple(real[name] for name in way))
            job.take(change(audio), [way], gesture="switch", string=string, rate=rate)
    for name in positions:
        for pole in poles:
            job.take(change(tapped(real[name], pole)), [name], gesture="tap", tapped=pole, rate=rate)
    return job


def said(job, capsys):
    """Exit status and JSON of the command."""
    status = called("verdict", job.home, "--json")
    return status, json.loads(capsys.readouterr().out)


def checks(verdict):
    return {s["name"]: s["taps"] for s in verdict["settings"]}


def test_a_sound_list_is_confirmed_and_its_doubt_is_lifted(tmp_path, capsys):
    plain, with_taps = (
        job_with_taps(tmp_path / str(k), POSITIONS, poles=poles, strings=("A2",))
        for k, poles in enumerate([(), NAMES])
    )
    _, before = said(plain, capsys)
    _, after = said(with_taps, capsys)
    assert checks(before) == {"rear": None, "front": None}
    assert checks(after) == {"rear": "confirmed", "front": "confirmed"}
    assert after["findings"] == []
    assert all(t["used"] and not t["faults"] for t in after["takes"] if t["gesture"] == "tap")
    for old, new in zip(before["pairs"], after["pairs"], strict=True):
        lean = 1 if bench().in_phase(old["a"], old["b"]) else -1
        assert lean * new["p_in_phase"] > lean * old["p_in_phase"]
        assert [by["method"] for by in new["by"]] == [by["method"] for by in old["by"]]


def test_a_list_from_the_wrong_end_is_found_by_taps_alone(tmp_path, capsys):
    status, verdict = said(job_with_taps(tmp_path / "job", MIRRORED, strings=("A2",)), capsys)
    assert status == 3
    assert checks(verdict) == {"rear": "contradicted", "front": "contradicted"}
    found = {f["pickup_or_setting"]: f for f in verdict["findings"]}
    assert set(found) == {"bridge", "rear", "front", "neck"}
    assert "taps are heard on neck, and not on bridge, middle" in found["bridge"]["what"]
    assert "counted from its other end" in found["bridge"]["next"]
    for pair in verdict["pairs"]:
        assert (pair["standing"], pair["phase"]) == ("unsettled", None)
        assert "Correct in job.toml" in pair["next"]
    assert [t["used"] for t in verdict["takes"] if t["gesture"] == "switch"] == [False, False]


def test_one_position_that_gives_one_alone_is_named(tmp_path, capsys):
    _, verdict = said(job_with_taps(tmp_path / "job", TWICE), capsys)
    assert checks(verdict) == {"rear": "contradicted", "front": "confirmed"}
    (found,) = verdict["findings"]
    assert found["pickup_or_setting"] == "rear"
    assert "heard on middle, and not on bridge" in found["what"]
    assert "other end" not in found["next"]


@pytest.mark.parametrize("real", [POSITIONS, MIRRORED], ids=["as listed", "mirrored"])
@pytest.mark.parametrize(
    "how",
    [
        pytest.param({"change": lambda x: 0.03 * x}, id="softer"),
        pytest.param({"change": np.negative}, id="turned over"),
        pytest.param({"change": lambda x: np.repeat(x, 2, axis=0), "rate": 2 * RATE}, id="another rate"),
    ],
)
def test_gain_rate_and_polarity_change_nothing(tmp_path, real, how):
    straight = job_with_taps(tmp_path / "a", real).verdict
    other = job_with_taps(tmp_path / "b", real, **how).verdict
    assert [s.taps for s in straight.settings] == [s.taps for s in other.settings]
    assert straight.findings == other.findings


def test_noise_alone_says_nothing(tmp_path):
    rng = np.random.default_rng(1)
    noise = job_with_taps(
        tmp_path / "job", POSITIONS, change=lambda x: 1e-3 * rng.standard_normal(x.shape)
    ).verdict
    assert [s.taps for s in noise.settings] == [None, None]
    assert noise.findings == ()
    assert all(not t.used and t.remarks for t in noise.takes)


def test_taps_on_the_listed_poles_alone_confirm_nothing(tmp_path):
    """All alike loud: nothing tells that what was not tapped is off, nor that the faint would be fainter."""
    for k, real in enumerate([POSITIONS, MIRRORED]):
        job = job_with_taps(tmp_path / str(k), real, poles=(), positions=())
        for name in ("bridge", "neck"):
            job.take(tapped(real[name], name), [name], gesture="tap", tapped=name, rate=RATE)
        assert job.verdict.findings == ()


TWO_COILS = """format = 1
title = "Split neck"
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
coils = 2
[[setting]]
name = "split"
on = [{pickup = "neck", coil = 1}]
"""


@pytest.mark.parametrize("left", [1, 2])
def test_which_coil_a_split_leaves(tmp_path, left):
    rng = np.random.default_rng(5)
    conditions = Conditions(humbucker_rate=1.0)
    two = random_bench(rng, conditions=conditions, pickups=2)
    job = JobOnDisk(tmp_path / "job", TWO_COILS)
    for name, on in {"bridge": "bridge", "neck": "neck", "split": On("neck", left)}.items():
        job.take(two.tap(rng, on, "bridge", rate=RATE), [name], gesture="tap", tapped="bridge", rate=RATE)
        for coil in (1, 2):
            audio = two.tap(rng, on, "neck", coil=coil, rate=RATE)
            job.take(audio, [name], gesture="tap", tapped="neck", coil=coil, rate=RATE)
    verdict = job.verdict
    assert [s.taps for s in verdict.settings] == ["confirmed" if left == 1 else "contradicted"]
    assert [f.pickup_or_setting for f in verdict.findings] == ([] if left == 1 else ["split"])


def test_a_tap_is_entered_and_listed(tmp_path, capsys):
    job = job_with_taps(tmp_path / "job", POSITIONS, positions=())
    import soundfile as sf

    audio = tmp_path / "tap.wav"
    sf.write(audio, tapped(("bridge",), "neck"), RATE)
    take = ("take", job.home, audio, "--gesture", "tap", "--on", "bridge")
    assert called(*take) == 2
    assert '"tapped"' in capsys.readouterr().err
    assert called(*take, "--tapped", "nek") == 2
    assert called(*take, "--tapped", "neck", "--coil", "2") == 2
    assert called(*take, "--tapped", "neck") == 0
    assert "thump is loud" in capsys.readouterr().out
    assert called("list", job.home) == 0
    assert "tap on neck: bridge" in capsys.readouterr().out
    assert called("take", job.home, audio, "--gesture", "lift", "--on", "bridge", "--tapped", "neck") == 2


@pytest.mark.parametrize(
    "entered", [{"tapped": "neck", "inputs": [["bridge", "rear"]]}, {"inputs": ["bridge"]}]
)
def test_a_log_by_hand_that_does_not_say_enough(tmp_path, entered):
    job = job_with_taps(tmp_path / "job", POSITIONS, positions=())
    fields = dict(entered)
    job.take(tapped(("bridge",), "neck"), fields.pop("inputs"), gesture="tap", rate=RATE, **fields)
    verdict = job.verdict
    assert not verdict.takes[0].used
    assert verdict.takes[0].faults
    assert verdict.warnings
