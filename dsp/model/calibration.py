"""Statistic to log-likelihood ratio, for paired plucks, tool pulses and the shape of a pulse.

Units: natural logarithms; positive says "the same sign". Sign: every map is odd.

Slopes are fitted on the bench simulator (`dsp.model.fitted`) and taken at a part of what was fitted, none
steeper than ``STEEPEST``; every map is limited, so that no single take is certain. Limits and rates are
chosen by hand, each with its reason.
"""

from __future__ import annotations

import numpy as np

from dsp.model import fitted

LEVELS_FREEDOM = 6.0
"""Of the multivariate t over levels: how soon a misfit loses its weight (sources T4)."""
SLOPE_SHARE = 0.95
"""Of a fitted slope: on benches unlike those of the fit (FIT.md in the calibration study) it is too steep."""
STEEPEST = 8.0
"""Where hardly anything was wrong, a fit has no upper end; real tools differ more than simulated ones."""


def _slope(fit: float) -> float:
    return min(SLOPE_SHARE * fit, STEEPEST)


PAIRED_SLOPE = _slope(fitted.PAIRED_SLOPE)
PAIRED_MOST = 4.0
SPLIT_MOST = 6.0
"""A split check compares one signal with itself: only an entry that is wrong could turn it over."""
TURN_SLOPE = _slope(fitted.TURN_SLOPE)
PULSE_SLOPE = _slope(fitted.PULSE_SLOPE)
PULSE_MOST = 4.0
TOUCH_SLOPE = _slope(fitted.TOUCH_SLOPE)
TOUCH_MOST = 2.0
"""Two touches: they bounce, and the second lobe can be the larger. A lift against a touch says nothing:
one is the other run backwards, and no lag brings the two over each other."""
SHAPE_NATS = fitted.LOOKS_LIKE
"""Nats: how much the shape of a pulse tells of its gesture."""
SURE_SHAPE_NATS = 4.0
"""Nats: the shape that no lift had."""
CLIPPED_SHARE = 0.5
STROKE_TURNED = 0.05
"""A single pluck struck the other way."""
PRESS_TURNED = 0.02
"""A press has a direction of its own, so it is turned more rarely."""
DRIVE_TURNED = 0.02
"""A driven coil held with its other face down."""
PULSE_MISLABELLED = 0.03
"""A lift entered as a touch, or the tool's return taken for it, before its shape is looked at."""


def paired_ratio(statistic: float) -> float:
    """Of one paired pluck."""
    return float(np.clip(PAIRED_SLOPE * statistic, -PAIRED_MOST, PAIRED_MOST))


def split_ratio(statistic: float) -> float:
    """Of one split check."""
    return float(np.clip(PAIRED_SLOPE * statistic, -SPLIT_MOST, SPLIT_MOST))


def pulse_ratio(statistic: float, *, touches: int) -> float:
    """Of two pulses, ``touches`` of them touches (0, 1 or 2)."""
    if touches == 1:
        return 0.0
    slope, most = (TOUCH_SLOPE, TOUCH_MOST) if touches else (PULSE_SLOPE, PULSE_MOST)
    return float(np.clip(slope * statistic, -most, most))


def mislabelled_probability(abrupt_start: float, *, touch: bool) -> float:
    """Probability that a pulse is the other gesture than entered, from the shape of it."""
    touch_like = SURE_SHAPE_NATS if abrupt_start < SURELY_TOUCH else SHAPE_NATS
    lift_like = SHAPE_NATS if abrupt_start > 0 else -touch_like
    prior = np.log(PULSE_MISLABELLED / (1 - PULSE_MISLABELLED))
    return float(1 / (1 + np.exp(-(prior + (lift_like if touch else -lift_like)))))


SURELY_TOUCH = -2.5
"""No lift had a shape below this on the simulated bench; one touch in three did."""
