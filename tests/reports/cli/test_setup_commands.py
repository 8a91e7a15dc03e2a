"""`coilwise inputs` and `coilwise setup`, with a sounddevice of our own and through the real PortAudio."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import virtual_input as virtual
from capture_bench import TAKE, write_log
from setup_sounds import HUM, RATE, played, pluck, quiet
from sound_parts import FakeStream, device
from virtual_input import NAME, VirtualInput

from capture.audio.setup_check import QUIET_S, SETTLE_S, SetupProgress, run_setup_check
from capture.audio.streams import choose_input, open_input
from dsp import SignalError
from reports.cli.setup import FIGURES_S, plain_teller
from reports.messages.cautions import BEFORE
from reports.messages.setup import NOTHING_WRONG, PART_INSTRUCTIONS, setup_lines

virtual_input = virtual.virtual_input
_virtual_home, _running_input = virtual._virtual_home, virtual._running_input
ROOT = Path(__file__).resolve().parents[3]
TAKEN = "taken unless you say otherwise"


@pytest.fixture
def plays(fake):
    """Let the box give these samples as soon as it is opened; `flagged` blocks say that some were lost."""

    def give(samples: np.ndarray, *, flagged: tuple[int, ...] = (), ends: bool = False) -> None:
        class Playing(FakeStream):
            def start(self) -> None:
                super().start()
                size = self.said["blocksize"]
                for k in range(len(samples) // size):
                    block = samples[k * size : (k + 1) * size, : self.said["channels"]].astype(np.float32)
                    self.said["callback"](block, size, None, SimpleNamespace(input_overflow=k in flagged))
                if ends:
                    self.said["finished_callback"]()

        fake.InputStream = Playing

    return give


def setup(call, *words: object) -> tuple[int, list[str], str]:
    status, out, err = call("setup", *words, "--rate", RATE)
    return status, out.splitlines(), err


# The list


def test_inputs_and_outputs_are_listed_and_what_is_taken_is_said(call, fake):
    status, out, err = call("inputs")
    assert (status, err) == (0, "")
    assert out.splitlines()[:3] == [
        "Inputs:",
        "  0: HDA Analog (hw:0,0) (2 channels, 48000 Hz, ALSA)",
        f"  1: Two In Box: USB Audio (hw:1,0) (2 channels, 44100 Hz, ALSA): {TAKEN}",
    ]
    _, _, outputs = out.partition("Outputs, for a driven coil:\n")
    assert f"  6: speakers only (2 channels, 48000 Hz, ALSA): {TAKEN}" in outputs.splitlines()
    assert out.count(TAKEN) == 2


def test_on_a_terminal_it_is_a_table(call, fake, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "140")
    status, out, _ = call("inputs")
    row, _ = [line for line in out.splitlines() if "Two In Box" in line]
    assert status == 0
    assert row.split()[0] == "1"
    assert TAKEN in row
    assert "44100" in row


def test_two_boxes_alike_are_listed_and_neither_is_taken(call, fake):
    fake.devices[2] = device("Other Box: USB Audio (hw:2,0)")
    status, out, err = call("inputs")
    assert (status, err) == (0, "")
    assert "None is taken by itself: several inputs would do; say which is meant, by number: 1: Two" in out
    assert out.count(TAKEN) == 1


def test_no_input_at_all(call, fake):
    fake.devices = [device("speakers only", 0, 2)]
    fake.hosts[0]["default_output_device"] = 0
    status, out, err = call("inputs")
    assert (status, err) == (0, "")
    assert out.startswith("Inputs: there is no audio input here; plug the interface in")
    assert f"  0: speakers only (2 channels, 48000 Hz, ALSA): {TAKEN}" in out


MISSING = """
import ctypes.util, sys
ctypes.util.find_library = lambda name: None
from reports.cli import main
for words in [line.split("|") for line in sys.argv[1:]]:
    sys.argv[1:] = words
    try:
        main()
    except SystemExit as left:
        print("LEFT", left.code, file=sys.stderr, flush=True)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere sounddevice brings PortAudio with it")
def test_without_portaudio_it_is_one_line_and_the_rest_works(folder: Path):
    """All three commands in one process, since importing is dear."""
    asked = ("inputs", "setup", f"list|{folder}")
    command = [sys.executable, "-c", MISSING, *asked]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    missing, left, *rest = ran.stderr.splitlines()
    assert missing.startswith("coilwise: PortAudio is missing, so nothing can be recorded; install it: ")
    assert left == "LEFT 2"
    assert rest == [missing, left, "LEFT 0"]
    assert "Baritone" in ran.stdout
    assert "PortAudio" not in ran.stdout


# Listening


def test_nothing_wrong(call, plays, folder: Path):
    plays(played())
    before = sorted(folder.rglob("*"))
    status, out, err = setup(call, folder)
    assert (status, err) == (0, "")
    told = "\n".join(out)
    in_order = [
        BEFORE[0],
        "Listening to 1: Two In Box",
        PART_INSTRUCTIONS["quiet"],
        PART_INSTRUCTIONS["pluck"],
        NOTHING_WRONG,
    ]
    assert [told.index(words) for words in in_order] == sorted(told.index(words) for words in in_order)
    # -80 dB over all the band; a third of it, 5 dB less, lies where takes are analysed
    assert "Input 1: noise -85 dB, hum -57 dB at 60.0 Hz, loudest -10 dB." in out
    assert f"  coilwise record {folder} --split" in out
    assert sorted(folder.rglob("*")) == before


def test_without_a_job_there_is_no_split_check(call, plays):
    plays(played())
    status, out, _ = setup(call)
    assert status == 0
    assert "--split" not in "\n".join(out)


def test_a_split_check_that_was_made_is_not_offered_again(call, plays, folder: Path):
    write_log(folder, {**TAKE, "inputs": ["bridge", "bridge"]})
    plays(played())
    assert "--split" not in "\n".join(setup(call, folder)[1])


def test_something_wrong_has_status_3(call, plays):
    plays(played() * [1.0, 0.0])
    status, out, _ = setup(call)
    assert status == 3
    assert any(line.startswith("Input 2: exact zeros") for line in out)
    assert NOTHING_WRONG not in out


def test_other_mains_than_the_job_has(call, plays, folder: Path):
    plays(played(mains_hz=50.0))
    status, out, _ = setup(call, folder)
    assert status == 3
    assert any(line.startswith("The mains hum at 50 Hz, and job.toml says mains_hz = 60.") for line in out)


def test_lost_samples_are_a_finding_where_they_fall_into_what_was_heard(call, plays):
    plays(played(), flagged=(300,))
    status, out, _ = setup(call)
    assert status == 3
    assert any(line.startswith("Samples were lost while listening (once)") for line in out)
    plays(played(), flagged=(3,))
    assert setup(call)[0] == 0


def test_no_pluck(call, plays):
    plays(quiet(7.0))
    status, out, _ = setup(call)
    assert status == 3
    (said,) = [line for line in out if "no pluck was heard" in line]
    assert said.startswith("Inputs 1 and 2: no pluck was heard. Run it again, and pluck one string hard")


@pytest.mark.parametrize("option", ["--inputs", "--channels"])
def test_one_input_alone(call, plays, option):
    plays(played())
    status, out, _ = setup(call, option, 1)
    assert status == 0
    assert "1 input at 48000 Hz" in "\n".join(out)
    assert not any(line.startswith("Input 2") for line in out)


def test_longer(call, plays):
    plays(played(lead_in_s=7.0, seconds=9.0))
    assert setup(call, "--seconds", 8)[0] == 0
    plays(played(lead_in_s=7.0, seconds=9.0))
    assert setup(call)[0] == 3


def test_bars_on_a_terminal(call, plays, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    plays(played())
    status, out, _ = setup(call)
    assert status == 0
    for part in PART_INSTRUCTIONS.values():
        assert part in "\n".join(out)
    assert any("Input 2 [####" in line for line in out)
    assert not any(line.strip().startswith("input ") for line in out)


def test_an_input_that_stops_is_refused(call, plays):
    plays(played()[: 2 * RATE], ends=True)
    status, out, err = setup(call)
    assert status == 2
    assert "has ended by itself; check its cable" in err
    assert NOTHING_WRONG not in out


REFUSED = [
    (("nowhere",), "nowhere"),
    (("--input", "none such"), 'no input is called "none such"'),
    (("--seconds", 1), "seconds"),
    (("--channels", 0), "channels"),
    (("--inputs", 0), "inputs"),
]


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_a_call_at_fault(call, fake, words, said):
    status, out, err = setup(call, *words)
    assert (status, out) == (2, [])
    assert said in err
    assert err.count("\n") == 1


def test_a_rate_that_is_too_low_is_refused_before_anybody_plucks(fake, plays):
    plays(played())
    told: list[SetupProgress] = []
    with (
        closing(open_input(choose_input(), rate=8000)) as stream,
        pytest.raises(SignalError, match="8000 samples a second"),
    ):
        run_setup_check(stream, on_progress=told.append)
    assert told == []


def test_what_is_told_while_listening(fake, plays):
    plays(played())
    told: list[SetupProgress] = []
    with closing(open_input(choose_input(), rate=RATE)) as stream:
        heard = run_setup_check(stream, quiet_s=2.0, pluck_s=3.0, on_progress=told.append)
    assert heard.clear
    parts = [moment.part for moment in told]
    assert parts == sorted(parts, key=("quiet", "pluck").index)
    first = told[parts.index("pluck")]
    assert first.left_s == 3.0
    assert told[0].left_s == pytest.approx(2.0 + SETTLE_S)
    assert max(m.peaks_db[0] for m in told if m.part == "pluck") == pytest.approx(-10.4, abs=0.3)
    assert all(m.peaks_db[0] < -45 for m in told if m.part == "quiet")
    assert told[-1].left_s == pytest.approx(0.0, abs=0.1)


def test_plain_lines_come_every_half_second():
    said: list[str] = []
    teller = plain_teller(said.append)
    for tenth in range(26):
        teller(SetupProgress("quiet", QUIET_S - tenth / 10, (-60.0, -50.0)))
    teller(SetupProgress("pluck", 1.0, (-60.0, -50.0)))
    assert said[0] == PART_INSTRUCTIONS["quiet"]
    assert said[1:-1] == ["  input 1 -60 dB, input 2 -50 dB"] * round(QUIET_S / FIGURES_S)
    assert said[-1] == PART_INSTRUCTIONS["pluck"]


# The real PortAudio


def keeps_playing(box: VirtualInput, ground: np.ndarray) -> None:
    """Play `ground` all the while, and come back once it can be heard."""
    box.play(ground)
    end = time.monotonic() + 5.0
    asking = ["pactl", "-s", box.socket, "list", "short", "sink-inputs"]
    while not subprocess.run(asking, capture_output=True, check=True).stdout.strip():
        assert time.monotonic() < end, "the player does not play"
        time.sleep(0.05)


def before_the_levels(lines: Iterable[str]) -> list[str]:
    """What is said before the levels of the inputs: what is wrong, or that nothing is."""
    return list(takewhile(lambda line: ", loudest " not in line and "nothing at all" not in line, lines))


LONG_S = 25.0
STRUCK = pluck()
GROUND = quiet(LONG_S)
OFFSET = np.array([0.05, 0.0])


def test_the_command_through_the_sound_card(virtual_input: VirtualInput, folder: Path):
    """An ordinary box: what is asked for is struck as soon as it is asked for, and nothing is wrong."""
    keeps_playing(virtual_input, GROUND)
    command = [sys.executable, "-c", "from reports.cli import main; main()", "setup", str(folder)]
    command += ["--input", NAME, "--rate", str(RATE), "--seconds", "5"]
    said: list[str] = []
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=virtual_input.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as running:
        assert running.stdout is not None
        for line in running.stdout:
            said.append(line.strip())
            if said[-1] == PART_INSTRUCTIONS["pluck"]:
                virtual_input.play(STRUCK)
    assert running.returncode == 0, said
    heard = [
        line for line in said[said.index(PART_INSTRUCTIONS["pluck"]) + 1 :] if not line.startswith("input")
    ]
    assert before_the_levels(heard) == [NOTHING_WRONG]
    assert any("--split" in line for line in heard)


@dataclass(frozen=True, eq=False)
class Fault:
    """What is played all the while, what is struck, and how the lines begin that say what is wrong."""

    ground: np.ndarray | None
    struck: np.ndarray
    begin: tuple[str, ...]
    holds: str = ""


FAULTS = {
    "zeros": Fault(None, 0 * STRUCK, ("Inputs 1 and 2: exact zeros",), "microphone"),
    "zeros on one, the other clipped": Fault(
        GROUND * [1, 0],
        np.clip(STRUCK * [8, 0], -0.95, 0.95),
        ("Input 1: clips, the loudest reaches", "Input 2: exact zeros"),
        "though another input is alive",
    ),
    "offset, hum, other mains": Fault(
        quiet(LONG_S, mains_hz=50.0, hum=(HUM, 0.05)) + OFFSET,
        STRUCK,
        ("Input 1: an offset, it rests at 5 %", "Input 2: hum at -29 dB", "The mains hum at 50 Hz"),
    ),
    "one signal": Fault(
        GROUND[:, :1] * [1, 0.6], STRUCK[:, :1] * [1, 0.6], ("Inputs 1 and 2: one signal arrives on both",)
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_faults_through_the_sound_card(virtual_input: VirtualInput, fault: str):
    played = FAULTS[fault]
    asked: list[str] = []

    def told(moment: SetupProgress) -> None:
        if moment.part == "pluck" and not asked:
            asked.append(moment.part)
            virtual_input.play(played.struck)

    if played.ground is not None:
        keeps_playing(virtual_input, played.ground)
    with closing(open_input(choose_input(NAME), rate=RATE)) as stream:
        heard = run_setup_check(stream, quiet_s=2.0, pluck_s=2.0, mains_hz=60, on_progress=told)
    assert not heard.clear
    said = setup_lines(heard)
    assert played.holds in "\n".join(said)
    for line, begins in zip(before_the_levels(said), played.begin, strict=True):
        assert line.startswith(begins), said
