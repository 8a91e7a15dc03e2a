"""The circuit of one pickup: coils, resistors and capacitors in series and parallel, from hot to ground.

Task: from a text as a bench writes it ("1 + 2", "1 | 2", "1 + (2 | 22n)", "1@60%") to the parts; from these
to the ohms a meter reads, and to one two-pole: what each coil adds to its voltage, and its impedance, at one
frequency or many. Nothing here needs arrays, so that a job is read without them. Units: ohm, farad, henry,
rad/s. Sign: a coil counts with the sign of its winding for hum and with its ``s`` for strings; one
with a minus before it is turned over.

Every two-pole is reduced to a voltage behind an impedance (sources C3: Millman, with impedances for
resistances); in series voltages and impedances add. A coil is a voltage behind resistance and inductance;
one that is tapped has so much of its turns, and with them of its voltage and resistance, and the square of it
of its inductance (sources C4). Own capacitances are left out: they matter from a few kilohertz on.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class CoilPart:
    """A coil by its number, all of it or the part up to its tap; ``turned``: the other way round."""

    number: int
    share: float = 1.0
    turned: bool = False


@dataclass(frozen=True)
class Resistor:
    """A resistor, ohm."""

    ohm: float


@dataclass(frozen=True)
class Capacitor:
    """A capacitor, farad."""

    farad: float


@dataclass(frozen=True)
class Joined:
    """Parts one after the other, or side by side."""

    join: Literal["series", "parallel"]
    parts: tuple[Part, ...]


Part = CoilPart | Resistor | Capacitor | Joined


@dataclass(frozen=True)
class CoilElectrics:
    """Resistance and inductance of a whole coil."""

    r_ohm: float
    l_h: float


_TOKEN = re.compile(
    r"\s*(?:(?P<mark>[()+|-])|(?P<number>\d+(?:[.,]\d+)?)(?P<unit>pF?|nF?|[uµ]F?|[kKMRΩ]|ohm)?"
    r"(?:@(?P<share>\d+(?:[.,]\d+)?)%)?)"
)
_FARAD = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6}
_OHM = {"R": 1.0, "Ω": 1.0, "ohm": 1.0, "k": 1e3, "K": 1e3, "M": 1e6}
SPELLING = 'write coils by number, as in "1 + 2", "1 | 2", "1 + (2 | 22n)", "1@60%" or "1 + (2 | 4.7k)"'


def circuit_from(text: str) -> Part:
    """The circuit that a text spells: + is in series, | in parallel and binds more closely.

    Raises
    ------
    ValueError
        Something in it is not understood.

    """
    tokens = list(_tokens(text))
    part, rest = _series(tokens)
    if rest:
        raise ValueError(f'is "{text}"; {SPELLING}')
    return part


Token = tuple[str, Part | None]


def _tokens(text: str) -> Iterator[Token]:
    at = 0
    text = text.rstrip()
    while at < len(text):
        found = _TOKEN.match(text, at)
        if found is None:
            raise ValueError(f'is "{text}"; {SPELLING}')
        at = found.end()
        yield (found["mark"], None) if found["mark"] else ("part", _part(found, text))


def _part(found: re.Match[str], text: str) -> Part:
    number, unit = float(found["number"].replace(",", ".")), found["unit"] or ""
    if unit in _OHM:
        part: Part = Resistor(number * _OHM[unit])
    elif unit:
        part = Capacitor(number * _FARAD[unit[0]])
    else:
        share = float((found["share"] or "100").replace(",", ".")) / 100
        part = CoilPart(int(number), share)
        if number != int(number) or not 0 < share <= 1 or int(number) < 1:
            raise ValueError(f'is "{text}"; {SPELLING}')
    if number <= 0 or (unit and found["share"]):
        raise ValueError(f'is "{text}"; {SPELLING}')
    return part


def _series(tokens: list[Token]) -> tuple[Part, list[Token]]:
    return _joined(tokens, "+")


def _joined(tokens: list[Token], mark: Literal["+", "|"]) -> tuple[Part, list[Token]]:
    inner = _single if mark == "|" else _parallel
    part, rest = inner(tokens)
    parts = [part]
    while rest and rest[0][0] == mark:
        part, rest = inner(rest[1:])
        parts.append(part)
    if len(parts) == 1:
        return parts[0], rest
    return Joined("series" if mark == "+" else "parallel", tuple(parts)), rest


def _parallel(tokens: list[Token]) -> tuple[Part, list[Token]]:
    return _joined(tokens, "|")


def _single(tokens: list[Token]) -> tuple[Part, list[Token]]:
    if not tokens:
        raise ValueError(f"breaks off; {SPELLING}")
    (kind, part), rest = tokens[0], tokens[1:]
    if part is not None:
        return part, rest
    if kind == "-":
        part, rest = _single(rest)
        return turned(part), rest
    if kind == "(":
        part, rest = _series(rest)
        if rest and rest[0][0] == ")":
            return part, rest[1:]
    raise ValueError(f"has a bracket or a sign too many; {SPELLING}")


def turned(part: Part) -> Part:
    """A part the other way round."""
    if isinstance(part, CoilPart):
        return CoilPart(part.number, part.share, not part.turned)
    if isinstance(part, Joined):
        return Joined(part.join, tuple(map(turned, part.parts)))
    return part


def coils_in(part: Part) -> tuple[int, ...]:
    """The numbers of the coils in a circuit, in order, each once."""
    if isinstance(part, CoilPart):
        return (part.number,)
    if isinstance(part, Joined):
        return tuple(sorted({n for one in part.parts for n in coils_in(one)}))
    return ()


def resistance(part: Part, ohm: Mapping[int, float]) -> float | None:
    """What a meter reads across a circuit, ohm; infinity behind a capacitor, None for a coil not measured."""
    if isinstance(part, Resistor):
        return part.ohm
    if isinstance(part, Capacitor):
        return math.inf
    if isinstance(part, CoilPart):
        return ohm[part.number] * part.share if part.number in ohm else None
    known = [one for one in (resistance(p, ohm) for p in part.parts) if one is not None]
    if len(known) < len(part.parts):
        return None
    if part.join == "series":
        return sum(known)
    conductance = sum(math.inf if one == 0 else 1 / one for one in known)
    return math.inf if conductance == 0 else 1 / conductance


Number = TypeVar("Number", complex, "Complexes")
"""One value, or one a line."""


@dataclass(frozen=True)
class TwoPole(Generic[Number]):
    """A voltage behind an impedance: ``gains`` is what each coil adds to the voltage."""

    gains: Mapping[int, Number]
    impedance: Number


def two_pole(part: Part, coils: Mapping[int, CoilElectrics], omega: Number) -> TwoPole[Number]:
    """A circuit as one two-pole at ``omega``, 2 pi i times the frequency, one value or an array of them.

    Every coil in it must be among ``coils``.
    """
    ones: Number = omega * 0 + 1
    if isinstance(part, Resistor):
        return TwoPole({}, part.ohm * ones)
    if isinstance(part, Capacitor):
        return TwoPole({}, 1.0 / (omega * part.farad))
    if isinstance(part, CoilPart):
        coil = coils[part.number]
        gain = -part.share if part.turned else part.share
        return TwoPole({part.number: gain * ones}, coil.r_ohm * part.share + omega * coil.l_h * part.share**2)
    each = [two_pole(one, coils, omega) for one in part.parts]
    series = part.join == "series"
    impedance: Number = ones * 0
    for pole in each:
        impedance = impedance + (pole.impedance if series else 1.0 / pole.impedance)
    impedance = impedance if series else 1.0 / impedance
    gains: dict[int, Number] = {}
    for pole in each:
        factor = ones if series else impedance / pole.impedance
        for number, there in pole.gains.items():
            gains[number] = gains.get(number, 0 * ones) + factor * there
    return TwoPole(gains, impedance)
