"""Takes whose places do not go with what they are entered as: levels by formula (S1, S3), not by our code."""

import numpy as np
import pytest

from capture.job import Job, Member, Pickup, Setting
from capture.log import Take
from dsp.methods.place import HARMONICS
from dsp.methods.profile import PluckLevels
from reports.evidence.leads import lead_history
from reports.evidence.results import ChannelSource, HeardLevels, PairedPluck, SettingPluck, TakeResult
from reports.evidence.settings import impossible_places, place_of
from reports.inference.evidence_graph import Evidence, EvidenceGraph, UnknownSign
from reports.inference.factor_graph import (
    Factor,
    log_marginal,
    prior_factor,
    probability_equal,
    product_factor,
)
from reports.inference.places import hearings, places_heard
from reports.inference.posterior import Posterior
from reports.inference.selector import list_error, or_elsewhere, or_nothing
from reports.messages.sentences import say
from reports.model.gestures import PLACES, SWITCH
from reports.model.notes import CheckError, StopHere
from reports.verdict.places import place_conflicts, place_findings

N = np.arange(1, HARMONICS + 1)
REALLY = {"bridge": 43.0, "middle": 98.0, "neck": 160.0}
POSITIONS = {
    "bridge": ("bridge",),
    "rear": ("bridge", "middle"),
    "middle": ("middle",),
    "front": ("middle", "neck"),
    "neck": ("neck",),
}
ORDER = tuple(POSITIONS)
LISTS = {
    "as listed": dict(zip(ORDER, ORDER, strict=True)),
    "from the wrong end": dict(zip(ORDER, reversed(ORDER), strict=True)),
    "one position off": dict(zip(ORDER, (ORDER[0], *ORDER[:-1]), strict=True)),
}


def a_job(places=REALLY, *, settings=True):
    pickups = tuple(Pickup(name=name, centre_mm=mm) for name, mm in places.items())
    mixed = tuple(
        Setting(name=name, on=tuple(Member(pickup=p) for p in on))
        for name, on in POSITIONS.items()
        if len(on) > 1 and settings
    )
    return Job(format=1, title="a guitar", pickups=pickups, settings=mixed, scale_mm=648.0)


def levels(on, rng, plucked_mm, *, length=648.0):
    """Levels of a pluck by S1 and S3 on a sum of pickups in phase."""
    mode = np.hypot(np.sin(N * np.pi * plucked_mm / length), 0.1) / N
    total = np.mean([np.sin(N * np.pi * REALLY[p] / length) for p in on], axis=0)
    db = 20 * np.log10(mode * np.hypot(total, 0.06)) - 5 * np.square(0.147 * N)
    return PluckLevels(
        db + 2 * rng.standard_normal() + rng.standard_normal(HARMONICS),
        np.full(HARMONICS, -120.0),
        np.ones(HARMONICS, dtype=bool),
        147.0,
    )


def a_take(key, *inputs):
    return Take(kind="take", id=key, file="takes/x.wav", gesture="pluck", inputs=inputs, string="D3")


def a_round(listed, *, seed=0, names=ORDER, times=2):
    rng = np.random.default_rng(seed)
    takes = []
    for k in range(times):
        for name in names:
            entry = Take(
                kind="take",
                id=f"t{k}{name}",
                file="takes/x.wav",
                gesture="pluck",
                inputs=(name,),
                string="D3",
            )
            heard = levels(POSITIONS[listed[name]], rng, rng.normal(130, 12))
            takes.append(TakeResult(entry, plucks=(SettingPluck(name, heard),)))
    return takes


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("wrong", "nats"), [("from the wrong end", 6), ("one position off", 1)])
def test_a_list_that_is_wrong_as_a_whole_is_told(wrong, nats, seed):
    assert places_heard(a_job(), a_round(LISTS[wrong], seed=seed)).list_nats > nats


@pytest.mark.parametrize("off_mm", [-8.0, 0.0, 8.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_sound_list_is_never_called_wrong_for_places_a_little_off(off_mm, seed):
    job = a_job({name: mm + off_mm for name, mm in REALLY.items()})
    assert places_heard(job, a_round(LISTS["as listed"], seed=seed)).list_nats < 0.3


def test_names_alone_tell_the_order():
    job = a_job(dict.fromkeys(REALLY))
    assert places_heard(job, a_round(LISTS["from the wrong end"])).list_nats > 3
    assert places_heard(job, a_round(LISTS["as listed"])).list_nats < 0


def test_names_that_tell_no_order_say_nothing_of_the_whole_list():
    pickups = tuple(Pickup(name=name) for name in ("hot one", "old one", "new"))
    job = Job(format=1, title="x", pickups=pickups)
    takes = a_round({"hot one": "bridge", "old one": "neck"}, names=("hot one", "old one"))
    assert places_heard(job, takes).list_nats == 0.0


def test_two_pickups_by_each_others_names_are_a_finding_and_no_doubt():
    job = a_job({name: REALLY[name] for name in ("bridge", "neck")}, settings=False)
    swapped = places_heard(
        job, a_round({"bridge": "neck", "neck": "bridge"}, names=("bridge", "neck"), times=4)
    )
    assert swapped.list_nats < 3
    assert [f.what.code for f in place_findings(job, swapped)] == ["wrong way round"]


@pytest.mark.parametrize(("really", "low", "high"), [("middle", -9, -2), ("neck", 4, 9.1)])
def test_two_pickups_taken_for_each_other_on_the_inputs(really, low, high):
    """ "middle" and "neck" exchanged, each heard with the bridge pickup at once."""
    job, rng, takes = a_job(), np.random.default_rng(1), []
    other = {"middle": "neck", "neck": "middle"}[really]
    for said, on in (("middle", really), ("neck", other)) * 2:
        entry = a_take(f"t{len(takes)}", "bridge", said)
        where = rng.normal(130, 12)
        sources = tuple(ChannelSource(p, None, False, k, False) for k, p in enumerate(("bridge", said)))
        heard = tuple(HeardLevels(0, k, None, levels((p,), rng, where)) for k, p in enumerate(("bridge", on)))
        pair = PairedPluck((0, 1), 0.9, 147.0, (np.zeros(2), np.zeros(2)), ())
        takes.append(TakeResult(entry, sources, paired=(pair,), heard=heard))
    assert low < places_heard(job, takes).names_nats < high


def test_a_position_of_several_pickups_places_none():
    heard = places_heard(a_job(), a_round(LISTS["as listed"], names=("rear", "front")))
    assert not heard.estimates


def test_a_loose_pickup_by_itself_is_no_position_of_the_selector():
    job = a_job()
    loose = job.model_copy(
        update={"pickups": tuple(p.model_copy(update={"fitted": False}) for p in job.pickups)}
    )
    takes = a_round(LISTS["as listed"], names=("bridge", "neck"))
    assert len(hearings(job, takes)) == 4
    assert not hearings(loose, takes)


@pytest.mark.parametrize(
    ("places", "codes"),
    [
        ({"bridge": 605.0, "neck": 488.0}, {"bridge": "from the nut", "neck": "from the nut"}),
        ({"bridge": 43.0, "neck": 488.0}, {"neck": "from the nut"}),
        ({"bridge": 160.0, "neck": 43.0}, {"bridge": "exchanged", "neck": "exchanged"}),
        ({"bridge": 43.0, "neck": 160.0}, {}),
        ({"old": 160.0, "new": 43.0}, {}),
        ({"bridge": 43.0, "neck": None}, {}),
    ],
)
def test_places_that_cannot_be_are_not_used(places, codes):
    job = a_job(places, settings=False)
    assert impossible_places(job) == codes
    for name, mm in places.items():
        assert place_of(job, name).centre_mm == (None if name in codes else mm)


def a_graph():
    return EvidenceGraph(lead_history(a_job(), []))


@pytest.mark.parametrize("nats", [0.0, 2.0, -3.0])
@pytest.mark.parametrize("doubted", [or_nothing, or_elsewhere])
def test_a_doubt_takes_away_what_is_said_and_turns_nothing(doubted, nats):
    """With the error at probability q: the sign is as surely told as 1 - q of the evidence says."""
    graph = a_graph()
    a, b, q = UnknownSign("s", "bridge"), UnknownSign("s", "neck"), 0.3
    error = list_error(graph)
    factors = [doubted(product_factor((a, b), nats), [error]), prior_factor(error, q)]
    told = 1 / (1 + np.exp(-nats))
    assert probability_equal(factors, a, b) == pytest.approx((1 - q) * told + q / 2)


def test_takes_that_agree_are_no_evidence_that_the_list_is_right():
    """Under a wrong list they agree too: about other pickups."""
    graph = a_graph()
    a, b = UnknownSign("s", "bridge"), UnknownSign("s", "neck")
    error = list_error(graph)
    agreeing = [or_elsewhere(product_factor((a, b), 3.0), [error]) for _ in range(5)]
    log = log_marginal([*agreeing, prior_factor(error, 0.2)], (error,))
    assert np.exp(log[1]) == pytest.approx(0.2)


def test_places_against_the_list_ask_for_taps_once_and_end_at_the_meter():
    """What is asked for is done once; a contradiction that stands then ends at the meter."""
    graph = a_graph()
    a, b, error = UnknownSign("s", "bridge"), UnknownSign("s", "neck"), list_error(graph)
    heard = Factor((error,), np.array([0.0, 12.0]))
    swept = or_elsewhere(product_factor((a, b), 3.0), [error])
    graph.evidence += [
        Evidence(PLACES, (heard,), frozenset(), takes=("t001",)),
        Evidence(SWITCH, (swept,), frozenset(("bridge", "neck")), takes=("t001",)),
    ]
    posterior = Posterior(graph)
    (conflict,) = place_conflicts(posterior)
    assert conflict.between == (PLACES, SWITCH)
    assert isinstance(conflict.next, CheckError)
    assert "Tap the poles" in say(conflict.next)
    tap = Take(kind="take", id="t002", file="takes/t002.wav", gesture="tap", inputs=("rear",), tapped="neck")
    (conflict,) = place_conflicts(posterior, entries=[tap])
    assert conflict.next == StopHere("bridge", "neck")
    assert "coilwise meter" in say(conflict.next)
