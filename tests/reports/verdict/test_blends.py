"""A piezo or a microphone beside a magnetic pickup: band by band, and never one word."""

import json

import numpy as np
import pytest
from judging_jobs import RATE, JobOnDisk, recorded

from capture import LogError
from capture.log import Meter, new_entry
from capture.log.requirements import check_new_entry
from reports.render.exports import as_json
from reports.render.text import as_text
from reports.verdict.building import all_clear, judge

TOML = """format = 1
title = "Acoustic"
[[pickup]]
name = "soundhole"
[[pickup]]
name = "saddle"
source = "piezo"
[[setting]]
name = "both"
on = ["soundhole", "saddle"]
"""


def turned(audio, *, low_deg, high_deg, lag_s=0.0):
    """The same at another angle, ``low_deg`` below 300 Hz and ``high_deg`` above 600, and late."""
    spectrum = np.fft.rfft(audio[:, 0], 4 * len(audio))
    hz = np.fft.rfftfreq(4 * len(audio), 1 / RATE)
    degrees = np.interp(np.log2(np.maximum(hz, 1)), np.log2([300, 600]), [low_deg, high_deg])
    spectrum *= np.exp(1j * np.radians(degrees) - 2j * np.pi * hz * lag_s)
    return np.fft.irfft(spectrum)[: len(audio)]


def job_with(home, *, low_deg, high_deg, split=True, inverted=1, leads=1, lag_s=0.0):
    """Two plucks on each of two strings; the saddle's input may be late and turned over."""
    sounds = recorded(in_phase=True)
    job = JobOnDisk(home, TOML)
    rng = np.random.default_rng(3)
    if split:
        both = sounds.split.copy()
        both[:, 1] = inverted * turned(sounds.split[:, :1], low_deg=0, high_deg=0, lag_s=lag_s)
        job.take(both, ["soundhole", "soundhole"], string="D3")
    for k, string in enumerate(("D3", "G3", "D3", "G3")):
        one = sounds.paired[k % 2][:, :1]
        other = turned(one, low_deg=low_deg, high_deg=high_deg, lag_s=lag_s)
        audio = np.column_stack([leads * one[:, 0], inverted * other])
        job.take(audio + 1e-6 * rng.standard_normal(audio.shape), ["soundhole", "saddle"], string=string)
    return job


def senses(job):
    (row,) = job.verdict.blends
    return {band.low_hz: band.sense for band in row.bands}


@pytest.mark.parametrize(("leads", "inverted"), [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_where_they_add_is_told_band_by_band_and_a_negated_input_flips_it(tmp_path, leads, inverted):
    job = job_with(tmp_path / "j", low_deg=0, high_deg=180, leads=leads, inverted=inverted, lag_s=0.0004)
    found = senses(job)
    low, high = ("add", "take away") if leads > 0 else ("take away", "add")
    assert found[160.0] == low and found[640.0] == high
    assert set(found.values()) <= {"add", "take away", "neither", "not clear"}


def test_a_quarter_of_a_turn_neither_adds_nor_takes_away(tmp_path):
    job = job_with(tmp_path / "j", low_deg=90, high_deg=90)
    assert set(senses(job).values()) == {"neither"}
    (row,) = job.verdict.blends
    assert all(abs(abs(band.angle_deg) - 90) < 15 for band in row.bands)


def test_no_one_word_is_said_of_such_a_pair(tmp_path):
    job = job_with(tmp_path / "j", low_deg=0, high_deg=180, split=False)
    verdict = job.verdict
    assert verdict.pairs == () and [row.pickup for row in verdict.wiring] == ["soundhole"]
    assert verdict.settings[0].sounds == "unknown" and verdict.proof[0].aim == "one coil"
    said = json.loads(as_json(verdict))
    (finding,) = said["findings"]
    assert "no one word holds" in finding["what"] and "they add from 80" in finding["what"]
    assert "split check" in finding["next"] and said["blends"][0]["inputs_compared"] is False
    text = " ".join(as_text(verdict).split())
    assert "no one word" in text and "in phase is not settled" not in text and "switch take" not in text
    from capture.takes.folder import JobFolder

    folder = JobFolder.open(job.home)
    assert all_clear(judge(folder).verdict, folder.job)
    swing = {"pickup": "saddle", "move": "away", "reading": "rises", "red": "hot"}
    with pytest.raises(LogError, match="no magnet"):
        check_new_entry(new_entry(Meter, **swing), folder.job)


def test_other_takes_of_it_are_not_used(tmp_path):
    job = JobOnDisk(tmp_path / "j", TOML)
    for name, audio in recorded(in_phase=True).in_turn["lift"][:2]:
        job.take(audio, ["saddle" if name == "neck" else "soundhole"], gesture="lift", tool="rod")
    assert [row.used for row in job.verdict.takes] == [True, False]
