"""Numbers that readings in ohms are judged by, each once, with its reason.

Units: kilo-ohm, degrees Celsius, shares of one. Signs: none.
"""

from __future__ import annotations

from typing import Final

METER_SHARE: Final = 0.03
"""A hand-held meter's own error, and a few degrees between two readings (assumed)."""
METER_STEP_KOHM: Final = 0.01
"""The last digit of the 20 k range: a reading is no finer than that."""
BODY_KOHM: Final = 500.0
"""A body from hand to hand across the clips (sources P7: 8 k with 500 k across it reads 7.874 k)."""
JOINED_KOHM: Final = 0.02
"""From here down two leads are one: the clips' own contact, and two steps of the 20 k range."""
FINGERS_FROM_KOHM: Final = 100.0
"""No coil of a guitar has so much (common practice: 2 to 30 k); between open leads it is a pair of hands."""
OHMS_TYPED_FROM: Final = 1000.0
"""From here up the number may be in ohms: the same coils, 1 to 30 k, typed without the decimal point."""
OHMS_TYPED_TO: Final = 30_000.0
SHORTED_SHARE: Final = 0.75
"""A coil below this share of its twin, or of what its maker states, has lost turns; twins that are meant to
differ stay within about a fifth of each other (common practice)."""
COPPER_PER_KELVIN: Final = 0.00393
"""CRC Handbook of Chemistry and Physics, temperature coefficient of the resistivity of copper: 0.00393 per
kelvin at 20 C (from memory)."""
COPPER_AT_C: Final = 20.0
METER_RANGES_KOHM: Final = (2.0, 20.0, 200.0, 2000.0)
"""The ranges of an ordinary meter that is set by hand."""
DIFFERS_SHARE: Final = 0.08
"""A reading at the jack further off than this is not the meter, the room's warmth and a pot of 20 per cent
together: the pot alone moves 10 k beside 250 k by less than one per cent."""


def across(*kohm: float) -> float:
    """Resistances side by side; one of nought makes all of it nought."""
    return 0.0 if 0.0 in kohm else 1 / sum(1 / k for k in kohm)
