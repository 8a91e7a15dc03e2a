"""What lay between a pickup and its file: the rig of every take, and which clip lead it came through.

Task: from the takes of a job, with how their files are written, and what a person checked, to the names under
which takes are compared. Takes are compared by sign on one channel, and share the chance that an input
inverts, on one rig only. A rig is what a take names (or "the rig in use"), and files of another rate, depth
or family under that name are another rig: another recorder, or another program, may turn everything over. A
person may say that takes came through one recorder all the same (``same path``); that is a statement, and a
latent error goes with it. Nothing here knows the order of the entries.

Clip leads: an input's leads are one thing, unless a pickup hung on clips at several inputs: then its lead
was probably moved with it, and goes by the pickup. A split check through the clips of those inputs proves
both leads, so then it does not matter which was where; and whoever checked the lead of an input with an
ohmmeter says that leads go by inputs.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from capture.log import AnyEntry, Check, Take
from reports.evidence.boxes import standing_boxes
from reports.evidence.results import NO_RIG, ChannelSource, TakeResult
from reports.model.rig_notes import OtherRecorderNote, RememberedBoxNote
from reports.model.take_notes import InputCode, InputNote, MakeUp

LATE: tuple[InputCode, ...] = ("one input late", "late after the split check")
"""Faults of plucks that name the pickup that came late."""


@dataclass(frozen=True)
class ClipLead:
    """One clip lead: of an input of a rig, or, where ``pickup`` is given, the one that went with it."""

    rig: str
    input: int
    pickup: str | None = None


@dataclass(frozen=True)
class BenchPaths:
    """The paths of a job's takes; an empty one is of a job where nothing differs.

    ``rigs``: the rig of a take that does not go by what it names; ``named``: what it names then.
    ``said_one``: takes that a person says came through the recorder of the others, with what tells these
    recorders apart. ``heard``: the rigs that each pickup was heard on. ``moved``: rig and pickup that hung on
    clips at the inputs given. ``notes``: what a person has to know. ``late``: rig and pickup that came later
    than others (reports.evidence.input_paths). ``boxes``: the doubt of each remembered box that counts, by
    the id of its entry.
    """

    rigs: Mapping[str, str] = field(default_factory=dict)
    named: Mapping[str, str] = field(default_factory=dict)
    said_one: Mapping[str, str] = field(default_factory=dict)
    heard: Mapping[str, frozenset[str]] = field(default_factory=dict)
    moved: Mapping[tuple[str, str], frozenset[int]] = field(default_factory=dict)
    notes: tuple[OtherRecorderNote | RememberedBoxNote, ...] = ()
    late: frozenset[tuple[str, str]] = frozenset()
    boxes: Mapping[str, float] = field(default_factory=dict)

    def on_their_rigs(self, takes: Iterable[TakeResult]) -> list[TakeResult]:
        """The takes with the rigs that they count as recorded on."""
        return [
            replace(t, entry=t.entry.model_copy(update={"rig": self.rigs[t.entry.id]}))
            if t.entry.id in self.rigs
            else t
            for t in takes
        ]

    def apart(self, a: str, b: str) -> bool:
        """Whether two pickups were both heard, and never on one rig."""
        rigs = [self.heard.get(name, frozenset()) for name in (a, b)]
        return all(rigs) and not rigs[0] & rigs[1]

    def clip_lead(self, entry: Take, source: ChannelSource) -> ClipLead | None:
        """The clip lead that a channel came through; None where there were no clips."""
        if not source.through_clips:
            return None
        rig = self.named.get(entry.id, entry.rig or NO_RIG)
        if (rig, source.pickup) in self.moved and not entry.is_split_check:
            return ClipLead(rig, source.column + 1, source.pickup)
        return ClipLead(rig, source.column + 1)


def bench_paths(takes: Sequence[TakeResult], entries: Iterable[AnyEntry]) -> BenchPaths:
    """Find the paths of some takes; ``entries`` are those of the log that stand, checks among them."""
    entries = list(entries)
    made: dict[str, Counter[MakeUp]] = defaultdict(Counter)
    for take in takes:
        if take.made is not None:
            made[_named(take)][take.made] += 1
    usual = {rig: max(kinds, key=lambda m: (kinds[m], str(m))) for rig, kinds in made.items()}
    recorder: dict[str, Recorder] = {t.entry.id: (_named(t), t.made or usual.get(_named(t))) for t in takes}
    one = _said_to_be_one(recorder, entries)
    rigs, said_one = {}, {}
    heard: dict[str, set[str]] = defaultdict(set)
    late: set[tuple[str, str]] = set()
    for take in takes:
        at = recorder[take.entry.id]
        name = _name(*one.get(at, at), made=made)
        if name != _named(take):
            rigs[take.entry.id] = name
        late |= {(name, f.pickup) for f in take.faults if isinstance(f, InputNote) and f.code in LATE}
        for source in take.sources if take.has_measurements and not take.faults else ():
            heard[source.pickup].add(name)
        if at in one and one[at] != at:
            said_one[take.entry.id] = _name(*at, made=made)
    boxes, remembered = standing_boxes(takes, entries)
    return BenchPaths(
        rigs,
        {t.entry.id: _named(t) for t in takes if t.entry.id in rigs},
        said_one,
        {name: frozenset(on) for name, on in heard.items()},
        _moved(takes, entries),
        (*_notes(takes, usual, one), *remembered),
        frozenset(late),
        boxes,
    )


Recorder = tuple[str, MakeUp | None]
"""A named rig, and how the files are written."""


def _named(take: TakeResult) -> str:
    return take.entry.rig or NO_RIG


def _name(rig: str, make_up: MakeUp | None, *, made: Mapping[str, Counter[MakeUp]]) -> str:
    """A rig's name, with how its files are written where that differs under the name."""
    return f"{rig} ({make_up})" if len(made[rig]) > 1 else rig


def _said_to_be_one(
    recorder: Mapping[str, Recorder], entries: Iterable[AnyEntry]
) -> dict[Recorder, Recorder]:
    """Each recorder that a person says is one with others, with the one that stands for all of them."""
    groups: list[set[Recorder]] = []
    for entry in entries:
        if isinstance(entry, Check) and entry.what == "same path":
            joined = {recorder[take] for take in entry.takes or () if take in recorder}
            apart = [g for g in groups if not g & joined]
            groups = [*apart, joined.union(*(g for g in groups if g & joined))]
    count = Counter(recorder.values())
    return {one: max(group, key=lambda r: (count[r], str(r))) for group in groups for one in group}


def _moved(takes: Sequence[TakeResult], entries: Iterable[AnyEntry]) -> dict[tuple[str, str], frozenset[int]]:
    """Rig and pickup that hung on clips at several inputs, and at which."""
    checks = [e for e in entries if isinstance(e, Check) and e.what == "clip lead"]
    metered = {e.rig for e in checks if e.input is not None}
    inputs: dict[tuple[str, str], set[int]] = defaultdict(set)
    checked: dict[str, set[int]] = defaultdict(set)
    for take in (t for t in takes if not t.faults):
        clipped = [s for s in take.sources if s.through_clips]
        if take.entry.is_split_check:
            if take.paired and len(clipped) > 1:
                checked[_named(take)].update(s.column + 1 for s in clipped)
            continue
        for source in clipped:
            inputs[_named(take), source.pickup].add(source.column + 1)
    return {
        (rig, pickup): frozenset(at)
        for (rig, pickup), at in inputs.items()
        if len(at) > 1 and not metered & {None, rig} and not at <= checked.get(rig, set())
    }


def _notes(
    takes: Sequence[TakeResult], usual: Mapping[str, MakeUp], one: Mapping[Recorder, Recorder]
) -> tuple[OtherRecorderNote, ...]:
    """One note for each rig and way of writing that is not what is usual there, nor said to be the same."""
    mine: dict[tuple[str, MakeUp], list[str]] = defaultdict(list)
    for take in takes:
        if take.made is not None:
            mine[_named(take), take.made].append(take.entry.id)
    notes = []
    for (rig, make_up), ids in mine.items():
        at, first = (rig, make_up), (rig, usual[rig])
        if at != first and (at not in one or one[at] != one.get(first)):
            notes.append(OtherRecorderNote(tuple(ids), make_up, tuple(mine[first]), usual[rig]))
    return tuple(notes)
