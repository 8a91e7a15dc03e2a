"""Whether new takes count, told at once: what was heard in them, equal answers said once with their takes.

In: the job's folder and the ids of takes that it has just got; out: sentences, accepted takes first. A take
is heard here as it is for the verdict, and is kept in the same cache, so a verdict asked for next does not
hear it again. What only shows against other takes (an input that comes later, a selector that was not moved)
is left to the verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from pathlib import Path

from capture.takes.folder import JobFolder
from reports.evidence.cache import processors, take_results
from reports.evidence.results import TakeResult
from reports.messages import entering as words
from reports.messages.sentences import say_each
from reports.messages.wording import id_list, plain
from reports.render.tables import entry_label


def judged_at_once(folder: Path, ids: Collection[str]) -> tuple[str, ...]:
    """Hear the takes of these ids, and return what is to be said of them; slow."""
    heard = take_results(JobFolder.open(folder), workers=processors())
    return said_of_takes([result for result in heard if result.entry.id in set(ids)])


def said_of_takes(results: Sequence[TakeResult]) -> tuple[str, ...]:
    """What is to be said of takes; each thing once, with the takes that it concerns."""
    said = [
        *_grouped([r for r in results if not r.faults and not r.remarks], words.ACCEPTED, lambda _: ()),
        *_grouped(
            [r for r in results if not r.faults and r.remarks],
            words.WITH_REMARK,
            lambda r: say_each(r.remarks),
        ),
        *_grouped(
            [r for r in results if r.faults],
            words.NOT_ACCEPTED,
            lambda r: say_each(r.faults + r.remarks),
        ),
    ]
    refused = sum(bool(r.faults) for r in results)
    if len(results) > 1:
        said.append(words.COUNT.format(count=len(results) - refused, refused=refused))
    return tuple(said)


def _grouped(
    results: Sequence[TakeResult], form: str, why: Callable[[TakeResult], tuple[str, ...]]
) -> list[str]:
    groups: dict[tuple[str, ...], list[TakeResult]] = {}
    for result in results:
        groups.setdefault(why(result), []).append(result)
    return [
        form.format(id=id_list([r.entry.id for r in alike]), what=_what(alike), why=" ".join(reasons))
        for reasons, alike in groups.items()
    ]


def _what(alike: Sequence[TakeResult]) -> str:
    """What the takes are of: one label, or how many different ones there are."""
    labels = list(dict.fromkeys(plain(entry_label(r.entry)) for r in alike))
    return labels[0] if len(labels) == 1 else words.SEVERAL.format(count=len(alike))
