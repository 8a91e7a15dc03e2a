"""Odds that both judgements use. Shapes: (k,). Units: natural logs. Signs: none."""

from __future__ import annotations

import math

import numpy as np

from dsp.soundness.plucks import Array


def log_mean(weights: Array) -> float:
    """Log of the mean of exp(weights)."""
    return float(np.logaddexp.reduce(weights)) - math.log(len(weights))
