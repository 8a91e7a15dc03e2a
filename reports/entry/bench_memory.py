"""What this machine remembers of its bench beside the box: the mains, and the input that was chosen last.

One small JSON file in the user's data folder. A new job begins with the mains that a person said for the last
one, in its job.toml, where it can be seen and changed; a recording for which no input is named takes the one
that was named last, while it is there. Hz. Where the file cannot be used, nothing is remembered and no job
suffers.
"""

from __future__ import annotations

from collections.abc import Callable
from json import JSONDecodeError, dumps, loads
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from capture.audio.devices import DeviceError, InputDevice
from capture.disk.kept import KeptFile
from dsp import CoilwiseError
from reports.messages import boxes as words

FORMAT = 1


class BenchMemoryError(CoilwiseError):
    """What is remembered of the bench cannot be read or written; one line that says what to do."""


class BenchFacts(BaseModel):
    """What is remembered; None: nothing of it."""

    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid")

    format: Annotated[int, Field(ge=FORMAT, le=FORMAT)] = FORMAT
    mains_hz: Literal[50, 60] | None = None
    source: Annotated[str, Field(min_length=1, max_length=200)] | None = None


class BenchMemory(KeptFile):
    """The file; it lies beside that of the boxes."""

    file = "bench.json"
    variable = "COILWISE_BOX"
    error = BenchMemoryError
    unreadable = words.BOX_UNREADABLE
    broken = words.BOX_BROKEN

    def read(self) -> BenchFacts:
        """What is remembered.

        Raises
        ------
        BenchMemoryError
            The file cannot be read, or is none of ours.

        """
        text = self.text()
        try:
            return BenchFacts() if text is None else BenchFacts.model_validate(loads(text))
        except (JSONDecodeError, ValidationError, RecursionError):
            raise self.is_broken() from None


def remembered_bench() -> BenchFacts:
    """What is remembered; nothing where the memory cannot be used."""
    try:
        return BenchMemory.default().read()
    except BenchMemoryError:
        return BenchFacts()


def remember_bench(*, mains_hz: int | None = None, source: str | None = None) -> None:
    """Remember what is given; where the memory cannot be used, the job does not suffer."""
    memory, said = BenchMemory.default(), {"mains_hz": mains_hz, "source": source}
    try:
        before = memory.read()
        now = BenchFacts.model_validate({**before.model_dump(), **{k: v for k, v in said.items() if v}})
        if now != before:
            memory.put(dumps(now.model_dump(), indent=1) + "\n")
    except (BenchMemoryError, ValidationError):
        return


def usual_input(choose: Callable[[str | None], InputDevice], word: str | None = None) -> InputDevice:
    """Return the input that a word means; without one, that which was named last, where it is there.

    ``choose`` finds the input of a word, as `capture.audio.streams.choose_input` does.

    Raises
    ------
    DeviceError
        None fits, or several do.

    """
    source = remembered_bench().source if word is None else None
    if source is not None:
        try:
            return choose(source)
        except DeviceError:
            pass
    device = choose(word)
    if word is not None:
        remember_bench(source=device.name)
    return device


def bench_lines(facts: BenchFacts) -> tuple[str, ...]:
    """What is remembered, a line each."""
    mains = [words.MAINS_LINE.format(hz=facts.mains_hz)] if facts.mains_hz else []
    return (*mains, *([words.INPUT_LINE.format(source=facts.source)] if facts.source else []))
