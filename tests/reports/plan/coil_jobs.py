"""A four-lead pickup of unknown colours on a simulated bench; which end is which is known by construction."""

import functools
from dataclasses import dataclass, replace

import numpy as np
from judging_jobs import BRIDGE, JobOnDisk
from simulator.conditions import Conditions
from simulator.scenes import random_bench
from simulator.workbench import On

from capture.takes.folder import JobFolder
from reports.plan.joints import lead_rows
from reports.verdict.building import judge

RATE = 16_000
TOML = f"""format = 1
title = "Loose neck of unknown colours"
{BRIDGE}[[pickup]]
name = "neck"
coils = 2
fitted = false
"""
OPEN_PAIRS = (("violet", "brown"), ("violet", "grey"), ("orange", "brown"), ("orange", "grey"))
ENDS = ({"violet", "orange"}, {"brown", "grey"})


@dataclass(frozen=True)
class Loose:
    """The lead at the hot end of each coil: the one that, on the tip, is in phase with the bridge."""

    hot: tuple[str, str]

    @property
    def cold(self):
        return tuple(next(iter(ends - {hot})) for ends, hot in zip(ENDS, self.hot, strict=True))


@functools.cache
def lifts(seed):
    """Two lifts on the bridge and on each coil as wired, and whether coil 1 is in phase with the bridge."""
    rng = np.random.default_rng(seed)
    conditions = Conditions(humbucker_rate=1.0, careless_rate=0.0, magnetised_rate=0.0)
    bench = random_bench(rng, conditions=conditions, pickups=2, mains_hz=50, inverted=(False, False))
    bridge, neck = bench.pickups
    bench = replace(bench, pickups=(replace(bridge, coils=bridge.coils[:1]), neck))
    signs = [bench.s("bridge") * coil.signs.string for coil in neck.coils]
    rows = [("bridge", bench.lift(rng, "bridge", rate=RATE)) for _ in range(2)]
    for coil in (1, 2, 1, 2):
        rows.append((coil, bench.lift(rng, On("neck", coil), coil=coil, rate=RATE)))
    return signs, rows


def job_of(home, *, hot, seed=20261125, wrong=None, readings=True, only=("bridge", 1, 2)):
    """The job on disk; ``hot``: as in `Loose`; ``wrong``: a reading logged in place of an open one.

    ``only``: what is lifted over, coil 1 being the one of violet and orange.
    """
    loose, (signs, rows) = Loose(hot), lifts(seed)
    job = JobOnDisk(home, TOML)
    ids = {}
    if readings:
        ids["violet", "orange"] = job.log("ohms", pickup="neck", between=["violet", "orange"], kohm=4.1)
        ids["brown", "grey"] = job.log("ohms", pickup="neck", between=["brown", "grey"], kohm=4.0)
        for pair in OPEN_PAIRS:
            said = {"kohm": wrong[1]} if wrong is not None and wrong[0] == pair else {}
            ids[pair] = job.log("ohms", pickup="neck", between=list(pair), **said)
    for where, audio in (row for row in rows if row[0] in only):
        if where == "bridge":
            job.take(audio, ["bridge"], gesture="lift")
            continue
        tip, sleeve = loose.hot[where - 1], loose.cold[where - 1]
        if signs[where - 1] < 0:
            tip, sleeve = sleeve, tip
        job.take(audio, [{"pickup": "neck", "hot": tip, "ground": sleeve}], gesture="lift")
    return job, ids


def chain_of(row):
    """The leads of a row that is known from hot over the two inner ends to ground."""
    return row.why.chain


def leads_of(job):
    """The row of the neck, of `lead_rows`."""
    folder = JobFolder.open(job.home)
    judged = judge(folder)
    rows = lead_rows(folder.job, folder.log.standing, judged.posterior, results=judged.results)
    return next(one for one in rows if one.pickup == "neck")
