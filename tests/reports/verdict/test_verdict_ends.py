"""Every NEXT ends: done rightly, it changes what is said; three of them end a contradiction, or stop it.

An untidy person makes one mistake on a bench whose truth is known by construction (out of phase), and then
does what the verdict asks for, rightly. What is asked for is read from the notes of the verdict.
"""

import numpy as np
import pytest
from judging_jobs import LEADS, JobOnDisk, recorded

from reports.messages.sentences import say
from reports.model.notes import CheckError, OnReading, RecordPair, StopHere, TakeBack
from reports.model.work_notes import EnteredTurned

SWINGS = {"bridge": "rises", "neck": "falls"}
OTHER_WAY = {"rises": "falls", "falls": "rises"}
MOST_STEPS = 3


class Bench:
    """The job with recordings of a bench that is out of phase; each is softer, so that none is there twice.

    ``clips``: -1 while the clips on the neck pickup are the other way round, which nobody knows.
    """

    def __init__(self, home):
        self.sounds = recorded(in_phase=False)
        head, first, second = self.sounds.toml.split("[[pickup]]")
        named = LEADS.split("[[pickup]]")
        extra = (part.split("\n", 2)[2] for part in named[1:])
        leads, loose = next(extra), next(extra)
        self.job = JobOnDisk(home, f"{head}[[pickup]]{first}{leads}[[pickup]]{second}{loose}")
        self.inverted, self.clips, self.made = 1, 1, 0
        self.staples = {"one rod": "not lifted"}

    def fresh(self, audio):
        self.made += 1
        return audio * (1 - 0.003 * self.made)

    def split(self):
        turned = np.array([1, self.inverted])
        return self.job.take(self.fresh(self.sounds.split) * turned, ["bridge", "bridge"], string="D3")

    def plucks(self, *, turned=1, count=2, clips="neck", **said):
        both = np.array([1, self.inverted * self.clips * turned])
        strings = ("D3", "G3")[:count]
        for string, audio in zip(strings, self.sounds.paired, strict=False):
            self.job.take(self.fresh(audio) * both, ["bridge", clips], string=string, **said)

    def lifts(self, *, turned=1, tool="one rod"):
        for name, audio in self.sounds.in_turn["lift"]:
            sign = turned * self.clips if name == "neck" else 1
            self.job.take(self.fresh(audio) * sign, [name], gesture="lift", tool=tool)

    def in_turn(self, gesture, *, turned=1):
        for name, audio in self.sounds.in_turn[gesture]:
            sign = turned if name == "neck" else 1
            self.job.take(self.fresh(audio) * sign, [name], gesture=gesture, string="D3")

    def read(self, name, *, misread=False, **said):
        reading = OTHER_WAY[SWINGS[name]] if misread else SWINGS[name]
        return self.job.meter(name, reading, tool="one rod", **said)

    def do(self, note):
        """What is asked for, done rightly."""
        match note:
            case EnteredTurned(takes=takes, tip=tip, sleeve=sleeve):
                for entry in takes:
                    self.job.log("void", entry=entry)
                self.plucks(count=1, clips={"pickup": "neck", "hot": tip, "ground": sleeve})
            case TakeBack(entries=entries):
                for entry in entries:
                    self.job.log("void", entry=entry)
            case RecordPair():
                self.plucks()
            case CheckError(error=error, also=also):
                for one in (error, *also):
                    self.check(one, note.take_back)
            case _:
                raise AssertionError(note)

    def check(self, error, take_back):
        match error.kind:
            case "misread swing":
                assert isinstance(error.subject, OnReading)
                self.read(error.subject.pickup)
            case "meter leads":
                (name,) = error.subject.names
                for entry in take_back:
                    self.job.log("void", entry=entry)
                self.read(name, anew=True)
            case "clips" | "colours" | "clip habit" | "one clip-up for both":
                self.clips = 1
                self.plucks(count=1, clips={"pickup": "neck", "hot": "violet", "ground": "grey"}, anew=True)
            case "channels" | "late input":
                self.split()
            case "magnetised tool" | "magnetised drawer":
                for tool, staple in self.staples.items():
                    self.job.log("check", what="tool", tool=tool, staple=staple)
            case "sideways string" | "strings beside poles" | "one pickup twice":
                self.plucks()
            case _:
                self.lifts(tool="one rod")


def last_reading(bench):
    for _ in range(2):
        bench.read("bridge"), bench.read("neck")
    bench.read("neck", misread=True)


def first_reading(bench):
    bench.read("neck", misread=True)
    for _ in range(2):
        bench.read("bridge"), bench.read("neck")


def one_reading_against_recordings(bench):
    bench.split(), bench.plucks(), bench.lifts()
    bench.read("bridge"), bench.read("neck", misread=True)


def meter_leads_exchanged(bench):
    bench.split(), bench.plucks(), bench.lifts()
    for _ in range(3):
        bench.read("bridge"), bench.read("neck", misread=True)


def one_pluck_under_another_name(bench):
    bench.split(), bench.plucks(), bench.plucks(turned=-1, count=1)


def one_against_one(bench):
    bench.split(), bench.plucks(count=1), bench.plucks(turned=-1, count=1)


def clips_the_other_way_round(bench):
    bench.clips = -1
    bench.split(), bench.plucks()
    for _ in range(2):
        bench.read("bridge"), bench.read("neck")


def no_split_check_and_an_input_that_inverts(bench):
    bench.inverted = -1
    bench.plucks(), bench.lifts()


def a_magnetised_tool(bench):
    bench.staples["one rod"] = "lifted"
    bench.split(), bench.plucks(), bench.lifts(turned=-1)


def a_hand_that_goes_the_other_way(bench):
    bench.in_turn("pluck", turned=-1), bench.lifts()
    bench.read("bridge"), bench.read("neck")


def one_pluck_with_its_clips_entered_the_other_way(bench):
    bench.split(), bench.plucks()
    bench.plucks(count=1, clips={"pickup": "neck", "hot": "grey", "ground": "violet"})


def one_reading_against_one(bench):
    bench.plucks(), bench.read("bridge"), bench.read("neck"), bench.read("neck", misread=True)


MISTAKES = [
    last_reading,
    first_reading,
    one_reading_against_recordings,
    meter_leads_exchanged,
    one_pluck_under_another_name,
    one_against_one,
    clips_the_other_way_round,
    no_split_check_and_an_input_that_inverts,
    a_magnetised_tool,
    a_hand_that_goes_the_other_way,
    one_pluck_with_its_clips_entered_the_other_way,
    one_reading_against_one,
]


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_contradiction_ends_in_three_steps_or_at_the_meter(tmp_path, mistake):
    bench = Bench(tmp_path / "job")
    mistake(bench)
    verdict = bench.job.verdict
    assert verdict.conflicts
    said = []
    for _ in range(MOST_STEPS):
        if not verdict.conflicts or isinstance(verdict.conflicts[0].next, StopHere):
            break
        step = verdict.conflicts[0].next
        assert say(step) not in said
        said.append(say(step))
        bench.do(step)
        verdict = bench.job.verdict
    (pair,) = verdict.pairs
    ended = not verdict.conflicts
    assert ended or isinstance(verdict.conflicts[0].next, StopHere), said
    if ended:
        assert (pair.phase, pair.standing != "unsettled") == ("out of phase", True), said


def test_what_a_likely_pair_asks_for_makes_it_surer_and_is_not_asked_again(tmp_path):
    """Where nothing contradicts itself, no more of the same is asked for."""
    bench = Bench(tmp_path / "job")
    bench.split(), bench.plucks(), bench.read("bridge"), bench.read("neck")
    (before,) = bench.job.verdict.pairs
    assert (before.standing, before.phase) == ("likely", "out of phase")
    bench.do(before.next)
    (after,) = bench.job.verdict.pairs
    assert after.p_in_phase < before.p_in_phase
    assert after.next != before.next
