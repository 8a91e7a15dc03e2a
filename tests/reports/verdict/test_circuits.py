"""What a setting can be: mixed networks, blends, what is always on, a stereo jack, a bypassed stage."""

import functools

import numpy as np
import pytest
from judging_jobs import BRIDGE, RATE, JobOnDisk, called, recorded
from simulator.conditions import Conditions
from simulator.scenes import random_bench

from capture import JobError, LogError
from capture.job import Job, Member, Setting, parse_job, read_job
from capture.job.writing import new_job
from capture.log import Take, new_entry
from capture.log.requirements import check_new_entry
from dsp.model.settings import network_shares
from reports.entry.changed_job import change_job, fields_of
from reports.entry.spelling import pickup_from, setting_from
from reports.evidence.settings import hum_weights
from reports.ohms.readings import expected_kohm
from reports.session.rounds import rounds

TWO = """format = 1
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
[[setting]]
name = "both"
on = ["bridge", {neck}]
"""


@pytest.mark.parametrize("join", ["parallel", "series"])
def test_a_mixed_network_gives_what_its_nodes_give(join):
    """Each EMF in turn at 1 V, the node equations solved by hand: R1 beside, or before, R2 and R3."""
    ohm = np.array([7.0, 5.0, 9.0])
    for k in range(3):
        emf = np.eye(3)[k]
        if join == "parallel":  # 1 across the jack, 2 and 3 one behind the other across it
            conductance = 1 / ohm[0] + 1 / (ohm[1] + ohm[2])
            wanted = (emf[0] / ohm[0] + (emf[1] + emf[2]) / (ohm[1] + ohm[2])) / conductance
        else:  # 1 before the two that lie side by side
            inner = np.linalg.solve([[1 / ohm[1] + 1 / ohm[2]]], [emf[1] / ohm[1] + emf[2] / ohm[2]])[0]
            wanted = emf[0] + inner
        found = network_shares(ohm, join=join, groups=[None, "a", "a"], shares=[1, 1, 1])
        assert found[k] == pytest.approx(wanted)


@pytest.mark.parametrize(("coil", "weights"), [(1, [2, 1, 1]), (None, [3, 1, 1])])
def test_in_a_mixed_network_a_split_pickup_counts_one_coil_and_a_whole_one_two(coil, weights):
    """The bridge lies beside middle and neck in a row: with two coils as many ohms more."""
    job = parse_job(TWO.format(neck='"neck"') + '[[pickup]]\nname = "middle"\ncoils = 2\n')
    row = (Member(pickup="middle", coil=coil, group="row"), Member(pickup="neck", group="row"))
    setting = Setting(name="mixed", on=(Member(pickup="bridge"), *row))
    assert list(hum_weights(setting, job).values()) == weights


def test_a_mixed_setting_is_entered_read_measured_and_its_hum_counted(tmp_path):
    said = setting_from("mixed=bridge+(middle+neck/40%):quiet")
    assert [m.group for m in said.on] == [None, "group 1", "group 1"] and said.on[2].share == 0.4
    whole = setting_from("mixed=bridge+(middle+neck)")
    job = new_job(
        tmp_path / "job",
        title="mixed",
        pickups=[pickup_from(n) for n in ("bridge", "middle", "neck")],
        settings=[whole],
    )
    assert job.setting("mixed") == whole
    kohm = {"bridge": 7.0, "middle": 5.0, "neck": 9.0}
    assert expected_kohm(job, whole, kohm) == pytest.approx(7 * 14 / 21)
    assert expected_kohm(job, said, kohm) is None  # a knob that is not full up is in the way
    assert list(hum_weights(whole, job).values()) == [2, 1, 1]  # one against two in series: it may cancel
    assert set(hum_weights(setting_from("x=bridge+neck"), job).values()) == {None}
    for wrong in ("mixed=(bridge+neck)", "mixed=bridge+(neck)", "mixed=bridge+(middle", "mixed=a+(b+(c+d))"):
        with pytest.raises(JobError):
            new_job(
                tmp_path / "wrong",
                title="",
                pickups=[pickup_from(n) for n in ("bridge", "middle", "neck")],
                settings=[setting_from(wrong)],
            )


@pytest.mark.parametrize(
    ("sign", "neck"), [(1, '"neck"'), (-1, '"neck"'), (1, "{pickup = 'neck', reversed = true}")]
)
def test_a_lift_while_both_are_on_tells_the_one_at_whose_pole_it_was(tmp_path, sign, neck):
    job = JobOnDisk(tmp_path / "job", TWO.replace("{neck}", neck))
    by_turns = recorded(in_phase=True).in_turn["lift"]
    for take in range(4):
        for number, name in enumerate(("bridge", "neck")):
            audio = by_turns[number + 2 * (take % 2)][1] * (sign if name == "neck" else 1)
            noise = 2e-6 * np.random.default_rng([take, number]).standard_normal(audio.shape)
            job.take(audio + noise, ["both"], gesture="lift", tool="rod", tapped=name)
    job.log("check", what="tool", tool="rod", staple="not lifted")
    pair = job.pair
    reversed_in_it = "reversed" in neck
    assert pair.phase == ("in phase" if (sign > 0) != reversed_in_it else "out of phase")
    assert pair.standing == "settled"


def test_what_is_always_on_is_never_left_out():
    toml = TWO.replace("{neck}", '"neck"').replace('name = "bridge"', 'name = "bridge"\nalways = true', 1)
    job = parse_job(toml)
    take = {"file": "takes/t1.wav", "gesture": "pluck", "string": "D3"}
    check_new_entry(new_entry(Take, **take, inputs=("bridge",)), job)
    with pytest.raises(LogError, match=r'never on alone.*"both"'):
        check_new_entry(new_entry(Take, **take, inputs=("neck",)), job)
    with pytest.raises(JobError, match="always on"):
        parse_job(toml + "[[setting]]\nname = 'front'\non = ['neck']\n")
    steps = [s for one in rounds(job, inputs=2) for s in one.steps]
    assert {(s.gesture, s.inputs[0], s.tapped) for s in steps} == {
        ("lift", "bridge", None),
        ("lift", "both", "neck"),
    }


def test_a_stereo_jack_gives_two_pickups_at_once():
    mono = parse_job(TWO.replace("{neck}", '"neck"'))
    stereo = mono.model_copy(update={"stereo": ("bridge", "neck")})
    assert not any(r.first.kind == "paired" for r in rounds(mono, inputs=2))
    assert any(r.first.inputs == ("bridge", "neck") for r in rounds(stereo, inputs=2))
    with pytest.raises(JobError, match="stereo"):
        parse_job('stereo = ["bridge", "middle"]\n' + TWO.replace("{neck}", '"neck"'))


ACTIVE = f"""format = 1
{BRIDGE.replace("hot", "active = true" + chr(10) + "hot", 1)}
[[pickup]]
name = "neck"
[[setting]]
name = "bypassed"
on = ["bridge"]
bypass = true
"""


@functools.cache
def ringing():
    """A string over one pickup, three seconds of it."""
    rng = np.random.default_rng(5)
    bench = random_bench(rng, conditions=Conditions(humbucker_rate=0.0), pickups=2)
    return tuple(bench.pluck(rng, "bridge", s, rate=RATE, ringing_s=3.0) for s in ("E2", "A2"))


@pytest.mark.parametrize("stage", [1, -1])
@pytest.mark.parametrize("in_phase", [True, False])
def test_a_bypass_that_is_thrown_while_a_string_rings_proves_the_stage(tmp_path, stage, in_phase):
    """The bridge is heard at its leads beside the neck, and through its stage at the jack."""
    sounds = recorded(in_phase=in_phase)
    job = JobOnDisk(tmp_path / "job", ACTIVE.replace('name = "neck"', 'name = "neck"\nactive = false'))
    job.take(sounds.split, ["bridge", "bridge"], string="D3")
    for string, audio in zip(("D3", "G3"), sounds.paired, strict=True):
        job.take(audio * [stage, 1], ["bridge", "neck"], string=string)
    assert job.pair.standing == "unsettled"  # the neck has no stage: nothing says what the bridge's does
    for string, audio in zip(("E2", "A2"), ringing(), strict=True):
        at = int(1.6 * RATE)
        gain = np.where(np.arange(len(audio)) < at, stage * 1.0, 0.55)[:, np.newaxis]
        pop = np.zeros_like(audio)
        pop[at : at + 8] += 0.02
        job.take(audio * gain + pop, [["bridge", "bypassed"]], gesture="switch", string=string)
    pair = job.pair
    assert (pair.phase, pair.standing != "unsettled") == ("in phase" if in_phase else "out of phase", True)


def test_a_diagram_of_the_stage_is_worth_a_look_and_no_proof(tmp_path):
    sounds = recorded(in_phase=True)
    for said, phase in (("keeps", "in phase"), ("inverts", "out of phase")):
        toml = ACTIVE.replace("active = true", f'active = true\nstage = "{said}"')
        job = JobOnDisk(tmp_path / said, toml)
        job.take(sounds.split, ["bridge", "bridge"], string="D3")
        for string, audio in zip(("D3", "G3"), sounds.paired, strict=True):
            job.take(audio, ["bridge", "neck"], string=string)
        assert (job.pair.phase, job.pair.standing) == (phase, "likely")
    assert any("battery" in c for c in job.verdict.cautions)


def test_a_job_of_before_says_the_same():
    plain = Setting(name="both", on=(Member(pickup="a"), Member(pickup="b")))
    assert plain.plain and Job(pickups=()).stereo is None
    assert plain.model_dump(exclude_defaults=True) == {
        "name": "both",
        "on": ({"pickup": "a"}, {"pickup": "b"}),
    }


def test_what_is_said_of_a_pickup_goes_in_by_command_and_stays_in_the_form(tmp_path, capsys):
    pickups = [pickup_from("bridge:always"), pickup_from("saddle:source=piezo")]
    new_job(tmp_path / "job", title="form", pickups=pickups)
    fields = fields_of(read_job(tmp_path / "job"))
    assert fields.pickups[1].unusual and (fields.pickups[0].always, fields.pickups[1].source) == (
        "yes",
        "piezo",
    )
    assert change_job(tmp_path / "job", fields) == read_job(tmp_path / "job")
    assert called("unusual", tmp_path / "job", "--pickup", "bridge", "--switched") == 0
    assert called("unusual", tmp_path / "job", "--pickup", "saddle", "--source", "lute") == 2
    assert "piezo" in capsys.readouterr().err
    made = read_job(tmp_path / "job")
    assert not made.hard_wired and made.pickups[1].source == "piezo"
