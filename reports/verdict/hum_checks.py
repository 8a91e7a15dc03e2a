"""What would make it surer whether the windings of two pickups cancel hum.

Of the latent errors that hum evidence has, the one without which the pair would be surest. Units:
probabilities, nats. Sign: none; "hums" and "cancels" are asked alike.
"""

from __future__ import annotations

from typing import Final

from reports.inference.posterior import Posterior
from reports.model.notes import CheckError, ErrorKind, Standing

HUM_ERRORS: Final[tuple[ErrorKind, ...]] = (
    "field differs",
    "capacitive hum",
    "hum levels",
    "field differs everywhere",
    "channels",
    "coil's face",
    "selector list",
    "settings",
)
"""Those that a check of hum can rule out, in the order in which one of equal worth is named."""
CHECKED_NATS = 5.0
"""What a check that went well would say against its error."""
LEAST_GAIN = 1e-4


def hum_next_for(posterior: Posterior, a: str, b: str, *, standing: Standing) -> CheckError | None:
    """What to check for the hum of a pair that is likely and not settled; None where it is not that."""
    if posterior.hum_cancels(a, b) is None or standing != "likely":
        return None
    gains = posterior.usual.surer_without(a, b, known_nats=CHECKED_NATS, letter="w")
    best, gain = None, LEAST_GAIN
    for kind in HUM_ERRORS:
        for error, more in gains.items():
            if error.kind == kind and more > gain + LEAST_GAIN:
                best, gain = error, more
    return None if best is None else CheckError(best.error)
