"""Somebody who reads what a session says, plays it on the bench simulator, and answers its questions.

`Guitarist.plays(words)` renders what the sentences of a session ask for. It is let into the virtual input in
real time (`session`, the whole command in a process of its own), or straight into a session as blocks
(`Blocks`, `Reader`).
"""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from simulator.workbench import Bench
from virtual_input import NAME, RATE, VirtualInput

from capture.audio.streams import Block, LostSamples
from capture.job import Job
from capture.takes.hands_free import Progress, Request
from reports.cli.terminal import LineDisplay
from reports.messages.session import ACTIVITIES, ANSWER, READY
from reports.model.session import BenchQuestion

BACKGROUND = 3e-5
"""Of a box that is switched on: an input is never silent, but for what is played into it here."""
FADE_S = 0.5
"""The simulator's own noise and hum come in softly: a step of them would be an onset."""
BLOCK_S = 0.08
NEXT = "["
"""What the first line of every step begins with."""


@dataclass
class Guitarist:
    """Plays what is asked for, with a bench of its own; `asked` is what it understood."""

    bench: Bench
    job: Job
    rng: np.random.Generator
    rate: int = RATE
    asked: list[str] = field(default_factory=list)
    lead_in_s: float = 0.7
    rings_s: float | None = None
    """How long what is played rings; None: as long as is usual for the gesture."""
    fades_s: float = FADE_S
    """How softly what is played comes in; longer than ``lead_in_s`` and the string itself swells."""
    switches_s: tuple[tuple[float, float], tuple[float, float]] = ((0.45, 0.8), (0.4, 0.75))
    """When after the pluck the selector moves first, and how long it stays on each setting then: ranges."""
    way: tuple[str, ...] = ()
    switched_s: tuple[float, ...] = ()
    """The settings of the last switch take, and when after the pluck the selector moved."""

    def plays(self, words: Sequence[str]) -> np.ndarray:
        """The sound of what the lines of one step ask for, (frames, 2)."""
        what, text = words[0].split("] ", 1)[1], " ".join(words[1:])
        self.asked.append(f"{what}: {text}")
        said = self._played(what, text)
        if said.shape[1] == 1:
            said = np.hstack([said, np.zeros(said.shape)])
        rise = np.minimum(np.arange(len(said)) / (self.fades_s * self.rate), 1.0)
        return np.clip(said * rise[:, np.newaxis], -1.0, 1.0 - 2.0**-22)

    def answers(self, words: Sequence[str]) -> Request:
        """The answer to a question: everything on this bench is as it should be."""
        what = words[0].split("] ", 1)[1]
        self.asked.append(f"{what}: {' '.join(words[1:])}")
        return "no" if what == "STAPLE" else "yes"

    def taps(self) -> np.ndarray:
        """The strings are tapped twice: nothing has to be moved, or it is moved."""
        said = self.background(1.8)
        knock = 0.3 * np.exp(-np.arange(round(0.05 * self.rate)) / (0.004 * self.rate))
        for at in (0.9, 1.2):
            said[round(at * self.rate) :][: len(knock)] += knock[:, np.newaxis]
        return said

    def background(self, seconds: float) -> np.ndarray:
        """The noise of both inputs."""
        return BACKGROUND * self.rng.standard_normal((round(seconds * self.rate), 2))

    def _played(self, what: str, text: str) -> np.ndarray:
        around = {"rate": self.rate, "lead_in_s": self.lead_in_s}
        if self.rings_s is not None:
            around["ringing_s"] = self.rings_s
        note = re.search(r"\b([A-G]#?\d)\b", what)
        string = note.group(1) if note else ""
        if what.startswith("SPLIT"):
            name = re.search(r"put (\w+) into both", text).group(1)
            return self.bench.split_check(self.rng, name, string, **around)
        both = re.findall(r"Input \d: ([^.]+)\.", text)
        if both:
            pressed = what.startswith("PRESS")
            return self.bench.paired(self.rng, both[0], both[1], string, pressed=pressed, **around)
        first = re.search(r"Selector on ([^.]+)\.", text).group(1)
        if "AND SWITCH" in what:
            way = [first, *re.search(r"selector to (.+?), half a second", text).group(1).split(", then ")]
            first, stays = self.switches_s
            waits = [self.rng.uniform(*span) for span in (first, *[stays] * (len(way) - 2))]
            at = tuple(float(s) for s in np.cumsum(waits))
            wanted = [self._on(name) for name in way]
            self.way, self.switched_s = tuple(way), at
            rings = {"at_s": at, "ringing_s": max(at[-1] + 1.9, self.rings_s or 0.0)}
            return self.bench.switch(self.rng, wanted, string, **{**around, **rings})
        if what.startswith("KEEP STILL"):
            return self.bench.hum(self.rng, [self._on(first)], rate=self.rate, ringing_s=4.5)
        if what.startswith(("LIFT", "TAP")):
            return self._with_tool(first, text, around)
        play = self.bench.press if what.startswith("PRESS") else self.bench.pluck
        return play(self.rng, self._on(first), string, **around)

    def _with_tool(self, first: str, text: str, around: dict[str, float]) -> np.ndarray:
        tapped = re.search(r"tap the poles of (\w+)", text)
        if tapped is None:
            return self.bench.lift(self.rng, first, **around)
        later = {**around, "lead_in_s": 1.5, "ringing_s": 3.0}
        return self.bench.tap(self.rng, self._on(first), tapped.group(1), **later)

    def _on(self, name: str) -> tuple[str, ...]:
        return tuple(m.pickup for m in self.job.setting(name).on)


@dataclass
class Blocks:
    """A stream without a clock: what is played into it comes as fast as it is read, noise between."""

    guitarist: Guitarist
    channels: int = 2
    start: int = 0
    losses: list[LostSamples] = field(default_factory=list)
    pending: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))

    @property
    def rate(self) -> int:
        return self.guitarist.rate

    @property
    def waiting(self) -> int:
        return 0

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        return tuple(loss for loss in self.losses if loss.start < stop and loss.stop >= start)

    def read(self, *, timeout_s: float = 0.0) -> Block:
        frames = round(BLOCK_S * self.rate)
        noise = self.guitarist.background(BLOCK_S)
        part, self.pending = self.pending[:frames], self.pending[frames:]
        noise[: len(part)] += part
        block = Block(noise[:, : self.channels].astype(np.float32), self.start, False)
        self.start += frames
        return block


class Reader(LineDisplay):
    """Keeps the lines, and lets the guitarist play where the session says that it listens."""

    def __init__(
        self, stream: Blocks, guitarist: Guitarist, wish: Callable[[], Request | None] = lambda: None
    ) -> None:
        self.lines: list[str] = []
        self.wish, self.answer = wish, None
        super().__init__(self.lines.append, self._pressed)
        self.stream, self.guitarist = stream, guitarist
        self.silent = False

    def show_question(self, question: BenchQuestion, *, accepted: int) -> None:
        super().show_question(question, accepted=accepted)
        self.answer = None if self.silent else self.guitarist.answers(last_step(self.lines))

    def _pressed(self) -> Request | None:
        """The wish, where there is one; else the answer to a question that was asked."""
        wish = self.wish()
        if wish is None and self.answer is not None:
            wish, self.answer = self.answer, None
        return wish

    def show_notice(self, notice: Progress) -> None:
        super().show_notice(notice)
        if notice.what in ("moving", "not moved") and not self.silent:
            self.stream.pending = self.guitarist.taps()
        if notice.what in ("ready", "nothing heard") and not self.silent:
            self.stream.pending = self.guitarist.plays(last_step(self.lines))


def last_step(lines: Sequence[str]) -> list[str]:
    """The lines of the step that was asked for last."""
    start = max(k for k, line in enumerate(lines) if line.startswith(NEXT))
    return list(lines[start:])


def command(
    virtual: VirtualInput, *words: object, source: str = NAME, keys: int = subprocess.DEVNULL
) -> subprocess.Popen[str]:
    """Start `coilwise record` on a virtual input, its lines to be read; with no keyboard but for `keys`."""
    program = "from reports.cli import main; main()"
    return subprocess.Popen(
        [sys.executable, "-u", "-c", program, "record", *map(str, words), "--input", source],
        env=virtual.environment,
        text=True,
        stdin=keys,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )


def session(
    virtual: VirtualInput, guitarist: Guitarist, *words: object, within_s: float = 150.0
) -> tuple[int, list[str]]:
    """Run `coilwise record`, play what it asks for and answer by key; its exit status, and what it said."""
    virtual.play(guitarist.background(within_s))
    lines: list[str] = []
    hand, keyboard = pty.openpty()
    with command(virtual, *words, keys=keyboard) as running:
        ends = time.monotonic() + within_s
        for line in running.stdout:
            lines.append(line.rstrip("\n"))
            if lines[-1] == READY:
                virtual.play(guitarist.plays(last_step(lines)))
            if lines[-1] in (ACTIVITIES["moving"], ACTIVITIES["not moved"]):
                virtual.play(guitarist.taps())
            if lines[-1] == ANSWER["terminal"]:
                os.write(hand, guitarist.answers(last_step(lines))[:1].encode())
            if time.monotonic() > ends:
                running.kill()
        status = running.wait()
    os.close(hand)
    os.close(keyboard)
    return status, lines
