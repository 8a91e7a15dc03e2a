"""The last take as a waveform, and the posterior of a pair as it grows: SVG text.

`wave_svg` takes samples (frames, channels), full scale 1.0, as recorded, and seconds; `posterior_svg` takes
steps with the probability of "in phase", which is drawn upwards on a logit scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.signal.faults import CLIP_TOP
from reports.messages.wording import percent_at_least, threshold_label, unbroken
from reports.model.notes import Standing
from reports.model.verdict import threshold
from reports.page.server.recording import PosteriorStep
from reports.render.guitar import ACCENT, FAINT, INK, PAPER, framed, line, text

WAVE_WIDTH, ROW, AXIS_ROOM = 640.0, 84.0, 34.0
LEFT, RIGHT = 10.0, 630.0
LABEL_ROOM = 26.0
QUIETEST = 1e-9
WAVE_TITLE, BELIEF_TITLE = "The last take", "What is believed after each take"
ONSET, END = "onset {:.2f} s", "end {:.2f} s"
CLIPPED = "clips"
LOUDEST = "largest {:.0f} dB of full scale"
NOTHING = "nothing at all"
BELIEF_WIDTH, BELIEF_HEIGHT = 380.0, 220.0
PLOT = (96.0, 368.0, 20.0, 172.0)
"""Left, right, top and bottom of the belief's plot."""
MOST_LOGIT = 7.0
MOST_LABELS = 6
MOST_TICKS = 8
LEAST_MOVE = 1.0
"""Of the drawing: less is no move to speak of."""
IN_PHASE, OUT_OF_PHASE = "in phase", "out of phase"
EVEN = 0.5
MOVED = "{take} moved it most"


def wave_svg(
    samples: NDArray[np.floating[Any]],
    *,
    rate: int,
    onset_s: float | None,
    end_s: float | None,
    labels: Sequence[str],
    name: str = "wave",
) -> str:
    """One row a channel, largest and smallest sample of each column, with onset and end marked."""
    frames, channels = samples.shape
    seconds = max(frames / rate, 1e-9)
    peaks = [_peak(samples[:, k]) for k in range(channels)]
    loudest = max(*peaks, QUIETEST)
    body: list[str] = []
    for k in range(channels):
        middle = 26.0 + ROW * k + ROW / 2 + LABEL_ROOM * k
        body += _channel(samples[:, k], middle, loudest)
        said = f"Input {k + 1}: {labels[k]}" if k < len(labels) else f"Input {k + 1}"
        body.append(text(said, LEFT, middle - ROW / 2 + 2, size=15))
        loud = LOUDEST.format(20 * math.log10(peaks[k])) if peaks[k] > QUIETEST else NOTHING
        clips = f", {CLIPPED}" if peaks[k] >= CLIP_TOP else ""
        body.append(text(loud + clips, RIGHT - 4, middle + ROW / 2 + 2, size=13, anchor="end", fill=FAINT))
    bottom = 26.0 + (ROW + LABEL_ROOM) * channels - LABEL_ROOM
    marks = [(ONSET, onset_s, "6 4"), (END, end_s, "")]
    for form, at, dash in marks:
        if at is None:
            continue
        x = LEFT + (RIGHT - LEFT) * min(at / seconds, 1.0)
        body.append(line(x, 14, x, bottom, width=2.0, dash=dash, stroke=ACCENT))
        late = x > (LEFT + RIGHT) / 2
        body.append(
            text(form.format(at), x + (-6 if late else 6), 14, size=14, anchor="end" if late else "start")
        )
    body += _seconds(seconds, bottom + 8)
    description = ", ".join(form.format(at) for form, at, _ in marks if at is not None)
    return framed(
        body,
        width=WAVE_WIDTH,
        height=bottom + AXIS_ROOM,
        name=name,
        title=WAVE_TITLE,
        description=description or WAVE_TITLE,
    )


def _peak(x: NDArray[np.floating[Any]]) -> float:
    return max(float(np.max(x, initial=0.0)), -float(np.min(x, initial=0.0)))


def _channel(x: NDArray[np.floating[Any]], middle: float, loudest: float) -> list[str]:
    columns = int(RIGHT - LEFT)
    edges = np.linspace(0, len(x), min(columns, max(1, len(x))) + 1).astype(int)[:-1]
    if not len(x):
        return []
    top, low = np.maximum.reduceat(x, edges), np.minimum.reduceat(x, edges)
    scale = 0.42 * ROW / loudest
    at = LEFT + (RIGHT - LEFT) * np.arange(len(edges)) / len(edges)
    upper = [f"{px:.1f},{middle - scale * v:.1f}" for px, v in zip(at, top, strict=True)]
    lower = [f"{px:.1f},{middle - scale * v:.1f}" for px, v in zip(at, low, strict=True)]
    shape = " ".join([*upper, *reversed(lower)])
    return [
        line(LEFT, middle, RIGHT, middle, stroke=FAINT),
        f'<polygon points="{shape}" fill="{INK}" stroke="{INK}" stroke-width="0.8"/>',
    ]


def _seconds(seconds: float, y: float) -> list[str]:
    step = next(
        (s for s in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 60.0, 600.0) if seconds / s <= MOST_TICKS), 3600.0
    )
    drawn = [line(LEFT, y, RIGHT, y, stroke=FAINT)]
    for k in range(int(seconds / step) + 1):
        x = LEFT + (RIGHT - LEFT) * k * step / seconds
        anchor = "start" if k == 0 else "middle"
        drawn += [
            line(x, y - 3, x, y + 3),
            text(f"{k * step:g} s", x, y + 18, size=13, anchor=anchor, fill=FAINT),
        ]
    return drawn


def posterior_svg(steps: Sequence[PosteriorStep], *, name: str = "belief") -> str:
    """Belief after each take, lines at likely and settled both ways, and the take that moved it most."""
    left, right, top, bottom = PLOT
    body: list[str] = []
    edges: tuple[Standing, ...] = ("settled", "likely")
    marks = [(p, f"{e} {threshold_label(e)}") for e in edges for p in (threshold(e), 1 - threshold(e))]
    for p, label in sorted([*marks, (EVEN, "even")], reverse=True):
        y = _height(p)
        body.append(line(left, y, right, y, dash="" if p == EVEN else "4 4", stroke=FAINT))
        body.append(text(label, left - 6, y + 4.5, size=13.5, anchor="end", fill=FAINT))
    body.append(text(IN_PHASE, left, top - 5, size=15, bold=True))
    body.append(text(OUT_OF_PHASE, left, bottom + 6, size=15, bold=True))
    at = [left + 14 + (right - left - 28) * k / max(1, len(steps) - 1) for k in range(len(steps))]
    heights = [_height(EVEN if s.p_in_phase is None else s.p_in_phase) for s in steps]
    if len(steps) > 1:
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(at, heights, strict=True))
        body.append(f'<polyline points="{points}" fill="none" stroke="{INK}" stroke-width="2.5"/>')
    for x, y, step in zip(at, heights, steps, strict=True):
        fill = PAPER if step.p_in_phase is None else INK
        body.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{fill}" stroke="{INK}" stroke-width="2"/>'
        )
    every = math.ceil(len(steps) / MOST_LABELS) or 1
    for k, (x, step) in enumerate(zip(at, steps, strict=True)):
        last = len(steps) - 1
        if k == last or (k % every == 0 and last - k >= every):
            body.append(text(step.take, x, bottom + 24, size=13.5, anchor="middle", fill=FAINT))
    description = _lean_sentence(steps)
    moved = _moved_most(steps, heights)
    if moved is not None:
        body.append(
            f'<circle cx="{at[moved]:.1f}" cy="{heights[moved]:.1f}" r="9" fill="none" stroke="{ACCENT}" '
            f'stroke-width="2.5"/>'
        )
        said = MOVED.format(take=steps[moved].take)
        body.append(text(said, left, bottom + 42, size=14))
        description = f"{description}. {said}"
    return framed(
        body, width=BELIEF_WIDTH, height=BELIEF_HEIGHT, name=name, title=BELIEF_TITLE, description=description
    )


def _height(p: float) -> float:
    _, _, top, bottom = PLOT
    q = min(max(p, 1e-9), 1 - 1e-9)
    logit = min(MOST_LOGIT, max(-MOST_LOGIT, math.log(q / (1 - q))))
    return (top + bottom) / 2 - (bottom - top) / 2 * logit / MOST_LOGIT


def _moved_most(steps: Sequence[PosteriorStep], heights: Sequence[float]) -> int | None:
    moves = [abs(b - a) for a, b in pairwise(heights)]
    if not moves or max(moves) < LEAST_MOVE:
        return None
    return 1 + max(range(len(moves)), key=lambda k: moves[k])


def _lean_sentence(steps: Sequence[PosteriorStep]) -> str:
    if not steps or steps[-1].p_in_phase is None:
        return "nothing known yet"
    p = steps[-1].p_in_phase
    lean = IN_PHASE if p > 1 - p else OUT_OF_PHASE
    return f"now {lean}, {unbroken(percent_at_least(p))}"
