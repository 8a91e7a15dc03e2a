"""One session on a bench as it is: strings that ring, hands that thump, plugs that bang, hum throughout."""

from __future__ import annotations

import numpy as np
from guided_parts import SLOW_RATE, loose_neck
from living_bench import play
from simulator.scenes import random_bench

from capture.log.entries import Take
from capture.takes.folder import JobFolder
from reports.session.options import RecordingOptions
from reports.session.session import Session


def test_what_is_no_gesture_becomes_no_take_and_no_line(tmp_path):
    """Everything that was played is a take, nothing else is, and the verdict is the simulator's truth."""
    bench = random_bench(np.random.default_rng(500), pickups=2)
    folder = loose_neck(tmp_path, bench)
    session = Session(folder.path, RecordingOptions(inputs=2, rig="box", most=4))
    _, player = play(session, bench, folder.job, seed=0, rate=SLOW_RATE)
    assert player.phantoms == []
    assert player.missed == []
    logged = [e for e in JobFolder.open(folder.path).log.standing if isinstance(e, Take)]
    assert len(logged) == len(player.played)
    files = [p for p in (folder.path / "takes").iterdir() if not p.name.startswith(".")]
    assert len(files) == len(logged)
