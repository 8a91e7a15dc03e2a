"""What the circuit inside a pickup gives: ohms, hum that is left, level and phase, reckoned from its network.

For every setting that has one pickup, whose coils are not simply one after the other. Level and phase are
those of a string against all its coils in series, as they are built; hum is against the loudest coil alone.
Coils that were measured have their resistance, and turns and inductance as they go with it
(dsp.model.hum_left); others are taken for usual ones. Units: kilo-ohm, dB, degrees, Hz.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from capture.job import Job, Pickup
from dsp.model.hum_left import LOAD_OHM, HumCoil, network_hum_left_db, output, turns_of_ohm
from dsp.model.network import CoilPart, Joined, Part, circuit_from, resistance
from dsp.model.pickups import USUAL_COIL
from reports.model.plan import CoilKey
from reports.model.verdict import NetworkRow
from reports.ohms.readings import coil_kohms

USUAL_MAINS_HZ = 50
LINES = (1, 5)
TONE_HZ = (200.0, 1000.0, 3000.0)
"""A low note, a middle one, and where a pickup has its edge."""


def network_rows(job: Job, *, by_coil: Mapping[CoilKey, float]) -> tuple[NetworkRow, ...]:
    """A row for each setting of one pickup with a circuit of its own."""
    rows = []
    for name in job.setting_names:
        setting = job.setting(name)
        if setting is None or len(setting.on) != 1:
            continue
        (member,) = setting.on
        pickup = job.pickup(member.pickup)
        circuit = member.circuit or (None if pickup is None else job.circuit_of(member))
        if pickup is not None and circuit is not None:
            rows.append(
                _row(name, pickup, circuit, coil_kohms(pickup, by_coil), job.mains_hz or USUAL_MAINS_HZ)
            )
    return tuple(rows)


def _row(name: str, pickup: Pickup, text: str, kohm: Mapping[int, float], mains_hz: int) -> NetworkRow:
    circuit = circuit_from(text)
    numbers = range(1, pickup.made.count + 1)
    measured = set(numbers) <= set(kohm)
    ohm = {k: kohm[k] * 1e3 if measured else USUAL_COIL.r_ohm for k in numbers}
    hum = {k: HumCoil.of(turns_of_ohm(ohm[k])) for k in numbers}
    coils = {k: one.electrics for k, one in hum.items()}
    built = {c.number: c for c in pickup.as_built.coils}
    windings = {k: hum[k].emf * built[k].w_in_whole for k in numbers}
    strings = {k: hum[k].emf * built[k].hears * (built[k].s_in_whole or 0) for k in numbers}
    hz = [n * mains_hz for n in LINES]
    left = network_hum_left_db(circuit, coils, volts=windings, hz=hz)
    series: Part = Joined("series", tuple(map(CoilPart, numbers))) if len(numbers) > 1 else CoilPart(1)
    whole, here = (
        output(one, coils, volts=strings, hz=TONE_HZ, load_ohm=LOAD_OHM) for one in (series, circuit)
    )
    ratio = here / whole
    read = resistance(circuit, {k: kohm[k] * 1e3 for k in kohm})
    return NetworkRow(
        setting=name,
        pickup=pickup.name,
        circuit=text,
        kohm=None if read is None or np.isinf(read) else round(read / 1e3, 3),
        open_for_meter=read is not None and bool(np.isinf(read)),
        hum_left_db=_by_hz(hz, left),
        level_db=_by_hz(TONE_HZ, 20 * np.log10(np.maximum(np.abs(ratio), 1e-6))),
        phase_deg=_by_hz(TONE_HZ, np.degrees(np.angle(ratio))),
        reckoned_from="ohms" if measured else "usual coils",
    )


def _by_hz(hz: Sequence[float], values: NDArray[np.float64]) -> dict[str, float]:
    return {f"{line:g}": round(float(value), 1) for line, value in zip(hz, values, strict=True)}
