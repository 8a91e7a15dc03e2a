"""What stands at the drawings of circuits and of how unusual pickups are built."""

from __future__ import annotations

from capture.job import Pickup

HOT, GROUND, AND = "hot", "ground", ", "
COIL, COIL_OF = "coil {}", "{} coil {}"
MEASURED = ", {:g} k"
KNOB_AT = ", knob at {} %"
THEN, BESIDE = ", then ", " beside "
CIRCUIT_OF = "Circuit of {}"
BUILT_OF = "How {} is built"
FROM_HOT = "From hot to ground: {}."
TURNED, TAPPED = "turned over", "up to its tap, {} %"


def noted(*, turned: bool, tapped: float | None) -> str:
    """What is to be said of a coil beside its name; empty where nothing is."""
    said = [TURNED] if turned else []
    said += [] if tapped is None else [TAPPED.format(round(100 * tapped))]
    return f", {', '.join(said)}" if said else ""


def ohms(ohm: float) -> str:
    """A resistor as a bench writes it."""
    kilo, mega = 1e3, 1e6
    return f"{ohm / mega:g} M" if ohm >= mega else f"{ohm / kilo:g} k" if ohm >= kilo else f"{ohm:g} ohm"


def farads(farad: float) -> str:
    """A capacitor as a bench writes it."""
    pico, nano = farad * 1e12, farad * 1e9
    kilo = 1e3
    return f"{pico:.3g} pF" if pico < kilo else f"{nano:.3g} nF" if nano < kilo else f"{nano / kilo:.3g} uF"


def coil_named(pickup: Pickup, number: int) -> str:
    """What a coil is called beside its drawing."""
    if pickup.made.layout == "dummy":
        return "no magnet"
    return COIL.format(number) if pickup.made.several else "coil"


UPPER, LOWER, ONE_OF_TWO = "upper coil", "lower coil", "a coil"


def stack_names(pickup: Pickup) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What the two coils of a stack are called, the upper one first, each in lines."""
    if pickup.upper is None:
        return ((UPPER,), (LOWER,))
    if isinstance(pickup.upper, int):
        return ((UPPER, COIL.format(pickup.upper)), (LOWER, COIL.format(3 - pickup.upper)))
    return ((UPPER, pickup.upper), (LOWER,))


def built(pickup: Pickup) -> str:
    """How a pickup is built, in sentences, under its drawing."""
    made = pickup.made
    if made.layout == "stacked":
        said = ["From the side: one row of poles through both coils, which are wound against each other."]
        said += ["Which of its coils is above is not said."] if pickup.upper is None else []
    elif made.layout == "halves":
        groups = "; ".join(f"coil {c.number} under {' '.join(c.under or ())}" for c in made.coils)
        said = [f"From above: {groups}. Wound and magnetised opposite ways (filled and hollow poles)."]
    elif made.layout == "dummy":
        said = ["From above: a coil without magnet or poles. It hears hum alone."]
    elif isinstance(pickup.poles, tuple):
        said = ["From above: which pole faces each string."]
    elif made.by_string:
        said = ["From above: filled and hollow poles face opposite ways, by turns."]
    else:
        said = [f"From above: {made.count} coils, each second one wound and magnetised the other way."]
    return " ".join(said)
