"""A bench as it really is, and a player at it, without a clock: what is heard goes on between the takes.

Strings ring for seconds until a hand stops them, with a thump, some time after it was asked to; another
string rings on in sympathy; hum and noise never stop, and change with the selector; a plug that is moved
bangs, and the open input buzzes meanwhile; a radio plays. `LivingStream` is what the inputs give, block by
block; `LivingPlayer` reads the session's lines, acts at times of its own, and notes when it played what.

Shapes: blocks (frames, 2). Units: frames at the stream's rate, seconds, full scale. Levels and times are
assumed; strings, pickups and hum are those of tests/simulator.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from guitarist import BLOCK_S, Guitarist, Reader, last_step
from simulator.hum import HARMONICS, MainsSpec, mains_clock
from simulator.workbench import Bench

from capture.audio.streams import Block, LostSamples
from capture.job import Job
from capture.takes.hands_free import CaptureResult, Progress
from reports.evidence.results import TakeResult
from reports.model.session import Moving, Step

LEAD_S = 0.2
RINGS_S = 10.0
AGAIN = ("ready", "nothing heard", "still ringing")
"""What it plays at."""
BLOCKS_BEFORE_S = 2.0
"""The session begins so long after the sound."""


@dataclass(frozen=True)
class Habits:
    """How this player acts: ranges in seconds, rates as fractions."""

    damps_s: tuple[float, float] = (0.4, 3.0)
    """After it was asked for something else."""
    plays_s: tuple[float, float] = (0.3, 1.5)
    """After "Now.", and after the strings were damped."""
    plugs_s: tuple[float, float] = (1.5, 5.0)
    """Until a plug is pulled; and then until the other one is in."""
    impatient: float = 0.08
    """How often it does not wait for "Now."."""
    undamped: float = 0.04
    """How often it plays without damping what rings."""
    sympathy: float = 0.4
    """How often another string rings on."""


@dataclass
class Sounding:
    """Something that sounds from ``at`` on, (frames, 2); a hand stops it at ``damped``."""

    at: int
    sound: np.ndarray
    damped: int | None = None
    stays: bool = False
    fade: int = 800


@dataclass
class LivingStream:
    """What the inputs give: everything that sounds, over hum, noise and a radio."""

    bench: Bench
    rng: np.random.Generator
    rate: int
    channels: int = 2
    radio: float = 0.0
    """RMS over that of a usual pluck."""
    start: int = 0
    sounding: list[Sounding] = field(default_factory=list)
    events: list[tuple[int, int, object]] = field(default_factory=list)
    """(frame, input, setting from there on); None: nothing is plugged in."""
    losses: list[LostSamples] = field(default_factory=list)

    def __post_init__(self) -> None:
        gains = [abs(c.gain) for c in self.bench.interface.channels]
        self.usual = self.bench.pluck_v * float(np.mean(gains))
        self.mains = self.bench.mains
        self.phase = float(self.rng.uniform(0, 2 * np.pi))
        self.hz = self.mains.nominal_hz * (1 + self.mains.drift)
        self.on: list[object] = [None, None]
        self.open_buzz = self.usual * 10 ** (-self.rng.uniform(10, 30) / 20)
        self._radio_on = 0.0
        self._lines: dict[tuple[int, tuple[str, ...]], np.ndarray] = {}

    @property
    def waiting(self) -> int:
        return 0

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        return ()

    def _hum(self, channel: int, wanted: tuple[str, ...]) -> np.ndarray:
        """Amplitudes of the mains lines of one setting on one input, complex, full scale."""
        if (channel, wanted) not in self._lines:
            self._lines[channel, wanted] = self._fitted_hum(channel, wanted)
        return self._lines[channel, wanted]

    def _fitted_hum(self, channel: int, wanted: tuple[str, ...]) -> np.ndarray:
        mains = replace(self.mains, wander=0.0)
        channels = tuple(replace(c, noise=0.0, offset=0.0) for c in self.bench.interface.channels)
        chosen = (channels[channel], channels[1 - channel])
        bench = replace(
            self.bench, mains=mains, interface=replace(self.bench.interface, channels=chosen, bits=None)
        )
        x = bench.hum(np.random.default_rng(7), [wanted], rate=self.rate, lead_in_s=0.0, ringing_s=1.0)[:, 0]
        clock = mains_clock(np.random.default_rng(7), mains)
        angle = clock.angle(len(x) + round(0.1 * self.rate), rate=self.rate)[-len(x) :]
        waves = np.exp(1j * np.outer(HARMONICS, angle))
        columns = np.concatenate([waves.real, -waves.imag])
        half = len(x) // 2  # its own filters have settled
        fitted, *_ = np.linalg.lstsq(columns[:, half:].T, x[half:], rcond=None)
        return fitted[: len(HARMONICS)] + 1j * fitted[len(HARMONICS) :]

    def read(self, *, timeout_s: float = 0.0) -> Block:
        frames = round(BLOCK_S * self.rate)
        t = self.start + np.arange(frames)
        for event in sorted(e for e in self.events if e[0] < self.start + frames):
            self.on[event[1]] = event[2]
            self.events.remove(event)
        angle = self.phase + 2 * np.pi * self.hz * t / self.rate
        said = np.empty((frames, 2))
        for c, spec in enumerate(self.bench.interface.channels):
            said[:, c] = spec.noise * self.rng.standard_normal(frames)
            said[:, c] += self._hum_of(c, angle)
        if self.radio:
            said += self._radio(t)[:, np.newaxis]
        for one in self.sounding:
            self._mix(one, said)
        self.sounding = [s for s in self.sounding if self._lasts(s)]
        block = Block(np.clip(said, -1, 1)[:, : self.channels].astype(np.float32), self.start, False)
        self.start += frames
        return block

    def _hum_of(self, channel: int, angle: np.ndarray) -> np.ndarray:
        on = self.on[channel]
        if on is None:
            rich = sum(np.sin(n * angle + n) / n for n in range(1, 16, 2))
            return self.open_buzz * np.asarray(rich)
        lines = self._hum(channel, on)
        return (lines[:, np.newaxis] * np.exp(1j * np.outer(HARMONICS, angle))).real.sum(axis=0)

    def _radio(self, t: np.ndarray) -> np.ndarray:
        """Voice-like: a pitch that glides, in syllables that begin and end at once."""
        if self.rng.random() < 0.04:
            self._radio_on = float(self.rng.random() < 0.6) * self.rng.uniform(0.3, 1.5)
        s = t / self.rate
        pitch = 140 * s + 8 * np.sin(2 * np.pi * 0.7 * s)
        wave = sum(np.sin(2 * np.pi * n * pitch) / n for n in (1, 2, 3, 5, 8, 12))
        return self.radio * self.usual * self._radio_on * np.asarray(wave)

    def _mix(self, one: Sounding, said: np.ndarray) -> None:
        first = self.start - one.at
        at = first + np.arange(len(said))
        inside = (at >= 0) & (at < len(one.sound))
        part = np.zeros_like(said)
        part[inside] = one.sound[at[inside]]
        if one.damped is not None:
            since = np.clip((self.start + np.arange(len(said)) - one.damped) / one.fade, 0, 1)
            part *= (np.cos(0.5 * np.pi * since) ** 2)[:, np.newaxis]
        said += part

    def _lasts(self, one: Sounding) -> bool:
        if one.damped is not None and self.start > one.damped + one.fade:
            return False
        return self.start < one.at + len(one.sound)

    def rings(self) -> bool:
        """Whether a string sounds that no hand has stopped or is about to stop."""
        return any(s.stays and s.damped is None for s in self.sounding)

    def damp(self, at: int) -> None:
        """A hand stops the strings at a frame, with a thump."""
        for one in self.sounding:
            if one.stays and one.damped is None and one.at < at:
                one.damped, one.fade = at, round(self.rng.uniform(0.03, 0.12) * self.rate)
        n = round(0.3 * self.rate)
        t = np.arange(n) / self.rate
        hz, lasts = self.rng.uniform(50, 140), self.rng.uniform(0.012, 0.05)
        peak = self.usual * 10 ** (self.rng.uniform(-14, 3) / 20)
        thump = peak * np.sin(2 * np.pi * hz * t) * np.exp(-t / lasts) * np.minimum(t / 0.003, 1)
        thump += 0.3 * peak * self.rng.standard_normal(n) * np.exp(-t / 0.006)
        sides = self.rng.uniform(0.5, 1.0, 2)
        self.sounding.append(Sounding(at, thump[:, np.newaxis] * sides))

    def bang(self, at: int, channel: int) -> None:
        """A plug goes in or out: contacts that bounce."""
        n = round(0.4 * self.rate)
        t = np.arange(n) / self.rate
        wave = np.zeros(n)
        for after in (0.0, *self.rng.uniform(0.0, 0.15, self.rng.integers(1, 4))):
            since = t - after
            peak = self.rng.uniform(0.2, 1.0) * self.rng.choice([-1, 1])
            wave += np.where(
                since >= 0, peak * np.exp(-np.maximum(since, 0) / self.rng.uniform(0.004, 0.03)), 0
            )
        sound = np.zeros((n, 2))
        sound[:, channel] = np.clip(wave, -1, 1)
        self.sounding.append(Sounding(at, sound))

    def pop(self, at: int) -> None:
        """The selector moves."""
        n = round(0.02 * self.rate)
        peak = self.rng.uniform(0, 2) * self.usual * self.rng.choice([-1, 1])
        wave = peak * np.exp(-np.arange(n) / self.rate / self.rng.uniform(0.0005, 0.003))
        sound = np.zeros((n, 2))
        sound[:, 0] = wave
        self.sounding.append(Sounding(at, sound))

    def taps(self, at: int) -> None:
        """The strings are tapped twice."""
        for k in range(2):
            self.damp(at + round((0.3 * k) * self.rate))


def quiet_bench(bench: Bench) -> Bench:
    """The same with no hum and no noise of its own, since the stream has them."""
    channels = tuple(replace(c, noise=0.0, offset=0.0) for c in bench.interface.channels)
    mains = MainsSpec(nominal_hz=bench.mains.nominal_hz, field_v=0.0, capacitive_v=0.0)
    return replace(bench, mains=mains, interface=replace(bench.interface, channels=channels, bits=None))


@dataclass(eq=False)
class Played:
    """One gesture: when it was played, as what, and what came of it."""

    at: int
    what: str
    undamped: bool = False
    take: str | None = None
    accepted: bool = False


class LivingPlayer(Reader):
    """Reads what the session shows, and acts in its own time."""

    def __init__(
        self, stream: LivingStream, job: Job, rng: np.random.Generator, habits: Habits = Habits()
    ) -> None:
        self.habits, self.rng = habits, rng
        guitarist = Guitarist(
            quiet_bench(stream.bench),
            job,
            rng,
            rate=stream.rate,
            lead_in_s=LEAD_S,
            rings_s=RINGS_S,
            fades_s=0.5 * LEAD_S,
        )
        super().__init__(stream, guitarist)
        self.timed: list[tuple[int, str]] = []
        self._echo = self._echo_timed
        self.played: list[Played] = []
        self.takes: list[tuple[str, tuple[int, int], bool]] = []
        self._busy_until = 0
        self._next: tuple[str, ...] | None = None
        self._ready = False
        self._hands_until = 0

    def _echo_timed(self, text: str) -> None:
        self.lines.append(text)
        self.timed.append((self.stream.start, text))

    def _s(self, span: tuple[float, float]) -> int:
        return round(self.rng.uniform(*span) * self.stream.rate)

    def show_step(self, step: Step, *, moving: Moving | None = None, **said: object) -> None:
        super().show_step(step, moving=moving, **said)
        now = self.stream.start
        self._think_again(now)
        self._words = self._next = tuple(last_step(self.lines))
        if moving is not None:
            self._words = self._next = None
        self._ready = False
        self._hands_until = max(now, self._hands_until)
        self._undamped = False
        if self.stream.rings():
            self._undamped = self.rng.random() < self.habits.undamped
            if not self._undamped:
                at = max(now, self._busy_until) + self._s(self.habits.damps_s)
                self.stream.damp(at)
                self._hands_until = at
        self._move(step)
        if self._next is None:
            return
        if self._undamped or self.rng.random() < self.habits.impatient:
            self._play(self._hands_until + self._s((0.5, 1.2)))

    def _think_again(self, now: int) -> None:
        """What was not begun yet is not played any more: the screen asks for something else."""
        later = now + round(LEAD_S * self.stream.rate)
        if self.played and self.played[-1].at > later:
            dropped = self.played.pop()
            at = dropped.at - round(LEAD_S * self.stream.rate)
            self.stream.sounding = [s for s in self.stream.sounding if s.at != at]
            self.stream.events = [e for e in self.stream.events if e[0] < dropped.at or e[2] is None]

    def _move(self, step: Step) -> None:
        """Plugs, clips and selector, as this step wants them."""
        for column, item in zip(step.columns, step.inputs, strict=True):
            first = item[0] if isinstance(item, tuple) else str(item)
            wanted = self.guitarist._on(first)
            now = next((e[2] for e in sorted(self.stream.events, reverse=True) if e[1] == column), None)
            now = self.stream.on[column] if now is None else now
            if now == wanted:
                continue
            loose = [n for n in (*wanted, *(now or ())) if not self.guitarist.job.pickup(n).fitted]
            if loose or now is None or step.kind == "split":
                out = self._hands_until + self._s(self.habits.plugs_s)
                into = out + self._s(self.habits.plugs_s)
                self.stream.bang(out, column)
                self.stream.bang(into, column)
                self.stream.events += [(out, column, None), (into, column, wanted)]
                self._hands_until = into
            else:
                at = self._hands_until + self._s((0.3, 1.5))
                self.stream.pop(at)
                self.stream.events.append((at, column, wanted))
                self._hands_until = at

    def show_notice(self, notice: Progress) -> None:
        super(Reader, self).show_notice(notice)
        if notice.what in AGAIN and self._next is None and self.played[-1].at < self.stream.start:
            self._next = self._words
        if notice.what in AGAIN and self._next is not None:
            self._ready = True
            self._play(max(self.stream.start, self._hands_until) + self._s(self.habits.plays_s))

    def _play(self, at: int) -> None:
        words, self._next = self._next, None
        sound = self.guitarist.plays(words)
        what = words[0].split("] ", 1)[1]
        stays = not what.startswith(("KEEP", "LIFT", "TAP"))
        one = Sounding(at - round(LEAD_S * self.stream.rate), sound, stays=stays)
        for other in self.stream.sounding:
            if other.stays and other.damped is None and self._undamped:
                other.damped, other.fade = at - round(0.04 * self.stream.rate), round(0.02 * self.stream.rate)
        self.stream.sounding.append(one)
        if stays and self.rng.random() < self.habits.sympathy:
            other = 10 ** (self.rng.uniform(-45, -30) / 20) * np.roll(
                sound, round(0.15 * self.stream.rate), axis=0
            )
            other = other[:: 2 if self.rng.random() < 0.5 else 1]
            ring = Sounding(one.at, other, damped=at + self._s((3.0, 8.0)), fade=self.stream.rate)
            self.stream.sounding.append(ring)
        if "AND SWITCH" in what:
            names = self.guitarist.way
            steps = [*self.guitarist.switched_s]
            for name, s in zip(names[1:], steps, strict=True):
                self.stream.events.append((at + round(s * self.stream.rate), 0, self.guitarist._on(name)))
            self._busy_until = at + round((steps[-1] + 1.6) * self.stream.rate)
        else:
            self._busy_until = at + round(0.8 * self.stream.rate)
        self.played.append(Played(at, what, self._undamped))

    def show_take(self, capture: CaptureResult, result: TakeResult) -> None:
        super().show_take(capture, result)
        if capture.take is None:
            return
        good = result.has_measurements and not result.faults
        first, last = capture.span
        self.takes.append((capture.take.entry.id, capture.span, good))
        for one in self.played:
            if first <= one.at < last - 0.1 * self.stream.rate:
                one.take, one.accepted = capture.take.entry.id, good

    @property
    def refusals(self) -> list[str]:
        """Why takes were refused."""
        return [line.split("not accepted. ")[-1] for line in self.lines if line.startswith("x ")]

    @property
    def phantoms(self) -> list[str]:
        """Takes without a gesture in them."""
        times = [one.at for one in self.played]
        return [
            name
            for name, (first, last), _ in self.takes
            if not any(first <= at < last - 0.1 * self.stream.rate for at in times)
        ]

    @property
    def missed(self) -> list[Played]:
        """What was played and became no take."""
        return [one for one in self.played if one.take is None]


def play(
    session, bench: Bench, job: Job, *, seed: int, rate: int, habits: Habits = Habits()
) -> tuple[object, LivingPlayer]:
    """Run a session on a living bench."""
    rng = np.random.default_rng(1000 + seed)
    radio = 10 ** (-rng.uniform(40, 60) / 20) if rng.random() < 0.35 else 0.0
    stream = LivingStream(bench, rng, rate, radio=radio)
    player = LivingPlayer(stream, job, rng, habits)
    return session.run(stream, player), player
