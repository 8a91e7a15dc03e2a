"""The one band across the top of the screen for playing: what the moment is, by shape, word and colour.

`band_of` turns the state of the recording into a `Band`; `band_svg` has the shape of each kind, 24 by 24
units in the colour of its letters. The colours are in page.css, one class a kind; nothing is told by them
alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from reports.messages import play as words
from reports.messages.session import large_text
from reports.model.session import AT_WORK, BAND_AT_END, BAND_OF, BandKind, Failure, Moving, Step
from reports.page.server.recording import PageState

ShapeKind = BandKind | Literal["clips", "selector", "knobs"]


@dataclass(frozen=True)
class Band:
    """What the band shows."""

    kind: BandKind
    word: str
    shape: ShapeKind = "move"
    """What hands have to move, where they have to."""

    def says(self, sentence: str) -> bool:
        """Whether a sentence says what stands here in large letters, and no more."""
        return sentence.rstrip(".").casefold() == self.word.casefold()


def band_of(state: PageState, *, lately: bool | None = None) -> Band:
    """What the band shows; ``lately``: whether the take that just ended counts, None where none just did."""
    if state.phase in ("ended", "resting", "failed"):
        return _at_rest(state)
    if state.question is not None:
        return _plain("question")
    kind = "ready" if state.activity is None else BAND_OF[state.activity]
    if lately is not None and kind not in AT_WORK:
        return _plain("accepted" if lately else "refused")
    if state.activity == "too loud":
        return Band("refused", words.TOO_LOUD, "refused")
    if state.step is not None and state.moving is not None:
        return Band("move", large_text(state.step, state.moving), _what_moves(state.step, state.moving))
    return _plain(kind)


def _what_moves(step: Step, moving: Moving) -> ShapeKind:
    if moving == "selector":
        return "knobs" if step.volumes else "selector"
    return "clips" if moving == "clips" else "move"


def _at_rest(state: PageState) -> Band:
    outcome = state.outcome
    if state.phase == "failed" or isinstance(outcome, Failure):
        return _plain("stopped")
    pairs = () if state.verdict is None else state.verdict.pairs
    if pairs and all(p.standing == "settled" for p in pairs):
        return _plain("settled")
    if outcome is None:
        return _plain("begin")
    kind = BAND_AT_END.get(outcome.ending, "ended")
    return Band(kind, words.ENDINGS_BIG[outcome.ending], kind)


def _plain(kind: BandKind) -> Band:
    return Band(kind, words.BAND[kind], kind)


_STROKE = 'fill="none" stroke="currentColor" stroke-width="3.4" stroke-linecap="square"'
_FILL = 'fill="currentColor"'
_SHAPES: Final[dict[ShapeKind, str]] = {
    "begin": f'<path d="M5 2 L22 12 L5 22 Z" {_FILL}/>',
    "ready": f'<path d="M4 4 L11 12 L4 20 M13 4 L20 12 L13 20" {_STROKE}/>',
    "move": f'<path d="M1 10 h4 v-5 h9 v14 h-9 v-5 h-4 Z M15 9 h8 v6 h-8 Z" {_FILL}/>',
    "clips": f'<path d="M1 7 L13 9.5 L21 4 V8.5 L14 12 L21 15.5 V20 L13 14.5 L1 17 L5 12 Z" {_FILL}/>',
    "selector": f'<path d="M2 16 H22 V22 H2 Z M9 17 L15 1 L20 3 L13 17 Z" {_FILL}/>',
    "knobs": f'<path d="M12 13 L18 5" {_STROKE}/><path d="M5 20 A10 10 0 1 1 19 20" {_STROKE}/>',
    "quiet": f'<path d="M2 12 H22 M2 6 V18 M22 6 V18" {_STROKE}/>',
    "now": f'<path d="M2 5 Q12 -2 22 5 Q21 15 12 24 Q3 15 2 5 Z" {_FILL}/>',
    "listening": f'<path d="M1 12 Q12 -3 23 12 Q12 27 1 12 Z M1 12 H23" {_STROKE}/>',
    "accepted": f'<path d="M3 13 L10 20 L22 4" {_STROKE}/>',
    "refused": f'<path d="M4 4 L20 20 M20 4 L4 20" {_STROKE}/>',
    "question": f'<path d="M6 8 Q6 3 12 3 Q18 3 18 8 Q18 12 12 13 V16 M12 20 V21.5" {_STROKE}/>',
    "settled": f'<path d="M1 13 L6 19 L14 5 M12 17 L14 19 L23 5" {_STROKE}/>',
    "ended": f'<path d="M3 3 H9 V21 H3 Z M15 3 H21 V21 H15 Z" {_FILL}/>',
    "stopped": f'<path d="M3 3 H21 V21 H3 Z" {_FILL}/>',
}


def band_svg(shape: ShapeKind) -> str:
    """The shape of a band; what it says stands beside it, so a screen reader passes it over."""
    return f'<svg viewBox="0 0 24 24" aria-hidden="true" focusable="false">{_SHAPES[shape]}</svg>'
