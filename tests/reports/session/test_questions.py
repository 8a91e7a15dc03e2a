"""Questions of a guided session: which doubt raises which, which entry an answer becomes, what ends it."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import pytest
from guided_parts import bench_of, closed_guitar, loose_neck

from capture.job import Job, Member, Pickup, Setting
from capture.log import Tag, Take
from reports.entry.spelling import check_entry
from reports.evidence.leads import lead_history
from reports.inference.evidence_graph import EvidenceGraph
from reports.inference.sequential import THE_TOOL
from reports.messages.session import connections, question_text
from reports.model.notes import OnInput, OnPickups, OnTool
from reports.model.session import BenchQuestion
from reports.session.choosing import choose
from reports.session.questions import answer_entry, open_questions
from reports.session.rounds import rounds, to_move, ways_of_selector, without_enough

HELD = BenchQuestion("held", 1.0, pickup="neck")
LEAD = BenchQuestion("clip lead", 1.0, rig="box", input=2)
STAPLE = BenchQuestion("tool", 1.0, tool="driver")
TAG = BenchQuestion("tag", 1.0, pickup="neck", take="t001")
PAIRED = Take(id="t001", file="takes/t001.wav", gesture="pluck", inputs=("bridge", "neck"), string="D3")


@pytest.fixture
def job(tmp_path):
    return loose_neck(tmp_path, bench_of(0)).job


@pytest.fixture
def asked(job):
    """What is asked after some entries, where all these doubts are open."""

    def questions(*entries, clipped=None):
        history = lead_history(job, entries)
        graph = EvidenceGraph(history)
        graph.latent_error("held over the strings", "neck", on=OnPickups(("neck",)))
        graph.latent_error("clip lead", "box", "2", on=OnInput(2, "box"))
        graph.latent_error("clip lead", "box", "of", "neck", on=OnPickups(("neck",)))
        graph.latent_error("magnetised tool", "driver", on=OnTool("driver"))
        graph.latent_error("magnetised tool", THE_TOOL, on=OnTool(THE_TOOL))
        found = open_questions(history, graph, entries, stage="found", clipped=clipped)
        return [q.what for q in found]

    return questions


def test_each_doubt_is_asked_until_an_entry_answers_it(asked):
    assert asked() == ["held", "clip lead", "tool"]
    assert asked(check_entry("held", pickup="neck", side="over")) == ["clip lead", "tool"]
    assert asked(check_entry("clip-lead", tip="red")) == ["held", "tool"]
    assert asked(check_entry("clip-lead", tip="red", input=1)) == ["held", "clip lead", "tool"]
    assert asked(check_entry("tool", tool="driver", staple="lifted")) == ["held", "clip lead"]


def test_a_tag_is_asked_for_while_the_clips_are_on(asked):
    assert "tag" not in asked(PAIRED)
    assert asked(PAIRED, clipped="t001")[-1] == "tag"
    tag = Tag(id="g001", pickup="neck", take="t001")
    assert "tag" not in asked(PAIRED, tag, clipped="t001")
    assert "tag" not in asked(PAIRED.model_copy(update={"inputs": ("bridge",)}), clipped="t001")


@pytest.mark.parametrize(
    ("question", "fault", "key", "value"),
    [
        (HELD, False, "side", "under"),
        (HELD, True, "side", "over"),
        (LEAD, False, "tip", "red"),
        (LEAD, True, "tip", "black"),
        (STAPLE, False, "staple", "not lifted"),
        (STAPLE, True, "staple", "lifted"),
        (TAG, False, "take", "t001"),
    ],
)
def test_an_answer_is_an_entry(question, fault, key, value):
    assert getattr(answer_entry(question, fault=fault), key) == value
    assert "None" not in question_text(question)


def test_yes_says_what_the_question_asks():
    """Only of a staple that is lifted, yes is bad news."""
    assert [q.yes_is_fault for q in (HELD, LEAD, STAPLE, TAG)] == [False, False, True, False]
    with pytest.raises(ValueError, match="not on"):
        answer_entry(TAG, fault=True)


def test_a_split_check_of_a_loose_pickup_is_by_the_clips_of_both_inputs(job):
    splits = {r.first.pickups[0]: r.first for r in rounds(job, inputs=2) if r.first.kind == "split"}
    assert splits["neck"].by_clips
    assert not splits["bridge"].by_clips
    assert "the clips of both inputs" in connections(splits["neck"])[0]
    assert "Y-lead or a splitter" in connections(splits["bridge"])[0]


def test_after_it_the_clips_of_two_loose_pickups_go_on_anew(job):
    """One of them lost its clips to the other; where the other is at the jack, nothing was moved."""
    split = ((0, "neck"), (1, "neck"))
    loose = job.model_copy(
        update={"pickups": tuple(p.model_copy(update={"fitted": False}) for p in job.pickups)}
    )
    for bench, anew in ((job, False), (loose, True)):
        paired = [r.first for r in rounds(bench, inputs=2, plugged=split) if r.first.kind == "paired"]
        assert all(step.anew for step in paired) == anew


def test_a_selector_of_eight_pickups_is_gone_through_in_parts_that_a_string_lives_through():
    names = [f"p{k}" for k in range(8)]
    settings = [Setting(name=f"{a}+{b}", on=(Member(pickup=a), Member(pickup=b))) for a, b in pairwise(names)]
    job = Job(pickups=tuple(Pickup(name=n) for n in names), settings=tuple(settings))
    ways = ways_of_selector(job, after=False)
    assert max(map(len, ways)) == 5
    assert {frozenset(pair) for way in ways for pair in pairwise(way)} == {
        frozenset((s.name, m.pickup)) for s in settings for m in s.on
    }


def test_a_pickup_with_enough_lifts_is_not_lifted_from_again(tmp_path):
    job = closed_guitar(tmp_path, bench_of(0)).job
    lifts = next(r for r in rounds(job, inputs=1) if r.first.kind == "lift")
    taken = [
        SimpleNamespace(entry=step.entry(id=f"t{k}", file="takes/t.wav"), has_measurements=True, faults=())
        for k, step in enumerate(lifts.steps * 2)
    ]
    from_first = [t for t in taken if t.entry.inputs == lifts.first.inputs]
    left = without_enough(lifts, from_first, stage="found")
    assert {s.inputs for s in left.steps} == {s.inputs for s in lifts.steps} - {lifts.first.inputs}
    assert without_enough(lifts, taken, stage="found") is None
    assert without_enough(lifts, [], stage="found") is lifts


def test_the_hum_beside_a_string_counts_where_a_setting_is_to_be_quiet(tmp_path):
    bench = next(b for b in map(bench_of, range(40)) if all(len(p.coils) == 1 for p in b.pickups))
    gains = []
    for quiet in (False, True):
        folder = closed_guitar(tmp_path / str(quiet), bench, quiet=quiet)
        offered = rounds(folder.job, inputs=1, gestures=("switch",))
        (sweep, *_) = (one for one in offered if one.first.pickups == ("middle", "neck"))
        gains.append(choose(folder, (), [sweep], stage="found", rig="box").gain)
    assert gains[1] > gains[0] + 0.05


def test_a_guitar_is_plugged_in_before_the_first_lift(tmp_path):
    """A plug that goes in bangs as abruptly as a tool that is pulled away."""
    job = closed_guitar(tmp_path, bench_of(0)).job
    every = [r.first for r in rounds(job, inputs=1)]
    first = {
        s.gesture: to_move(job, s, plugged=(), after=False) for s in every if s.gesture in ("lift", "switch")
    }
    assert first == {"lift": "plug in", "switch": None}
