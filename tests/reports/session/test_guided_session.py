"""A guided session, without a clock: what it asks for, what it accepts, and what it believes in the end.

The bench simulator plays what the sentences ask for; the truth is the simulator's, by construction.
"""

from __future__ import annotations

import re
from functools import cache
from typing import ClassVar

import numpy as np
import pytest
from guided_parts import SLOW_RATE, bench_of, closed_guitar, closed_pair, guided, loose_neck, player
from guitarist import Blocks, Guitarist, Reader

from capture.audio.streams import LostSamples
from capture.log import append_entry, new_entry
from capture.log.entries import Change, Check, Tag, Take, Void
from capture.takes import hands_free
from capture.takes.folder import JobFolder
from capture.takes.hands_free import NOT_MOVED_S, Progress, await_move
from reports.cli.terminal import KEYS
from reports.entry.spelling import named_step
from reports.messages.session import ANSWER, QUESTIONS_BIG
from reports.messages.session import KEYS as KEYS_SAID
from reports.model.gestures import most_takes
from reports.model.session import SetupSeen
from reports.session.options import RecordingOptions
from reports.session.session import Session

OUT, IN = 0, 3
"""Seeds of benches whose bridge and neck are out of phase, and in phase."""


class Exchanged(Guitarist):
    """The neck pickup's leads are the other way round: its input is turned over."""

    def plays(self, words):
        said = super().plays(words)
        return said if "SPLIT" in words[0] else said * np.array([1.0, -1.0])


class OverTheStrings(Exchanged):
    """Holds the neck pickup over the strings, so that its plucks are turned over, and says so."""

    def answers(self, words):
        return "no" if "HELD" in words[0] else super().answers(words)


class NoHands(Reader):
    """Nobody could answer."""

    answers = False


class WrongString(Guitarist):
    """Plays the string above."""

    def plays(self, words):
        above = {"D3": "G3", "G3": "B3"}
        return super().plays([re.sub("D3|G3", lambda note: above[note[0]], words[0]), *words[1:]])


class Wishes:
    """One wish after so many accepted takes."""

    def __init__(self, wish: str, after: int) -> None:
        self.wish, self.after, self.reader = wish, after, None

    def __call__(self):
        accepted = sum(line.startswith("+ ") for line in self.reader.lines)
        if self.wish and accepted >= self.after:
            said, self.wish = self.wish, ""
            return said
        return None


def wishing(bench, folder, wish: str, after: int) -> tuple[Reader, Guitarist]:
    guitarist, wishes = player(bench, folder), Wishes(wish, after)
    wishes.reader = Reader(Blocks(guitarist), guitarist, wishes)
    return wishes.reader, guitarist


@pytest.fixture(scope="module")
def played_to_its_end(tmp_path_factory):
    """By seed: the bench, its job, and what came of a session that was played once and never stopped."""

    @cache
    def played(seed):
        bench = bench_of(seed)
        folder = loose_neck(tmp_path_factory.mktemp("played"), bench)
        return bench, folder, *guided(folder, player(bench, folder))

    return played


@pytest.mark.parametrize("seed", [OUT, IN])
def test_a_loose_pickup_settles_as_it_is(played_to_its_end, seed):
    bench, _, ended, shown = played_to_its_end(seed)
    (pair,) = ended.verdict.pairs
    assert (ended.ending, pair.standing) == ("settled", "settled")
    assert (pair.phase == "in phase") == bench.in_phase("bridge", "neck")
    assert ended.accepted <= 10
    assert sum(line.startswith("+ ") for line in shown.lines) == ended.accepted


def test_exchanged_leads_turn_the_verdict_over(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    ended, _ = guided(folder, player(bench, folder, kind=Exchanged))
    (pair,) = ended.verdict.pairs
    assert pair.standing == "settled"
    assert (pair.phase == "in phase") != bench.in_phase("bridge", "neck")


def test_what_no_take_can_tell_is_asked_and_written_down(played_to_its_end):
    """Which lead is under the clip, and on which side of the strings the pickup was."""
    _, folder, _, shown = played_to_its_end(OUT)
    log = JobFolder.open(folder.path).log.standing
    (tag,) = (e for e in log if isinstance(e, Tag))
    (check,) = (e for e in log if isinstance(e, Check))
    assert tag.pickup == "neck"
    assert (check.what, check.pickup, check.side) == ("held", "neck", "under")
    asked = [line for line in shown.lines if line == ANSWER["terminal"]]
    assert len(asked) == len((tag, check))
    assert f"{check.id}: written down." in shown.lines


def test_how_it_was_held_turns_the_verdict_over(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    ended, _ = guided(folder, player(bench, folder, kind=OverTheStrings), most=6)
    (pair,) = ended.verdict.pairs
    assert pair.standing != "unsettled"
    assert (pair.phase == "in phase") == bench.in_phase("bridge", "neck")


def test_where_nobody_can_answer_nothing_is_asked_and_it_stays_likely(tmp_path):
    """Takes alone do not tell which lead is under the clip."""
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder)
    ended, shown = guided(folder, guitarist, face=NoHands(Blocks(guitarist), guitarist), most=5)
    (pair,) = ended.verdict.pairs
    assert pair.standing == "likely"
    assert ended.ending != "settled"
    assert ANSWER["terminal"] not in shown.lines


def test_a_question_that_is_skipped_is_not_asked_again(tmp_path):
    class Unsure(Guitarist):
        def answers(self, words):
            super().answers(words)
            return "skip"

    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder, kind=Unsure)
    ended, _ = guided(folder, guitarist, most=6)
    questions = [a.split(":")[0] for a in guitarist.asked if a.split(":")[0] in QUESTIONS_BIG.values()]
    assert questions
    assert sorted(questions) == sorted(set(questions))
    assert ended.verdict.pairs[0].standing != "settled"


def test_a_move_that_is_not_heard_is_waited_for_and_how_to_go_on_is_said():
    """Quiet alone ends it only where nothing may have to be moved."""
    said = []

    def waited(*, known: bool):
        said.clear()
        nobody = Blocks(Guitarist(bench_of(OUT), None, np.random.default_rng(1), rate=SLOW_RATE))
        return await_move(
            nobody,
            columns=(0, 1),
            known=known,
            on_progress=lambda progress: said.append(progress.what),
            next_request=lambda: "moved" if "not moved" in said else None,
        )

    assert waited(known=True) == "moved"
    assert waited(known=False) is None
    assert "not moved" not in said


def test_it_asks_for_what_tells_most_next(played_to_its_end):
    """Two strings and the split check: each rules out a mistake that repeating does not."""
    *_, shown = played_to_its_end(OUT)
    kinds = [asked.split(":")[0] for asked in shown.guitarist.asked]
    assert {kind.split()[-1] for kind in kinds[:2]} == {"D3", "G3"}
    assert "SPLIT D3" in kinds[:5]


@pytest.mark.parametrize(
    ("closed", "most", "endings"),
    [(closed_pair, 30, ("settled", "no more")), (closed_guitar, 3, ("most", "settled"))],
)
def test_a_closed_guitar(tmp_path, closed, most, endings):
    """One with two pickups to its end; one with three is dearer, and its beginning tells enough."""
    bench = bench_of(2)
    folder = closed(tmp_path, bench)
    guitarist = player(bench, folder)
    ended, _ = guided(folder, guitarist, most=most)
    for pair in ended.verdict.pairs:
        if pair.standing != "unsettled":
            assert (pair.phase == "in phase") == bench.in_phase(pair.a, pair.b), pair
    first = ended.verdict.pairs[0]
    assert (first.p_in_phase > 0.8) if bench.in_phase(first.a, first.b) else (first.p_in_phase < 0.2)
    assert ended.ending in endings
    assert all(len(t.entry.inputs) == 1 for t in JobFolder.open(folder.path).takes())


def test_hum_is_asked_for_where_a_setting_is_to_be_quiet(tmp_path):
    bench = next(b for b in map(bench_of, range(40)) if all(len(p.coils) == 1 for p in b.pickups))
    folder = closed_guitar(tmp_path, bench, quiet=True)
    guitarist = player(bench, folder)
    ended, _ = guided(folder, guitarist, gestures=("hum",), most=4)
    hums = [asked for asked in guitarist.asked if asked.startswith("KEEP STILL")]
    assert len(hums) >= 3
    assert {t.entry.gesture for t in JobFolder.open(folder.path).takes()} == {"hum"}
    assert ended.verdict.pairs[0].p_in_phase is None


def test_a_wrong_string_is_refused_and_asked_for_again(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder, kind=WrongString)
    ended, shown = guided(folder, guitarist)
    refused = [line for line in shown.lines if line.startswith("x ")]
    assert ended.accepted == 0
    assert ended.ending in ("stuck", "nothing")
    assert refused[0].endswith("not accepted: that was G3; D3 please.")
    steps = [line.split("] ")[1] for line in shown.lines if line.startswith("[")]
    assert steps[:4] == ["PLUG IN", *["PRESS D3"] * 3]
    assert "PRESS D3 was not accepted 3 times in a row, so here is another way." in shown.lines
    assert all(not word.used for word in ended.verdict.takes)
    assert ended.verdict.pairs[0].standing == "unsettled"


def test_one_key_takes_back_the_last_take(tmp_path):
    """It stays in the log, is void, and counts no more."""
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    reader, guitarist = wishing(bench, folder, "void", after=2)
    ended, shown = guided(folder, guitarist, face=reader, most=3)
    log = JobFolder.open(folder.path).log
    voids = [e.entry for e in log.entries if isinstance(e.entry, Void)]
    assert [v.entry for v in voids] == ["t002"]
    assert "t002" in {e.entry.id for e in log.entries if isinstance(e.entry, Take)}
    assert {word.id for word in ended.verdict.takes} == {"t001", "t003"}
    assert any(line.startswith("t002 is void") for line in shown.lines)


def test_one_key_says_that_the_tag_is_on(tmp_path):
    """The tag is on the lead under the tip's clip, as in the last take; and the session knows of it."""
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    reader, guitarist = wishing(bench, folder, "tag", after=2)
    ended, shown = guided(folder, guitarist, face=reader, most=3)
    tags = [e.entry for e in JobFolder.open(folder.path).log.entries if isinstance(e.entry, Tag)]
    assert [(tag.pickup, tag.take) for tag in tags] == [("neck", "t002")]
    assert any("The tag on neck" in line and "t001" in line for line in shown.lines)
    (pair,) = ended.verdict.pairs
    assert pair.phase == "out of phase"
    assert next(r for r in ended.verdict.wiring if r.pickup == "neck").tag == tags[0].id


def test_a_key_in_the_middle_of_a_take_takes_that_one_back(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder)
    wishes = iter(["void"])
    recording: list[bool] = []

    class Hasty(Reader):
        def show_notice(self, notice: Progress) -> None:
            super().show_notice(notice)
            if notice.what == "onset":
                recording.append(True)

    def in_the_second():
        return next(wishes, None) if len(recording) == len(("first", "second")) else None

    reader = Hasty(Blocks(guitarist), guitarist, in_the_second)
    ended, _ = guided(folder, guitarist, face=reader, most=3)
    voids = [e.entry for e in JobFolder.open(folder.path).log.entries if isinstance(e.entry, Void)]
    assert [v.entry for v in voids] == ["t002"]
    assert {word.id for word in ended.verdict.takes if word.used} == {"t001", "t003"}


def test_a_take_of_ones_own_choice_in_the_middle(tmp_path):
    """It is recorded as it was named, judged, and the session goes on."""

    class Own(Reader):
        def own_step(self, job):
            return named_step(job, "pluck", ["bridge"], string="A2")

    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist, wishes = player(bench, folder), Wishes("mine", 1)
    wishes.reader = Own(Blocks(guitarist), guitarist, wishes)
    ended, _ = guided(folder, guitarist, face=wishes.reader, most=3)
    takes = [t.entry for t in JobFolder.open(folder.path).takes()]
    assert [(t.inputs, t.string) for t in takes if len(t.inputs) == 1] == [(("bridge",), "A2")]
    assert ended.accepted + ended.refused == len(takes) == 3


@pytest.mark.parametrize("done", ["yes", "no"])
def test_after_leads_were_changed_it_asks_whether_the_work_is_to_be_checked(tmp_path, done):
    class Soldered(Guitarist):
        def answers(self, words):
            return done if "CHECK WORK" in words[0] else super().answers(words)

    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    leads = {"violet": "ground", "grey": "hot"}
    append_entry(folder.path, new_entry(Change, pickup="neck", leads=leads))
    _, shown = guided(folder, player(bench, folder, kind=Soldered), most=1)
    (stage,) = {t.entry.stage for t in JobFolder.open(folder.path).takes()}
    assert stage == ("after" if done == "yes" else "found")
    assert any(line.startswith("[after the work: 0 accepted]") for line in shown.lines) == (done == "yes")


def test_what_was_passed_over_becomes_a_take_where_the_person_says_so(tmp_path):
    """A string that is stopped at once rings too little to be a pluck by itself."""

    class Muted(Guitarist):
        def plays(self, words):
            said = super().plays(words)
            said[round(0.9 * self.rate) :] = 0.0
            return said

    class Insists(Reader):
        def show_notice(self, notice):
            super().show_notice(notice)
            self.wanted = "keep" if notice.what == "passed over" else None

    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder, kind=Muted)
    reader = Insists(Blocks(guitarist), guitarist)
    reader.wish = lambda: getattr(reader, "wanted", None)
    guided(folder, guitarist, face=reader, most=1)
    takes = JobFolder.open(folder.path).takes()
    assert takes
    assert np.abs(takes[0].load().samples).max() > 0.001


def test_skipping_goes_on_with_something_else(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    reader, guitarist = wishing(bench, folder, "skip", after=0)
    ended, _ = guided(folder, guitarist, face=reader, most=2)
    steps = [line for line in reader.lines if line.startswith("[")]
    assert steps[0].endswith("PLUG IN")
    assert ended.accepted == 2
    assert not any(step.endswith("PRESS D3") for step in steps)


def test_stopping_loses_nothing_and_the_next_session_goes_on(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    reader, guitarist = wishing(bench, folder, "stop", after=1)
    ended, _ = guided(folder, guitarist, face=reader)
    assert (ended.ending, ended.accepted) == ("stopped", 1)
    following = player(bench, folder, seed=2)
    again, _ = guided(JobFolder.open(folder.path), following, most=1)
    assert not any(asked.startswith("PRESS D3") for asked in following.asked)
    assert [t.entry.id for t in JobFolder.open(folder.path).takes()] == ["t001", "t002"]
    assert {word.id for word in again.verdict.takes if word.used} == {"t001", "t002"}


def test_a_session_that_paused_after_many_takes_goes_on_with_as_many(tmp_path):
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    session = Session(folder.path, RecordingOptions(inputs=2, rig="box", most=1))
    for takes in (1, 2):
        guitarist = player(bench, folder, seed=takes)
        shown = Reader(Blocks(guitarist), guitarist)
        ended = session.run(shown.stream, shown)
        assert (ended.ending, ended.accepted) == ("most", takes)


def test_what_the_last_take_before_the_pause_settles_is_settled(played_to_its_end, tmp_path):
    bench, _, whole, _ = played_to_its_end(IN)
    folder = loose_neck(tmp_path, bench)
    ended, _ = guided(folder, player(bench, folder), most=whole.accepted + whole.refused)
    assert (ended.ending, ended.accepted) == ("settled", whole.accepted)


def test_more_takes_are_allowed_where_more_pairs_are_wanted():
    assert [most_takes(pairs) for pairs in (0, 1, 2, 3, 5)] == [12, 12, 12, 18, 30]


def test_a_settled_job_asks_for_nothing(played_to_its_end):
    bench, folder, *_ = played_to_its_end(OUT)
    again, shown = guided(JobFolder.open(folder.path), player(bench, folder))
    assert (again.ending, again.accepted) == ("settled", 0)
    assert not any(line.startswith("[") for line in shown.lines)


def test_nobody_plays(tmp_path, monkeypatch):
    monkeypatch.setattr(hands_free, "PATIENCE", 1)
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder)
    reader = Reader(Blocks(guitarist), guitarist)
    reader.silent = True
    ended, shown = guided(folder, guitarist, face=reader)
    assert ended.ending == "gave up"
    assert any(line.startswith("Nothing was heard yet. ") for line in shown.lines)
    assert JobFolder.open(folder.path).takes() == ()


@pytest.mark.parametrize("when", ["during", "afterwards"])
def test_lost_samples_keep_a_take_out(tmp_path, when):
    """Seen while it is recorded: refused. Seen only later: void, in the log, and said."""

    class Losing(Reader):
        spans: ClassVar[list[tuple[int, int]]] = []

        def show_take(self, capture, result) -> None:
            self.spans.append(capture.span)

        def show_notice(self, notice: Progress) -> None:
            super().show_notice(notice)
            accepted = any(line.startswith("+ t001") for line in self.lines)
            due = notice.what == "onset" if when == "during" else notice.what == "ready" and accepted
            if due and not self.stream.losses:
                at = self.stream.start if when == "during" else self.spans[0][0] + 1000
                self.stream.losses.append(LostSamples(at, at + 1, 0))

    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = player(bench, folder)
    ended, shown = guided(folder, guitarist, face=Losing(Blocks(guitarist), guitarist), most=2)
    said = [line for line in shown.lines if line.startswith("x t001")]
    assert len(said) == 1
    assert "amples were lost" in said[0]
    words = {word.id: word for word in ended.verdict.takes}
    assert not (words["t001"].used if when == "during" else "t001" in words)


def test_keys_that_are_said_are_the_keys_that_are_read():
    assert all(f"{key} " in KEYS_SAID for key in KEYS)


def test_one_cable_that_is_plugged_in_once_is_enough():
    """Where it may have been in already, a second bang does not come."""
    bench = Blocks(Guitarist(bench_of(OUT), None, np.random.default_rng(1), rate=SLOW_RATE))
    bench.pending = bench.guitarist.taps()[: round(1.1 * SLOW_RATE)]
    assert await_move(bench, columns=(0,), known=False, on_progress=lambda progress: None) is None
    assert bench.start < NOT_MOVED_S * SLOW_RATE


def test_the_set_up_is_looked_at_in_the_quiet_before_the_first_take(tmp_path):
    """And never again: nobody waits for it."""
    said = []

    class Noting(Reader):
        def show_note(self, note):
            said.append(type(note))
            super().show_note(note)

        def show_notice(self, notice):
            said.append(notice.what)
            super().show_notice(notice)

    folder = loose_neck(tmp_path, bench_of(OUT))
    guitarist = player(bench_of(OUT), folder)
    shown = Noting(Blocks(guitarist), guitarist)
    Session(folder.path, RecordingOptions(inputs=2, rig="box", most=2)).run(shown.stream, shown, looks=True)
    assert said.count(SetupSeen) == 1
    assert said[said.index(SetupSeen) + 1] == "ready"
    assert "onset" not in said[: said.index(SetupSeen)]
