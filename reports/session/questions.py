"""What a guided session may ask a person instead of a take, and the log entry that an answer becomes.

A question costs no recording: whether a tag is on the lead under the tip's clip, on which side of the strings
a loose pickup was held, to which clip the tip of a clip lead goes, whether a tool lifts a staple. Each lifts
a doubt that no take of the same kind can lift. It is asked once: an entry that answers it ends it. What an
answer promises is reckoned from the entry itself, through the same functions as any entry of the log; how
probable "at fault" is comes from the graph.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from capture.log import AnyEntry, Check, Stage, Tag, Take, clipped_input, new_entry
from reports.entry.spelling import check_entry
from reports.evidence.leads import LeadHistory
from reports.inference.evidence_graph import EvidenceGraph, LatentError
from reports.inference.sequential import THE_TOOL
from reports.model.session import BenchQuestion

HELD_S = 4.0
TAG_S = 20.0
STAPLE_S = 15.0
CLIP_LEAD_S = 45.0
"""What each takes a person; assumed, to rank questions and takes by. The ohmmeter has to be fetched."""
KEY_OF_INPUT = 2
"""Keys of a clip lead that goes by its input: rig and input."""


def open_questions(
    history: LeadHistory,
    graph: EvidenceGraph,
    entries: Sequence[AnyEntry],
    *,
    stage: Stage,
    clipped: str | None = None,
) -> Iterator[BenchQuestion]:
    """Every question that the evidence so far raises and no entry answers.

    ``clipped`` is the latest take of this session, whose clips are still on; None where it has none.
    """
    yield from questions_of(graph, [e for e in entries if isinstance(e, Check)])
    take = next((e for e in entries if e.id == clipped and isinstance(e, Take)), None)
    if take is not None and take.stage == stage == "found":
        for pickup in history.job.pickups:
            if pickup.fitted or clipped_input(take, pickup.name, history.job) is None:
                continue
            tag = history.tag_of(pickup.name)
            if tag is None or take.id not in tag.sealed:
                yield BenchQuestion("tag", TAG_S, pickup=pickup.name, take=take.id)


def questions_of(graph: EvidenceGraph, checks: Sequence[Check]) -> Iterator[BenchQuestion]:
    """The questions about errors that none of the checks answers."""
    for error in graph.errors:
        question = _about(error)
        if question is not None and not any(answers(check, question) for check in checks):
            yield question


def _about(error: LatentError) -> BenchQuestion | None:
    match error.kind:
        case "held over the strings":
            return BenchQuestion("held", HELD_S, error, pickup=error.key[0])
        case "clip lead" if len(error.key) == KEY_OF_INPUT:
            return BenchQuestion("clip lead", CLIP_LEAD_S, error, rig=error.key[0], input=int(error.key[1]))
        case "magnetised tool" if error.key[0] != THE_TOOL:
            return BenchQuestion("tool", STAPLE_S, error, tool=error.key[0])
        case _:
            return None


def answers(check: Check, question: BenchQuestion) -> bool:
    """Whether an entry answers a question."""
    if check.what != question.what:
        return False
    match question.what:
        case "held":
            return check.pickup == question.pickup
        case "clip lead":
            return check.rig in (None, question.rig) and check.input in (None, question.input)
        case _:
            return check.tool == question.tool


def answer_entry(question: BenchQuestion, *, fault: bool) -> Check | Tag:
    """The entry that an answer becomes; ``fault``: it is the other way round. A tag is on, or not asked.

    Raises
    ------
    ValueError
        A question about a tag was answered with a fault.

    """
    match question.what:
        case "work":
            raise ValueError("that the work is to be checked is no entry of its own")
        case "held":
            return check_entry("held", pickup=question.pickup, side="over" if fault else "under")
        case "clip lead":
            tip = "black" if fault else "red"
            return check_entry("clip lead", rig=question.rig, input=question.input, tip=tip)
        case "tool":
            staple = "lifted" if fault else "not lifted"
            return check_entry("tool", tool=question.tool, staple=staple)
        case "tag":
            if fault:
                raise ValueError("a tag that is not on is no entry")
            return new_entry(Tag, pickup=question.pickup, take=question.take)
