"""Strings beyond six alike: pairs, fan frets, slants, eight strings; what is one number stays one number."""

import pytest

from capture import JobError
from capture.job import parse_job, read_job
from capture.job.writing import new_job
from reports.entry.changed_job import change_job, fields_of
from reports.entry.lengths import lengths_from, open_strings
from reports.entry.spelling import pickup_from
from reports.evidence.leads import lead_history
from reports.evidence.settings import place_of
from reports.inference.evidence_graph import EvidenceGraph, pole_errors
from reports.model.session import pluck_strings, switch_strings

SIX = ("E2", "A2", "D3", "G3", "B3", "E4")
EIGHT = ("F#1", "B1", "E2", "A2", "D3", "G3", "B3", "E4")
TWELVE = "E2/E3 A2/A3 D3/D4 G3/G4 B3/B3 E4/E4"


def job_with(tmp_path, *, strings, centre="50", scale="648", poles=None):
    """A job as `coilwise new` makes it."""
    neck = pickup_from(f"neck:{centre}")
    if poles is not None:
        neck = neck.model_copy(update={"poles": poles})
    return new_job(
        tmp_path / "job",
        title="strings",
        pickups=[pickup_from("bridge:44"), neck],
        scale_mm=lengths_from(scale),
        strings=open_strings(strings),
    )


def test_a_slant_and_fan_frets_give_each_string_its_own_place(tmp_path):
    job = job_with(tmp_path, strings=" ".join(SIX), centre="35..60", scale="686..648")
    low, high, any_one = (place_of(job, "neck", string=s) for s in ("E2", "E4", None))
    assert low.centre_mm / low.length_mm == pytest.approx(35 / 686)
    assert high.centre_mm / high.length_mm == pytest.approx(60 / 648)
    assert any_one.centre_mm / any_one.length_mm == pytest.approx(47.5 / 667)
    assert job.centre_under(job.pickups[1], "D3") == pytest.approx(35 + 25 * 2 / 5)
    fretted = place_of(job, "neck", fret=12, string="E2")
    assert fretted.centre_mm / fretted.length_mm == pytest.approx(70 / 686)
    each = job_with(tmp_path / "each", strings=" ".join(SIX), centre="35..36..37..38..39..40")
    assert each.centre_under(each.pickups[1], "B3") == 39
    assert place_of(each, "bridge", string="B3") == place_of(each, "bridge")


def test_what_is_typed_is_kept_and_shown_again(tmp_path):
    made = job_with(tmp_path, strings=TWELVE, centre="35..60", scale="686..648")
    text = (tmp_path / "job" / "job.toml").read_text()
    assert '["E2", "E3"]' in text and "[35.0, 60.0]" in text and "[686.0, 648.0]" in text
    fields = fields_of(made)
    assert (fields.strings, fields.scale, fields.pickups[1].centre) == (TWELVE, "686..648", "35..60")
    assert change_job(tmp_path / "job", fields) == made == read_job(tmp_path / "job")
    assert (tmp_path / "job" / "job.toml").read_text() == text


def test_the_strings_of_a_pair_are_over_one_pole_and_its_main_one_is_asked_for(tmp_path):
    job = job_with(tmp_path, strings=TWELVE)
    assert job.string_place("A2") == job.string_place("A3") == 1 and job.partners("A2") == ("A3",)
    assert set(pluck_strings(job)) == {"D3", "G3"} and switch_strings(job) == ("A2", "D3", "E2")
    graph = EvidenceGraph(lead_history(job, ()))
    assert pole_errors(graph, "neck", ["D3", "D4"])  # one course alone leaves it open whether poles alternate
    assert not pole_errors(graph, "neck", ["D3", "G3"])


def test_a_guitar_of_eight_strings_is_no_bass(tmp_path):
    graph = EvidenceGraph(lead_history(job_with(tmp_path, strings=" ".join(EIGHT)), ()))
    assert not pole_errors(graph, "neck", ["D3", "G3"])
    bass = job_with(tmp_path / "bass", strings="B0 E1 A1 D2 G2")
    kinds = [e.kind for e in pole_errors(EvidenceGraph(lead_history(bass, ())), "neck", ["D2", "G2"])]
    assert kinds == ["halves opposed"]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("scale_mm = [686.0, 648.0]", "does not name them"),
        ('strings = ["E2", "A2", "D3"]\nscale_mm = [1.0, 2.0, 3.0, 4.0]', "4 lengths, and there are 3"),
        ("scales_mm = [686.0, 648.0]", "unknown key"),
        ('strings = ["E2", ["A2", 3]]', "strings"),
    ],
)
def test_lengths_that_do_not_go_with_the_strings_are_refused(line, why):
    with pytest.raises(JobError, match=why):
        parse_job(f'format = 1\n{line}\n[[pickup]]\nname = "bridge"\n')
