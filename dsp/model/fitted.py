"""Fitted slopes: what a unit of each statistic is worth. Made by a command, not by hand.

Units: nats a unit of the statistic (`LOOKS_LIKE`: nats). Used by `dsp.model.calibration` alone.

Made on 2026-11-26 by
``python tests/studies/calibration/fit.py --benches 240 --unseen 80 --seed 4 --write``
on 120 simulated benches (ordinary conditions, 16000 Hz, numpy 2.4.6).
Each is rounded down to 0.1, and 60 means that nothing was wrong. How they do on benches that they
were not fitted on: FIT.md beside that command.
"""

PAIRED_SLOPE = 7.3
TURN_SLOPE = 1.4
PULSE_SLOPE = 60.0
TOUCH_SLOPE = 22.9
LOOKS_LIKE = 1.9
