"""Quasi-random points against scipy's own."""

import numpy as np
import pytest
import scipy

from dsp.model.quasi_random import sobol_points


@pytest.mark.parametrize("dimensions", [1, 5, 64, 66])
@pytest.mark.parametrize("seed", [None, 1])
def test_the_points_are_those_of_scipy(dimensions, seed):
    theirs = scipy.stats.qmc.Sobol(dimensions, scramble=seed is not None, seed=seed).random_base2(5)
    assert np.array_equal(sobol_points(dimensions, log2_points=5, seed=seed), theirs)
