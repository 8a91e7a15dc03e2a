"""What lies between a pickup and its file: clip leads, the held face, an active stage, and checks of them.

Takes are made of statistics, not of sound: a paired pluck of +0.9 says "in phase" on its channels.
"""

from __future__ import annotations

import numpy as np
import pytest

from capture.job import Job, Pickup
from capture.log import Check, Take
from dsp.methods.paired import PartialPairs
from reports.evidence.leads import lead_history
from reports.evidence.paths import BenchPaths
from reports.evidence.results import ChannelSource, PairedPluck, TakeResult
from reports.inference.posterior import gather_evidence
from reports.model.take_notes import MakeUp

ALIKE, OPPOSED = 0.9, -0.9
USUAL, POCKET = MakeUp(48_000, "24 bit", "WAV"), MakeUp(44_100, "16 bit", "WAV")
BRIDGE = Pickup(name="bridge")
LOOSE = Pickup(name="neck", fitted=False, hot="violet", ground="grey")
LEADS = {"pickup": "neck", "hot": "violet", "ground": "grey"}


def channel(job, item, column):
    name = item["pickup"] if isinstance(item, dict) else item
    clips = isinstance(item, dict) or not job.pickup(name).fitted
    return ChannelSource(name, None, False, column, clips)


class Bench:
    def __init__(self, *pickups):
        self.job = Job(pickups=pickups)
        self.entries, self.takes = [], []

    def pluck(self, *inputs, says, string="D3", made=USUAL, **said):
        number = len(self.entries) + 1
        entry = Take.model_validate(
            {
                "id": f"t{number:03d}",
                "file": f"takes/t{number:03d}.wav",
                "gesture": "pluck",
                "inputs": inputs,
                "string": string,
                **said,
            }
        )
        flat = (np.zeros(2), np.zeros(2))
        sources = tuple(channel(self.job, item, k) for k, item in enumerate(inputs))
        none = np.zeros(0)
        partials = PartialPairs(none, none + 0j, none, none, none)
        paired = PairedPluck((0, 1), says, 147.0, flat, partials)
        self.takes.append(TakeResult(entry, sources, paired=(paired,), made=made))
        self.entries.append(entry)
        return entry.id

    def check(self, what, **said):
        self.entries.append(Check(id=f"k{len(self.entries) + 1:03d}", what=what, **said))

    def gathered(self):
        return gather_evidence(self.job, lead_history(self.job, self.entries), self.entries, self.takes)

    @property
    def p(self):
        return self.gathered().posterior.in_phase("bridge", "neck")

    def p_of(self, kind):
        posterior = self.gathered().posterior
        return sum(posterior.error_probability(e) for e in posterior.graph.errors if e.kind == kind)


def loose(*, split=("bridge", "bridge"), says=ALIKE, times=6):
    """A fitted bridge pickup on input 1, a loose neck pickup on input 2; each take with other strings."""
    bench = Bench(BRIDGE, LOOSE)
    for string in ("D3", "G3"):
        bench.pluck(*split, says=ALIKE, string=string)
    for k in range(times):
        bench.pluck("bridge", LEADS, says=says, string=("D3", "G3", "A2", "B3")[k % 4])
    return bench


@pytest.mark.parametrize("says", [ALIKE, OPPOSED])
def test_a_measured_lead_is_proved_and_a_reversed_one_turns_the_answer(says):
    """The tip leads to red: surer. To black: the other answer. Nothing else moves the sign."""
    bench, proved, turned = loose(says=says), loose(says=says), loose(says=says)
    proved.check("clip lead", input=2, tip="red", kohm=0.0)
    turned.check("clip lead", input=2, tip="black", kohm=0.0)
    sure = abs(proved.p - 0.5) - abs(bench.p - 0.5)
    assert (bench.p > 0.5) == (proved.p > 0.5) == (says > 0)
    assert 0.003 < sure < 0.006
    assert (turned.p > 0.5) == (says < 0)
    assert abs(turned.p - 0.5) > 0.4


def test_a_lead_of_another_input_or_rig_is_another_lead():
    for said in ({"input": 1}, {"rig": "another box"}):
        bench = loose()
        before = bench.p
        bench.check("clip lead", tip="black", **said)
        assert bench.p == pytest.approx(before, abs=1e-9)


def test_a_split_check_through_both_clip_leads_proves_them():
    """One at the jack says nothing of the lead; one through the clips does, whichever way it comes out."""
    elsewhere, through = loose(), loose(split=(LEADS, LEADS))
    assert elsewhere.p_of("clip lead") == pytest.approx(0.005, abs=5e-4)
    assert through.p_of("clip lead") < 5e-4
    assert through.p > elsewhere.p + 0.003


def test_a_reversed_lead_in_the_split_check_through_it_turns_the_answer():
    """Input 2 is opposed in the split check, by the lead or by the box: the answer turns over with it."""
    bench = Bench(BRIDGE, LOOSE)
    for string in ("D3", "G3"):
        bench.pluck(LEADS, LEADS, says=OPPOSED, string=string)
    for string in ("D3", "G3", "A2"):
        bench.pluck("bridge", LEADS, says=OPPOSED, string=string)
    assert 0.8 < bench.p < 0.9  # the lead on input 1 may be the reversed one


def test_a_lead_that_was_moved_with_its_pickup_is_one_lead():
    """Clips stay on and the plug is moved: takes at two inputs do not vouch for each other's lead."""
    bench = Bench(BRIDGE, LOOSE)
    for string in ("D3", "G3"):
        bench.pluck("bridge", "bridge", says=ALIKE, string=string)
        bench.pluck("bridge", LEADS, says=ALIKE, string=string)
        bench.pluck(LEADS, "bridge", says=ALIKE, string=string)
    assert bench.p_of("clip lead") == pytest.approx(0.005, abs=5e-4)
    assert 1 - bench.p > 0.005


@pytest.mark.parametrize(
    ("split", "moved"), [((LEADS, LEADS), False), ((LEADS, "bridge"), True), (("bridge", "bridge"), True)]
)
def test_leads_that_a_split_check_went_through_are_one_each_and_were_not_moved(split, moved):
    bench = Bench(BRIDGE, LOOSE)
    bench.pluck(*split, says=ALIKE)
    bench.pluck("bridge", LEADS, says=ALIKE)
    bench.pluck(LEADS, "bridge", says=ALIKE)
    assert bool(bench.gathered().posterior.graph.paths.moved) == moved


def test_a_fitted_pickup_at_the_jack_has_no_clip_lead_and_is_not_held():
    bench = Bench(BRIDGE, Pickup(name="neck"))
    bench.pluck("bridge", "neck", says=ALIKE)
    kinds = {e.kind for e in bench.gathered().posterior.graph.errors}
    assert not kinds & {"clip lead", "held over the strings"}


@pytest.mark.parametrize("says", [ALIKE, OPPOSED])
def test_the_side_of_the_strings_that_a_loose_pickup_was_on(says):
    """Over the strings it sees them leave when the fitted one sees them come."""
    proved, turned = loose(says=says), loose(says=says)
    proved.check("held", pickup="neck", side="under")
    turned.check("held", pickup="neck", side="over")
    assert abs(proved.p - 0.5) > abs(loose(says=says).p - 0.5) + 0.001
    assert (turned.p > 0.5) == (says < 0)


def test_a_check_holds_before_and_after_other_entries_alike():
    """The order of entries tells nothing."""
    bench, first = loose(), loose()
    bench.check("clip lead", tip="red")
    first.check("clip lead", tip="red")
    first.entries.insert(0, first.entries.pop())
    assert first.p == pytest.approx(bench.p, abs=1e-9)


def active(*, neck=LOOSE, says=ALIKE):
    bench = Bench(BRIDGE.model_copy(update={"active": True, "hot": "red", "ground": "black"}), neck)
    at_neck = LEADS if not neck.fitted else "neck"
    for string in ("D3", "G3", "A2"):
        bench.pluck("bridge", "bridge", says=ALIKE, string=string)
        bench.pluck("bridge", at_neck, says=says, string=string)
    return bench


@pytest.mark.parametrize("says", [ALIKE, OPPOSED])
@pytest.mark.parametrize("inverts", [False, True])
def test_an_active_stage_leaves_the_sign_open_until_it_is_compared(says, inverts):
    bench = active(says=says)
    assert bench.p == pytest.approx(0.5, abs=1e-9)
    assert bench.gathered().posterior.unproved_stage("bridge", "neck") == "bridge"
    bench.check("bypass", pickup="bridge", inverts=inverts)
    assert (bench.p > 0.5) == ((says > 0) != inverts)
    assert abs(bench.p - 0.5) > 0.4
    assert bench.gathered().posterior.unproved_stage("bridge", "neck") is None


@pytest.mark.parametrize("sign", [1, -1])
def test_one_pluck_before_and_behind_the_stage_proves_it(sign):
    bench = active()
    for string in ("D3", "G3", "A2"):
        bench.pluck(
            {"pickup": "bridge", "hot": "red", "ground": "black"}, "bridge", says=sign * ALIKE, string=string
        )
    assert (bench.p > 0.5) == (sign > 0)
    assert abs(bench.p - 0.5) > 0.4


def test_two_active_pickups_at_one_jack_share_its_stage():
    both = active(neck=Pickup(name="neck", active=True))
    assert both.p > 0.9


def test_files_of_another_make_up_are_another_rig():
    """A split check on one recorder says nothing of the inputs of another; a person may say they are one."""
    bench, converted, said = loose(times=0), loose(times=0), loose(times=0)
    for one, made in ((bench, POCKET), (converted, USUAL), (said, POCKET)):
        for string in ("D3", "G3", "A2"):
            last = one.pluck("bridge", LEADS, says=ALIKE, string=string, made=made)
    said.check("same path", takes=("t001", last))
    assert bench.p < converted.p - 0.01
    (note,) = bench.gathered().posterior.graph.paths.notes
    assert (note.takes, note.made, note.others) == (("t001", "t002"), USUAL, ("t003", "t004", "t005"))
    assert said.gathered().posterior.graph.paths.notes == ()
    assert said.p == pytest.approx(converted.p, abs=1e-9)


def test_a_take_whose_file_says_nothing_is_of_the_recorder_that_most_takes_are_of():
    bench = loose(times=0)
    for made in (POCKET, POCKET, POCKET, None):
        bench.pluck("bridge", LEADS, says=ALIKE, made=made)
    rigs = bench.gathered().posterior.graph.paths.rigs
    assert rigs["t006"] == rigs["t003"] != rigs["t001"]


def test_what_is_said_of_one_box_takes_nothing_from_what_was_said_of_another():
    bench = Bench(BRIDGE, Pickup(name="neck"))
    taken = [
        bench.pluck("bridge", "neck", says=ALIKE, rig=rig, made=made)
        for rig in ("one box", "another box")
        for made in (USUAL, POCKET)
    ]
    assert len(bench.gathered().posterior.graph.paths.notes) == 2
    bench.check("same path", takes=tuple(taken[:2]))
    assert len(bench.gathered().posterior.graph.paths.notes) == 1
    bench.check("same path", takes=tuple(taken[2:]))
    assert bench.gathered().posterior.graph.paths.notes == ()


def test_a_whole_job_of_another_make_up_is_the_same_job():
    bench = loose()
    before = bench.p
    bench.takes = [
        TakeResult(t.entry, t.sources, paired=t.paired, made=MakeUp(96_000, "32 bit float", "CAF"))
        for t in bench.takes
    ]
    assert bench.p == before
    assert bench.gathered().posterior.graph.paths.notes == ()


def test_pickups_are_apart_where_both_were_heard_and_never_on_one_rig():
    both = {"bridge": frozenset({"box"}), "neck": frozenset({"pocket recorder"})}
    assert BenchPaths(heard=both).apart("bridge", "neck")
    assert not BenchPaths(heard={**both, "neck": frozenset({"box", "pocket recorder"})}).apart(
        "bridge", "neck"
    )
    assert not BenchPaths(heard={"bridge": both["bridge"]}).apart("bridge", "neck")
