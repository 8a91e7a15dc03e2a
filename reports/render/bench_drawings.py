"""What stands on a bench, drawn small: guitars from above, bridge left; loose pickups, cables, recordings.

Each is one SVG, ``WIDTH`` by ``HEIGHT`` units, for an answer whose words say the same: a screen reader passes
it over. A pickup with two coils is two bars; where a loose one will sit is dashed. Nothing is to scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reports.render.guitar import ACCENT, FAINT, INK, PAPER, line

WIDTH, HEIGHT = 320, 176
_STRINGS = tuple(62.0 + 6.0 * k for k in range(6))
_BRIDGE_X, _NECK_X = 62.0, 214.0
_AT = {"bridge": 88.0, "middle": 136.0, "neck": 184.0}
_TALL, _COIL, _APART = 44.0, 9.0, 5.5
_MIDDLE = 77.0
_BODY = (
    "M214 52 C204 20 172 34 150 36 C120 39 110 14 70 15 C30 16 12 48 12 77 C12 106 30 139 70 139 "
    "C110 139 120 115 150 118 C174 120 206 132 214 102 Z"
)
_NOTCH = 11.0
_NOTCHES = {"three-way": 3, "five-way": 5}


def guitar_card(
    names: Sequence[str],
    coils: Sequence[int],
    *,
    control: str,
    loose: Iterable[str] = (),
    cable: bool = True,
) -> str:
    """Draw a guitar: ``loose`` pickups lie beside it, their places dashed; ``cable`` is in its jack."""
    aside = tuple(name for name in names if name in set(loose))
    drawn = [*_body(), *_control(control)]
    for name, count in zip(names, coils, strict=True):
        drawn += _coils(_AT[name], _MIDDLE, count, empty=name in aside)
    drawn += _cable(44.0, 128.0, to=100.0) if cable else []
    for name, count in zip(names, coils, strict=True):
        if name in aside:
            drawn += _loose_pickup(262.0, count, to=200.0)
    return _card(drawn)


def loose_card(coils: Sequence[int]) -> str:
    """Draw two pickups alone, each on a cable of its own, that of the bridge on the left."""
    drawn: list[str] = []
    for x, count, to in zip((92.0, 228.0), coils, (40.0, 176.0), strict=True):
        drawn += _loose_pickup(x, count, to=to, y=58.0, tall=76.0)
    return _card(drawn)


def recordings_card() -> str:
    """Draw recordings: sheets on each other, with the loudness of what is on them as bars."""
    drawn = []
    for k in (2, 1, 0):
        x, y = 80.0 + 26.0 * k, 34.0 + 16.0 * (2 - k)
        drawn.append(
            f'<path d="M{x:g} {y:g} H{x + 84:g} L{x + 108:g} {y + 24:g} V{y + 100:g} H{x:g} Z" '
            f'fill="{PAPER}" stroke="{INK}" stroke-width="2.5" stroke-linejoin="round"/>'
        )
        drawn.append(line(x + 84, y, x + 84, y + 24, width=2))
        drawn.append(line(x + 84, y + 24, x + 108, y + 24, width=2))
    for k, tall in enumerate((8, 52, 42, 33, 26, 20, 15, 11)):
        x = 92.0 + 11.5 * k
        drawn.append(line(x, 124 - tall / 2, x, 124 + tall / 2, width=5, stroke=ACCENT))
    return _card(drawn)


def _card(drawn: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true" '
        f'focusable="false">{"".join(drawn)}</svg>'
    )


def _body() -> list[str]:
    drawn = [
        f'<path d="{_BODY}" fill="none" stroke="{INK}" stroke-width="2.5" stroke-linejoin="round"/>',
        line(_NECK_X, 57, WIDTH, 57, width=2),
        line(_NECK_X, 97, WIDTH, 97, width=2),
        *(line(x, 57, x, 97, stroke=FAINT) for x in (226.0, 239.0, 253.0, 268.0, 284.0, 301.0)),
        line(_BRIDGE_X, 56, _BRIDGE_X, 98, width=6),
    ]
    return [
        *drawn,
        *(line(_BRIDGE_X, y, WIDTH, y, width=0.8 + 0.15 * k, stroke=FAINT) for k, y in enumerate(_STRINGS)),
    ]


def _coils(x: float, y: float, count: int, *, empty: bool = False, tall: float = _TALL) -> list[str]:
    offsets = (0.0,) if count == 1 else (-_APART, _APART)
    look = (
        f'fill="{PAPER}" stroke="{FAINT}" stroke-dasharray="4 4"' if empty else f'fill="{INK}" stroke="{INK}"'
    )
    drawn = []
    for offset in offsets:
        drawn.append(
            f'<rect x="{x + offset - _COIL / 2:g}" y="{y - tall / 2:g}" width="{_COIL:g}" height="{tall:g}" '
            f'rx="4" {look} stroke-width="1.5"/>'
        )
        if not empty:
            gap = tall / 6.6
            drawn += [
                f'<circle cx="{x + offset:g}" cy="{y + gap * (k - 2.5):g}" r="1.8" fill="{PAPER}"/>'
                for k in range(6)
            ]
    return drawn


def _control(control: str) -> list[str]:
    if control == "volumes":
        return [*_knob(104.0, 118.0), *_knob(78.0, 124.0)]
    notches = _NOTCHES.get(control, 0)
    if not notches:
        return []
    left = 124.0 - _NOTCH * (notches - 1) / 2
    dots = [f'<circle cx="{left + _NOTCH * k:g}" cy="113" r="2.2" fill="{INK}"/>' for k in range(notches - 1)]
    lever = left + _NOTCH * (notches - 1)
    return [
        f'<rect x="{left - 7:g}" y="107" width="{_NOTCH * (notches - 1) + 14:g}" height="12" rx="6" '
        f'fill="{PAPER}" stroke="{INK}" stroke-width="1.5"/>',
        *dots,
        f'<rect x="{lever - 3.5:g}" y="102" width="7" height="22" rx="3" fill="{ACCENT}"/>',
        f'<circle cx="{lever:g}" cy="113" r="2.2" fill="{PAPER}"/>',
    ]


def _knob(x: float, y: float) -> list[str]:
    return [
        f'<circle cx="{x:g}" cy="{y:g}" r="9.5" fill="{PAPER}" stroke="{INK}" stroke-width="2.5" '
        'stroke-dasharray="2.5 1.5"/>',
        f'<circle cx="{x:g}" cy="{y:g}" r="4" fill="{ACCENT}"/>',
    ]


def _cable(x: float, y: float, *, to: float) -> list[str]:
    """A cable from a jack to a plug that points to the box, below the drawing's edge."""
    return [
        f'<circle cx="{x:g}" cy="{y:g}" r="5" fill="{PAPER}" stroke="{INK}" stroke-width="2"/>',
        f'<path d="M{x:g} {y:g} C{x - 14:g} {y + 38:g} {to:g} {y + 2:g} {to:g} 152" fill="none" '
        f'stroke="{ACCENT}" stroke-width="3.5"/>',
        *_plug(to),
    ]


def _plug(x: float) -> list[str]:
    return [
        f'<rect x="{x - 5:g}" y="148" width="10" height="14" rx="2" fill="{ACCENT}"/>',
        line(x, 161, x, 174, width=4, stroke=INK),
    ]


def _loose_pickup(x: float, count: int, *, to: float, y: float = 140.0, tall: float = _TALL) -> list[str]:
    """A pickup, its two leads, the clips on them, and the cable from there."""
    side = x - (_COIL + _APART if count > 1 else _COIL) - 1
    clips = to + 26.0
    drawn = [*_coils(x, y, count, tall=tall)]
    for k, dash in ((-1, ""), (1, ' stroke-dasharray="5 3"')):
        end = y + 9 * k
        drawn.append(
            f'<path d="M{side:g} {y + 4 * k:g} C{side - 8:g} {y + 4 * k:g} {clips + 18:g} {end:g} '
            f'{clips + 8:g} {end:g}" fill="none" stroke="{INK}" stroke-width="2"{dash}/>'
        )
        drawn.append(
            f'<path d="M{clips + 9:g} {end - 3:g} L{clips - 3:g} {end:g} L{clips + 9:g} {end + 3:g}" '
            f'fill="none" stroke="{INK}" stroke-width="2.5"/>'
        )
        drawn.append(
            f'<path d="M{clips - 3:g} {end:g} C{clips - 12:g} {end:g} {to:g} {y - 4:g} {to:g} 152" '
            f'fill="none" stroke="{ACCENT}" stroke-width="2.5"/>'
        )
    return [*drawn, *_plug(to)]
