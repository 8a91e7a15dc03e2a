"""What one take shows of what it is evidence for, drawn small: SVG text, or nothing where there is nothing.

A paired pluck: the first 20 ms of both inputs over each other. A pluck in turn or a lift: its trace, and the
last one at another pickup dashed over it. A sweep: for each step of the selector how far each partial
turned, from none to half a turn. Hum and taps: levels as bars. Signals are at the analysis rate of
dsp.signal.samples, as recorded; their largest magnitude is 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from dsp.methods.curves import SwitchJump
from dsp.methods.tool_pulse import BEFORE_S
from dsp.signal.samples import ANALYSIS_RATE
from reports.evidence.results import TakeResult
from reports.messages import play as words
from reports.messages.wording import OPPOSED, SAME_SIGN, STEPS, on_words, plain
from reports.render.exhibits import switch_exhibit
from reports.render.guitar import ACCENT, FAINT, INK, PAPER, framed, line, text

WIDTH, TALL = 640.0, 190.0
LEFT, RIGHT = 10.0, 630.0
PLUCK_MS, PULSE_MS = (-1.0, 20.0), (-15.0, 60.0)
"""What is drawn of a pluck and of a tool's pulse, against the onset and against the peak."""
CLEAR: Final = 0.3
"""Of the paired statistic: sound takes gave 0.5 and up, and below this nothing is said."""
BAR_DB = (-100.0, 0.0)


@dataclass(frozen=True, eq=False)
class Curve:
    """One trace: what it is called, its values, and the place of its zero in ms."""

    said: str
    values: NDArray[np.floating[Any]]
    zero_ms: float


def evidence_svg(
    result: TakeResult, *, job: Job, before: Sequence[TakeResult] = (), name: str = "evidence"
) -> str:
    """Draw the evidence of a take; ``before``: takes heard before it, the latest last."""
    if result.paired:
        return _paired(result, name)
    if result.pulses or result.single:
        return _in_turn(result, before, name)
    if result.switch is not None:
        exhibit = switch_exhibit(result, job)
        return "" if exhibit is None or not exhibit.jumps else _jumps(exhibit.jumps, name)
    bars = [bar for one in (*before, result) for bar in _levels(one)]
    return _bars(dict(bars), name) if _levels(result) else ""


def _paired(result: TakeResult, name: str) -> str:
    pluck = result.paired[0]
    zero = 1000.0 / pluck.f0_hz
    curves = [
        Curve(f"{k + 1}: {on_words(result.entry.inputs[result.sources[s].column])}", values, zero)
        for k, (s, values) in enumerate(zip(pluck.between, pluck.traces, strict=True))
    ]
    told = words.NOT_CLEAR if abs(pluck.statistic) < CLEAR else words.MOVES[pluck.statistic > 0]
    return _over_each_other(curves, PLUCK_MS, words.BOTH_INPUTS.format(told=told), name)


def _in_turn(result: TakeResult, before: Sequence[TakeResult], name: str) -> str:
    own = _curve(result)
    others = [
        one
        for one in before
        if one.entry.id != result.entry.id
        and one.entry.gesture == result.entry.gesture
        and one.entry.string == result.entry.string
        and not one.faults
        and [s.pickup for s in one.sources] != [s.pickup for s in result.sources]
    ]
    beside = [c for c in (_curve(one) for one in others[-1:]) if c is not None]
    if own is None:
        return ""
    span = PULSE_MS if result.pulses else PLUCK_MS
    told = words.PULSE if result.pulses else words.FIRST_MS
    return _over_each_other([own, *beside], span, told, name)


def _curve(result: TakeResult) -> Curve | None:
    said = f"{result.entry.id}, {on_words(result.entry.inputs[0])}"
    if result.pulses:
        return Curve(said, result.pulses[0].values, 1000 * BEFORE_S)
    if result.single:
        return Curve(said, result.single[0].trace, 1000 / result.single[0].turn.pitch.f0_hz)
    return None


def _over_each_other(curves: Sequence[Curve], span: tuple[float, float], told: str, name: str) -> str:
    """Traces over each other, each to its own largest magnitude; the first solid, the second dashed."""
    middle, room = 34.0 + (TALL - 60.0) / 2, (TALL - 70.0) / 2
    x0 = LEFT - span[0] * (RIGHT - LEFT) / (span[1] - span[0])
    body = [
        text(told, LEFT, 18, size=17, bold=True),
        line(LEFT, middle, RIGHT, middle, stroke=FAINT),
        line(x0, 30, x0, TALL - 26, dash="2 4", stroke=FAINT),
    ]
    looks = ((INK, 3.0, ""), (ACCENT, 4.0, ' stroke-dasharray="10 6"'))
    for k, (curve, (pen, thick, dash)) in enumerate(zip(curves, looks, strict=False)):
        ms = np.arange(len(curve.values)) * 1000.0 / ANALYSIS_RATE - curve.zero_ms
        shown = (ms >= span[0]) & (ms <= span[1])
        values = curve.values[shown]
        peak = float(np.max(np.abs(values), initial=0.0)) or 1.0
        at = LEFT + (ms[shown] - span[0]) * (RIGHT - LEFT) / (span[1] - span[0])
        points = " ".join(f"{x:.1f},{middle - room * v / peak:.1f}" for x, v in zip(at, values, strict=True))
        body.append(f'<polyline points="{points}" fill="none" stroke="{pen}" stroke-width="{thick}"{dash}/>')
        x = LEFT + k * (RIGHT - LEFT) / 2
        body.append(
            f'<path d="M{x:.1f} {TALL - 9:.1f} h46" stroke="{pen}" stroke-width="{thick}" fill="none"{dash}/>'
        )
        body.append(text(curve.said, x + 54, TALL - 4, size=15))
    body.append(text(words.SPAN_MS.format(ms=f"{span[1]:.0f}"), RIGHT, 18, size=14, anchor="end", fill=FAINT))
    return framed(body, width=WIDTH, height=TALL + 4, name=name, title=words.EVIDENCE, description=told)


def _jumps(jumps: Sequence[SwitchJump], name: str) -> str:
    """A row for each step of the selector: each partial where it turned to, places taken out."""
    left, right, y = 250.0, 560.0, 58.0
    body = [
        text(words.JUMP, LEFT, 18, size=17, bold=True),
        text(SAME_SIGN, left, 42, size=15, anchor="middle"),
        text(OPPOSED, right, 42, size=15, anchor="middle"),
    ]
    told = []
    for jump in jumps:
        said = f"{plain(jump.before)} → {plain(jump.after)}"
        body += [
            text(said, LEFT, y + 2, size=16, bold=True),
            text(STEPS[jump.step], LEFT, y + 20, size=15),
            line(left, y + 4, right, y + 4, stroke=FAINT),
            *(line(x, y - 8, x, y + 16, width=3.0) for x in (left, right)),
        ]
        for partial in (p for p in jump.partials if p.place_sign):
            turned = 0.5 - partial.turned if partial.place_sign < 0 else partial.turned
            x = left + (right - left) * min(max(turned, 0.0), 0.5) / 0.5
            body.append(
                f'<circle cx="{x:.1f}" cy="{y + 4:.1f}" r="9" fill="{PAPER}" stroke="{INK}" '
                'stroke-width="2"/>'
            )
            body.append(text(str(partial.n), x, y + 8.5, size=12.5, anchor="middle"))
        told.append(f"{said}: {STEPS[jump.step]}")
        y += 46.0
    return framed(
        body, width=WIDTH, height=y - 10, name=name, title=words.EVIDENCE, description=". ".join(told)
    )


def _levels(result: TakeResult) -> list[tuple[str, float]]:
    """Levels in dB re full scale by the setting that was heard."""
    hums = [(one.setting, one.lines.level_db()) for one in result.hums]
    taps = [
        (words.TAPPED_AT.format(tapped=result.entry.tapped or "", setting=t.setting), t.level.level_db)
        for t in result.taps
    ]
    return hums or taps


def _bars(levels: dict[str, float], name: str) -> str:
    left, right, y = 190.0, 560.0, 34.0
    body = [text(words.LEVELS, LEFT, 18, size=17, bold=True)]
    low, high = BAR_DB
    for said, db in levels.items():
        shown = db if np.isfinite(db) else low
        long = (right - left) * (min(max(shown, low), high) - low) / (high - low)
        body += [
            text(plain(said), left - 8, y + 18, size=15, anchor="end"),
            f'<rect x="{left:.1f}" y="{y:.1f}" width="{right - left:.1f}" height="24" fill="{PAPER}" '
            f'stroke="{INK}" stroke-width="2"/>',
            f'<rect x="{left:.1f}" y="{y:.1f}" width="{long:.1f}" height="24" fill="{ACCENT}"/>',
            text(
                words.DB.format(db=shown) if np.isfinite(db) else words.NO_LEVEL, right + 8, y + 18, size=15
            ),
        ]
        y += 34.0
    told = ", ".join(f"{said} {words.DB.format(db=db)}" for said, db in levels.items())
    return framed(body, width=WIDTH, height=y + 4, name=name, title=words.EVIDENCE, description=told)
