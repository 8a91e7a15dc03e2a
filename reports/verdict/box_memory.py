"""The boxes of this machine: what split checks of earlier jobs found of their two inputs, and when.

One small JSON file in the user's data folder holds, of each box at each rate, whether its inputs are in step
or opposed, and the day of the split check; no title and no name of a job. `learn_boxes` adds what a job's own
split checks say; `begin_with_box` writes what is remembered into the log of a job that has no split check
yet, as a check that can be taken back like any other: the verdict stays a function of the job's folder. It is
about the inputs alone: opposed is learned from a split check without clips only, since a clip lead that is
the other way round looks the same; and nothing is learned of inputs that are not at the same time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from json import JSONDecodeError, dumps, loads
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from capture.disk.kept import KeptFile
from capture.job import read_job
from capture.log import Check, Take, append_entry, new_entry, read_log, utc_now
from dsp import CoilwiseError
from dsp.model.calibration import split_ratio
from reports.evidence.boxes import box_doubt, counts_as_split
from reports.evidence.input_paths import WORTH_SAYING_S
from reports.evidence.results import TakeResult
from reports.messages.boxes import BOX_BROKEN, BOX_UNREADABLE

FORMAT = 1
MOST_BOXES = 12
SURE_NATS = 3.0
"""So much the split checks of a job have to say together before a box is remembered by them."""


class BoxMemoryError(CoilwiseError):
    """What is remembered of boxes cannot be read or written; one line that says what to do."""


class RememberedBox(BaseModel):
    """A box by its rig's name and rate in Hz; whether its inputs are opposed; the day it was seen."""

    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid", strict=True)

    rig: Annotated[str, Field(min_length=1)]
    rate: Annotated[int, Field(gt=0)]
    opposed: bool
    seen: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]

    def counts(self, today: date) -> bool:
        """Whether it is young enough to begin a job with."""
        return box_doubt((today - date.fromisoformat(self.seen)).days) is not None


class _File(BaseModel):
    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid")

    format: Annotated[int, Field(ge=FORMAT, le=FORMAT)]
    boxes: tuple[RememberedBox, ...]


class BoxMemory(KeptFile):
    """The file of the boxes."""

    file = "boxes.json"
    variable = "COILWISE_BOX"
    error = BoxMemoryError
    unreadable = BOX_UNREADABLE
    broken = BOX_BROKEN

    def read(self) -> tuple[RememberedBox, ...]:
        """What is remembered, the latest last.

        Raises
        ------
        BoxMemoryError
            The file cannot be read, or is none of ours.

        """
        text = self.text()
        try:
            return () if text is None else _File.model_validate(loads(text), strict=False).boxes
        except (JSONDecodeError, ValidationError, RecursionError):
            raise self.is_broken() from None

    def remember(self, boxes: Iterable[RememberedBox]) -> None:
        """Put these in the place of what was known of the same boxes at the same rates.

        Raises
        ------
        BoxMemoryError
            The file cannot be read or written.

        """
        new = {(b.rig, b.rate): b for b in boxes}
        before = self.read()
        if all(b in before for b in new.values()):
            return
        kept = [b for b in before if (b.rig, b.rate) not in new]
        file = _File(format=FORMAT, boxes=tuple([*kept, *new.values()][-MOST_BOXES:]))
        self.put(dumps(file.model_dump(), indent=1) + "\n")


def boxes_in(folder: Path, results: Iterable[TakeResult]) -> tuple[RememberedBox, ...]:
    """Return what the split checks of a job that stand say of its boxes."""
    standing = {e.id for e in read_log(folder, read_job(folder)).standing if isinstance(e, Take)}
    checks: dict[tuple[str, int], list[TakeResult]] = defaultdict(list)
    for take in results:
        if take.entry.id in standing and counts_as_split(take) and take.entry.rig and take.made:
            checks[take.entry.rig, take.made.rate].append(take)
    found = []
    for (rig, rate), takes in checks.items():
        plucks = [pluck for take in takes for pluck in take.paired]
        nats = sum(split_ratio(pluck.statistic) for pluck in plucks)
        days = [take.entry.at[:10] for take in takes if take.entry.at]
        late = any(p.path is None or not p.path.plain or abs(p.path.lag_s) > WORTH_SAYING_S for p in plucks)
        clipped = any(source.through_clips for take in takes for source in take.sources)
        if abs(nats) >= SURE_NATS and days and not late and (nats > 0 or not clipped):
            found.append(RememberedBox(rig=rig, rate=rate, opposed=nats < 0, seen=max(days)))
    return tuple(found)


def learn_boxes(folder: Path, results: Iterable[TakeResult], *, memory: BoxMemory | None = None) -> None:
    """Remember what a job found of its boxes; where the memory cannot be used, the job does not suffer."""
    try:
        (memory or BoxMemory.default()).remember(boxes_in(folder, results))
    except BoxMemoryError:
        return


def begin_with_box(
    folder: Path, *, rig: str | None, rate: int, channels: int, memory: BoxMemory | None = None
) -> Check | None:
    """Write into a job's log what is remembered of its box, and return the entry; None where nothing is.

    Not where the job has a split check of this rig, or was told of the box before, taken back or not.
    """
    try:
        known = (memory or BoxMemory.default()).read()
    except BoxMemoryError:
        return None
    box = next((b for b in known if (b.rig, b.rate) == (rig, rate)), None)
    if box is None or channels < 2 or not box.counts(date.fromisoformat(utc_now()[:10])):
        return None
    for logged in read_log(folder, read_job(folder)).entries:
        entry = logged.entry
        told = isinstance(entry, Check) and entry.what == "box" and entry.rig == rig
        if told or (isinstance(entry, Take) and entry.is_split_check and entry.rig == rig):
            return None
    check = new_entry(Check, what="box", rig=rig, opposed=box.opposed, seen=box.seen, rate=rate, at=utc_now())
    return append_entry(folder, check)
