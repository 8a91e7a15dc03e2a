"""The order of entries tells nothing between barriers: change, void, stage, clips put on anew, tag."""

from __future__ import annotations

import dataclasses
import random

import pytest
from judging_jobs import DEMO, LEADS, JobOnDisk, recorded

from capture.log.reading import LoggedEntry
from capture.takes.folder import JobFolder
from reports.evidence.cache import take_results
from reports.verdict.building import judge_results

CLOSE = 1e-9


def is_barrier(entry) -> bool:
    return entry.kind not in ("take", "meter", "pole", "ohms") or bool(getattr(entry, "anew", False))


def shuffled(entries, rng: random.Random):
    """The entries with those between two barriers, of one stage, in another order."""
    done, block = [], []
    for entry in entries:
        if is_barrier(entry) or (block and block[-1].stage != entry.stage):
            rng.shuffle(block)
            done, block = [*done, *block], []
        if is_barrier(entry):
            done.append(entry)
        else:
            block.append(entry)
    rng.shuffle(block)
    return [*done, *block]


def numbers(verdict):
    pairs = {(p.a, p.b): (p.p_in_phase, p.p_hum_cancels, p.p_in_phase_range) for p in verdict.pairs}
    settings = {s.name: (s.p_full, s.p_hum_cancels) for s in verdict.settings}
    return pairs, settings, [(p.standing, p.phase) for p in verdict.pairs]


def in_another_order(folder: JobFolder, results, rng: random.Random):
    entries = shuffled(folder.log.standing, rng)
    by_id = {r.entry.id: r for r in results}
    log = dataclasses.replace(folder.log, entries=tuple(LoggedEntry(e, k) for k, e in enumerate(entries)))
    moved = dataclasses.replace(folder, log=log)
    return judge_results(moved, [by_id[e.id] for e in entries if e.id in by_id]).verdict


def same(a, b):
    if isinstance(a, float):
        assert a == pytest.approx(b, abs=CLOSE)
    elif isinstance(a, dict):
        assert a.keys() == b.keys()
        for key in a:
            same(a[key], b[key])
    elif isinstance(a, tuple | list):
        assert len(a) == len(b)
        for one, other in zip(a, b, strict=True):
            same(one, other)
    else:
        assert a == b


def loose_in_blocks(home):
    """A loose neck through one clip-up: plucks in turn, paired, lifts, meter; leads both ways in the log."""
    job, sound = JobOnDisk(home, LEADS), recorded(in_phase=True)
    neck = {"pickup": "neck", "hot": "violet", "ground": "grey"}
    other = {"pickup": "neck", "hot": "grey", "ground": "violet"}
    for gesture in ("pluck", "lift"):
        for name, audio in sound.in_turn[gesture]:
            tool = {"tool": "rod"} if gesture == "lift" else {"string": "D3"}
            job.take(audio, [neck if name == "neck" else name], gesture=gesture, **tool)
    job.take(sound.split, ["bridge", "bridge"], string="D3")
    job.take(sound.paired[0], ["bridge", neck], string="D3")
    job.take(-sound.paired[1] * [-1, 1], ["bridge", other], string="G3", anew=True)
    job.take(sound.paired[0], ["bridge", neck], string="D3")
    for name in ("bridge", "neck", "bridge", "neck"):
        job.meter(name, tool="rod")
    return job.home


def loose_without_names(home):
    """Leads that job.toml does not name: the clips name them, and takes differ."""
    job, sound = (
        JobOnDisk(home, LEADS.replace('hot = "violet"\nground = "grey"\n', "")),
        recorded(in_phase=False),
    )
    neck = {"pickup": "neck", "hot": "violet", "ground": "grey"}
    other = {"pickup": "neck", "hot": "grey", "ground": "violet"}
    for k, (name, audio) in enumerate(sound.in_turn["lift"]):
        job.take(audio, [(other if k == 1 else neck) if name == "neck" else name], gesture="lift", tool="rod")
    job.take(sound.paired[0], ["bridge", neck], string="D3")
    return job.home


@pytest.mark.parametrize(
    "made", [loose_in_blocks, loose_without_names, None], ids=["blocks", "unnamed", "demo"]
)
def test_the_order_between_barriers_changes_no_number(made, tmp_path):
    folder = JobFolder.open(DEMO if made is None else made(tmp_path / "job"))
    results = take_results(folder)
    first = numbers(judge_results(folder, results).verdict)
    assert any(p is not None for p, *_ in first[0].values())
    for seed in range(4):
        same(numbers(in_another_order(folder, results, random.Random(seed))), first)


def test_entries_that_alternate_are_no_new_clip_ups(tmp_path):
    """Lifts in blocks and in turns: the same; one told to be anew moves the number."""

    def sure(name, order, *, anew=False):
        job, sound = JobOnDisk(tmp_path / name, LEADS), recorded(in_phase=True)
        neck = {"pickup": "neck", "hot": "violet", "ground": "grey"}
        lifts = {n: iter([a for m, a in sound.in_turn["lift"] if m == n]) for n in ("bridge", "neck")}
        for k, n in enumerate(order):
            said = {"anew": True} if anew and k == len(order) - 1 else {}
            job.take(next(lifts[n]), [neck if n == "neck" else n], gesture="lift", tool="rod", **said)
        verdict = judge_results(folder := JobFolder.open(job.home), take_results(folder)).verdict
        return verdict.pairs[0].p_in_phase

    blocks = sure("blocks", ["bridge"] * 2 + ["neck"] * 2)
    assert sure("turns", ["bridge", "neck"] * 2) == pytest.approx(blocks, abs=CLOSE)
    assert sure("anew", ["bridge"] * 2 + ["neck"] * 2, anew=True) > blocks + CLOSE
