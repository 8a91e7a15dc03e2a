"""Where a string is heard from, on levels made from the formulas of the plucked string (sources S1, S3).

The code has the same formulas, so that what is tested is what it makes of a slope, a loudness and a scatter
that it does not know; real plucks, at the end, know no formula.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dsp.methods.place import (
    HARMONICS,
    PLACES_MM,
    HeardPluck,
    log_likelihoods,
    place_estimate,
    place_likelihood,
    place_template,
    sounding_length,
)
from dsp.methods.plucks import analyse_plucks
from dsp.methods.profile import pluck_levels

N = np.arange(1, HARMONICS + 1)
SCALE_MM = 648.0


def levels(at_mm, plucked_mm, rng, *, length=SCALE_MM, f0=147.0):
    """Levels of harmonics at a place: velocity of S1's modes times the mode's shape there (S3), in dB."""
    mode = np.hypot(np.sin(N * np.pi * plucked_mm / length), 0.1) / N
    heard = mode * np.hypot(np.sin(N * np.pi * at_mm / length), 0.06)
    soft = 5 * np.square(N * f0 / 1000)
    return 20 * np.log10(heard) - soft + rng.uniform(-30, 0) + rng.standard_normal(HARMONICS)


def pluck(rows, *, length=SCALE_MM, f0=147.0):
    stacked = np.stack(rows)
    return HeardPluck(stacked, np.ones(stacked.shape, dtype=bool), length, f0)


def notes(at_mm, rng, *, count=6):
    """Plucks of several notes, each plucked elsewhere."""
    found = []
    for fret in range(count):
        length = sounding_length(SCALE_MM, fret)
        place = rng.uniform(90, 200)
        found.append(
            pluck([levels(at_mm, place, rng, length=length)], length=length, f0=147 * 2 ** (fret / 12))
        )
    return found


@pytest.mark.parametrize(
    ("at_mm", "low", "high", "seed"),
    [(45.0, 15, 60, 1), (45.0, 15, 60, 2), (95.0, 83, 107, 3), (130.0, 118, 142, 4), (162.0, 150, 174, 5)],
)
def test_a_pickup_is_placed_from_six_notes(at_mm, low, high, seed):
    """Close to the bridge the comb is hardly curved, and a slope of the string explains it as well.

    S7 has single pickups to 3.5 mm on average, by a method of its own.
    """
    found = place_estimate(notes(at_mm, np.random.default_rng(seed)))
    assert found.notes == 6
    assert low < found.mm < high


def test_gain_changes_nothing():
    rng = np.random.default_rng(3)
    heard = notes(98.0, rng, count=2)
    louder = [HeardPluck(p.levels_db + 17.3, p.usable, p.length_mm, p.f0_hz) for p in heard]
    np.testing.assert_allclose(place_likelihood(heard), place_likelihood(louder), atol=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_one_string_heard_at_two_places_tells_which_is_which(seed):
    """Both inputs hear the same pluck, so its own comb drops out."""
    rng = np.random.default_rng(seed)
    length, where = SCALE_MM, rng.uniform(90, 200)
    both = pluck([levels(44.0, where, rng), levels(160.0, where, rng)])
    at = place_template(np.array([44.0, 160.0]) / length, length_mm=length)
    log, _ = log_likelihoods(both, np.stack([at, at[::-1]]))
    assert log[0] > log[1] + 1


def test_of_two_places_in_one_note_the_hand_is_at_the_usual_one():
    """Pluck and pickup make like combs, so one note alone does not say whose is whose."""
    heard = pluck([levels(160.0, 280.0, np.random.default_rng(0))])
    at = place_template(np.array([160.0, 280.0]) / SCALE_MM, length_mm=SCALE_MM)[:, np.newaxis]
    log, _ = log_likelihoods(heard, at)
    assert log[1] > log[0]


def test_too_few_harmonics_say_nothing():
    rng = np.random.default_rng(5)
    heard = pluck([levels(98.0, 130.0, rng)])
    usable = heard.usable & (N <= 3)
    few = HeardPluck(heard.levels_db, usable, heard.length_mm, heard.f0_hz)
    at = place_template(PLACES_MM / SCALE_MM, length_mm=SCALE_MM)[:, np.newaxis]
    assert not log_likelihoods(few, at)[0].any()
    assert place_estimate([few]) is None


FOLDER = Path(__file__).resolve().parents[4] / "shared" / "recordings"
MANIFEST = FOLDER / "manifest.tsv"
ROWS = (
    list(csv.DictReader(MANIFEST.read_text(encoding="utf-8").splitlines(), delimiter="\t"))
    if (MANIFEST.is_file())
    else []
)
BASS_MM = 864.0
"""A usual scale of a six-string bass; the recordings do not say theirs."""
OPEN_HZ = (30.87, 41.2, 55.0, 73.42, 98.0, 130.81)


@pytest.mark.skipif(not ROWS, reason=f"the real plucks are not at {FOLDER}")
def test_real_plucks_tell_a_list_from_the_wrong_end_by_one_note_a_setting():
    """One real bass, each pickup by itself (manifest.tsv): any note of the one with any note of the other.

    A single note by itself is not enough there: fingers at the neck leave a comb of their own.
    """
    nearer = {"bridge pickup": [], "neck pickup": []}
    for row in ROWS:
        for which, found in nearer.items():
            if which in row["what it is"]:
                heard = real_pluck(row["file"])
                at = np.array([0.065, 0.245]) * BASS_MM / heard.length_mm
                template = place_template(at, rows=2, length_mm=heard.length_mm)[:, np.newaxis]
                bridge, neck = log_likelihoods(heard, template)[0]
                found.append(bridge - neck)
    assert [len(found) for found in nearer.values()] == [4, 4]
    assert min(nearer["bridge pickup"]) > max(nearer["neck pickup"]) + 1


def real_pluck(file):
    """The first pluck of a recording, with a quiet start put before it."""
    samples, rate = soundfile.read(FOLDER / file, dtype="float64", always_2d=True)
    quiet = 1e-6 * np.random.default_rng(0).standard_normal((int(0.3 * rate), samples.shape[1]))
    plucks = analyse_plucks(
        np.concatenate([quiet, samples[: 2 * rate]]), rate=rate, channels=(0,), inputs_differ=True
    )
    first = plucks.plucks[0]
    found = pluck_levels(plucks.channels[0], onset=first.rough, quiet=first.rough, pitch=first.pitch)
    string = max(hz for hz in OPEN_HZ if hz < 1.01 * found.f0_hz)
    length = BASS_MM * min(1.0, string / found.f0_hz)
    return HeardPluck(found.levels_db[np.newaxis], found.usable[np.newaxis], length, found.f0_hz)
