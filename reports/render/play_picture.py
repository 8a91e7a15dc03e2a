"""The guitar as an instruction: the string to pluck, the pole to touch, selector and volumes, which plug.

`play_svg` draws the same guitar as reports.render.guitar, to scale, and on it only what the step wants now;
without a step it shows what is known. Below the strings stand the positions of the selector, numbered in
the order of a sweep, and the inputs with what is to be plugged into each. Units are those of the drawing,
``WIDTH`` wide. Nothing is told by colour alone: what is to be done is heavy, ringed, numbered, or has an
arrow.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from itertools import pairwise

from capture.job import Job
from capture.log import Input, LeadsInput
from reports.messages.play import (
    BLACK_ON,
    CLOTH,
    COIL_TO_TOUCH,
    HOLD,
    HOLD_PICKUP,
    HOLD_SPACER,
    HOLD_STRINGS,
    HOLD_TAPE,
    INPUT,
    ON_CLIPS,
    RED_ON,
    SELECTOR,
    TAG,
    VOLUME_DOWN,
    VOLUME_UP,
    VOLUMES,
)
from reports.messages.wording import on_words
from reports.model.gestures import WITH_TOOL
from reports.model.session import Moving, Step
from reports.model.verdict import Verdict
from reports.render import guitar
from reports.render.guitar import ACCENT, FAINT, INK, ON_ACCENT, PAPER, line, text

WIDTH = guitar.WIDTH
GAP = 24.0
"""Between strings: wider than in the report, since one of them is pointed at."""
STRINGS_END = 478.0
"""Behind it stands the name of the string to be played."""
NOTCH_WIDE = 164.0
MOST_NOTCHES = 7
SOCKET = 54.0
PLUG_MOVES: Collection[Moving] = ("plug in", "plug", "clips")


def play_svg(
    job: Job,
    verdict: Verdict | None,
    *,
    now: Step | None,
    moving: Moving | None = None,
    changed: Collection[int] = (),
    tagging: str | None = None,
    name: str = "guitar",
) -> str:
    """Draw the guitar, what the step wants, and what is known of each pickup.

    ``moving``: hands have to move that first; ``changed``: the channels of the input at which a plug is
    moved, none where all are. ``tagging``: a tag is to go on a lead of this pickup.
    """
    touched = frozenset() if now is None else played(job, now)
    shown = [p for p in job.pickups if p.shelf is None or p.name in touched]
    drawn = guitar.GuitarDrawing(job, gap=GAP, right=STRINGS_END, shown=shown)
    hands = moving is not None
    body = drawn.strings_and_axis() if now is None else drawn.strings()
    if now is not None and not hands:
        body += _to_play(drawn, now)
    body += drawn.pickups(
        playing=frozenset() if now is None or hands else played(job, now),
        coil=None if now is None or hands else now.coil,
    )
    if now is not None and not hands:
        body += _at_the_poles(drawn, now)
    y = drawn.below if now is None else drawn.bottom + (52.0 if now.coil or now.gesture == "hum" else 30.0)
    if now is not None:
        jack = _positions(job, after=now.stage == "after")
        wanted = [one for one in now.inputs if _all_in(one, jack)]
        if now.volumes:
            rows, y = _knobs(now, y)
            body += rows
        elif wanted and len(jack) > 1:
            rows, y = _selector(jack, wanted[0], y)
            body += rows
        if len(now.columns) > 1 or moving in PLUG_MOVES:
            rows, y = _plugs(job, now, y, moving=moving, changed=changed)
            body += rows
        if hands and now.kind == "paired" and any(_is_loose(job, one, now) for one in now.inputs):
            rows, y = _held(y)
            body += rows
    elif tagging is not None:
        rows, y = _tag(tagging, y)
        body += rows
    rows, y, description = drawn.rows(
        verdict, y, playing=frozenset() if now is None or hands else played(job, now)
    )
    body += rows
    if now is None:
        body.append(text(guitar.LEGEND, guitar.LEFT - 30.0, y + 4.0, size=13.5, fill=FAINT))
        y += 14.0
    return guitar.framed(
        body, width=WIDTH, height=y + 4.0, name=name, title=guitar.TITLE, description=description
    )


def played(job: Job, now: Step) -> frozenset[str]:
    """The pickups that are to be touched or listened to now; none in a sweep, where all are in turn."""
    if now.tapped:
        return frozenset((now.tapped,))
    names: set[str] = set()
    for one in now.inputs:
        if isinstance(one, LeadsInput):
            names.add(one.pickup)
        elif isinstance(one, str):
            setting = job.setting(one)
            names |= set() if setting is None else {m.pickup for m in setting.on}
    return frozenset(names)


def _positions(job: Job, *, after: bool) -> tuple[str, ...]:
    """The positions that come out of the jack, from the bridge's end of the selector to the neck's."""
    at = {p.name: k for k, p in enumerate(job.own_pickups) if p.fitted or after}
    found: list[tuple[float, str]] = []
    for name in job.setting_names:
        setting = job.setting(name)
        if setting is None or any(m.pickup not in at for m in setting.on):
            continue
        each = [at[m.pickup] for m in setting.on]
        found.append((sum(each) / len(each), name))
    return tuple(name for _, name in sorted(found, key=lambda one: one[0]))


def _all_in(one: Input, names: Collection[str]) -> bool:
    if isinstance(one, tuple):
        return all(n in names for n in one)
    return isinstance(one, str) and one in names


def _to_play(drawn: guitar.GuitarDrawing, now: Step) -> list[str]:
    """The string that rings, with a plectrum on it and its name; a cloth over all where nothing may ring."""
    right, top, bottom = STRINGS_END, guitar.TOP, drawn.bottom
    if now.gesture == "hum":
        x = right - 78.0
        return [
            f'<rect x="{x:.1f}" y="{top - 20:.1f}" width="70" height="{bottom - top + 40:.1f}" rx="8" '
            f'fill="{PAPER}" stroke="{ACCENT}" stroke-width="5"/>',
            *(
                line(x + 6, y, x + 64, y + 14, width=3.0, stroke=ACCENT)
                for y in (top - 8 + 22.0 * k for k in range(int((bottom - top + 20) / 22.0)))
            ),
            text(CLOTH, x + 35.0, bottom + 45.0, size=20, bold=True, anchor="middle", fill=ACCENT),
        ]
    if not now.string or now.string not in drawn.names:
        return []
    y = drawn.string_y(now.string)
    left, swing = guitar.LEFT, 0.42 * GAP
    middle = (left + right) / 2
    pick = right - 60.0
    return [
        f'<path d="M{left:.1f} {y:.1f} Q{middle:.1f} {y - 2 * swing:.1f} {right:.1f} {y:.1f} '
        f'Q{middle:.1f} {y + 2 * swing:.1f} {left:.1f} {y:.1f} Z" fill="{ACCENT}" fill-opacity="0.25" '
        f'stroke="{ACCENT}" stroke-width="3.5"/>',
        *_hand(now, pick, y),
        text(now.string, right + 2.0, y + 13.0, size=38, bold=True, anchor="start", fill=ACCENT),
    ]


def _hand(now: Step, x: float, y: float) -> list[str]:
    """A plectrum on the string, or a fingertip that pushes it towards the body."""
    if now.gesture == "press":
        return [
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="17" fill="{ACCENT}" stroke="{PAPER}" stroke-width="3"/>',
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{PAPER}"/>',
        ]
    return [
        f'<path d="M{x - 20:.1f} {y - 32:.1f} Q{x:.1f} {y - 42:.1f} {x + 20:.1f} {y - 32:.1f} '
        f"Q{x + 18:.1f} {y - 10:.1f} {x:.1f} {y + 8:.1f} Q{x - 18:.1f} {y - 10:.1f} {x - 20:.1f} "
        f'{y - 32:.1f} Z" fill="{ACCENT}" stroke="{PAPER}" stroke-width="3"/>'
    ]


def _at_the_poles(drawn: guitar.GuitarDrawing, now: Step) -> list[str]:
    """The pole that the tool rests on, and which way the tool goes; each pole of the pickup for taps."""
    touched = played(drawn.job, now)
    if now.gesture not in WITH_TOOL or not touched:
        return []
    x = drawn.coil_x(min(touched), now.coil)
    middle = drawn.pole_y()
    away = now.gesture == "lift"
    marks = [
        f'<circle cx="{x:.1f}" cy="{middle:.1f}" r="12" fill="{PAPER}" stroke="{ACCENT}" stroke-width="5"/>',
        f'<circle cx="{x:.1f}" cy="{middle:.1f}" r="4.5" fill="{ACCENT}"/>',
        line(x + 12, middle - 14, x + 74, middle - 84, width=13.0, stroke=INK),
        line(x + 12, middle - 14, x + 74, middle - 84, width=7.0, stroke=PAPER),
    ]
    marks += _pointer(x + 44, middle - 22, x + 92, middle - 74, back=not away)
    if now.gesture == "tap":
        marks += _pointer(x + 44, middle - 22, x + 92, middle - 74, back=False)
    if now.coil is not None:
        said = COIL_TO_TOUCH.format(coil=now.coil)
        marks.append(text(said, x, drawn.bottom + 40.0, size=20, bold=True, anchor="middle", fill=ACCENT))
    return marks


def _pointer(x1: float, y1: float, x2: float, y2: float, *, back: bool) -> list[str]:
    """An arrow along that line, to its end, or back to its beginning."""
    if back:
        x1, y1, x2, y2 = x2, y2, x1, y1
    long = max(1e-6, ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5)
    dx, dy = (x2 - x1) / long, (y2 - y1) / long
    bx, by = x2 - 18 * dx, y2 - 18 * dy
    return [
        line(x1, y1, bx, by, width=6.0, stroke=ACCENT),
        f'<path d="M{x2:.1f} {y2:.1f} L{bx - 11 * dy:.1f} {by + 11 * dx:.1f} L{bx + 11 * dy:.1f} '
        f'{by - 11 * dx:.1f} Z" fill="{ACCENT}"/>',
    ]


def _selector(jack: Sequence[str], one: Input, y: float) -> tuple[list[str], float]:
    """The positions in a row, where the selector stands now, and the order of a sweep."""
    way = tuple(one) if isinstance(one, tuple) else (str(one),)
    shown = [n for n in jack if n in way] if len(jack) > MOST_NOTCHES else list(jack)
    room = (WIDTH - 40.0) / len(shown)
    wide = min(NOTCH_WIDE, room)
    left = 20.0 + wide / 2
    at = {n: left + wide * k for k, n in enumerate(shown)}
    line_y = y + 46.0
    first, last = at[shown[0]], at[shown[-1]]
    body = [
        text(SELECTOR, 20.0, y + 12.0, size=16, fill=FAINT),
        f'<rect x="{first - 20:.1f}" y="{line_y - 8:.1f}" width="{last - first + 40:.1f}" height="16" '
        f'rx="8" fill="{PAPER}" stroke="{INK}" stroke-width="2"/>',
    ]
    for n, x in at.items():
        if n not in way:
            body.append(f'<circle cx="{x:.1f}" cy="{line_y:.1f}" r="4" fill="{INK}"/>')
    if len(way) > 1:
        for a, b in pairwise(way):
            step = 26.0 if at[b] > at[a] else -26.0
            body += _pointer(at[a] + step, line_y, at[b] - step, line_y, back=False)
    for k, n in enumerate(way, start=1):
        if n in at:
            body += _lever(at[n], line_y, str(k) if len(way) > 1 else "", first=k == 1)
    names_y = line_y + 46.0
    tallest = names_y
    for n, x in at.items():
        heavy = n in way
        size = 21.0 if heavy else 16.0
        for j, said in enumerate(
            guitar.wrapped(n.replace("+", " + "), room=wide - 6.0, size=size * 1.15)[:3]
        ):
            line_at = names_y + j * (size + 3.0)
            tallest = max(tallest, line_at)
            body.append(
                text(
                    said,
                    x,
                    line_at,
                    size=size,
                    bold=heavy,
                    anchor="middle",
                    fill=ACCENT if heavy else FAINT,
                )
            )
    return body, tallest + 20.0


KNOB, KNOB_WIDE = 40.0, 250.0
KNOB_TURN = math.radians(135.0)
"""From straight up to either end of a knob's turn."""


def _knobs(now: Step, y: float) -> tuple[list[str], float]:
    """A volume for each pickup as it stands; in a sweep which is turned first, and which way."""
    body = [text(VOLUMES, 20.0, y + 12.0, size=16, fill=FAINT)]
    swept = now.gesture == "switch"
    middle = y + (54.0 if swept else 34.0) + KNOB
    order = {name: "2" if is_up else "1" for name, is_up in now.volumes if swept}
    for k, (name, is_up) in enumerate(now.volumes):
        x = 44.0 + KNOB + KNOB_WIDE * k
        angle = KNOB_TURN if is_up else -KNOB_TURN
        dx, dy = math.sin(angle), -math.cos(angle)
        pen = ACCENT if is_up else INK
        body += [
            f'<circle cx="{x:.1f}" cy="{middle:.1f}" r="{KNOB:g}" fill="{pen if is_up else PAPER}" '
            f'stroke="{pen}" stroke-width="5"/>',
            line(
                x + 8 * dx,
                middle + 8 * dy,
                x + (KNOB - 5) * dx,
                middle + (KNOB - 5) * dy,
                width=9.0,
                stroke=ON_ACCENT if is_up else INK,
            ),
            text(name, x + KNOB + 16.0, middle - 8.0, size=24, bold=is_up, fill=pen),
            text(VOLUME_UP if is_up else VOLUME_DOWN, x + KNOB + 16.0, middle + 18.0, size=18, fill=pen),
        ]
        if name in order:
            body += _turn(x, middle, order[name], up=not is_up)
    return body, middle + KNOB + 40.0


def _turn(x: float, y: float, number: str, *, up: bool) -> list[str]:
    """An arrow over a knob along its turn, and the number of that turn."""
    r, dx = KNOB + 15.0, 26.0
    dy = -math.sqrt(r * r - dx * dx)
    side = 1.0 if up else -1.0
    return [
        f'<path d="M{x - side * dx:.1f} {y + dy:.1f} A{r:g} {r:g} 0 0 {int(up)} {x + side * dx:.1f} '
        f'{y + dy:.1f}" fill="none" stroke="{ACCENT}" stroke-width="6"/>',
        f'<path d="M{x + side * (dx + 15):.1f} {y + dy + 13:.1f} l{-side * 21:.1f} -3 l{side * 13:.1f} '
        f'-18 Z" fill="{ACCENT}"/>',
        text(number, x + side * (dx + 34), y + dy + 10, size=30, bold=True, anchor="middle", fill=ACCENT),
    ]


def _lever(x: float, y: float, said: str, *, first: bool) -> list[str]:
    """The selector's lever; in a sweep a number for each position, the first of them the lever."""
    if not said or first:
        body = [
            f'<rect x="{x - 19:.1f}" y="{y - 26:.1f}" width="38" height="52" rx="9" fill="{ACCENT}" '
            f'stroke="{PAPER}" stroke-width="3"/>'
        ]
    else:
        body = [
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="21" fill="{PAPER}" stroke="{ACCENT}" stroke-width="5"/>'
        ]
    if said:
        fill = ON_ACCENT if first else ACCENT
        body.append(text(said, x, y + 11, size=30, bold=True, anchor="middle", fill=fill))
    return body


def _plugs(
    job: Job, now: Step, y: float, *, moving: Moving | None, changed: Collection[int]
) -> tuple[list[str], float]:
    """Each input as a numbered socket, with a plug in it or before it, and what that plug comes from."""
    body: list[str] = []
    for column, item in zip(now.columns, now.inputs, strict=True):
        moves = moving in PLUG_MOVES and (not changed or column in changed)
        body += _socket(column, y)
        x = 20.0 + SOCKET + (46.0 if moves else 2.0)
        middle = y + SOCKET / 2
        pen = ACCENT if moves else INK
        if moves:
            body += _pointer(x - 4.0, middle, 20.0 + SOCKET + 4.0, middle, back=False)
        body += [
            f'<path d="M{x:.1f} {middle - 4:.1f} h12 v-8 h34 v24 h-34 v-8 h-12 Z" fill="{pen}"/>',
            f'<path d="M{x + 46:.1f} {middle:.1f} h36" fill="none" stroke="{pen}" stroke-width="6"/>',
        ]
        said = on_words(item[0] if isinstance(item, tuple) else item)
        at = x + 90.0
        room = WIDTH - at - 10.0
        lines = guitar.wrapped(said, room=room, size=30.0)[:2]
        for k, one in enumerate(lines):
            body.append(text(one, at, middle + 10 + 30 * k - 15 * (len(lines) - 1), size=26, bold=True))
        clips = _clips_words(job, item, after=now.stage == "after")
        if clips:
            y_clips = middle + 32 + 15 * (len(lines) - 1)
            body.append(text(clips, at, y_clips, size=16.5, fill=INK))
        y += SOCKET + 26.0
    return body, y + 4.0


def _socket(column: int, y: float) -> list[str]:
    middle = y + SOCKET / 2
    return [
        f'<rect x="20" y="{y:.1f}" width="{SOCKET:.1f}" height="{SOCKET:.1f}" rx="10" fill="{PAPER}" '
        f'stroke="{INK}" stroke-width="4"/>',
        text(
            INPUT.format(number=column + 1),
            20.0 + SOCKET / 2,
            middle + 13,
            size=36,
            bold=True,
            anchor="middle",
        ),
    ]


def _clips_words(job: Job, item: Input, *, after: bool) -> str:
    """Which clip goes on which lead, of a loose pickup; empty for what comes out of the jack."""
    if isinstance(item, LeadsInput):
        return ON_CLIPS.format(red=item.hot, black=item.ground)
    pickup = job.pickup(str(item)) if isinstance(item, str) else None
    if pickup is None or pickup.fitted or after:
        return ""
    if pickup.hot and pickup.ground:
        return ON_CLIPS.format(red=pickup.hot, black=pickup.ground)
    return f"{RED_ON}, {BLACK_ON}"


def _is_loose(job: Job, one: Input, now: Step) -> bool:
    name = one.pickup if isinstance(one, LeadsInput) else str(one)
    pickup = job.pickup(name)
    return pickup is not None and not pickup.fitted and now.stage != "after"


def _held(y: float) -> tuple[list[str], float]:
    """From the side: a loose pickup under the strings on a spacer, its wire taped down, no hand needed."""
    strings, deck = y + 34.0, y + 128.0
    return [
        text(HOLD, 20.0, y + 12.0, size=16, fill=FAINT),
        *(line(20.0, strings + 3.0 * k, 330.0, strings + 3.0 * k, width=2.0) for k in (0, 1)),
        line(34.0, strings, 34.0, deck, width=9.0),
        line(20.0, deck, 330.0, deck, width=6.0),
        f'<rect x="120" y="{strings + 14:.1f}" width="100" height="40" rx="6" fill="{PAPER}" '
        f'stroke="{ACCENT}" stroke-width="5"/>',
        *(line(134.0 + 18 * k, strings + 9, 134.0 + 18 * k, strings + 16, width=6.0) for k in range(5)),
        f'<rect x="112" y="{strings + 57:.1f}" width="116" height="{deck - strings - 60:.1f}" fill="{FAINT}" '
        f'stroke="{INK}" stroke-width="2"/>',
        f'<path d="M220 {strings + 42:.1f} C252 {strings + 42:.1f} 240 {deck - 6:.1f} 262 {deck - 6:.1f} '
        f'H330" fill="none" stroke="{INK}" stroke-width="4"/>',
        f'<rect x="268" y="{deck - 15:.1f}" width="36" height="14" fill="{ACCENT}"/>',
        text(HOLD_STRINGS, 342.0, strings + 8, size=16),
        text(HOLD_PICKUP, 342.0, strings + 40, size=16, bold=True),
        text(HOLD_SPACER, 342.0, strings + 68, size=16),
        text(HOLD_TAPE, 342.0, deck, size=16),
    ], deck + 26.0


def _tag(pickup: str, y: float) -> tuple[list[str], float]:
    """A loose pickup's two leads with the clips on them, and a tag on the lead under the tip's clip."""
    red, black = y + 34.0, y + 96.0
    body = [
        f'<rect x="20" y="{y:.1f}" width="64" height="120" rx="12" fill="{PAPER}" stroke="{INK}" '
        'stroke-width="3"/>',
        *(f'<circle cx="52" cy="{y + 15 + 18 * k:.1f}" r="5" fill="{INK}"/>' for k in range(6)),
    ]
    for lead_y, pen, said in ((red, ACCENT, RED_ON), (black, INK, BLACK_ON)):
        body += [
            f'<path d="M84 {lead_y:.1f} H240" stroke="{pen}" stroke-width="4" fill="none"/>',
            f'<path d="M282 {lead_y - 13:.1f} L232 {lead_y:.1f} L282 {lead_y + 13:.1f} Z" fill="{pen}"/>',
            f'<path d="M282 {lead_y:.1f} H330" stroke="{pen}" stroke-width="7"/>',
            text(said, 340.0, lead_y + 6, size=18, bold=lead_y == red),
        ]
    body += [
        f'<path d="M136 {red - 24:.1f} h58 l18 24 l-18 24 h-58 Z" fill="{ACCENT}" stroke="{PAPER}" '
        'stroke-width="3"/>',
        text(TAG, 164.0, red + 7, size=20, bold=True, anchor="middle", fill=ON_ACCENT),
        text(pickup, 20.0, y + 146.0, size=20, bold=True),
    ]
    return body, y + 168.0
