"""The page's drawings: to scale, told in words, marks without colour, and typed text that stays text."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.job import Job, Member, Pickup, Setting
from capture.log import Take
from reports.evidence.results import ChannelSource, PairedPluck, TakeResult
from reports.messages.play import BAND, HOLD, TAG
from reports.messages.session import ACTIVITIES
from reports.model.session import BenchQuestion, Failure, Step
from reports.model.verdict import PairVerdict, SettingVerdict, Verdict, standing_of
from reports.page.server.recording import PageState, PosteriorStep
from reports.page.widgets.band import band_of, band_svg
from reports.page.widgets.last_take import posterior_svg, wave_svg
from reports.page.widgets.take_evidence import evidence_svg
from reports.render.guitar import (
    guitar_svg,
    pickup_states,
    relation_mark,
    setting_mark_svg,
    setting_states,
)
from reports.render.play_picture import play_svg

NASTY = "<script>alert(1)</script>"


def job(*names: str, places: tuple[float | None, ...] = (40.0, 100.0, 160.0)) -> Job:
    pickups = tuple(Pickup(name=n, centre_mm=mm) for n, mm in zip(names, places, strict=False))
    on = tuple(Member(pickup=n) for n in names[:2])
    return Job(title="", pickups=pickups, settings=(Setting(name="both", on=on),))


def verdict(p: float | None, *, hum: float | None = None, sounds: str = "unknown") -> Verdict:
    standing = standing_of(p)
    phase = None if standing == "unsettled" or p is None else "in phase" if p > 0.5 else "out of phase"
    pair = PairVerdict(a="bridge", b="neck", p_in_phase=p, phase=phase, standing=standing, p_hum_cancels=hum)
    setting = SettingVerdict(
        name="both", sounds=sounds, p_full=p, hum="unknown", on=("bridge", "neck"), standing=standing
    )
    return Verdict(title="", stage="found", reference="bridge", pairs=(pair,), settings=(setting,))


@pytest.mark.parametrize(
    ("p", "kind", "likely", "said"),
    [
        (0.996, "in phase", False, "in phase with bridge (settled, 99.6"),
        (0.004, "opposed", False, "opposed to bridge"),
        (0.9499, "in phase", True, "(likely, 94.9"),
        (0.05, "opposed", True, "(likely, 95.0"),
        (0.7, "not known", False, "leaning to in phase"),
        (None, "not known", False, "not known yet"),
    ],
)
def test_each_pickup_is_told_in_words_and_by_a_mark(p, kind, likely, said):
    """Percentages are rounded down: the drawing never claims more than the verdict."""
    reference, neck = pickup_states(job("bridge", "neck"), verdict(p))
    assert reference.kind == "reference"
    assert (neck.kind, neck.likely) == (kind, likely)
    assert said in neck.relation
    assert neck.relation.split(" (")[0] in " ".join(words_of(guitar_svg(job("bridge", "neck"), verdict(p))))


def test_marks_differ_without_colour():
    """In black and white, without dashes turned to colour: every kind is drawn differently."""
    drawn = [
        re.sub(r'(fill|stroke)="[^"]*"', "", "".join(relation_mark(kind, 0, 0, likely=likely)))
        for kind, likely in (
            ("reference", False),
            ("in phase", False),
            ("in phase", True),
            ("opposed", False),
            ("opposed", True),
            ("not known", False),
        )
    ]
    assert len(set(drawn)) == len(drawn)
    assert (
        len({re.sub(r'(fill|stroke)="[^"]*"', "", setting_mark_svg(k)) for k in ("full", "thin", "unknown")})
        == 3
    )


def test_hum_is_told_with_which():
    assert pickup_states(job("bridge", "neck"), verdict(0.5, hum=0.97))[1].hum == "hum cancels with bridge"
    assert "does not cancel with neck" in pickup_states(job("bridge", "neck"), verdict(0.5, hum=0.02))[0].hum
    assert pickup_states(job("bridge", "neck"), verdict(0.5, hum=0.6))[0].hum == "hum not known"


def test_settings_are_told_as_the_verdict_has_them():
    (row,) = setting_states(job("bridge", "neck"), verdict(0.004, sounds="thin"))
    assert (row.name, row.kind, row.sounds) == ("both", "thin", "THIN")
    (row,) = setting_states(job("bridge", "neck"), None)
    assert row.kind == "unknown"


def test_places_are_to_scale():
    """By construction: twice as far from the saddle is twice as far on the drawing."""
    drawn = ET.fromstring(guitar_svg(job("bridge", "middle", "neck", places=(40.0, 80.0, 160.0)), None))
    middles = [
        float(r.get("x")) + float(r.get("width")) / 2 for r in drawn.iter("{http://www.w3.org/2000/svg}rect")
    ]
    saddle = float(next(drawn.iter("{http://www.w3.org/2000/svg}line")).get("x1"))
    first, second, third = (x - saddle for x in middles)
    assert second / first == pytest.approx(2.0, rel=1e-2)
    assert third / first == pytest.approx(4.0, rel=1e-2)


def test_what_is_played_now_and_what_was_not_measured_is_said():
    step = Step("pluck", ("neck",), string="D3", kind="in turn", columns=(0,), pickups=("bridge", "neck"))
    said = words_of(play_svg(job("bridge", "neck", places=(40.0, None)), None, now=step))
    assert said.count("PLAY THIS NOW") == 1
    assert any("place not measured" in s for s in said)


def test_a_lift_on_one_coil_marks_that_coil_alone():
    """Neither the other coil, nor the pickup that it is compared with later."""
    two = Job(pickups=(Pickup(name="bridge", coils=2), Pickup(name="middle"), Pickup(name="neck")))
    lift = Step(
        "lift", ("bridge",), coil=1, tool="rod", kind="lift", columns=(0,), pickups=("bridge", "middle")
    )
    drawn = ET.fromstring(play_svg(two, None, now=lift))
    coils = [r for r in drawn.iter("{http://www.w3.org/2000/svg}rect") if "dasharray" in str(r.attrib)]
    assert [r.get("stroke-width") for r in coils] == ["5", "2", "2", "2"]
    assert "coil 1 alone" in words_of(play_svg(two, None, now=lift))


def test_how_a_loose_pickup_is_held_is_drawn_while_it_is_plugged_in():
    two = Job(pickups=(Pickup(name="bridge"), Pickup(name="neck", fitted=False)))
    pluck = Step(
        "pluck", ("bridge", "neck"), string="D3", kind="paired", columns=(0, 1), pickups=("bridge", "neck")
    )
    assert HOLD in words_of(play_svg(two, None, now=pluck, moving="plug in"))
    assert HOLD not in words_of(play_svg(two, None, now=pluck))
    assert TAG in words_of(play_svg(two, None, now=None, tagging="neck"))


def test_a_sweep_numbers_the_positions_in_its_order():
    sweep = Step(
        "switch",
        (("neck", "both", "bridge"),),
        string="A2",
        kind="switch",
        columns=(0,),
        pickups=("bridge", "neck"),
    )
    drawn = ET.fromstring(play_svg(job("bridge", "neck"), None, now=sweep))
    names = [t for t in drawn.iter("{http://www.w3.org/2000/svg}text") if t.get("font-size") == "21"]
    said = {t.text: float(t.get("x")) for t in names if t.get("text-anchor") == "middle"}
    assert said["both"] == pytest.approx((said["bridge"] + said["neck"]) / 2)
    numbers = [t for t in drawn.iter("{http://www.w3.org/2000/svg}text") if t.get("font-size") == "30"]
    assert {t.text: float(t.get("x")) for t in numbers} == {
        "1": said["neck"],
        "2": said["both"],
        "3": said["bridge"],
    }


PLUCK = Step("pluck", ("bridge",), string="D3", kind="in turn", columns=(0,), pickups=("bridge", "neck"))


@pytest.mark.parametrize(
    ("state", "lately", "kind"),
    [
        (PageState(), None, "begin"),
        (PageState(phase="opening", activity="opening"), None, "ready"),
        (PageState(phase="playing", step=PLUCK, moving="plug", activity="moving"), None, "move"),
        (PageState(phase="playing", step=PLUCK, moving="plug", activity="moving"), True, "accepted"),
        (PageState(phase="playing", step=PLUCK, activity="waiting"), None, "quiet"),
        (PageState(phase="playing", step=PLUCK, activity="waiting"), False, "refused"),
        (PageState(phase="playing", step=PLUCK, activity="ready"), True, "now"),
        (PageState(phase="playing", step=PLUCK, activity="onset"), None, "listening"),
        (PageState(phase="playing", question=BenchQuestion("tag", 9.0)), None, "question"),
        (PageState(phase="failed", outcome=Failure("session", "gone")), None, "stopped"),
    ],
)
def test_the_band_says_what_the_moment_is(state, lately, kind):
    assert band_of(state, lately=lately).kind == kind


def test_what_the_band_says_is_not_said_again_in_small_letters():
    bands = {doing: band_of(PageState(phase="playing", activity=doing)) for doing in ACTIVITIES}
    repeated = [doing for doing, band in bands.items() if band.says(ACTIVITIES[doing])]
    assert repeated == ["ready"]


def test_the_band_differs_in_shape_and_word():
    kinds = list(BAND)
    assert len({band_svg(kind) for kind in kinds}) == len({BAND[k] for k in kinds}) == len(kinds)


@pytest.mark.parametrize("sign", [1, -1])
def test_both_inputs_of_a_pluck_are_laid_over_each_other(sign):
    """One input negated: the traces lie against each other, and it is said."""
    trace = np.sin(np.arange(4000) / 40.0)
    entry = Take(id="t1", file="takes/t1.wav", gesture="pluck", inputs=("bridge", "neck"), string="D3")
    sources = tuple(ChannelSource(n, None, False, k, False) for k, n in enumerate(("bridge", "neck")))
    pluck = PairedPluck((0, 1), 0.9 * sign, 147.0, (trace, sign * trace), partials=None)
    result = TakeResult(entry, sources=sources, paired=(pluck,))
    drawn = evidence_svg(result, job=job("bridge", "neck"))
    said = " ".join(words_of(drawn))
    assert ("they move together" in said) is (sign > 0)
    assert ("they move against each other" in said) is (sign < 0)
    assert "1: bridge" in said
    assert "2: neck" in said
    first, second = (
        [float(y) for y in re.findall(r"[\d.]+,([\d.]+)", points)]
        for points in re.findall(r'polyline points="([^"]*)"', drawn)
    )
    assert np.corrcoef(first, second)[0, 1] * sign > 0.99


@given(st.text(min_size=1, max_size=24).filter(lambda t: t.strip()), st.sampled_from([None, 0.003, 0.95]))
def test_any_name_is_drawn_as_text(name, p):
    named = job("bridge", "neck").model_copy(
        update={"pickups": (Pickup(name="bridge"), Pickup.model_construct(name=name))}
    )
    ET.fromstring(guitar_svg(named, verdict(p)))
    ET.fromstring(wave_svg(np.zeros((10, 1)), rate=100, onset_s=0.0, end_s=None, labels=[name]))


def test_a_script_stays_text():
    for svg in (
        guitar_svg(job("bridge", NASTY), None),
        wave_svg(np.ones((10, 1)), rate=10, onset_s=0.1, end_s=1.0, labels=[NASTY]),
        posterior_svg([PosteriorStep(NASTY, 0.4)]),
    ):
        assert "<script" not in svg
        assert svg.startswith("<svg")
        drawn = ET.fromstring(svg)
        assert drawn.get("role") == "img"
        assert drawn[0].text
        assert drawn[1].text


def test_one_loud_sample_in_an_hour_is_seen():
    samples = np.zeros((3600 * 100, 1))
    samples[1234] = -1.0
    drawn = wave_svg(samples, rate=100, onset_s=12.34, end_s=3600.0, labels=["bridge"])
    depth = [float(y) for y in re.findall(r"[\d.]+,([\d.]+)", drawn)]
    assert max(depth) - min(depth) > 30
    assert "clips" in drawn
    assert len(drawn) < 60_000


def test_belief_goes_up_for_in_phase_and_names_the_take_that_moved_it():
    steps = [PosteriorStep("start", None), PosteriorStep("t001", 0.6), PosteriorStep("t002", 0.97)]
    up, down = (
        posterior_svg(
            [PosteriorStep(s.take, None if s.p_in_phase is None else abs(turn - s.p_in_phase)) for s in steps]
        )
        for turn in (0.0, 1.0)
    )
    assert "t002 moved it most" in up
    assert "in phase, 97.0" in up
    assert "out of phase, 97.0" in down
    assert last_height(up) < last_height(down)


def last_height(svg: str) -> float:
    return float(re.findall(r"[\d.]+,([\d.]+)", re.search(r'<polyline points="([^"]+)"', svg).group(1))[-1])


def words_of(svg: str) -> list[str]:
    return [node.text for node in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]
