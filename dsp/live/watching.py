"""Waiting for a gesture: blocks of an input in, events out, and how long each gesture is waited for.

Task: say when a gesture begins and when it has rung long enough, as the sound comes in. Causal, and without a
clock: time is the number of frames. Shapes: blocks (frames, channels) of any length; how the sound is cut
into blocks changes nothing. Units: frames at the stream's rate, seconds, Hz, dB re full scale.
Sign: turning a channel over changes nothing.

Strings and tools: the level in steps of 10 ms, less what was there a tenth of a second before (five periods
of 50 Hz, six of 60 Hz: steady hum is gone), has to rise over the median of the half second before. Of a
string it must then ring (dsp.live.attacks): a hand's thump, a click, a plug, a hum that begins are passed
over, and are no take. Of what does ring a false start is better than a missed gesture, since every take is
judged afterwards. Hum and a driven coil: a level that stays. Taps: a fixed time, since a pickup that is not
on gives nothing to wait for.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp import SignalError
from dsp.live.attacks import RISES_DB, STANDS_OUT_DB, Attack, AttackLevels
from dsp.live.gestures import WatchPlan
from dsp.signal.clicks import PICK_S, STEP_S, ClickWatch, add_click
from dsp.signal.samples import checked

EventKind = Literal["onset", "ended", "too loud", "timed out", "passed over", "still ringing"]


@dataclass(frozen=True)
class WatchEvent:
    """Something that happened at frame ``at`` of the stream.

    A second "onset" before "ended" changes the bounds of the same take. ``keep_from`` and ``keep_to`` bound
    the take as far as it is known then; for "timed out", "passed over" (something was heard that is no
    gesture) and "still ringing" (a gesture that stands too little out of what rings) nothing is kept and both
    are ``at``.
    """

    kind: EventKind
    at: int
    keep_from: int
    keep_to: int


Array = NDArray[np.float64]


HOP_S = STEP_S
HUM_S = 0.1
"""Five periods of 50 Hz and six of 60 Hz."""
HIGH_PASS_HZ = 20.0
SETTLES_S = 0.1
"""The filter has settled then; what it does before comes again when hum is taken out, like a pulse."""
LEARN_S = 0.3
BEFORE_S = 0.5
"""The middle level of so long a stretch is what an onset has to rise over."""
LEAVE_OUT_S = 0.03
"""But for the last of it, where a slow onset has begun already."""
RINGS_DB = 6.0
"""What is so much over the quiet is no hum but rings; then what begins has to be about as loud as the ringing
itself. A tenth of a second is eleven periods of an open A: taken out like hum, it would seem to begin when a
hand stops it."""
NEXT_ONSET_DB = 6.0
NEXT_ONSET_S = 0.15
"""Within a take, what rises so much over the loudest of the last so many seconds is another onset: the first
may have been a bump."""
APART_S = 0.15
"""So soon after another it is none of its own: a string is drawn aside before it is let go."""
SILENT_DB = 4.0
SILENT_S = 1.3
"""A string has died once it stays so near to the quiet for so long. dsp.switched wants 1.2 s after a step:
where the last one leads to settings that cancel, the take is long enough all the same."""
STEADY_HOPS = 10
"""A steady level is taken over whole periods of either mains."""
STEADY_S = 0.5
STEADY_DB = 3.0
"""What stays within this for `STEADY_S` is taken to stay. Hum has to stay so to the end of the take: where it
does not, another onset follows, with other bounds. A driven coil only begins so."""
AFTER_MOVES_S = 1.3
"""Of a selector that has moved as often as it is to, so much is kept: what dsp.methods.switch wants to hear,
and time for one more move where a noise was taken for one. It ends before a hand damps the string, which
changes what rings like a move does."""
TOO_LOUD = 0.999
LEAST_DB = -92.0
"""Below this all is quiet alike: noise that is cut off to nothing, or the last bit of a converter, begins
nothing. What rises out of it is about as loud as dsp.signal.faults wants a take to be."""
LOWEST_DB = -160.0


class Watcher:
    """Feed it blocks as they come; after an event that ends a take it waits for the next one."""

    def __init__(
        self,
        plan: WatchPlan,
        *,
        rate: int,
        channels: int,
        floor_db: Sequence[float] | None = None,
        moves: int | None = None,
    ) -> None:
        """Begin to wait; ``floor_db`` is `Watcher.floor_db` of an earlier one at the same gains.

        ``moves``: how often a selector is to move; soon after the last of them the take has ended.

        Without it the first ``LEARN_S`` are listened to, and nothing in them is an onset.

        Raises
        ------
        SignalError
            The rate cannot be read, there is no channel, or not one floor a channel.

        """
        checked(np.zeros((1, max(1, channels))), rate=rate)
        if channels < 1 or (floor_db is not None and len(floor_db) != channels):
            raise SignalError(f"{channels} channels to watch, and not one floor for each of them")
        self.plan = plan
        self.rate = rate
        self.channels = channels
        self._hop = round(HOP_S * rate)
        self._sos = scipy.signal.butter(
            2, (HIGH_PASS_HZ, plan.low_pass_hz), "bandpass", fs=rate, output="sos"
        )
        self._state = np.zeros((len(self._sos), channels, 2))
        self._lag = deque([np.zeros((channels, self._hop))] * round(HUM_S / HOP_S))
        self._rest: list[Array] = []
        self._frames = 0
        self._count = self._last = self._dead = self._waiting_since = 0
        self._levels: deque[Array] = deque(maxlen=round(BEFORE_S / HOP_S))
        if floor_db is not None:
            self._levels.extend([np.asarray(floor_db, dtype=np.float64)] * round(BEFORE_S / HOP_S))
        self._floor: Array | None = None if floor_db is None else np.asarray(floor_db, dtype=np.float64)
        self._usual = np.full(channels, LEAST_DB)
        self._first: int | None = None
        self._keep_from = self._keep_to = 0
        self._raw: deque[Array] = deque(maxlen=round(BEFORE_S / HOP_S))
        self._loud = False
        self._block: list[Array] = []
        self._steady: list[Array] = []
        self._attacks = AttackLevels(rate=rate, channels=channels)
        self._attack: Attack | None = None
        self._loud_at: int | None = None
        self._least_db = RISES_DB
        self._moves = moves
        self._clicks = ClickWatch(rate=rate, channels=channels) if moves else None
        self._moved: list[tuple[int, int]] = []

    def damping(self) -> None:
        """Strings are being damped from here on: what begins has to stand out of what still rings."""
        self._least_db = STANDS_OUT_DB

    def rest(self, since_s: float) -> None:
        """It is quiet, and has been for so long: a measure for what begins."""
        self._attacks.rest(since_s)
        self._least_db, self._waiting_since = RISES_DB, self._now

    @property
    def floor_db(self) -> tuple[float, ...] | None:
        """Level of noise and hum of each channel, as this watcher hears it; None while it learns."""
        return None if self._floor is None else tuple(float(x) for x in self._floor)

    def feed(self, samples: NDArray[np.floating]) -> tuple[WatchEvent, ...]:
        """Take in the next block, (frames, channels), and say what happened.

        Raises
        ------
        SignalError
            The block has another number of channels, or holds NaN or infinity.

        """
        block = np.asarray(samples, dtype=np.float64)
        if block.shape[1:] != (self.channels,):
            raise SignalError(f"the block has shape {block.shape}; (frames, {self.channels}) is needed")
        if not np.isfinite(block).all():
            raise SignalError("the input gave values that are no numbers (NaN or infinity)")
        self._rest.append(block.copy())
        self._frames += len(block)
        if self._frames < self._hop:
            return ()
        whole = np.concatenate(self._rest)
        hops = len(whole) // self._hop
        self._rest = [whole[hops * self._hop :].copy()]
        self._frames = len(self._rest[0])
        events: list[WatchEvent] = []
        for k in range(hops):
            piece = np.ascontiguousarray(whole[k * self._hop : (k + 1) * self._hop].T)
            self._count += 1
            events += self._watched(piece)
            events += self._too_loud(piece)
        return tuple(events)

    @property
    def _now(self) -> int:
        return self._count * self._hop

    def _event(self, kind: EventKind, at: int) -> WatchEvent:
        return WatchEvent(kind, at, self._keep_from, self._keep_to)

    def _too_loud(self, piece: Array) -> list[WatchEvent]:
        if self._loud_at is None and self._begun and float(np.abs(piece).max()) >= TOO_LOUD:
            inside = int(np.argmax(np.abs(piece).max(axis=0) >= TOO_LOUD))
            self._loud_at = self._now - self._hop + inside
        if self._first is None or self._loud or self._loud_at is None:
            return []
        self._loud = True
        return [self._event("too loud", self._loud_at)]

    @property
    def _begun(self) -> bool:
        return self._first is not None or self._attack is not None

    def _timed_out(self) -> list[WatchEvent]:
        if self._first is not None or self._now - self._waiting_since < self.plan.waits_s * self.rate:
            return []
        self._waiting_since = self._now
        return [WatchEvent("timed out", self._now, self._now, self._now)]

    def _begin(self, at: int) -> None:
        self._first = self._last = at
        self._attack, self._loud = None, False
        self._dead, self._moved = 0, []
        self._keep_from = max(0, at - round(self.plan.preroll_s * self.rate))
        self._keep_to = at + round(self.plan.rings_s * self.rate)

    def _ended(self) -> list[WatchEvent]:
        self._first, self._waiting_since = None, self._now
        self._steady, self._loud_at = [], None
        return [self._event("ended", self._now)]

    def _watched(self, piece: Array) -> list[WatchEvent]:
        if self.plan.timed:
            return self._for_its_time()
        return self._steadily(piece) if self.plan.steady else self._suddenly(piece)

    def _for_its_time(self) -> list[WatchEvent]:
        """Whatever is heard: it begins once there is a little before it, and lasts as long as it is to."""
        if self._first is None:
            if self._now - self._waiting_since < self.plan.preroll_s * self.rate:
                return []
            self._begin(self._now)
            return [self._event("onset", self._now)]
        return self._ended() if self._now >= self._keep_to else []

    def _suddenly(self, piece: Array) -> list[WatchEvent]:
        """Strings and tools: an onset, and ringing."""
        filtered, self._state = scipy.signal.sosfilt(self._sos, piece, axis=1, zi=self._state)
        level = _levels(filtered - self._lag.popleft())
        self._lag.append(filtered)
        raw = _levels(filtered)
        self._attacks.feed(filtered)
        if self._clicks is not None and self._clicks.clicked(piece):
            self._count_move()
        settles_s = SETTLES_S if self.plan.pulse else 0.0
        if self._count <= round((HUM_S + settles_s) / HOP_S):
            return []
        before = np.array(self._levels)
        self._raw.append(raw)
        self._levels.append(self._or_what_rings(level, raw))
        if len(before) < round(LEARN_S / HOP_S):
            return []
        if self._first is None:
            middle = np.median(before[: len(before) - round(LEAVE_OUT_S / HOP_S)], axis=0)
            self._usual = np.maximum(middle, LEAST_DB)
            return self._may_begin(level)
        return self._ringing(level, raw, before)

    def _count_move(self) -> None:
        """A click: a move of the selector, or the bounce of the last one."""
        at = self._now - self._hop
        if self._first is not None and at >= self._first + PICK_S * self.rate:
            add_click(self._moved, at, self._now, rate=self.rate)

    def _has_moved(self) -> bool:
        """Whether the selector has moved as often as it is to, and long enough ago."""
        if not self._moves or len(self._moved) < self._moves:
            return False
        return self._now - self._moved[-1][1] >= (AFTER_MOVES_S - HOP_S) * self.rate

    def _may_begin(self, level: Array) -> list[WatchEvent]:
        """Whether something begins; of a string only what has rung for a while does."""
        at = self._now - self._hop
        rises = bool(np.any(level > self._usual + self.plan.rise_db))
        if self._attack is None:
            if not rises:
                return self._timed_out()
            return self._or_waits(at)
        again = self._attack.rose_again(level)
        rises_db = self._attacks.rise_db(self._attack, cut_short=again)
        if again and (rises_db is None or rises_db < self._least_db):
            self._attack = self._attacks.begin(at, over=self._attack)
            return []
        if rises_db is None:
            return []
        begun, self._attack = self._attack.at, None
        if rises_db >= self._least_db:
            self._begin(begun)
            return [self._event("onset", begun)]
        self._loud_at = None
        kind: EventKind = "still ringing" if rises_db >= RISES_DB else "passed over"
        return [WatchEvent(kind, begun, begun, begun)]

    def _or_waits(self, at: int) -> list[WatchEvent]:
        """A pulse begins at once; whether a string does is waited for."""
        if not self.plan.pulse:
            self._attack = self._attacks.begin(at)
            return []
        self._begin(at)
        return [self._event("onset", at)]

    def _or_what_rings(self, level: Array, raw: Array) -> Array:
        """``level``, but where a string rings no less than `RINGS_DB` under it, ``raw``."""
        if len(self._raw) >= round(LEARN_S / HOP_S):
            quiet = np.maximum(np.median(np.array(self._raw), axis=0), LEAST_DB)
            self._floor = quiet if self._floor is None else np.minimum(self._floor, quiet)
        if self._floor is None:
            return level
        return np.where(raw > self._floor + RINGS_DB, np.maximum(level, raw - RINGS_DB), level)

    def _ringing(self, level: Array, raw: Array, before: Array) -> list[WatchEvent]:
        first = self._first or 0
        events: list[WatchEvent] = []
        last_to = first + round(self.plan.longest_s * self.rate)
        loudest = before[-round(NEXT_ONSET_S / HOP_S) :].max(axis=0)
        over = np.maximum(loudest + NEXT_ONSET_DB, self._usual + self.plan.rise_db)
        if np.any(level > over):
            at = self._now - self._hop
            self._keep_to = min(at + round(self.plan.rings_s * self.rate), last_to)
            if at - self._last > APART_S * self.rate:
                events.append(self._event("onset", at))
            self._last = at
        quiet = self._usual if self._floor is None else self._floor
        self._dead = 0 if np.any(raw > quiet + SILENT_DB) else self._dead + 1
        if (self.plan.dies and self._dead * HOP_S >= SILENT_S) or self._has_moved():
            self._keep_to = self._now
        return events + (self._ended() if self._now >= self._keep_to else [])

    def _steadily(self, piece: Array) -> list[WatchEvent]:
        """Hum and a driven coil: a level that stays."""
        self._block.append(piece)
        if len(self._block) < STEADY_HOPS:
            return []
        level = _levels(np.concatenate(self._block, axis=1))
        self._block = []
        if self._floor is None:
            self._learn(level)
            return []
        if self._first is not None and self.plan.may_sway:
            return self._ended() if self._now >= self._keep_to else []
        self._steady.append(level)
        while np.any(np.ptp(np.array(self._steady), axis=0) > STEADY_DB):
            self._steady.pop(0)
            self._first = None
        long_enough = len(self._steady) * STEADY_HOPS * HOP_S >= STEADY_S
        if self._first is not None:
            return self._ended() if self._now >= self._keep_to else []
        if long_enough and np.any(level > self._floor + self.plan.rise_db):
            self._begin(self._now - len(self._steady) * STEADY_HOPS * self._hop)
            return [self._event("onset", self._first or 0)]
        return self._timed_out()

    def _learn(self, level: Array) -> None:
        self._levels.append(level)
        if len(self._levels) * STEADY_HOPS * HOP_S < LEARN_S:
            return
        self._floor = np.mean(np.array(self._levels), axis=0)
        if self.plan.rise_db == -math.inf:
            self._steady = list(self._levels)


def _levels(pieces: Array) -> Array:
    """Level of each row less its mean, dB."""
    power = np.mean(np.square(pieces), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (LOWEST_DB / 10))))
