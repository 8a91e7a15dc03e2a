"""From a note to the one sentence a person reads of it.

`say` knows every kind of note; a kind without a sentence does not pass the type check.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import assert_never, cast

from reports.messages.advice import advice_sentence
from reports.messages.blends import blend_sentence
from reports.messages.boxes import remembered_box
from reports.messages.builds import build_sentence
from reports.messages.commands import FOLDER, with_job
from reports.messages.faults import (
    entry_fault,
    file_fault,
    health_problem,
    health_remedy,
    input_note,
    long_take,
    no_string,
    not_as_listed,
    not_compared,
    outvoted,
    place_sentence,
    short_stretch,
    sound_fault,
    warning_sentence,
)
from reports.messages.leads import lead_sentence
from reports.messages.shelf import brought_relation
from reports.messages.work import work_sentence
from reports.model.build_notes import AnyBuildNote, BlendNote, BlendRemedy
from reports.model.lead_notes import AnyLeadNote, PlanReason
from reports.model.notes import AdviceNote, HealthProblem, HealthRemedy, Note, PlaceProblem, PlaceRemedy
from reports.model.rig_notes import OtherRecorderNote, RememberedBoxNote, ShelfNote
from reports.model.take_notes import (
    AnyTakeNote,
    FileNote,
    IdleTagNote,
    InputNote,
    LongTakeNote,
    MeterLeadsNote,
    NoStringNote,
    NotAsListedNote,
    NotComparedNote,
    OutvotedNote,
    ShortStretchNote,
    SoundNote,
    TakeNote,
)
from reports.model.work_notes import AnyWorkNote

AnyNote = (
    HealthProblem
    | HealthRemedy
    | BlendNote
    | BlendRemedy
    | PlaceProblem
    | PlaceRemedy
    | AnyTakeNote
    | MeterLeadsNote
    | OtherRecorderNote
    | RememberedBoxNote
    | ShelfNote
    | IdleTagNote
    | AnyLeadNote
    | AnyBuildNote
    | AdviceNote
    | AnyWorkNote
)


def say_each(notes: Iterable[AnyNote]) -> tuple[str, ...]:
    """The sentences for notes, each once; what is so on several inputs alike is one for all of them."""
    listed = list(notes)
    of_any = [sound_fault(n, each=True) if isinstance(n, SoundNote) else "" for n in listed]
    return tuple(
        dict.fromkeys(
            alike if alike and of_any.count(alike) > 1 else say(note)
            for note, alike in zip(listed, of_any, strict=True)
        )
    )


_JOB: ContextVar[str] = ContextVar("job", default=FOLDER)


@contextmanager
def commands_naming(job: str) -> Iterator[None]:
    """Within it, commands in sentences name this job, as it is typed behind a command."""
    before = _JOB.set(job)
    try:
        yield
    finally:
        _JOB.reset(before)


def say(note: AnyNote) -> str:
    """The sentence for a note; its commands name the job, or FOLDER outside of `commands_naming`."""
    return with_job(_sentence(note), _JOB.get())


def _sentence(note: AnyNote) -> str:
    if isinstance(note, AnyLeadNote):
        return lead_sentence(note, request=text_of(note.request) if isinstance(note, PlanReason) else "")
    if isinstance(note, AnyBuildNote):
        return build_sentence(note)
    if isinstance(note, AnyWorkNote):
        return work_sentence(note)
    if isinstance(note, AdviceNote):
        return advice_sentence(note)
    if isinstance(note, RememberedBoxNote):
        return remembered_box(note)
    if isinstance(note, ShelfNote):
        return brought_relation(note)
    if isinstance(note, MeterLeadsNote | OtherRecorderNote | IdleTagNote):
        return warning_sentence(note)
    match note:
        case HealthProblem():
            return health_problem(note)
        case HealthRemedy():
            return health_remedy(note)
        case BlendNote() | BlendRemedy():
            return blend_sentence(note)
        case PlaceProblem() | PlaceRemedy():
            return place_sentence(note)
        case SoundNote():
            return sound_fault(note)
        case FileNote():
            return file_fault(note)
        case TakeNote():
            return entry_fault(note)
        case NoStringNote():
            return no_string(note)
        case NotComparedNote():
            return not_compared(note)
        case OutvotedNote():
            return outvoted(note)
        case ShortStretchNote():
            return short_stretch(note)
        case LongTakeNote():
            return long_take(note)
        case NotAsListedNote():
            return not_as_listed(note)
        case InputNote():
            return input_note(note)
        case _:
            assert_never(note)


def text_of(value: Note | str | None) -> str:
    """The text for what may be a note, text already, or nothing."""
    return say(cast(AnyNote, value)) if isinstance(value, Note) else value or ""
