"""The demo job in recordings/demo: whole, small, and what make_demo.py makes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from make_demo import LEAD_IN_S, TAKES, bench, make, samples_of

from capture.job import note_hz
from capture.log import Meter
from capture.takes.folder import JobFolder
from dsp.methods.plucks import analyse_plucks, analyse_pulses

DEMO = Path(__file__).parents[2] / "recordings" / "demo"
MOST_BYTES = 6_000_000
CLIPPED = "t004"
IDS = [f"t{number:03d}" for number in range(1, len(TAKES) + 1)]


def demo_take(entry_id):
    job = JobFolder.open(DEMO)
    return job.job, next(t for t in job.takes() if t.entry.id == entry_id)


def heard(entry_id):
    """(faults and remarks, events) of one take, as dsp.methods.plucks has them."""
    job, take = demo_take(entry_id)
    audio, entry = take.load(), take.entry
    if entry.gesture == "lift":
        pulses = analyse_pulses(
            audio.samples, rate=audio.rate, channel=0, toward=False, mains_hz=job.mains_hz
        )
        return (*pulses.faults, *pulses.remarks), pulses.pulses
    plucks = analyse_plucks(
        audio.samples,
        rate=audio.rate,
        channels=(0, 1),
        inputs_differ=not entry.is_split_check,
        named_hz=note_hz(entry.string),
        mains_hz=job.mains_hz,
    )
    return (*plucks.faults, *plucks.remarks), plucks.plucks


def without_hashes(job):
    return [{k: v for k, v in e.line().items() if k != "sha256"} for e in job.log.standing]


def test_demo_opens_and_every_hash_matches():
    job = JobFolder.open(DEMO)
    takes = job.takes()
    assert [t.entry.id for t in takes] == IDS
    assert all(t.entry.sha256 for t in takes)
    assert {t.status for t in takes} == {"usable"}


def test_demo_is_in_time_order():
    times = [e.at for e in JobFolder.open(DEMO).log.standing]
    assert None not in times
    assert times == sorted(times)


def test_demo_is_small():
    assert sum(p.stat().st_size for p in DEMO.rglob("*") if "report" not in p.parts) < MOST_BYTES


@pytest.mark.parametrize("entry_id", [i for i in IDS if i != CLIPPED])
def test_demo_take_is_sound(entry_id):
    faults, events = heard(entry_id)
    assert faults == ()
    assert len(events) == 1


def test_demo_takes_are_at_the_pitch_named():
    for entry_id in IDS[:5]:
        if entry_id == CLIPPED:
            continue
        (pluck,) = heard(entry_id)[1]
        named = note_hz(demo_take(entry_id)[1].entry.string)
        assert pluck.pitch.match == "as named"
        assert abs(1200 * np.log2(pluck.pitch.f0_hz / named)) < 15


def test_demo_clipped_take_is_clipped_on_both_inputs_and_nothing_else():
    faults, events = heard(CLIPPED)
    assert {(f.code, f.channel) for f in faults} == {("clipped", 1), ("clipped", 2)}
    assert events == ()


def test_demo_lifts_show_the_pickups_opposed():
    """By eye and not by the tool: the first lobe of a lift, where the rod leaves the pole."""
    signs, opposed = [], []
    for entry_id in IDS:
        _, take = demo_take(entry_id)
        if take.entry.gesture != "lift":
            continue
        audio = take.load()
        opposed.append(-1 if take.entry.inputs == ("bridge",) else 1)
        lobe = audio.samples[int(LEAD_IN_S * audio.rate) :, 0][: audio.rate // 100]
        signs.append(int(np.sign(np.sum(lobe - np.median(audio.samples[:, 0])))))
    assert signs == opposed
    assert len(signs) == 8


def test_demo_truth_is_opposed_and_the_meter_says_otherwise():
    truth, job = bench(), JobFolder.open(DEMO)
    assert not truth.in_phase("bridge", "neck")
    assert truth.channels_agree()
    swings = {(e.pickup, e.move, e.reading, e.red) for e in job.log.standing if isinstance(e, Meter)}
    assert swings == {("bridge", "away", "rises", "hot"), ("neck", "away", "rises", "hot")}


def test_demo_made_again_is_the_same_job(tmp_path):
    again, kept = make(tmp_path / "again"), JobFolder.open(DEMO)
    assert again.job == kept.job
    assert without_hashes(again) == without_hashes(kept)


@pytest.mark.parametrize("number", [2, 9])
def test_demo_take_made_again_has_the_same_samples(number):
    """Bit for bit from the same seed; against the file to one step, for other machines round otherwise."""
    _, take = demo_take(f"t{number:03d}")
    audio, again = take.load(), samples_of(number)
    assert np.array_equal(again, samples_of(number))
    assert audio.rate == TAKES[number - 1].rate
    assert audio.samples.shape == again.shape
    assert np.max(np.abs(audio.samples - again)) <= 2.0 ** (1 - TAKES[number - 1].bits)
