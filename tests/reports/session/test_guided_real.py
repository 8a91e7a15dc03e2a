"""Guided jobs through the real PortAudio, in real time: the whole command; keys answer its questions."""

from __future__ import annotations

import numpy as np
import virtual_input as virtual
from guided_parts import bench_of, loose_neck
from guitarist import Guitarist, command, last_step, session
from virtual_input import MORTAL_NAME, OUTPUT_NAME, VirtualInput

from capture.audio.files import sha256_of
from capture.takes.folder import JobFolder
from capture.takes.recorder import unfinished_takes
from reports.messages.session import ANSWER, ONSET, READY
from reports.verdict.building import judge

virtual_input, mortal_input = virtual.virtual_input, virtual.mortal_input
_virtual_home, _running_input = virtual._virtual_home, virtual._running_input
OUT = 0
IN_ONE_COIL = next(seed for seed in range(40) if len(bench_of(seed).pickup("bridge").coils) == 1)
LOUDEST = 0.4
"""Of what comes back: the drive is limited to a quarter of full scale."""


def until_recording(running, guitarist: Guitarist, virtual_input: VirtualInput, *, takes: int) -> list[str]:
    """Play until the take after so many accepted ones is being recorded."""
    lines: list[str] = []
    for line in running.stdout:
        lines.append(line.rstrip("\n"))
        if lines[-1] == READY:
            virtual_input.play(guitarist.plays(last_step(lines)))
        if lines[-1] == ONSET and sum(said.startswith("+ ") for said in lines) == takes:
            break
    return lines


def test_a_whole_job_that_is_killed_in_the_middle_of_a_take(virtual_input: VirtualInput, tmp_path):
    """From an empty folder to the settled verdict, which is the simulator's truth.

    What was finished when it was killed stays as it was, and the rest is offered and taken in.
    """
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = Guitarist(bench, folder.job, np.random.default_rng(1))
    virtual_input.play(guitarist.background(60.0))
    with command(virtual_input, folder.path, "--rate", 48_000) as running:
        lines = until_recording(running, guitarist, virtual_input, takes=1)
        finished = {t.entry.id: sha256_of(t.path) for t in JobFolder.open(folder.path).takes()}
        running.kill()
    assert lines[0].startswith("Caution: Unplug the guitar")
    assert list(finished) == ["t001"]
    (left,) = unfinished_takes(folder.path)
    assert left.planned is not None
    assert left.planned.gesture == "press"

    status, lines = session(virtual_input, guitarist, folder.path, "--rate", 48_000, "--unfinished", "in")
    said = "\n".join(lines)
    assert status == 0, said
    assert "t002: taken in" in said
    assert "Settled:" in said
    assert ANSWER["terminal"] in lines
    takes = JobFolder.open(folder.path).takes()
    assert len(takes) > 2
    assert sha256_of(takes[0].path) == finished["t001"] == takes[0].entry.sha256
    assert unfinished_takes(folder.path) == ()
    (pair,) = judge(JobFolder.open(folder.path)).verdict.pairs
    assert pair.standing == "settled"
    assert (pair.phase == "in phase") == bench.in_phase("bridge", "neck")


def test_the_input_dies_in_the_middle_of_a_take(mortal_input: VirtualInput, tmp_path):
    """One plain line, status 2, and what was recorded is offered at the next start."""
    bench = bench_of(OUT)
    folder = loose_neck(tmp_path, bench)
    guitarist = Guitarist(bench, folder.job, np.random.default_rng(1))
    mortal_input.play(guitarist.background(30.0))
    with command(mortal_input, folder.path, "--rate", 48_000, source=MORTAL_NAME) as running:
        until_recording(running, guitarist, mortal_input, takes=0)
        mortal_input.kill()
        rest = running.stdout.read()
        status = running.wait()
    assert status == 2
    assert "Traceback" not in rest
    assert f'the input "{MORTAL_NAME}"' in rest
    assert len(unfinished_takes(folder.path)) == 1
    assert JobFolder.open(folder.path).takes() == ()


def test_a_driven_coil(virtual_input: VirtualInput, tmp_path):
    """The waveform goes out, comes back through the input, and is read; the coil is a plain wire."""
    folder = loose_neck(tmp_path, bench_of(IN_ONE_COIL))
    virtual_input.play(1e-4 * np.random.default_rng(1).standard_normal((48_000 * 20, 2)))
    with command(
        virtual_input,
        folder.path,
        *("--gesture", "drive", "--on", "bridge", "--inputs", 1, "--rate", 48_000),
        *("--output", OUTPUT_NAME),
    ) as running:
        said = running.stdout.read()
        running.wait()
    (take,) = JobFolder.open(folder.path).takes()
    assert "The coil will sound through this output" in said
    assert "+ t001 accepted" in said
    assert np.max(np.abs(take.load().samples)) < LOUDEST
