"""A tag on the lead under the tip's clip: the answer is about that lead, whatever was read. By construction.

Truth is said of the leads as they are: the simulator's hot is the lead that the record calls violet. "Over"
turns the signal of the neck: its other lead was under the tip's clip, and the log says what it always says.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from judging_jobs import LEADS, RATE, JobOnDisk, called, sureness

from capture.takes.folder import JobFolder
from reports.evidence.leads import lead_history
from reports.render.exports import as_json
from reports.render.lead_drawing import lead_figure, lead_pictures
from reports.render.report import as_html
from reports.render.text import as_text

VIOLET = {"pickup": "neck", "hot": "violet", "ground": "grey"}
GREY = {"pickup": "neck", "hot": "grey", "ground": "violet"}
BY_TAG = {"pickup": "neck", "hot": "tagged", "ground": "other"}
NAMELESS = LEADS.replace('hot = "violet"\nground = "grey"\n', "")


def row_of(verdict, pickup="neck"):
    return next(r for r in verdict.wiring if r.pickup == pickup)


def recorded_job(home, sounds, *, clips=VIOLET, over=False, toml=LEADS, split=True, **said):
    """A split check at the bridge, and paired plucks on two strings through one clip-up of the neck."""
    job = JobOnDisk(home, toml)
    if split:
        job.take(sounds.split, ["bridge", "bridge"], string="D3")
    turn = np.array([1, -1 if over else 1])
    for audio, string in zip(sounds.paired, ("D3", "G3"), strict=True):
        job.take(audio * turn, ["bridge", clips], string=string, **said)
    return job


def put_tag(job, take="t003", pickup="neck"):
    return job.log("tag", id=f"g{job.entries:03d}", pickup=pickup, take=take)


@pytest.mark.parametrize("toml", [LEADS, NAMELESS])
@pytest.mark.parametrize("clips", [VIOLET, GREY, "neck"])
def test_a_tag_lifts_what_clips_and_colours_could_have_turned(clips, toml, opposed, tmp_path):
    job = recorded_job(tmp_path / "job", opposed, clips=clips, toml=toml)
    before = job.pair
    put_tag(job)
    assert job.pair.phase == before.phase
    assert sureness(job.pair) > sureness(before) + 0.01


@pytest.mark.parametrize("clips", [VIOLET, "neck"])
def test_clips_exchanged_unseen_turn_the_answer_about_the_tagged_lead_and_so_never_the_soldering(
    clips, opposed, tmp_path
):
    """The same log; the other lead was under the tip. Which lead goes to hot is the same piece of wire."""
    told = {}
    for over in (False, True):
        job = recorded_job(tmp_path / str(over), opposed, clips=clips, over=over)
        put_tag(job)
        told[over] = row_of(job.verdict).leads["tagged"]
    assert told == {False: "ground", True: "hot"}


def test_colours_named_the_other_way_round_turn_the_exchange_and_not_what_the_tagged_lead_becomes(
    opposed, tmp_path
):
    """The same sound through the same clips, and the colours read the other way round."""
    rows = []
    for clips in (VIOLET, GREY):
        job = recorded_job(tmp_path / clips["hot"], opposed, clips=clips)
        put_tag(job)
        rows.append(row_of(job.verdict))
    assert [r.exchange for r in rows] == [True, False]
    assert [r.leads for r in rows] == [{"tagged": "ground", "other": "hot"}] * 2


def test_a_tagged_job_settles_where_the_same_one_by_colours_does_not_get_beyond_its_clips(opposed, tmp_path):
    job = recorded_job(tmp_path / "job", opposed)
    job.take(0.9 * opposed.paired[0], ["bridge", VIOLET], string="D3")
    by_colour = sureness(job.pair)
    put_tag(job)
    assert by_colour < 0.99
    assert sureness(job.pair) > by_colour


def test_another_clip_up_by_colour_stands_against_the_tag_through_both_clip_ups(opposed, tmp_path):
    """It agrees or contradicts, and what it says is worth less than the sealed ones."""
    job = recorded_job(tmp_path / "job", opposed)
    put_tag(job)
    sealed = job.pair
    job.take(0.9 * opposed.paired[0], ["bridge", GREY], string="D3", anew=True)
    against = job.pair
    assert against.phase == sealed.phase
    assert sureness(against) < sureness(sealed)
    agreeing = recorded_job(tmp_path / "agreeing", opposed)
    put_tag(agreeing)
    agreeing.take(0.9 * opposed.paired[0], ["bridge", VIOLET], string="D3", anew=True)
    assert sureness(agreeing.pair) >= sureness(sealed) - 1e-9


def test_leads_can_be_named_by_the_tag_once_it_is_on(opposed, tmp_path):
    """The tagged lead on the tip, or the other one: the sign follows."""
    for clips, turn in ((BY_TAG, 1), ({**BY_TAG, "hot": "other", "ground": "tagged"}, -1)):
        job = recorded_job(tmp_path / clips["hot"], opposed)
        put_tag(job)
        sealed = job.pair
        job.take(0.9 * opposed.paired[0] * np.array([1, turn]), ["bridge", clips], string="A2", anew=True)
        assert job.pair.phase == sealed.phase
        assert sureness(job.pair) >= sureness(sealed) - 1e-9
        assert job.verdict.takes[-1].remarks == ()


@pytest.mark.parametrize("over", [False, True])
def test_the_meter_by_the_tag_goes_with_the_tag(over, opposed, tmp_path):
    """Red on the tagged lead: falls where the tagged lead is out of phase; then both methods agree."""
    job = recorded_job(tmp_path / "job", opposed, over=over)
    put_tag(job)
    job.meter("bridge", "rises", kohm=6.0)
    job.meter("neck", "rises" if over else "falls", red="tagged", black="other")
    verdict = job.verdict
    assert verdict.conflicts == ()
    assert row_of(verdict).leads["tagged"] == ("hot" if over else "ground")


def test_colours_misread_each_time_do_no_harm_to_the_tag(opposed, tmp_path):
    """Meter and clips by the same wrong colours: they agree with each other, and the tag is right."""
    job = recorded_job(tmp_path / "job", opposed, over=True)
    put_tag(job)
    job.meter("bridge", "rises")
    job.meter("neck", "rises", red="violet", black="grey")
    verdict = job.verdict
    assert verdict.conflicts == ()
    assert row_of(verdict).leads["tagged"] == "hot"


def test_what_was_not_recorded_through_the_sealed_clip_up_is_not_sealed(opposed, tmp_path):
    """A tag on a clip-up of one worthless take lifts nothing of the others."""
    job = recorded_job(tmp_path / "job", opposed)
    plain = sureness(job.pair)
    job.take(np.zeros_like(opposed.paired[0]), ["bridge", VIOLET], string="D3", anew=True)
    put_tag(job, "t004")
    assert sureness(job.pair) < plain


@pytest.mark.parametrize("entered_again", [False, True])
def test_a_clip_up_that_was_voided_is_one_all_the_same(entered_again, tmp_path):
    """The first take through clips put on anew is voided: what came before it is not sealed. Where the same
    file is entered again without it, the clips were not put on anew.
    """
    job = JobOnDisk(tmp_path / "job", LEADS)
    quiet = np.zeros((RATE // 10, 2))
    job.take(quiet, ["bridge", VIOLET])
    job.take(quiet + 0.1, ["bridge", VIOLET], anew=True)
    job.log("void", entry="t002", why="buzz")
    job.take(quiet + (0.1 if entered_again else 0.2), ["bridge", VIOLET])
    job.take(quiet + 0.3, ["bridge", VIOLET])
    put_tag(job, "t005")
    folder = JobFolder.open(job.home)
    tag = lead_history(folder.job, folder.log.standing).tag_of("neck")
    assert tag.sealed == ({"t001", "t004", "t005"} if entered_again else {"t004", "t005"})
    assert all("anew" not in e.entry.line() for e in folder.log.entries if e.entry.id != "t002")


def test_a_voided_tag_or_take_of_it_says_nothing_and_is_said(opposed, tmp_path):
    job = recorded_job(tmp_path / "job", opposed)
    plain = job.verdict
    tag = put_tag(job)
    tagged = job.verdict
    void = job.log("void", entry=tag)
    assert job.verdict.pairs == plain.pairs
    assert row_of(job.verdict).leads == row_of(plain).leads
    job.log("void", entry=void)
    assert job.verdict.pairs == tagged.pairs
    job.log("void", entry="t003")
    idle = job.verdict
    assert "tagged" not in row_of(idle).leads
    assert any(getattr(w, "entry", "") == tag for w in idle.warnings)


@pytest.mark.parametrize("take", ["t002", "t003"])
def test_which_take_of_the_clip_up_is_named_changes_no_answer(take, opposed, tmp_path):
    job = recorded_job(tmp_path / "job", opposed)
    put_tag(job, take)
    assert row_of(job.verdict).leads["tagged"] == "ground"


def test_leads_soldered_by_the_tag_keep_it_and_by_colour_do_not(opposed, tmp_path):
    sure = {}
    for leads in ({"tagged": "ground", "other": "hot"}, {"violet": "ground", "grey": "hot"}):
        job = recorded_job(tmp_path / next(iter(leads)), opposed)
        put_tag(job)
        job.log("change", pickup="neck", leads=leads)
        verdict = job.verdict
        assert verdict.pairs[0].phase == "in phase"
        assert row_of(verdict).exchange is False
        assert row_of(verdict).leads == leads
        sure[next(iter(leads))] = sureness(verdict.pairs[0])
    assert sure["tagged"] > sure["violet"]


def test_a_tag_carries_evidence_over_the_work_where_no_lead_has_a_colour(opposed, tmp_path):
    """Without names nothing carries over; by the tag it does."""
    sure = {}
    for tagged in (False, True):
        job = recorded_job(tmp_path / str(tagged), opposed, clips="neck", toml=NAMELESS)
        if tagged:
            put_tag(job)
            job.log("change", pickup="neck", leads={"tagged": "ground", "other": "hot"})
        job.meter("bridge", "unclear", stage="after")
        sure[tagged] = job.pair
    assert sure[False].p_in_phase is None
    assert sure[True].phase == "in phase"


REFUSED = [
    ({"pickup": "neck", "take": "t009"}, "there is no such entry before it"),
    ({"pickup": "neck", "take": "t001"}, 'had no clips on "neck" alone'),
    ({"pickup": "neck", "take": "m004"}, "is no take"),
    ({"pickup": "bridge", "take": "t002"}, "is fitted"),
    ({"pickup": "nek", "take": "t002"}, 'no pickup "nek"; did you mean "neck"'),
    ({"pickup": "neck"}, '"take" is missing'),
]


@pytest.mark.parametrize(("said", "why"), REFUSED)
def test_a_tag_that_fits_no_clip_up_is_refused_with_file_and_line(said, why, opposed, tmp_path, capsys):
    job = recorded_job(tmp_path / "job", opposed)
    job.meter("bridge", "rises")
    job.log("tag", id="g001", **said)
    assert called("verdict", job.home) == 2
    told = capsys.readouterr().err
    assert "bench.jsonl line 5" in told
    assert why in told


def test_a_lead_named_by_a_tag_that_was_never_put_on_is_refused(opposed, tmp_path, capsys):
    job = recorded_job(tmp_path / "job", opposed, clips=BY_TAG)
    assert called("verdict", job.home) == 2
    assert "no tag was put on it before" in capsys.readouterr().err


FOUR = """hot = "violet"
ground = "grey"
link = ["orange", "brown"]
coils = 2
"""


@pytest.mark.parametrize("four", [False, True])
@pytest.mark.parametrize("over", [False, True])
def test_every_face_says_the_tagged_lead(over, four, opposed, tmp_path):
    toml = LEADS.replace('hot = "violet"\nground = "grey"\n', FOUR) if four else LEADS
    job = recorded_job(tmp_path / "job", opposed, over=over, toml=toml)
    put_tag(job)
    verdict = job.verdict
    row = row_of(verdict)
    ends = ("hot", "ground") if over else ("ground", "hot")
    link = {"orange": "link", "brown": "link"} if four else {}
    assert row.leads == {"tagged": ends[0], "other": ends[1]} | link
    assert row.read_as == {"tagged": "violet", "other": "grey"}
    work = f"the tagged lead to {ends[0]}, the other to {ends[1]}"
    (picture,) = [p for p in lead_pictures(JobFolder.open(job.home).job, verdict) if p.pickup == "neck"]
    for face in (as_text(verdict), as_html(verdict, (), made_at="today", leads=[picture])):
        flat = " ".join(face.replace("\N{NO-BREAK SPACE}", " ").split())
        assert work.lower() in flat.lower()
        assert "Go by the tag, not by a colour" in flat
        assert "the tagged lead" in flat
    assert picture.tagged == "the tagged lead"
    assert {end for coil in picture.coils for end in coil} == set(picture.roles)
    drawn = lead_figure(picture)
    assert 'class="tag"' in drawn
    assert "violet" not in drawn
    told = json.loads(as_json(verdict))
    (wiring,) = [w for w in told["wiring"] if w["pickup"] == "neck"]
    assert wiring["leads"] == row.leads
    assert any("go by the tag" in w.lower() for w in wiring["warnings"])


def test_without_a_tag_it_is_said_that_leads_are_named_as_they_were_read(opposed, tmp_path):
    job = recorded_job(tmp_path / "job", opposed)
    codes = {False: [w.code for w in row_of(job.verdict).warnings]}
    put_tag(job)
    codes[True] = [w.code for w in row_of(job.verdict).warnings]
    assert ("leads as read" in codes[False], "go by the tag" in codes[False]) == (True, False)
    assert ("leads as read" in codes[True], "go by the tag" in codes[True]) == (False, True)
