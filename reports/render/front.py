"""The sheet that goes with the guitar: what stands on it, and its one drawing.

In: the verdict, and where they are known the job and the entries of the log that count; out: a `FrontSheet`
of sentences without ids or commands, for its owner and the next technician, and a drawing as the text of one
SVG: the guitar from above with what is known of each pickup, every setting as found, planned and after the
work on one line, and the leads of the pickups that are wired or to be wired. Lengths in the drawing are
quarters of a millimetre on paper, ``WIDTH`` across. Importing this loads no plotting library.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from capture.job import Job
from capture.log import AnyEntry
from reports.messages import sheets, summary
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT, OWNER
from reports.model.notes import Hum, Sounds
from reports.model.verdict import Verdict
from reports.render import guitar
from reports.render.guitar import FAINT, INK, line, text, wrapped
from reports.render.lead_drawing import WIDTH as LEADS_WIDE
from reports.render.lead_drawing import LeadPicture, lead_parts

WIDTH = 728.0
LEFT_WIDE = 396.0
"""The guitar's share; the settings stand beside it."""
SETTINGS_X = 418.0
MOST_SETTINGS = 8
MOST_PAIRS = 4
MOST_LEADS = 4
TITLE_LETTERS, HEADLINE_LETTERS, MOST_LETTERS = 120, 200, 420
"""So much of each sentence finds room on one side of paper whatever the job."""
NAME_SIZE, WORD_SIZE, SMALL_SIZE = 14.0, 12.5, 10.5
ROW_GAP = 11.0
COLUMNS_APART = 106.0
MARK_WIDE = 30.0
LEADS_APART, LEADS_GAP, LEADS_HEAD = 20.0, 4.0, 18.0
LEADS_SCALE = (WIDTH / 2 - LEADS_APART / 2) / LEADS_WIDE
"""So that two of them stand side by side."""
NO_TEXT_WIDTH = 0.87


@dataclass(frozen=True)
class SettingCourse:
    """One setting of several pickups: (sound, hum) as found, planned and after the work; None: not told."""

    name: str
    on: str
    states: tuple[tuple[str, tuple[Sounds, Hum] | None], ...]


@dataclass(frozen=True)
class FrontSheet:
    """All that stands on the sheet; ``said`` are labels with their sentences, the most important first."""

    title: str
    state: str
    headline: str
    said: tuple[tuple[str, str], ...]
    drawing: str
    cautions: tuple[str, ...]
    lines_left: tuple[str, ...]
    foot: str


def front_sheet(
    verdict: Verdict,
    *,
    made_at: str,
    job: Job | None = None,
    entries: Sequence[AnyEntry] = (),
    leads: Sequence[LeadPicture] = (),
) -> FrontSheet:
    """Return what stands on the sheet that goes with the guitar."""
    sure = summary.sure_lines(verdict)
    kept = sure if len(sure) <= MOST_PAIRS else (*sure[:MOST_PAIRS], summary.and_more(len(sure) - MOST_PAIRS))
    open_step = summary.first_step(verdict)
    said = (
        (sheets.HOW_SURE, "; ".join(kept)),
        (sheets.ENTERED if summary.heard_otherwise(verdict) else sheets.DONE, summary.done(entries)),
        (sheets.RESULT, summary.result(verdict)),
        (sheets.TO_DO, summary.to_do(verdict, for_owner=True)),
        (sheets.NEXT, sheets.NOT_YET if open_step else ""),
    )
    return FrontSheet(
        title=_few(words.plain(verdict.title), TITLE_LETTERS) or sheets.UNTITLED,
        state=sheets.STATE.format(state=words.stage_label(verdict.stage), date=made_at),
        headline=_few(summary.headline(verdict), HEADLINE_LETTERS),
        said=tuple((label, _few(sentence, MOST_LETTERS)) for label, sentence in said if sentence),
        drawing=front_drawing(verdict, job, leads=leads),
        cautions=(*(c for c in verdict.cautions if c in OWNER and c != JUDGEMENT), JUDGEMENT),
        lines_left=(sheets.DONE_BY, sheets.CHECKED_BY, sheets.ON_DATE),
        foot=f"{sheets.FOR_OWNER} {sheets.BEHIND}",
    )


def _few(text: str, most: int) -> str:
    """Text that takes no more room than there is; where it is cut, that is seen."""
    return textwrap.shorten(text, most, placeholder=sheets.CUT) if len(text) > most else text


def setting_courses(verdict: Verdict) -> tuple[SettingCourse, ...]:
    """Each setting of several pickups, from the stages where there are any, else from what it does now."""
    on = {s.name: words.members(s) for s in verdict.settings}
    if verdict.stages:
        return tuple(
            SettingCourse(
                words.plain(row.setting),
                on.get(row.setting, ""),
                (
                    (sheets.FOUND, (row.found, row.hum_found)),
                    (sheets.PLANNED, (row.planned, row.hum_planned)),
                    (sheets.AFTER, (row.after, row.hum_after)),
                ),
            )
            for row in verdict.stages
        )
    work = any(words.is_work(row) for row in verdict.wiring)
    planned = {p.setting: p for p in verdict.proof if work and p.aim_met is not None}
    courses = []
    for setting in verdict.settings:
        if len(setting.on) < 2:
            continue
        here = sheets.AFTER if verdict.stage == "after" else sheets.FOUND
        states: list[tuple[str, tuple[Sounds, Hum] | None]] = [(here, (setting.sounds, setting.hum))]
        proof = planned.get(setting.name)
        if proof is not None:
            adds = bool(proof.aim_met) == (proof.aim != words.OUT_OF_PHASE)
            hum: Hum = "unknown" if proof.hum_cancels is None else "cancels" if proof.hum_cancels else "hums"
            states.append((sheets.PLANNED, ("full" if adds else "thin", hum)))
        courses.append(SettingCourse(words.plain(setting.name), on[setting.name], tuple(states)))
    return tuple(courses)


def front_drawing(verdict: Verdict, job: Job | None, *, leads: Sequence[LeadPicture] = ()) -> str:
    """The one drawing: guitar, settings, leads; an empty text where nothing of it is known."""
    body: list[str] = []
    told: list[str] = []
    left = right = 0.0
    if job is not None:
        parts, height, description = guitar.guitar_parts(job, verdict)
        scale = LEFT_WIDE / guitar.WIDTH
        body.append(f'<g transform="scale({scale:.4f})">{"".join(parts)}</g>')
        told.append(description)
        left = height * scale
    courses = setting_courses(verdict)
    if courses:
        parts, right = _settings(courses)
        body += parts
        told += [f"{c.name}: {_told(c)}" for c in courses]
    shown = [p for p in leads if p.roles][:MOST_LEADS]
    beside = _beside_settings(shown, room=right - left)
    below = max(left, right)
    if beside:
        parts, height = _leads(beside, verdict, top=left, wide=LEFT_WIDE)
        body += parts
        below = max(height, right)
    if shown[len(beside) :]:
        parts, below = _leads(shown[len(beside) :], verdict, top=below, wide=WIDTH)
        body += parts
    if not body:
        return ""
    return guitar.framed(
        body,
        width=WIDTH,
        height=below + 4.0,
        name="front",
        title=sheets.DRAWN,
        description=". ".join(told),
    )


def _told(course: SettingCourse) -> str:
    return ", ".join(f"{label} {words.stage_cell(*state)}" for label, state in course.states if state)


def _settings(courses: Sequence[SettingCourse]) -> tuple[list[str], float]:
    """A row a setting: its name, what is on, and under each stage a wave and a word."""
    labels = list(dict.fromkeys(label for course in courses for label, _ in course.states))
    at = {label: SETTINGS_X + COLUMNS_APART * k for k, label in enumerate(labels)}
    y = 20.0
    parts = [text(label, x, y, size=SMALL_SIZE, fill=FAINT) for label, x in at.items()]
    y += 5.0
    for course in courses[:MOST_SETTINGS]:
        parts.append(line(SETTINGS_X, y, WIDTH, y, width=0.8))
        y += NAME_SIZE + 3.0
        room = WIDTH - SETTINGS_X
        for said in wrapped(course.name, room=room, size=NAME_SIZE * 1.15)[:1]:
            parts.append(text(said, SETTINGS_X, y, size=NAME_SIZE, bold=True))
        if course.on and course.on != course.name:
            y += SMALL_SIZE + 3.0
            for said in wrapped(course.on, room=room, size=SMALL_SIZE / NO_TEXT_WIDTH)[:1]:
                parts.append(text(said, SETTINGS_X, y, size=SMALL_SIZE, fill=FAINT))
        y += 7.0
        hummed = 0.0
        for label, state in course.states:
            if state is None:
                continue
            sounds, hum = state
            mark = guitar.setting_mark(sounds)
            parts.append(f'<g transform="translate({at[label]:.1f} {y:.1f}) scale(0.7)">{mark}</g>')
            word = words.SOUNDS[sounds]
            parts.append(text(word, at[label] + MARK_WIDE, y + 12.5, size=WORD_SIZE, bold=sounds == "thin"))
            if hum != "unknown":
                hummed = SMALL_SIZE + 2.0
                said = {"cancels": sheets.HUM_CANCELS, "hums": sheets.HUMS}[hum]
                parts.append(text(said, at[label] + MARK_WIDE, y + 25.0, size=SMALL_SIZE, fill=INK))
        y += 19.0 + hummed + ROW_GAP - 4.0
    left_out = len(courses) - MOST_SETTINGS
    if left_out > 0:
        y += SMALL_SIZE + 2.0
        parts.append(text(summary.and_more(left_out), SETTINGS_X, y, size=SMALL_SIZE, fill=FAINT))
    parts.append(line(SETTINGS_X, y, WIDTH, y, width=0.8))
    return parts, y + 6.0


def _beside_settings(shown: Sequence[LeadPicture], *, room: float) -> list[LeadPicture]:
    """The first drawings of leads that find room under the guitar, beside a long list of settings."""
    beside: list[LeadPicture] = []
    room -= LEADS_HEAD
    for picture in shown:
        room -= lead_parts(picture)[1] * LEADS_SCALE + LEADS_GAP
        if room < 0:
            break
        beside.append(picture)
    return beside


def _leads(
    shown: Sequence[LeadPicture], verdict: Verdict, *, top: float, wide: float
) -> tuple[list[str], float]:
    """The leads of each pickup, as many in a row as find room, under what state of the guitar they show."""
    work = any(words.is_work(row) for row in verdict.wiring)
    parts = [
        line(0, top, wide, top, width=0.8),
        text(
            sheets.WIRED_AS_PLANNED if work else sheets.WIRED_NOW, 0, top + 14.0, size=SMALL_SIZE, fill=FAINT
        ),
    ]
    y = top + LEADS_HEAD
    each = LEADS_SCALE * LEADS_WIDE
    in_a_row = max(1, int(wide // each))
    for first in range(0, len(shown), in_a_row):
        heights = []
        for k, picture in enumerate(shown[first : first + in_a_row]):
            body, height, _ = lead_parts(picture)
            x = k * (each + LEADS_APART)
            parts.append(
                f'<g transform="translate({x:.1f} {y:.1f}) scale({LEADS_SCALE:.4f})" fill="none" '
                f'stroke="#000">{"".join(body)}</g>'
            )
            heights.append(height * LEADS_SCALE)
        y += max(heights) + LEADS_GAP
    return parts, y
