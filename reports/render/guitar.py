"""The view of the guitar, for the bench page and the report.

Strings, bridge and pickups to scale, and what the verdict says of each pickup. `pickup_states` and
`setting_states` turn a verdict into kinds and words, relative to the reference pickup; `guitar_svg` draws
them as SVG text, in millimetres from the saddle on its axis. A mark needs no colour: of its two arrows the
left one is the reference, the right one this pickup; the same way is in phase, opposed is out of phase. All
typed text is escaped; a page may set the colours ``--ink``, ``--paper`` and ``--accent``.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from capture.job import Job, Pickup
from reports.messages.wording import (
    NOT_KNOWN,
    hum_label,
    members,
    percent_at_least,
    plain,
    sounds_label,
    unbroken,
)
from reports.model.session import USUAL_STRINGS
from reports.model.verdict import PairVerdict, Verdict, standing_of
from reports.render.lead_drawing import wide

INK, PAPER, ACCENT, FAINT = (
    "var(--ink, #111)",
    "var(--paper, #fff)",
    "var(--accent, #1b4d89)",
    "var(--faint, #565248)",
)
ON_ACCENT = "var(--on-accent, #fff)"
"""Letters on the accent."""

PLAIN_LETTERS = 0.87
"""`wide` is about bold letters; plain ones take so much of their room."""


def safe(text: str) -> str:
    """Text somebody typed, as it may stand in markup."""
    return escape(plain(text), quote=True)


def text(
    content: str,
    x: float,
    y: float,
    *,
    size: float = 16.0,
    bold: bool = False,
    anchor: str = "start",
    fill: str = INK,
) -> str:
    """One line of text with its left end (or middle, or right end) at x, on the line y."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" fill="{fill}"{weight}>'
        f"{safe(content)}</text>"
    )


def line(
    x1: float, y1: float, x2: float, y2: float, *, width: float = 1.0, dash: str = "", stroke: str = INK
) -> str:
    """A straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{stroke}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def wrapped(content: str, *, room: float, size: float) -> list[str]:
    """Lines no wider than ``room``; a word that is wider is cut."""
    lines: list[str] = []
    size *= PLAIN_LETTERS
    for word in plain(content).split(" "):
        piece = word
        while wide(piece, size=size) > room and len(piece) > 1:
            piece = piece[:-1]
        piece = piece if piece == word else f"{piece[:-1]}…"
        if lines and wide(f"{lines[-1]} {piece}", size=size) <= room:
            lines[-1] = f"{lines[-1]} {piece}"
        else:
            lines.append(piece)
    return lines


def framed(
    body: Sequence[str], *, width: float, height: float, name: str, title: str, description: str
) -> str:
    """The whole drawing; ``title`` and ``description`` are what a screen reader says."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="inherit">'
        f'<title id="{name}-title">{safe(title)}</title><desc id="{name}-desc">{safe(description)}</desc>'
        f"{''.join(body)}</svg>"
    )


Kind = Literal["reference", "in phase", "opposed", "not known"]
SettingKind = Literal["full", "thin", "unknown"]

REFERENCE = "the reference"
IN_PHASE = "in phase with {reference}"
OPPOSED = "opposed to {reference}"
THIN_TOGETHER = "{word}: thin together"
NOT_KNOWN_YET = "not known yet"
LEANING = "not known yet, leaning to {word}"
SURE = "{word} ({standing}, {percent})"
CANCELS = "hum cancels with {names}"
ADDS = "hum does not cancel with {names}"
NO_HUM = "hum not known"
LIKELY = "likely"


@dataclass(frozen=True)
class PickupState:
    """One pickup: its kind, how sure that is, and the same in words."""

    pickup: str
    kind: Kind
    likely: bool
    relation: str
    hum: str


@dataclass(frozen=True)
class SettingState:
    """One setting of the selector: what is on, and what it does, in words."""

    name: str
    on: str
    kind: SettingKind
    sounds: str
    hum: str


def pickup_states(
    job: Job, verdict: Verdict | None, *, shown: Sequence[Pickup] = ()
) -> tuple[PickupState, ...]:
    """What is known of these pickups, in their order; of all of the guitar where none are named."""
    reference = job.reference.name
    pairs = () if verdict is None else verdict.pairs
    return tuple(
        _pickup_state(p.name, reference, pairs)
        if p.source is None
        else PickupState(p.name, "not known", False, NO_ONE_WORD.format(source=p.source), NO_HUM)
        for p in shown or job.own_pickups
    )


def setting_states(job: Job, verdict: Verdict | None) -> tuple[SettingState, ...]:
    """What every setting of several pickups does."""
    if verdict is None:
        return tuple(
            SettingState(s.name, " + ".join(m.pickup for m in s.on), "unknown", NOT_KNOWN, NOT_KNOWN)
            for s in job.settings
        )
    return tuple(
        SettingState(s.name, members(s), s.sounds, sounds_label(s), hum_label(s))
        for s in verdict.settings
        if len(s.on) > 1
    )


def _pickup_state(name: str, reference: str, pairs: Sequence[PairVerdict]) -> PickupState:
    hum = _hum(name, pairs)
    if name == reference:
        return PickupState(name, "reference", False, REFERENCE, hum)
    pair = next((p for p in pairs if {p.a, p.b} == {name, reference}), None)
    if pair is None or pair.p_in_phase is None:
        return PickupState(name, "not known", False, NOT_KNOWN_YET, hum)
    same = pair.p_in_phase > 1 - pair.p_in_phase
    word = (IN_PHASE if same else OPPOSED).format(reference=reference)
    if pair.standing == "unsettled":
        return PickupState(name, "not known", False, LEANING.format(word=word), hum)
    sure = SURE.format(
        word=word if same else THIN_TOGETHER.format(word=word),
        standing=pair.standing,
        percent=unbroken(percent_at_least(pair.p_in_phase)),
    )
    return PickupState(name, "in phase" if same else "opposed", pair.standing == LIKELY, sure, hum)


def _hum(name: str, pairs: Sequence[PairVerdict]) -> str:
    cancels: list[str] = []
    adds: list[str] = []
    for pair in pairs:
        if name not in (pair.a, pair.b) or standing_of(pair.p_hum_cancels) == "unsettled":
            continue
        other = pair.b if pair.a == name else pair.a
        p = pair.p_hum_cancels or 0.0
        (cancels if p > 1 - p else adds).append(other)
    said = [
        form.format(names=" and ".join(names)) for form, names in ((CANCELS, cancels), (ADDS, adds)) if names
    ]
    return "; ".join(said) or NO_HUM


WIDTH = 560.0
LEFT, RIGHT = 46.0, 532.0
TOP = 58.0
STRING_GAP = 15.0
SHOWN_MM = 190.0
"""So much of the string is drawn at least, and more where a pickup lies further out."""
BEYOND_MM = 25.0
COIL_MM = 13.0
COILS_APART_MM = 9.0
SMALLEST_COIL = 9.0
TICK_MM = 50
APART_MM = 30.0
FREE_MM = tuple(40.0 + 40.0 * k for k in range(50))
"""Where pickups are drawn whose place was not measured: the first of these that is free."""
MARK_W, MARK_H = 34.0, 34.0
NO_ONE_WORD = "{source}: by ranges, no one word"
TITLE = "The guitar from above, bridge on the left"
NOT_MEASURED = "place not measured"
NOW, LOOSE = "PLAY THIS NOW", "loose"
AXIS = "0 mm"
LEGEND = "Arrows: left the reference, right this pickup. Dashed: likely. Ring: not known yet."


def guitar_svg(job: Job, verdict: Verdict | None, *, name: str = "guitar") -> str:
    """Draw the guitar of a job with what is known."""
    body, height, description = guitar_parts(job, verdict)
    body = [*body, text(LEGEND, LEFT - 30.0, height - 10.0, size=13.5, fill=FAINT)]
    return framed(body, width=WIDTH, height=height, name=name, title=TITLE, description=description)


def guitar_parts(job: Job, verdict: Verdict | None) -> tuple[list[str], float, str]:
    """The elements of the drawing without its legend, its height (``WIDTH`` wide), and it in a sentence."""
    drawn = GuitarDrawing(job)
    rows, y, description = drawn.rows(verdict, drawn.below)
    return [*drawn.strings_and_axis(), *drawn.pickups(), *rows], y + 18.0, description


class GuitarDrawing:
    """Where everything lies on the drawing of one job's guitar, and its parts as SVG elements.

    ``gap``: between strings; ``right``: where the strings end, in units of the drawing. ``shown``: the
    pickups that are drawn, those of the guitar where none are named.
    """

    def __init__(
        self, job: Job, *, gap: float = STRING_GAP, right: float = RIGHT, shown: Sequence[Pickup] = ()
    ) -> None:
        self.job, self.gap, self.right = job, gap, right
        self.shown = tuple(shown) or job.own_pickups
        self.names = tuple(job.main_strings or USUAL_STRINGS)
        self.places = _places(self.shown)
        self._far = max(SHOWN_MM, *(mm + BEYOND_MM for mm, _ in self.places))
        self.unit = (right - LEFT) / self._far
        self.bottom = TOP + gap * (len(self.names) - 1)
        self.below = self.bottom + 62.0
        """Where the next thing under the axis begins."""

    def strings_and_axis(self) -> list[str]:
        """The strings and the bridge, and the millimetres from it."""
        return [*self.strings(), *_axis(self._far, self.unit, self.bottom, right=self.right)]

    def string_y(self, name: str) -> float:
        """The height of a string, the highest on top."""
        return TOP + self.gap * (len(self.names) - 1 - self.names.index(name))

    def pole_y(self) -> float:
        """The height of a pole near the middle of a pickup."""
        return TOP + self.gap * (len(self.names) // 2)

    def coil_x(self, name: str, coil: int | None = None) -> float:
        """The middle of a pickup, or of one coil of two."""
        pickup, (mm, _) = next(
            (p, at) for p, at in zip(self.shown, self.places, strict=True) if p.name == name
        )
        offsets = _offsets(pickup)
        offset = offsets[coil - 1] if coil is not None and coil <= len(offsets) else offsets[0]
        return LEFT + (mm + offset) * self.unit

    def pickups(self, *, playing: Collection[str] = (), coil: int | None = None) -> list[str]:
        """The pickups with their numbers; of those that are ``playing``, ``coil`` alone is set off."""
        body: list[str] = []
        for number, (pickup, (mm, measured)) in enumerate(zip(self.shown, self.places, strict=True), start=1):
            x, heavy = LEFT + mm * self.unit, pickup.name in playing
            body += self._pickup(pickup, x, dashed=not measured, heavy=heavy, coil=coil)
            body += _badge(number, x, TOP - 34.0, heavy=heavy)
        return body

    def rows(
        self, verdict: Verdict | None, y: float, *, playing: Collection[str] = ()
    ) -> tuple[list[str], float, str]:
        """What is known of each pickup, a row each from ``y`` on; where they end; and all in a sentence."""
        body: list[str] = []
        states = pickup_states(self.job, verdict, shown=self.shown)
        each = zip(self.shown, self.places, states, strict=True)
        for number, (pickup, (_, measured), one) in enumerate(each, start=1):
            drawn, y = _row(number, pickup, one, y, measured=measured, playing=pickup.name in playing)
            body += drawn
        description = ". ".join(
            f"{k}: {one.pickup}, {one.relation}, {one.hum}" for k, one in enumerate(states, start=1)
        )
        return body, y, description

    def strings(self) -> list[str]:
        """The strings with their names, and the bridge at their end."""
        drawn = [line(LEFT, TOP - 12, LEFT, self.bottom + 12, width=5)]
        for k, string in enumerate(reversed(self.names)):
            y = TOP + self.gap * k
            drawn.append(line(LEFT, y, self.right, y, width=1.0 + 0.35 * k, stroke=FAINT))
            drawn.append(text(string, LEFT - 8, y + 4.5, size=13.5, anchor="end"))
        return drawn

    def _pickup(self, pickup: Pickup, x: float, *, dashed: bool, heavy: bool, coil: int | None) -> list[str]:
        width = max(SMALLEST_COIL, COIL_MM * self.unit)
        dash = ' stroke-dasharray="5 4"' if dashed else ""
        drawn, alone = [], len(_offsets(pickup)) == 1
        for k, o in enumerate(_offsets(pickup), start=1):
            edge, thick = (ACCENT, 5.0) if heavy and (coil in (None, k) or alone) else (INK, 2.0)
            drawn.append(
                f'<rect x="{x + o * self.unit - width / 2:.1f}" y="{TOP - 12:.1f}" width="{width:.1f}" '
                f'height="{self.bottom - TOP + 24:.1f}" rx="6" fill="{PAPER}" fill-opacity="0.8" '
                f'stroke="{edge}" stroke-width="{thick:g}"{dash}/>'
            )
        return drawn


def _offsets(pickup: Pickup) -> tuple[float, ...]:
    """Where its rows of poles lie beside its middle, mm."""
    return (0.0,) if pickup.made.rows == 1 else (-COILS_APART_MM, COILS_APART_MM)


def relation_mark(kind: Kind, x: float, y: float, *, likely: bool = False) -> list[str]:
    """The mark of one pickup, with its upper left corner at x, y."""
    middle = y + MARK_H / 2
    if kind == "reference":
        return [
            *_arrow(x + MARK_W / 2, y, up=True),
            line(x + 8, y + MARK_H, x + MARK_W - 8, y + MARK_H, width=3),
        ]
    left = _arrow(x + 9, y, up=True)
    if kind == "not known":
        pen = f'fill="none" stroke="{INK}" stroke-width="2.5"'
        return [*left, f'<circle cx="{x + 25:.1f}" cy="{middle:.1f}" r="7" {pen}/>']
    return [*left, *_arrow(x + 25, y, up=kind == "in phase", dashed=likely)]


def setting_mark_svg(kind: SettingKind) -> str:
    """A small mark for a row of a table: a wave of full height, of a thin one, or a ring."""
    return f'<svg viewBox="0 0 40 24" aria-hidden="true">{setting_mark(kind)}</svg>'


def setting_mark(kind: SettingKind) -> str:
    """The elements of that mark, 40 wide and 24 high."""
    return {
        "full": f'<path d="M2 12 Q8 -6 14 12 T26 12 T38 12" fill="none" stroke="{INK}" stroke-width="3"/>',
        "thin": f'<path d="M2 12 Q8 9 14 12 T26 12 T38 12" fill="none" stroke="{INK}" stroke-width="1.5"/>'
        f'<path d="M2 3H38M2 21H38" stroke="{INK}" stroke-width="1.5" stroke-dasharray="3 3"/>',
        "unknown": f'<circle cx="20" cy="12" r="7" fill="none" stroke="{INK}" stroke-width="2.5"/>',
    }[kind]


def _places(shown: Sequence[Pickup]) -> list[tuple[float, bool]]:
    """Each pickup's millimetres from the saddle, and whether that was measured; else a place that is free."""
    taken = [p.centre_mm for p in shown if p.centre_mm is not None]
    places = []
    for pickup in shown:
        if pickup.centre_mm is None:
            free = next(mm for mm in FREE_MM if all(abs(mm - t) >= APART_MM for t in taken))
            taken.append(free)
            places.append((free, False))
        else:
            places.append((pickup.centre_mm, True))
    return places


def _axis(far: float, unit: float, bottom: float, *, right: float) -> list[str]:
    y = bottom + 26.0
    drawn = [line(LEFT, y, right, y)]
    for mm in range(0, int(far) + 1, TICK_MM):
        x = LEFT + mm * unit
        said, anchor = (str(mm), "middle") if mm else (AXIS, "start")
        drawn.append(text(said, x if mm else x - 4, y + 17, size=13.5, anchor=anchor, fill=FAINT))
        drawn.append(line(x, y - 4, x, y + 4))
    return drawn


def _badge(number: int, x: float, y: float, *, heavy: bool) -> list[str]:
    fill, ink = (ACCENT, ON_ACCENT) if heavy else (PAPER, INK)
    return [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="13" fill="{fill}" stroke="{INK}" stroke-width="2"/>',
        text(str(number), x, y + 6, size=17, bold=True, anchor="middle", fill=ink),
    ]


def _row(
    number: int, pickup: Pickup, one: PickupState, y: float, *, measured: bool, playing: bool
) -> tuple[list[str], float]:
    """What is said of one pickup, and where the next row begins."""
    flags = [word for word, so in ((LOOSE, not pickup.fitted), (NOT_MEASURED, not measured)) if so]
    head = pickup.name + (f" ({', '.join(flags)})" if flags else "")
    drawn = [
        *_badge(number, 30.0, y + 8.0, heavy=playing),
        *relation_mark(one.kind, 50.0, y - 8.0, likely=one.likely),
    ]
    x, room = 96.0, WIDTH - 100.0
    lines = [(said, 20.0, True) for said in wrapped(head, room=room, size=21.0)]
    lines += [(NOW, 16.0, True)] * playing
    lines += [(said, 17.0, False) for said in wrapped(one.relation, room=room, size=17.0)]
    if one.hum != NO_HUM:
        lines += [(said, 15.0, False) for said in wrapped(one.hum, room=room, size=15.0)]
    at = y + 8.0
    for said, size, bold in lines:
        drawn.append(text(said, x, at, size=size, bold=bold, fill=ACCENT if said == NOW else INK))
        at += size + 5.0
    return drawn, max(at, y + MARK_H) + 12.0


def _arrow(x: float, y: float, *, up: bool, dashed: bool = False) -> list[str]:
    tip, foot = (y, y + MARK_H) if up else (y + MARK_H, y)
    back = tip + 11.0 if up else tip - 11.0
    shaft = line(x, foot, x, back, width=3.0, dash="4 3" if dashed else "")
    fill = PAPER if dashed else INK
    head = (
        f'<path d="M{x:.1f} {tip:.1f} L{x - 7:.1f} {back:.1f} L{x + 7:.1f} {back:.1f} Z" fill="{fill}" '
        f'stroke="{INK}" stroke-width="2"/>'
    )
    return [shaft, head]
