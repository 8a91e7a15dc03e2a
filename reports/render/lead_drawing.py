"""One pickup's coils, leads and joints, drawn as the text of one SVG, for beside the wiring table.

Task: from the ends of coils and the role of each lead to a drawing in black on white: hot a thick line,
ground a thick dashed one, link a thin one, shield a dotted one. Of each coil the end towards hot comes first.
Lengths are in units of the view box, ``WIDTH`` of them across; printed 90 mm wide the letters are 2.5 mm
high. Names are what somebody typed: in one line, shortened to the room there is, escaped. A lead with a tag
on it has the tag drawn on its line, and is called by it.
"""

from __future__ import annotations

import unicodedata
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import escape

from capture.job import Job, Pickup
from capture.log.entries import TAGGED
from dsp.model.pickups import Layout
from reports.messages import wording as words
from reports.model.verdict import LeadsRow, Verdict, WiringRow
from reports.ohms.readings import MOST_COILS

OWN_LEAD, ON_GROUND, NO_SHIELD = "own lead", "on ground", "none"
ROLE_WORDS = {
    "hot": "hot -> tip",
    "ground": "ground -> sleeve",
    "link": "link: join and tape off",
    "shield": "shield -> ground",
}
NOT_YET = "not known yet"
JOINED = "joined"
JOINED_INSIDE = "link: tape off"
UNNAMED_SHIELD = "bare or shield"
COILS_UNKNOWN = "coils not known"
UPPER, LOWER, DUMMY_COIL = "upper", "lower", "dummy"
BUILT_AS: dict[Layout | None, str] = {
    "stacked": "One row of poles goes through both coils.",
    "halves": "Each half lies under its own strings.",
    "dummy": "It has no magnet.",
}
SHIELD_NOTES = {
    OWN_LEAD: "",
    ON_GROUND: "shield: joined to ground inside",
    NO_SHIELD: "shield: none",
    None: "shield: not known yet",
}

WIDTH = 410
_MARGIN = 8
_BOX_TOP, _BOX_RIGHT = 28, 142
_FIRST_ROW, _ROW = 54, 38
_COIL_X, _COIL_APART, _LOOP_RX, _LOOP_RY = 82, 38, 14, 3.5
_INSET, _LOOPS = 8, 5
_LEAD_END, _JOINT_X, _LABEL_X = 222, 180, 240
_TAG_X = 152
_SIZE, _NAME_SIZE = 11.5, 13
_LINES = {
    "hot": 'stroke-width="3.4"',
    "ground": 'stroke-width="3.4" stroke-dasharray="9 5"',
    "link": 'stroke-width="1.2"',
    "shield": 'stroke-width="2" stroke-linecap="round" stroke-dasharray="0.1 5"',
    "": 'stroke-width="1.2" stroke-dasharray="12 3 2 3"',
}
_BROAD = set("MWmw@%—…")


@dataclass(frozen=True)
class LeadPicture:
    """What is known of a pickup's leads; ``roles`` has no entry for a lead that is not known yet.

    ``state``: whether it is drawn as it was found, as the plan has it, or as it is after the work.
    ``labels``: what each coil is called, where they are more than numbers; ``build``: how they lie, where it
    was said.
    """

    pickup: str
    coils: tuple[tuple[str, str], ...]
    roles: Mapping[str, str]
    shield: str | None = None
    tagged: str | None = None
    state: Literal["found", "planned", "after", ""] = ""
    labels: tuple[str, ...] = ()
    build: Layout | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """What its coils are called."""
        return self.labels or (("coil",) if len(self.coils) == 1 else ("coil 1", "coil 2"))

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        if len(self.coils) > MOST_COILS or any(a == b for a, b in self.coils):
            raise ValueError("a pickup is drawn with at most two coils, each with two different ends")


@dataclass(frozen=True)
class _LeadLine:
    """One lead: its name as typed, its role ("" where not known), the words for it, its height."""

    lead: str
    role: str
    label: str
    y: float


def lead_figure(picture: LeadPicture) -> str:
    """The drawing of one pickup as SVG text that can stand in a page."""
    body, height, description = lead_parts(picture)
    return _svg(picture, body, height=height, description=description)


def lead_parts(picture: LeadPicture) -> tuple[list[str], float, str]:
    """The elements of the drawing, its height (``WIDTH`` wide), and it in sentences.

    They are to stand in a group without a fill, with a black stroke.
    """
    coils = _in_order(picture)
    rows = _rows(picture, coils)
    last = rows[-1].y if rows else _FIRST_ROW
    bottom = last + 20
    note = SHIELD_NOTES.get(picture.shield, "")
    if any(r.role == "shield" for r in rows):
        note = ""
    height = bottom + (22 if note else _MARGIN)
    body = [
        _text(_heading(picture), _MARGIN, 18, size=_NAME_SIZE, bold=True, room=WIDTH - 2 * _MARGIN),
        f'<rect x="{_MARGIN}" y="{_BOX_TOP}" width="{_BOX_RIGHT - _MARGIN}" '
        f'height="{_num(bottom - _BOX_TOP)}" rx="6" stroke-width="1.2"/>',
        *_coils(coils, rows),
        *_poles(picture, coils, rows),
        *(part for row in rows for part in _lead(row, start=_start(row, coils))),
        *(part for row in rows if row.lead == picture.tagged for part in _tag(row)),
        *_joint([r for r in rows if r.role == "link"]),
    ]
    if not coils:
        body.append(_text(COILS_UNKNOWN, 2 * _MARGIN, (_BOX_TOP + bottom) / 2 + 4, room=_BOX_RIGHT))
    if picture.shield == ON_GROUND and not any(r.role == "shield" for r in rows):
        body += _shield_on_ground(rows, bottom)
    if note:
        body.append(_text(note, _MARGIN, bottom + 16, room=WIDTH - 2 * _MARGIN))
    return body, height, _description(picture, rows, note)


def _in_order(picture: LeadPicture) -> list[tuple[str, tuple[str, str]]]:
    """Coils with their labels, turned and exchanged so that what is joined stands together."""
    coils = list(picture.coils)
    named = list(zip(picture.names, coils, strict=False))
    if len(named) < MOST_COILS:
        return named
    hot = [any(picture.roles.get(end) == "hot" for end in ends) for ends in coils]
    if hot == [False, True]:
        named.reverse()
    (upper, (a, b)), (lower, (c, d)) = named
    shared = {a, b} & {c, d}
    links = {end for end in (a, b, c, d) if picture.roles.get(end) == "link"}
    inner = shared if len(shared) == 1 else links if not shared else set()
    if a in inner and b not in inner:
        a, b = b, a
    if d in inner and c not in inner:
        c, d = d, c
    return [(upper, (a, b)), (lower, (c, d))]


def _rows(picture: LeadPicture, coils: Sequence[tuple[str, tuple[str, str]]]) -> list[_LeadLine]:
    ends = [end for _, pair in coils for end in pair]
    shared = {end for end in ends if ends.count(end) > 1}
    leads = list(dict.fromkeys([*ends, *picture.roles]))
    labelled = []
    for lead in leads:
        role = picture.roles.get(lead, "")
        role = role if role in ROLE_WORDS else ""
        label = JOINED_INSIDE if role == "link" and lead in shared else ROLE_WORDS.get(role, NOT_YET)
        labelled.append((lead, role, label))
    if picture.shield == OWN_LEAD and all(role != "shield" for _, role, _ in labelled):
        labelled.append((UNNAMED_SHIELD, "shield", ROLE_WORDS["shield"]))
    labelled.sort(key=lambda one: one[1] == "shield" and one[0] not in ends)
    return [_LeadLine(*one, _FIRST_ROW + _ROW * k) for k, one in enumerate(labelled)]


def _coils(coils: Sequence[tuple[str, tuple[str, str]]], rows: Sequence[_LeadLine]) -> list[str]:
    """Each coil as a row of loops between its two ends, with a dot where another coil shares an end."""
    at = {r.lead: r.y for r in rows}
    beside = len(coils) == MOST_COILS and set(coils[0][1]) == set(coils[1][1])
    parts = []
    for k, (label, ends) in enumerate(coils):
        x = _COIL_X + (_COIL_APART * k if beside else 0)
        top, low = sorted(at[end] for end in ends)
        first, final = top + _INSET, low - _INSET
        step = (final - first) / (_LOOPS - 1)
        parts += [
            f'<ellipse cx="{x}" cy="{_num(first + step * n)}" rx="{_LOOP_RX}" ry="{_LOOP_RY}" '
            'stroke-width="1.2"/>'
            for n in range(_LOOPS)
        ]
        edge = x + _LOOP_RX
        parts.append(
            f'<path d="M{edge} {_num(first)}V{_num(top)}M{edge} {_num(final)}V{_num(low)}" '
            'stroke-width="1.2"/>'
        )
        middle = (top + low) / 2 + 4 + ((14 * k - 7) if beside else 0)
        parts.append(_text(label, 2 * _MARGIN, middle, room=_COIL_X))
        others = {end for other, pair in coils if other != label for end in pair}
        parts += [_dot(edge, at[end]) for end in ends if end in others and (k > 0 or beside)]
    return parts


def _poles(
    picture: LeadPicture, coils: Sequence[tuple[str, tuple[str, str]]], rows: Sequence[_LeadLine]
) -> list[str]:
    """The pole pieces of a pickup that was said to be unusual: one through stacked coils, one in each half.

    A dummy coil has none. Strings are where the pole ends in a bar, at the upper coil.
    """
    at = {r.lead: r.y for r in rows}
    spans = {label: sorted(at[end] for end in ends) for label, ends in coils}
    if picture.build == "stacked" and len(spans) == MOST_COILS:
        first, last = min(y for y, _ in spans.values()), max(y for _, y in spans.values())
        near = first if next(iter(spans)) != LOWER else last
        return [_rod(first, last), _bar(near)]
    if picture.build == "halves":
        return [part for first, last in spans.values() for part in (_rod(first, last), _bar(first))]
    return []


def _rod(first: float, last: float) -> str:
    return f'<path d="M{_COIL_X} {_num(first)}V{_num(last)}" class="pole" stroke-width="4"/>'


def _bar(y: float) -> str:
    return f'<path d="M{_COIL_X - 9} {_num(y)}h18" class="pole" stroke-width="4"/>'


def _start(row: _LeadLine, coils: Sequence[tuple[str, tuple[str, str]]]) -> float:
    """Where a lead begins: at its coil, or at the frame where it is the shield or its coil is not known."""
    inside = any(row.lead in ends for _, ends in coils)
    return _COIL_X + _LOOP_RX if inside else _BOX_RIGHT


def _lead(row: _LeadLine, *, start: float) -> list[str]:
    """The line of one lead, what it ends in, and its label."""
    y = _num(row.y)
    parts = [f'<path d="M{_num(start)} {y}H{_LEAD_END}" class="{row.role or "unknown"}" {_LINES[row.role]}/>']
    if start == _BOX_RIGHT:
        parts.append(_dot(start, row.y))
    if row.role in ("ground", "shield"):
        bars = ((0, 9), (4, 6), (8, 3))
        d = "".join(f"M{_LEAD_END + dx} {_num(row.y - half)}v{2 * half}" for dx, half in bars)
        parts.append(f'<path d="{d}" class="earth" stroke-width="1.8"/>')
    elif row.role == "hot":
        parts.append(_dot(_LEAD_END + 3, row.y, radius=5))
    else:
        parts.append(f'<circle cx="{_LEAD_END + 3}" cy="{y}" r="3" stroke-width="1.2"/>')
    room = WIDTH - _MARGIN - _LABEL_X
    parts.append(_text(row.lead, _LABEL_X, row.y - 2, bold=True, room=room))
    parts.append(_text(row.label, _LABEL_X, row.y + 12, room=room))
    return parts


def _tag(row: _LeadLine) -> list[str]:
    """A tag that hangs on a lead: a label with a hole, and the thread."""
    x, y = _TAG_X, row.y
    label = f"M{x} {_num(y + 9)}l6 -4h16v8h-16z"
    return [
        f'<path d="M{x - 4} {_num(y)}L{x + 4} {_num(y + 9)}" stroke-width="1.2"/>',
        f'<path d="{label}" class="tag" fill="#fff" stroke-width="1.4"/>',
        _dot(x + 6, y + 9, radius=1.4),
    ]


def _joint(links: Sequence[_LeadLine]) -> list[str]:
    """Bracket and dots between two leads that are to be joined; nothing for any other number of them."""
    if len(links) != 2:
        return []
    first, final = links[0].y, links[1].y
    return [
        f'<path d="M{_JOINT_X} {_num(first)}V{_num(final)}" class="joint" stroke-width="1.2"/>',
        _dot(_JOINT_X, first),
        _dot(_JOINT_X, final),
        _text(JOINED, _JOINT_X + 6, first + _ROW / 2 + 4, room=_LABEL_X - _JOINT_X - 8),
    ]


def _shield_on_ground(rows: Sequence[_LeadLine], bottom: float) -> list[str]:
    """Dotted line inside the frame, from the frame to the last ground lead."""
    grounds = [r.y for r in rows if r.role == "ground"]
    if not grounds:
        return []
    x = _BOX_RIGHT - 16
    line = f'<path d="M{x} {_num(grounds[-1])}V{_num(bottom)}" class="shield" {_LINES["shield"]}/>'
    return [line, _dot(x, grounds[-1]), _dot(x, bottom)]


STATES = {"found": "{}, as found", "planned": "{}, as PLANNED", "after": "{}, after the work", "": "{}"}


def _heading(picture: LeadPicture) -> str:
    return STATES[picture.state].format(picture.pickup)


def _description(picture: LeadPicture, rows: Sequence[_LeadLine], note: str) -> str:
    """The drawing in sentences for who does not see it, with every name whole."""
    sentences = [
        f"{_clean(label[:1].upper() + label[1:])}: from {_clean(a)} to {_clean(b)}."
        for label, (a, b) in zip(picture.names, picture.coils, strict=False)
    ] or [f"{COILS_UNKNOWN.capitalize()}."]
    sentences += [f"{_clean(r.lead)}: {r.label}." for r in rows]
    sentences += [BUILT_AS[picture.build]] if picture.build in BUILT_AS else []
    links = [_clean(r.lead) for r in rows if r.role == "link"]
    if len(links) == 2:
        sentences.append(f"{links[0]} and {links[1]} are joined.")
    return " ".join(sentences + ([f"{note.capitalize()}."] if note else []))


def _svg(picture: LeadPicture, body: Sequence[str], *, height: float, description: str) -> str:
    parts = "".join(body)
    key = f"leads-{zlib.crc32((parts + description).encode()):08x}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {_num(height)}" role="img" '
        f'aria-labelledby="{key}-title {key}-told">'
        f'<title id="{key}-title">{escape("Leads of " + _clean(_heading(picture)))}</title>'
        f'<desc id="{key}-told">{escape(description)}</desc>'
        f'<g fill="none" stroke="#000" font-family="sans-serif">{parts}</g></svg>'
    )


def _text(text: str, x: float, y: float, *, room: float, size: float = _SIZE, bold: bool = False) -> str:
    """Text in black at its baseline, shortened to ``room``; shortened text is whole in a title of its own."""
    whole = _clean(text)
    visible = _fitted(whole, room=room, size=size)
    weight = ' font-weight="bold"' if bold else ""
    node = (
        f'<text x="{_num(x)}" y="{_num(y)}" font-size="{_num(size)}"{weight} fill="#000" stroke="none">'
        f"{escape(visible)}</text>"
    )
    return node if visible == whole else f"<g><title>{escape(whole)}</title>{node}</g>"


def _fitted(text: str, *, room: float, size: float) -> str:
    if wide(text, size=size) <= room:
        return text
    while text and wide(text + "…", size=size) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def wide(text: str, *, size: float) -> float:
    """About how much room a text takes, on the careful side of bold letters."""
    return size * sum(_letter(c) for c in text)


def _letter(c: str) -> float:
    if unicodedata.east_asian_width(c) in {"W", "F"} or c in _BROAD:
        return 1.1
    if c in " .,:;'!|()-ijltfrI":
        return 0.46
    return 0.83 if c.isupper() else 0.68


def _clean(name: str) -> str:
    """Typed name in one line, without what no XML may hold."""
    return words.plain(name).translate(
        {0xFFFE: "\N{REPLACEMENT CHARACTER}", 0xFFFF: "\N{REPLACEMENT CHARACTER}"}
    )


def _dot(x: float, y: float, *, radius: float = 3.2) -> str:
    return f'<circle cx="{_num(x)}" cy="{_num(y)}" r="{_num(radius)}" fill="#000"/>'


def _num(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def lead_pictures(job: Job, verdict: Verdict) -> tuple[LeadPicture, ...]:
    """The contents of a drawing for each pickup of which the ends of a coil are known."""
    pictures = []
    for planned in verdict.wiring:
        pickup = job.pickup(planned.pickup)
        row, coils = planned, coils_of(job, verdict.coil_leads, planned)
        if not coils and pickup is not None and row.halves:
            row, coils = row.model_copy(update={"leads": _ends_of_halves(row)}), _halves(row)
        if coils:
            measured = any(r.pickup == row.pickup and r.shield_on for r in verdict.coil_leads)
            shield = "on ground" if measured else None if pickup is None else pickup.shield
            told = {
                lead: words.TAG_NAMES.get(lead, lead) if row.read_as else lead for lead in _all(coils, row)
            }
            pictures.append(
                LeadPicture(
                    row.pickup,
                    tuple((told[a], told[b]) for a, b in coils),
                    {told[lead]: role for lead, role in row.leads.items()},
                    shield,
                    told.get(TAGGED) if row.read_as else None,
                    "planned" if words.is_work(row) else "after" if verdict.stage == "after" else "found",
                    labels=() if pickup is None else _coil_labels(pickup, coils),
                    build=None if pickup is None else pickup.build,
                )
            )
    return tuple(pictures)


END_OF_HALF = "{}, end {}"


def _halves(row: WiringRow) -> tuple[tuple[str, str], ...]:
    """The ends of each half of a pickup whose leads have no names, by the strings over it."""
    names = (" ".join(under) for under in row.halves)
    return tuple((END_OF_HALF.format(name, 1), END_OF_HALF.format(name, 2)) for name in names)


def _ends_of_halves(row: WiringRow) -> dict[str, str]:
    """What each end is, first hot's, as the plan has it: an exchanged half has its ends the other way."""
    pairs = [
        ends[::-1] if number in row.coils_exchanged else ends
        for number, ends in enumerate(_halves(row), start=1)
    ]
    chain = [end for pair in pairs for end in pair]
    if row.exchange:
        chain.reverse()
    return dict(zip(chain, ("hot", "link", "link", "ground"), strict=True))


def _coil_labels(pickup: Pickup, coils: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """What the coils of an unusual pickup are called; nothing where their numbers are all there is."""
    match pickup.made.layout:
        case "dummy":
            return (DUMMY_COIL,)
        case "halves" if len(coils) == MOST_COILS:
            return tuple(" ".join(coil.under or ()) for coil in pickup.made.coils)
        case "stacked" if len(coils) == MOST_COILS:
            built = next((c.number for c in pickup.made.coils if c.s_in_whole == 1), None)
            named = next((k for k, ends in enumerate(coils, start=1) if pickup.upper in ends), built)
            if named is not None:
                return (UPPER, LOWER) if named == 1 else (LOWER, UPPER)
    return ()


def _all(coils: Sequence[tuple[str, str]], row: WiringRow) -> set[str]:
    return {end for coil in coils for end in coil} | set(row.leads)


def coils_of(job: Job, leads: Sequence[LeadsRow], row: WiringRow) -> tuple[tuple[str, str], ...]:
    """The ends of each coil of a pickup, the end towards hot first, for a drawing; as wired by ``row``."""
    measured = next((r for r in leads if r.pickup == row.pickup and r.coils), None)
    if measured is not None:
        return tuple(_towards_hot(coil, row.leads) for coil in measured.coils)
    named = _by_role(row.leads)
    pickup = job.pickup(row.pickup)
    if pickup is None or "hot" not in named or "ground" not in named:
        return ()
    if not pickup.made.several or pickup.link is None:
        return ((named["hot"], named["ground"]),)
    by_tag = {lead: name for name, lead in row.read_as.items()}
    ends = ((pickup.hot, pickup.link[0]), (pickup.ground, pickup.link[1]))
    partner = {by_tag.get(end or "", end): by_tag.get(inner, inner) for end, inner in ends}
    return tuple(
        _towards_hot((end, other), row.leads)
        for end, other in partner.items()
        if end is not None and other is not None
    )


def _by_role(leads: Mapping[str, str]) -> dict[str, str]:
    return {role: lead for lead, role in leads.items() if role != "link"}


def _towards_hot(coil: tuple[str, str], roles: Mapping[str, str]) -> tuple[str, str]:
    """Hot's own end first, or the end that is not ground's."""
    a, b = coil
    return (b, a) if roles.get(b) == "hot" or roles.get(a) == "ground" else (a, b)
