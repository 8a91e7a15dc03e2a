"""How an unusual pickup is built, and how a position that is no plain sum is wired, as the text of SVGs.

Task: of a job the pickups that were said to be stacked, in halves, dummies, of alternating poles or of three
and four coils, each as it is seen from above or from the side; and the circuits inside pickups and of mixed
positions, hot above and ground below, coils as loops with a dot where they begin. What a drawing shows is
said in its description too, and nothing by colour alone. Lengths are in units of the view box, ``WIDTH`` of
them across. All typed text is escaped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from capture.job import Job, Member, Pickup, Setting
from dsp.model.network import Capacitor, CoilPart, Joined, Part, Resistor, circuit_from
from dsp.model.pickups import CoilBuild
from reports.messages import circuits as words
from reports.model.session import USUAL_STRINGS
from reports.render.guitar import FAINT, INK, PAPER, framed, line, text, wrapped
from reports.render.lead_drawing import wide

WIDTH = 410.0
MOST_DRAWINGS = 12
"""More circuits of one job are not drawn."""
_MARGIN, _HEAD, _SIZE, _SMALL = 12.0, 28.0, 13.0, 11.5
_LEAF_HIGH, _SYMBOL = 58.0, 16.0
_LOOPS, _LOOP_RX, _LOOP_RY = 5, 11.0, 3.2
_BESIDE = 22.0
"""From the middle of a symbol to its words."""
_WIRE = 1.4
_POLE = 6.0


@dataclass(frozen=True)
class Element:
    """One symbol with its words; ``turned``: a coil the other way round; ``tapped``: so much of it."""

    kind: str
    label: str
    turned: bool = False
    tapped: float | None = None


@dataclass(frozen=True)
class Net:
    """Elements and nets one after the other, or side by side."""

    join: str
    parts: tuple[Element | Net, ...]


def built_figures(job: Job) -> tuple[str, ...]:
    """A drawing of each pickup that is built otherwise, and of each circuit; none for an ordinary guitar."""
    pickups = [_built_figure(job, p) for p in job.pickups if _is_unusual(p)]
    settings = [
        s for name in job.setting_names if (s := job.setting(name)) is not None and _has_circuit(job, s)
    ]
    return (*pickups, *(_circuit_figure(job, s) for s in settings[:MOST_DRAWINGS]))


def _is_unusual(pickup: Pickup) -> bool:
    made = pickup.made
    return made.layout != "side by side" or made.by_string or made.count > len(("one", "other"))


def _has_circuit(job: Job, setting: Setting) -> bool:
    """Whether it is a circuit of its own: a mixed one, one of a position, or that of a pickup, drawn once."""
    alone = job.pickup(setting.name)
    if alone is not None and alone.circuit is not None:
        return True
    return any(m.group is not None or m.circuit is not None for m in setting.on)


def net_of(job: Job, setting: Setting) -> Element | Net:
    """A position as it is wired: its members, those of one group among themselves first."""
    inner = "series" if setting.join == "parallel" else "parallel"
    outer: dict[str, list[Element | Net]] = {}
    for place, member in enumerate(setting.on):
        outer.setdefault(member.group or f"{place} alone", []).append(_member(job, setting, member))
    return _joined(setting.join, [_joined(inner, each) for each in outer.values()])


def _joined(join: str, parts: Sequence[Element | Net]) -> Element | Net:
    return parts[0] if len(parts) == 1 else Net(join, tuple(parts))


def _member(job: Job, setting: Setting, member: Member) -> Element | Net:
    pickup, circuit = job.pickup(member.pickup), job.circuit_of(member)
    if pickup is None or circuit is None:
        name = member.pickup if member.coil is None else words.COIL_OF.format(member.pickup, member.coil)
        share = "" if member.share is None else words.KNOB_AT.format(round(100 * member.share))
        return Element("coil", f"{name}{share}", turned=member.reversed)
    named = words.COIL if len(setting.on) == 1 else words.COIL_OF
    return _part(circuit_from(circuit), pickup, named=named, over=member.reversed)


def _part(part: Part, pickup: Pickup, *, named: str, over: bool) -> Element | Net:
    match part:
        case Resistor(ohm=ohm):
            return Element("resistor", words.ohms(ohm))
        case Capacitor(farad=farad):
            return Element("capacitor", words.farads(farad))
        case CoilPart(number=number, share=share, turned=turned):
            kohm = pickup.coil_kohm or ()
            read = words.MEASURED.format(kohm[number - 1]) if number <= len(kohm) else ""
            tapped = None if share == 1 else share
            label = (
                named.format(number) if named == words.COIL else named.format(pickup.name, number)
            ) + read
            return Element("coil", label, turned=turned != over, tapped=tapped)
        case Joined(join=join, parts=parts):
            return Net(join, tuple(_part(one, pickup, named=named, over=over) for one in parts))


def told(net: Element | Net) -> str:
    """A circuit in words, from hot to ground."""
    if isinstance(net, Element):
        return net.label + words.noted(turned=net.turned, tapped=net.tapped)
    said = [told(one) if isinstance(one, Element) else f"({told(one)})" for one in net.parts]
    return words.THEN.join(said) if net.join == "series" else words.BESIDE.join(said)


def _circuit_figure(job: Job, setting: Setting) -> str:
    net = net_of(job, setting)
    inside = _wide(net)
    scale = min(1.0, (WIDTH - 2 * _MARGIN) / inside)
    top = _HEAD + 22.0
    across = _MARGIN / scale
    body = list(_drawn(net, across, 0.0))
    middle, high = across + _middle(net), _high(net)
    body += [_dot(middle, -8.0, radius=5.0), line(middle, -8.0, middle, 0.0, width=_WIRE)]
    body += [text(words.HOT, middle + 12.0, -4.0, size=_SMALL), *_earth(middle, high)]
    height = top + (high + 30.0) * scale
    group = f'<g transform="translate(0 {top:.1f}) scale({scale:.3f})">{"".join(body)}</g>'
    heading = text(
        _short(words.CIRCUIT_OF.format(setting.name), WIDTH - 2 * _MARGIN),
        _MARGIN,
        20.0,
        size=_SIZE,
        bold=True,
    )
    return framed(
        [heading, group],
        width=WIDTH,
        height=height,
        name=_key("circuit", setting.name),
        title=words.CIRCUIT_OF.format(setting.name),
        description=words.FROM_HOT.format(told(net)),
    )


def _label_lines(one: Element) -> list[str]:
    noted = words.noted(turned=one.turned, tapped=one.tapped).strip(" ,")
    return [_short(one.label, 150.0), *([noted] if noted else [])]


def _wide(net: Element | Net) -> float:
    if isinstance(net, Element):
        return 2 * _SYMBOL + _BESIDE + max(wide(each, size=_SMALL) * 0.9 for each in _label_lines(net))
    each = [_wide(one) for one in net.parts]
    if net.join == "parallel":
        return sum(each)
    left = max(_middle(one) for one in net.parts)
    return left + max(w - _middle(one) for w, one in zip(each, net.parts, strict=True))


def _middle(net: Element | Net) -> float:
    """Where the wire through a net comes in, from its left end."""
    if isinstance(net, Element):
        return _SYMBOL + 4.0
    if net.join == "series":
        return max(_middle(one) for one in net.parts)
    first, *_, last = net.parts if len(net.parts) > 1 else (net.parts[0], net.parts[0])
    begin = _middle(first)
    end = sum(map(_wide, net.parts[:-1])) + _middle(last)
    return (begin + end) / 2


def _high(net: Element | Net) -> float:
    if isinstance(net, Element):
        return _LEAF_HIGH
    each = [_high(one) for one in net.parts]
    return sum(each) if net.join == "series" else max(each) + 20.0


def _drawn(net: Element | Net, x: float, y: float) -> Iterator[str]:
    """The lines of a net whose box begins at x, y."""
    if isinstance(net, Element):
        yield from _symbol(net, x + _middle(net), y)
    elif net.join == "series":
        for one in net.parts:
            yield from _drawn(one, x + _middle(net) - _middle(one), y)
            y += _high(one)
    else:
        yield from _side_by_side(net, x, y)


def _side_by_side(net: Net, x: float, y: float) -> Iterator[str]:
    middle, high, inside = x + _middle(net), _high(net), _high(net) - 20.0
    places = []
    for one in net.parts:
        through = x + _middle(one)
        places.append(through)
        yield from _drawn(one, x, y + 10.0)
        yield line(through, y + 10.0 + _high(one), through, y + 10.0 + inside, width=_WIRE)
        x += _wide(one)
    for at, outward in ((y + 10.0, y), (y + 10.0 + inside, y + high)):
        yield line(places[0], at, places[-1], at, width=_WIRE)
        yield line(middle, at, middle, outward, width=_WIRE)
        yield from (_dot(place, at, radius=2.4) for place in places)


def _symbol(one: Element, x: float, y: float) -> Iterator[str]:
    top, low = y + 12.0, y + _LEAF_HIGH - 12.0
    yield line(x, y, x, top, width=_WIRE)
    yield line(x, low, x, y + _LEAF_HIGH, width=_WIRE)
    high = low - top
    if one.kind == "resistor":
        yield f'<rect x="{x - 6:.1f}" y="{top:.1f}" width="12" height="{high:.1f}" {_STROKE}/>'
    elif one.kind == "capacitor":
        middle = (top + low) / 2
        for at, outward in ((middle - 3.5, top), (middle + 3.5, low)):
            yield line(x, outward, x, at, width=_WIRE)
            yield line(x - 12.0, at, x + 12.0, at, width=2.4)
    else:
        step = high / (_LOOPS - 1)
        yield from (
            f'<ellipse cx="{x:.1f}" cy="{top + step * k:.1f}" rx="{_LOOP_RX}" ry="{_LOOP_RY}" {_STROKE}/>'
            for k in range(_LOOPS)
        )
        yield _dot(x - _LOOP_RX - 5.0, low if one.turned else top, radius=2.6)
        if one.tapped is not None:
            at = top + high * one.tapped
            yield line(x - _LOOP_RX, at, x - _LOOP_RX - 8.0, at, width=2.4)
    for k, said in enumerate(_label_lines(one)):
        yield text(said, x + _BESIDE, y + _LEAF_HIGH / 2 + 4.0 + 14.0 * k, size=_SMALL)


def _earth(x: float, y: float) -> list[str]:
    bars = ((0.0, 9.0), (4.0, 6.0), (8.0, 3.0))
    below = y + 6.0
    return [
        line(x, y, x, below, width=_WIRE),
        *(line(x - half, below + dy, x + half, below + dy, width=1.8) for dy, half in bars),
        text(words.GROUND, x + 16.0, below + 8.0, size=_SMALL),
    ]


def _built_figure(job: Job, pickup: Pickup) -> str:
    strings = _strings_of(job, pickup)
    if pickup.made.layout == "stacked":
        body, high = _from_the_side(pickup, strings)
    else:
        body, high = _from_above(pickup, strings)
    caption = words.built(pickup)
    lines = wrapped(caption, room=WIDTH - 2 * _MARGIN, size=_SMALL)
    body += [text(one, _MARGIN, high + 16.0 + 15.0 * k, size=_SMALL) for k, one in enumerate(lines)]
    heading = text(
        _short(words.BUILT_OF.format(pickup.name), WIDTH - 2 * _MARGIN), _MARGIN, 20.0, size=_SIZE, bold=True
    )
    return framed(
        [heading, *body],
        width=WIDTH,
        height=high + 16.0 + 15.0 * len(lines),
        name=_key("built", pickup.name),
        title=words.BUILT_OF.format(pickup.name),
        description=caption,
    )


def _strings_of(job: Job, pickup: Pickup) -> tuple[str, ...]:
    """The strings over a pickup, low to high; where the job lists none, those it was said to be under."""
    under = tuple(name for group in pickup.under or () for name in group)
    return job.strings or under or USUAL_STRINGS


def _places(strings: Sequence[str]) -> list[float]:
    """Where each string is across the drawing."""
    left, right = 130.0, WIDTH - _MARGIN - 24.0
    step = (right - left) / max(len(strings) - 1, 1)
    return [left + step * k for k in range(len(strings))]


def _from_above(pickup: Pickup, strings: Sequence[str]) -> tuple[list[str], float]:
    """Coils as boxes across the strings, with a pole under each; a dummy has none."""
    made, at = pickup.as_built, _places(strings)
    rows = [made.coils] if made.layout == "halves" else [(coil,) for coil in made.coils]
    top, each = _HEAD + 26.0, 34.0
    high = top + each * len(rows) + 10.0
    body = [
        text(name, x, _HEAD + 14.0, size=_SMALL, anchor="middle") for name, x in zip(strings, at, strict=True)
    ]
    for k, row in enumerate(rows):
        y = top + each * k
        for coil in row:
            body += _coil_from_above(pickup, coil, [(n, x) for n, x in zip(strings, at, strict=True)], y)
        names = words.AND.join(words.coil_named(pickup, coil.number) for coil in row)
        body.append(text(names, _MARGIN, y + 17.0, size=_SMALL))
    body += [line(x, _HEAD + 18.0, x, high, width=1.0, dash="5 3", stroke=FAINT) for x in at]
    return body, high


def _coil_from_above(
    pickup: Pickup, coil: CoilBuild, strings: Sequence[tuple[str, float]], y: float
) -> Iterator[str]:
    over = [x for name, x in strings if coil.under is None or name in coil.under]
    if not over:
        return
    left, right = over[0] - 16.0, over[-1] + 16.0
    yield f'<rect x="{left:.1f}" y="{y:.1f}" width="{right - left:.1f}" height="26" rx="12" {_STROKE}/>'
    if not coil.hears:
        return
    signs = pickup.made.poles
    for place, (_, x) in enumerate(strings):
        if x not in over:
            continue
        letter = _pole_letter(pickup, place)
        turned = bool(signs) and signs[place % len(signs)] < 0
        filled = turned != (coil.w_in_whole < 0)
        yield f'<circle cx="{x:.1f}" cy="{y + 13:.1f}" r="{_POLE + 2:g}" {_STROKE}/>'
        if letter:
            yield text(letter, x, y + 17.0, size=_SMALL, bold=True, anchor="middle")
        elif filled:
            yield _dot(x, y + 13.0, radius=_POLE)


def _pole_letter(pickup: Pickup, place: int) -> str:
    """N or S where it was said which pole is under a string."""
    poles = pickup.poles
    return poles[place][0].upper() if isinstance(poles, tuple) and place < len(poles) else ""


def _from_the_side(pickup: Pickup, strings: Sequence[str]) -> tuple[list[str], float]:
    """Two coils one above the other with one row of poles through both, under the strings."""
    at = _places(strings)
    top, each = _HEAD + 30.0, 40.0
    names = words.stack_names(pickup)
    body = [
        text(name, x, _HEAD + 12.0, size=_SMALL, anchor="middle") for name, x in zip(strings, at, strict=True)
    ]
    body += [_dot(x, _HEAD + 20.0, radius=2.4) for x in at]
    left, right = at[0] - 18.0, at[-1] + 18.0
    for k, name in enumerate(names):
        y = top + each * k
        across = f'x="{left:.1f}" y="{y:.1f}" width="{right - left:.1f}" height="{each - 8:g}"'
        body.append(f'<rect {across} rx="3" {_STROKE}/>')
        body += [line(left, y + 8.0 * n, right, y + 8.0 * n, width=0.7) for n in (1, 2, 3)]
        body += [text(one, _MARGIN, y + 14.0 + 14.0 * n, size=_SMALL) for n, one in enumerate(name)]
    bottom = top + 2 * each
    body += [
        f'<rect x="{x - 4:.1f}" y="{top - 6:.1f}" width="8" height="{bottom - top + 4:.1f}" fill="{PAPER}" '
        f'stroke="{INK}" stroke-width="1.6"/>'
        for x in at
    ]
    return body, bottom + 6.0


_STROKE = f'fill="none" stroke="{INK}" stroke-width="1.3"'


def _dot(x: float, y: float, *, radius: float) -> str:
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{INK}"/>'


def _short(name: str, room: float) -> str:
    (first, *more) = wrapped(name, room=room, size=_SIZE)
    return f"{first}…" if more else first


def _key(kind: str, name: str) -> str:
    return f"{kind}-{sum(ord(c) * (k + 1) for k, c in enumerate(name))}"
