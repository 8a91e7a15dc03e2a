"""Where a long recording is cut: its onsets shared out to what was played.

Task: `found` lists the onsets of one or many recordings for a person to see, `cut` shares them out to what
was played, in order, and says where each take begins and ends. Nothing is read or written here. Units: frames
of the file, seconds from its beginning, dB re full scale.

Onsets are numbered from 1 through all files. One that is left out, or that does not count (`Doubt` of
dsp.streamed_onsets), is no take, but the takes beside it still keep away from it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

from capture.audio_files import AudioHeader
from capture.errors import RecordingError
from capture.log_entries import Input
from dsp.streamed_onsets import Doubt, Envelope, Streamed, StreamedOnset, counting
from dsp.watch_plans import PLANS


@dataclass(frozen=True)
class Around:
    """How much of a recording belongs to a take: before its onset, and after it at least and at most."""

    before_s: float
    least_s: float
    longest_s: float


AROUND: Mapping[Streamed, Around] = MappingProxyType(
    {
        # quiet to measure the noise and hum in: less than a watcher keeps (dsp.watch_plans), which hears an
        # onset late; a second pluck within 0.4 s spoils a take (dsp.listening)
        "pluck": Around(0.5, 0.45, PLANS["pluck"].longest_s),
        "press": Around(0.5, 0.45, PLANS["press"].longest_s),
        "switch": Around(0.5, 1.0, PLANS["switch"].longest_s),
        # dsp.pulses wants 0.14 s after the peak, and the tool comes back soon
        "lift": Around(PLANS["lift"].preroll_s, 0.2, 1.0),
        "touch": Around(PLANS["touch"].preroll_s, 0.2, 1.0),
    }
)
LEAST_BEFORE_S = 0.03
"""A cut nearer to an onset would leave no quiet before it."""


class CountsDifferError(RecordingError):
    """There are more or fewer onsets than were said to be played."""


@dataclass(frozen=True)
class Played:
    """What was played so many times in a row: an item of the order. `inputs` as in a take's entry."""

    inputs: tuple[Input, ...]
    count: int
    string: str | None = None
    fret: int = 0


@dataclass(frozen=True, eq=False)
class Heard:
    """A file that was listened to; `stamp` is its size and time then."""

    path: Path
    header: AudioHeader
    onsets: tuple[StreamedOnset, ...]
    envelope: Envelope
    stamp: tuple[int, int]

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.header.frames / self.header.rate


@dataclass(frozen=True)
class Found:
    """An onset in the list that a person sees; `doubt` or `left_out` where it is no take."""

    number: int
    heard: Heard
    frame: int
    level_db: float
    doubt: Doubt | None
    left_out: bool

    @property
    def at_s(self) -> float:
        """Seconds from the beginning of its file."""
        return self.frame / self.heard.header.rate

    @property
    def counts(self) -> bool:
        """Whether it is a take."""
        return self.doubt is None and not self.left_out


@dataclass(frozen=True)
class Cut:
    """A take to be: frames `start` to before `stop` of a file, and what was played."""

    onset: Found
    start: int
    stop: int
    played: Played

    @property
    def came_from(self) -> str:
        """The file and its seconds, as the log has them."""
        rate = self.onset.heard.header.rate
        return f"{self.onset.heard.path.name} {self.start / rate:.2f}-{self.stop / rate:.2f} s"


def found(
    recordings: Sequence[Heard], *, gesture: Streamed, left_out: Collection[int] = ()
) -> tuple[Found, ...]:
    """All onsets, numbered through all files; `left_out` are numbers of this list.

    Raises
    ------
    RecordingError
        A number of `left_out` is not in the list.

    """
    listed: list[Found] = []
    for heard in recordings:
        here = {n - len(listed) - 1 for n in left_out}
        renewed = counting(heard.onsets, gesture=gesture, rate=heard.header.rate, left_out=here)
        first = len(listed) + 1
        listed += [
            Found(first + i, heard, o.frame, o.level_db, o.doubt, i in here) for i, o in enumerate(renewed)
        ]
    for number in sorted(left_out):
        if not 1 <= number <= len(listed):
            raise RecordingError(
                f"there is no onset {number} to leave out; {len(listed)} were found, numbered from 1"
            )
    return tuple(listed)


def cut(
    onsets: Sequence[Found], recordings: Sequence[Heard], order: Sequence[Played], *, gesture: Streamed
) -> tuple[Cut, ...]:
    """Share the onsets out to what was played, in order, and cut.

    Raises
    ------
    CountsDifferError
        There are more or fewer onsets than were played, or none in a file.
    RecordingError
        Two onsets lie so close that their takes would overlap.

    """
    for heard in recordings:
        if not any(o.heard is heard and o.doubt is None for o in onsets):
            raise CountsDifferError(
                f"{heard.path}: no onset found in it; was the right gesture named, and was it loud enough?"
            )
    takes = [o for o in onsets if o.counts]
    wanted = [item for item in order for _ in range(item.count)]
    if len(takes) != len(wanted):
        where = str(recordings[0].path) if len(recordings) == 1 else f"{len(recordings)} recordings"
        raise CountsDifferError(
            f"{where}: {len(takes)} onsets found, and the order has {len(wanted)} takes;"
            ' correct the order, or name those that are none with "--leave-out" and their numbers'
        )
    around = AROUND[gesture]
    for a, b in pairwise(takes):
        apart = (b.frame - a.frame) / a.heard.header.rate
        if a.heard is b.heard and apart < around.least_s:
            raise RecordingError(
                f"{a.heard.path}: onsets {a.number} and {b.number} at {a.at_s:.2f} s lie {apart:.2f} s apart,"
                f" so their takes would overlap; leave one out (--leave-out {b.number}), or both"
            )
    return tuple(
        _cut_at(onset, [o for o in onsets if o.heard is onset.heard], item, around=around)
        for onset, item in zip(takes, wanted, strict=True)
    )


def _cut_at(onset: Found, beside: Sequence[Found], item: Played, *, around: Around) -> Cut:
    """Keep away from the onsets on either side, but run through those that come too soon to be takes."""
    header = onset.heard.header
    least = int(around.least_s * header.rate)
    earlier = max((o.frame for o in beside if o.frame < onset.frame), default=None)
    later = min((o.frame for o in beside if o.frame >= onset.frame + least), default=None)
    start = onset.frame - int(around.before_s * header.rate)
    stop = onset.frame + int(around.longest_s * header.rate)
    if earlier is not None:
        start = max(start, _boundary(earlier, onset.frame, around=around, rate=header.rate))
    if later is not None:
        stop = min(stop, _boundary(onset.frame, later, around=around, rate=header.rate))
    return Cut(onset, max(0, start), min(header.frames, stop), item)


def _boundary(earlier: int, later: int, *, around: Around, rate: int) -> int:
    """Where the take of the onset `earlier` ends at the latest, and that of `later` begins at the earliest.

    The quiet before `later` is its own, but half of what lies between them at most; and `earlier` gets the
    least it needs.
    """
    before = min(int(around.before_s * rate), (later - earlier) // 2)
    least = min(earlier + int(around.least_s * rate), later - int(LEAST_BEFORE_S * rate))
    return max(later - before, least)
