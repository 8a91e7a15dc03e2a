"""What the ratio of the channels tells of errors behind all paired plucks, on results made by hand."""

from dataclasses import replace

import numpy as np
import pytest

from capture.job import Job, Pickup
from capture.log import Take
from dsp.methods.channel_ratio import ChannelRatio, PartialRatios
from dsp.methods.paired import PartialPairs
from dsp.model.settings import Place
from reports.evidence.leads import lead_history
from reports.evidence.results import ChannelSource, PairedPluck, TakeResult
from reports.inference.posterior import gather_evidence
from reports.verdict.advice import next_for

JOB = Job(title="two", pickups=(Pickup(name="bridge", centre_mm=44.0), Pickup(name="neck", centre_mm=168.0)))
NOTHING = (np.zeros(1), np.zeros(1))
SILENT = PartialPairs(*(np.zeros(0) for _ in range(5)))
STEADY = ChannelRatio(-10.0, 1.0, -22.0, -8.0)
WANDERS = ChannelRatio(-10.0, -12.0, -6.0, 18.0)
ONE_PICKUP = ChannelRatio(12.0, 0.0, -60.0, -20.0)
GAIN = ChannelRatio(20.0, 0.0, -60.0, -20.0)


def take(number, ratio, *, statistic=0.9, inputs=("bridge", "neck"), string="D3", gesture="pluck"):
    name = f"t{number:03}"
    entry = Take(
        kind="take", id=name, file=f"takes/{name}.wav", gesture=gesture, inputs=inputs, string=string
    )
    sources = tuple(ChannelSource(name, None, False, k, False) for k, name in enumerate(inputs))
    return TakeResult(
        entry, sources, paired=(PairedPluck((0, 1), statistic, 147.0, NOTHING, SILENT, ratio=ratio),)
    )


def job_of(ratios, *, statistic=0.9, gesture="pluck"):
    """A split check, and one take a ratio, each on another string."""
    results = [take(1, GAIN, statistic=1.0, inputs=("bridge", "bridge"))]
    results += [
        take(k + 2, ratio, statistic=statistic, string=string, gesture=gesture)
        for k, (ratio, string) in enumerate(zip(ratios, ("E2", "A2", "D3", "G3", "B3"), strict=False))
    ]
    entries = [r.entry for r in results]
    return gather_evidence(JOB, lead_history(JOB, entries), entries, results).posterior


def errors(posterior):
    return {(e.kind, e.key): p for e, p in posterior.likely_errors()}


def assessed(posterior):
    return posterior.assess(lambda one: one.in_phase("bridge", "neck"))


@pytest.mark.parametrize("statistic", [0.9, -0.9])
def test_two_steady_pickups_settle(statistic):
    posterior = job_of([STEADY] * 4, statistic=statistic)
    p = posterior.in_phase("bridge", "neck")
    assert (p if statistic > 0 else 1 - p) > 0.995
    assert assessed(posterior).standing == "settled"
    found = errors(posterior)
    assert found["one pickup twice", ("bridge", "neck")] < 1e-4
    assert found["strings beside poles", ("neck",)] < 1e-3


@pytest.mark.parametrize("statistic", [0.9, -0.9])
def test_strings_that_wander_do_not_settle_whichever_way(statistic):
    posterior = job_of([WANDERS] * 5, statistic=statistic)
    p = posterior.in_phase("bridge", "neck")
    assert 0.5 < (p if statistic > 0 else 1 - p) < 0.9
    because, step = next_for(posterior, "bridge", "neck", found=assessed(posterior), conflicts=())
    assert because.error.kind == step.error.kind == "strings beside poles"


def test_one_steady_pluck_lifts_the_doubt_of_the_others():
    p = job_of([WANDERS, replace(WANDERS, wander_db=-20.0, uneven_db=-12.0)]).in_phase("bridge", "neck")
    assert p > job_of([WANDERS, WANDERS]).in_phase("bridge", "neck")


def test_presses_are_less_exposed_than_plucks():
    pressed = job_of([WANDERS] * 3, gesture="press").in_phase("bridge", "neck")
    plucked = job_of([WANDERS] * 3).in_phase("bridge", "neck")
    assert pressed > plucked


def test_one_pickup_on_both_inputs_is_named_and_says_nothing_of_the_other():
    posterior = job_of([ONE_PICKUP] * 5)
    p = posterior.in_phase("bridge", "neck")
    assert 0.4 < p < 0.7
    because, step = next_for(posterior, "bridge", "neck", found=assessed(posterior), conflicts=())
    assert because.error.kind == step.error.kind == "one pickup twice"


def test_takes_of_one_pickup_among_sound_ones_are_doubted_by_themselves():
    """A cable was moved: two takes of one pickup do not turn over three that oppose each other."""
    results = [take(1, GAIN, statistic=1.0, inputs=("bridge", "bridge"))]
    results += [take(k, STEADY, statistic=-0.9, string=s) for k, s in ((2, "E2"), (3, "A2"), (4, "D3"))]
    results += [take(k, ONE_PICKUP, statistic=0.9, string=s) for k, s in ((5, "G3"), (6, "B3"))]
    entries = [r.entry for r in results]
    posterior = gather_evidence(JOB, lead_history(JOB, entries), entries, results).posterior
    assert posterior.in_phase("bridge", "neck") < 0.02
    found = errors(posterior)
    assert found["one pickup twice", ("bridge", "neck", "some takes")] > 0.5
    assert found["one pickup twice", ("bridge", "neck")] < 1e-3


def test_many_takes_do_not_add_up_without_limit():
    few, many = (errors(job_of([ONE_PICKUP] * n))["one pickup twice", ("bridge", "neck")] for n in (2, 5))
    assert few == pytest.approx(many, abs=0.05)
    assert many < 0.95


def test_a_level_far_below_the_split_check_speaks_for_bleed():
    weak = replace(ONE_PICKUP, alike=0.5, level_db=-41.0)
    level = replace(ONE_PICKUP, alike=0.5, level_db=-3.0)
    key = ("one pickup twice", ("bridge", "neck"))
    assert errors(job_of([weak] * 2))[key] > 5 * errors(job_of([level] * 2))[key]


def test_inputs_exchanged_say_the_same():
    """The level turns over with the inputs, and the doubt does not."""
    straight = job_of([WANDERS] * 2).in_phase("bridge", "neck")
    results = [take(1, GAIN, statistic=1.0, inputs=("bridge", "bridge"))]
    results += [
        take(k, replace(WANDERS, level_db=12.0), inputs=("neck", "bridge"), string=s)
        for k, s in ((2, "E2"), (3, "A2"))
    ]
    entries = [r.entry for r in results]
    posterior = gather_evidence(JOB, lead_history(JOB, entries), entries, results).posterior
    assert posterior.in_phase("bridge", "neck") == pytest.approx(straight, abs=1e-9)


def at_places(*, opposed):
    """Partials by sin(n pi x / L) of both places (sources S3), or the second with its coils opposed."""
    numbers = np.arange(1.0, 11.0)
    a, b = (np.sin(np.pi * numbers * x / 648.0) for x in (44.0, 168.0))
    if opposed:
        b = 2 * np.sin(np.pi * numbers * 9.0 / 648.0) * np.cos(np.pi * numbers * 168.0 / 648.0)
    level, phase = 20 * np.log10(np.abs(b / a) + 1e-3), np.where(b / a < 0, np.pi, 0.0)
    partials = PartialRatios(numbers, level, phase, np.full(10, 0.5), Place(44.0, 648.0), Place(168.0, 648.0))
    return replace(STEADY, partials=partials)


@pytest.mark.parametrize("statistic", [0.9, -0.9])
def test_plucks_that_do_not_go_with_the_places_settle_nothing_and_are_told(statistic):
    p = job_of([at_places(opposed=False)] * 4, statistic=statistic).in_phase("bridge", "neck")
    assert (p if statistic > 0 else 1 - p) > 0.995
    posterior = job_of([at_places(opposed=True)] * 4, statistic=statistic)
    assert 0.4 < posterior.in_phase("bridge", "neck") < 0.6
    because, step = next_for(posterior, "bridge", "neck", found=assessed(posterior), conflicts=())
    assert because.error.kind == step.error.kind == "channels misplaced"


def test_without_a_measured_place_nothing_is_said_of_places():
    results = [take(k, at_places(opposed=True), string=s) for k, s in ((1, "E2"), (2, "A2"), (3, "D3"))]
    entries = [r.entry for r in results]
    job = Job(title="two", pickups=(Pickup(name="bridge"), Pickup(name="neck")))
    posterior = gather_evidence(job, lead_history(job, entries), entries, results).posterior
    assert not any(e.kind == "channels misplaced" for e in posterior.graph.errors)
