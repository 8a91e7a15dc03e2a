"""Sums with waves, thinning, filters and the likelihood of a partial against plain numpy and scipy."""

import numpy as np
import pytest
import scipy

from dsp.methods.switch_signs import _by_coherence, _of_settings, _real_columns, by_owner, gaussian_terms
from dsp.signal.mains import _sums_nearby, _sums_on_grid
from dsp.signal.samples import ANALYSIS_RATE, band, band_within, resampled
from dsp.signal.waves import framed_sums, least_squares, sum_of, sums_with, turns_of, waves

HZ, DECAY = np.array([49.7, 110.3, 1234.5]), np.array([0.0, 3.0, 40.0])


def noise(frames, seed=1):
    return np.random.default_rng(seed).standard_normal(frames)


@pytest.mark.parametrize("frames", [1, 7, 1600, 1601])
def test_waves_and_sums_are_those_of_the_exponential(frames):
    turns, x = turns_of(HZ, decay=DECAY), noise(frames)
    plain = np.exp(np.outer(2j * np.pi * HZ - DECAY, np.arange(frames) / ANALYSIS_RATE))
    np.testing.assert_allclose(waves(turns, frames), plain, rtol=0, atol=1e-11)
    np.testing.assert_allclose(sums_with(x, turns), plain @ x, rtol=0, atol=1e-10)
    np.testing.assert_allclose(sums_with(np.stack([x, -x]), turns)[1], plain @ -x, rtol=0, atol=1e-10)
    amplitudes = np.array([1.0, 2j, 3 - 1j])
    np.testing.assert_allclose(sum_of(amplitudes, turns, frames), (amplitudes @ plain).real, atol=1e-10)


def test_sums_in_frames_begin_at_each_frame():
    x, turns, window = noise(1000), turns_of(HZ), np.hanning(300)
    found = framed_sums(x, turns, window=window, hop=75)
    assert framed_sums(x[:299], turns, window=window, hop=75).shape == (0, 3)
    for k, one in enumerate(found):
        np.testing.assert_allclose(one, sums_with(x[75 * k : 75 * k + 300] * window, turns), atol=1e-11)
    assert len(found) == 10


@pytest.mark.parametrize("alike", [1.0, 1e-9])
def test_least_squares_are_numpys_well_posed_or_not(alike):
    basis = noise(900).reshape(300, 3)
    basis[:, 2] = basis[:, 1] + alike * basis[:, 2]
    x = noise(300, seed=2)
    plain = np.linalg.lstsq(basis, x, rcond=1e-6)[0]
    np.testing.assert_allclose(least_squares(basis, x, rcond=1e-6), plain, rtol=1e-10)


@pytest.mark.parametrize("numbers", [np.arange(1, 11), np.array([2, 3, 7])])
def test_sums_over_a_grid_of_fundamentals(numbers):
    x = noise(777)
    for sums, step in ((_sums_on_grid, 2e-4), (_sums_nearby, 2e-6)):
        turn = 0.19 + step * np.arange(31)
        at = np.arange(len(x)) - (len(x) - 1) / 2
        plain = np.array([[np.sum(x * np.exp(-1j * n * one * at)) for n in numbers] for one in turn])
        np.testing.assert_allclose(sums(x, numbers, turn), plain, atol=1e-9)


@pytest.mark.parametrize(("up", "down"), [(1, 3), (1, 10), (160, 441)])
@pytest.mark.parametrize("frames", [1, 29, 4800])
def test_resampling_is_scipys(up, down, frames):
    plain = scipy.signal.resample_poly(noise(frames), up, down)
    np.testing.assert_allclose(resampled(noise(frames), up=up, down=down), plain, rtol=0, atol=1e-13)


@pytest.mark.parametrize("edges", [(35.0, 4000.0), (None, 2000.0), (1200.0, 4800.0)])
def test_a_band_is_scipys_and_a_part_of_it_the_same(edges):
    low, high = edges
    x = noise(6000) * np.where(np.arange(6000) < 3000, 1.0, 1e-3)
    kind = "lowpass" if low is None else "bandpass"
    sos = scipy.signal.butter(2, high if low is None else edges, kind, fs=ANALYSIS_RATE, output="sos")
    whole = band(x, low_hz=low, high_hz=high)
    np.testing.assert_array_equal(whole, scipy.signal.sosfiltfilt(sos, x, padlen=480))
    for start, stop in ((-50, 400), (3300, 4000), (5700, 6000)):
        part = band_within(x, start, stop, low_hz=low, high_hz=high)
        np.testing.assert_allclose(part, whole[max(0, start) : stop], rtol=0, atol=1e-12)


@pytest.mark.parametrize("tones", [0, 3])
@pytest.mark.parametrize("sizes", [(9,), (9, 5), (9, 5, 4)])
def test_a_setting_eliminated_first_leaves_the_likelihood_as_it_is(tones, sizes):
    owner = np.repeat(np.arange(len(sizes)), sizes)
    cells, count = len(owner), len(sizes)
    z = noise(cells) + 1j * noise(cells, seed=2)
    hum = (noise(tones * cells, seed=3) + 1j * noise(tones * cells, seed=4)).reshape(tones, cells)
    smooth = np.exp(-0.05 * np.square(np.subtract.outer(np.arange(cells), np.arange(cells))))
    same = owner[:, np.newaxis] == owner
    within = np.where(same, smooth, 0.0) + 0.1 * np.eye(cells)
    across = np.where(same, 0.0, 0.9 * smooth)
    parts = by_owner(z, owner, count=count)
    found = _by_coherence(within.copy(), across[sizes[0] :].copy(), _real_columns(parts, hum), first=sizes[0])
    logs, fits = _of_settings(np.array([w for w, _ in found]), np.array([p for _, p in found]), count=count)
    for coherence, log, fit in zip((0.97, 0.85, 0.6, 0.0), logs, fits, strict=True):
        dense = within + coherence**2 * across + hum.T @ hum.conj()
        np.testing.assert_allclose(log, -np.linalg.slogdet(dense)[1], rtol=1e-9)
        plain = -np.real(parts.conj() @ np.linalg.solve(dense, parts.T))
        np.testing.assert_allclose(fit, plain, atol=1e-9)
        whole = gaussian_terms(parts, within + coherence**2 * across, hum)
        np.testing.assert_allclose(whole[1], plain, atol=1e-9)
