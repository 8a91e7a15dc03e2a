"""Tones for a hand that holds a guitar: "now", "accepted", "refused"; off unless they were asked for.

`WithTones` is a `SessionDisplay` around another one. The tones are short and soft, come from the system's own
output and never while a take is recorded; where there is no output, or it fails, nothing is said and the
session goes on. The words on the screen are enough alone.
"""

from __future__ import annotations

from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from capture.audio.streams import Playback, choose_output, play
from capture.takes.hands_free import Progress
from dsp import CoilwiseError
from reports.model.session import SessionNote, acceptance

Tone = Literal["now", "accepted", "refused"]
TONES_HZ: Final[dict[Tone, tuple[float, ...]]] = {
    "now": (880.0,),
    "accepted": (660.0, 990.0),
    "refused": (440.0, 330.0),
}
LEVEL: Final = 0.04
"""Of full scale: soft even with the volume of a laptop all the way up."""
EACH_S: Final = 0.09
FADE_S: Final = 0.012
BUFFER_S: Final = 0.05
"""A tone comes at once, even if a busy computer then leaves a gap in it."""


def tone(kind: Tone, *, rate: int) -> NDArray[np.float64]:
    """The samples of a tone, (frames,), at most `LEVEL`; each of its notes fades in and out."""
    t = np.arange(round(EACH_S * rate)) / rate
    edge = np.clip(np.minimum(t, t[-1] - t) / FADE_S, 0.0, 1.0)
    return np.concatenate([LEVEL * edge * np.sin(2 * np.pi * hz * t) for hz in TONES_HZ[kind]])


class WithTones:
    """Shows what another display shows, and says some of it by tones."""

    def __init__(self, display: Any) -> None:
        self._display = display
        self._playing: Playback | None = None
        self._works = True

    def __getattr__(self, name: str) -> Any:
        return getattr(self._display, name)

    def show_notice(self, notice: Progress) -> None:
        """Show it; a tone says that it listens now, and ends before a hand can answer it."""
        if notice.what == "ready":
            self._say("now")
        elif notice.what == "onset":
            self._end()
        self._display.show_notice(notice)

    def show_note(self, note: SessionNote) -> None:
        """Show it; a tone says whether a take counts."""
        counts = acceptance(note)
        if counts is not None:
            self._say("accepted" if counts else "refused")
        self._display.show_note(note)

    def _say(self, kind: Tone) -> None:
        if not self._works:
            return
        self._end()
        try:
            output = choose_output()
            wave = tone(kind, rate=output.rate_hz)
            self._playing = play(wave, rate=output.rate_hz, output=output, buffer_s=BUFFER_S)
        except CoilwiseError:
            self._works = False

    def _end(self) -> None:
        if self._playing is not None:
            self._playing.close()
        self._playing = None
