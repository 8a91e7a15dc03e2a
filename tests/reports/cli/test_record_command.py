"""What `coilwise record` refuses, in one line, before anything is recorded."""

from __future__ import annotations

import io
from contextlib import closing
from typing import get_args

import pytest
from capture_bench import RATE, noise
from rich.console import Console
from rich.live import Live

from capture.log import TakeFields
from capture.takes.hands_free import Progress
from capture.takes.recorder import TakeWriter, unfinished_takes
from reports.cli.terminal import BAND_STYLES, ROWS, LineDisplay, ScreenDisplay, band, block_letters
from reports.messages.play import BAND
from reports.model.session import Activity, BandKind, BenchQuestion, Step, TakeAccepted, TakeRefused


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--only", "strum"), '--only: "strum" is none of pluck, switch, press, lift, hum'),
        (("--only", ","), "--only: names no gesture"),
        (("--gesture", "pluck"), "--gesture: say what is on each input with --on"),
        (("--gesture", "strum", "--on", "neck"), "there is no gesture 'strum' to wait for"),
        (("--on", "neck"), "--on, --string, --fret, --coil and --tapped go with --gesture"),
        (("--string", "D3"), "--on, --string, --fret, --coil and --tapped go with --gesture"),
        (
            ("--gesture", "pluck", "--on", "neck", "--on", "bridge", "--inputs", 1),
            "--on: 2 inputs are named, and 1 is used",
        ),
        (("--stage", "later"), '--stage: "later" is none of found, after'),
        (("--unfinished", "burn"), '--unfinished: "burn" is none of in, aside, leave'),
        (("--input", "no such box"), 'no input is called "no such box"'),
        (("--gesture", "pluck", "--on", "nowhere"), "nowhere"),
    ],
)
def test_refused_with_one_line(call, folder, fake, words, said):
    status, _, err = (
        call("record", folder, "--input", "Two In", *words)
        if "--input" not in words
        else call("record", folder, *words)
    )
    assert status == 2
    assert said in err
    assert err.count("\n") == 1
    assert list((folder / "takes").glob("t*")) == []


@pytest.fixture
def no_input(fake):
    """A box that does not open."""
    fake.InputStream.refuses = fake.PortAudioError("gone", -9985)


@pytest.mark.usefixtures("no_input")
@pytest.mark.parametrize(
    ("way", "said", "left"),
    [
        ("in", "t001: taken in", 0),
        ("aside", "Set aside as", 0),
        (None, "A recording that was not finished lies here (0.1 s, pluck on bridge and neck)", 1),
    ],
)
def test_what_a_crash_left_is_offered(call, folder, way, said, left):
    """Then the call goes on; here it is at fault, so that nothing is recorded."""
    with closing(
        TakeWriter(folder, rate=RATE, channels=2, planned=TakeFields("pluck", ("bridge", "neck")))
    ) as writer:
        writer.write(noise())
    words = () if way is None else ("--unfinished", way)
    _, out, _ = call("record", folder, "--input", "Two In", *words)
    assert said in out
    assert len(unfinished_takes(folder)) == left


def test_large_letters_are_as_wide_as_their_text_and_never_too_wide():
    rows = block_letters("PLUCK F#3", width=100)
    assert len(rows) == ROWS
    assert max(map(len, rows)) <= 9 * 6
    assert block_letters("PLUCK F#3", width=20) == ("PLUCK F#3",)
    assert block_letters("ä", width=100) == ("ä",)


def test_plain_lines_say_what_is_heard_but_no_levels():
    lines: list[str] = []
    display = LineDisplay(lines.append)
    step = Step(
        "pluck", ("bridge", "neck"), string="D3", kind="paired", columns=(0, 1), pickups=("bridge", "neck")
    )
    display.show_step(step, accepted=2, to_go=3)
    display.show_notice(Progress("level", (-20.0, -30.0)))
    display.show_notice(Progress("too loud"))
    assert lines[:3] == ["[as found: 2 accepted, 3 to go] PLUCK D3", "Input 1: bridge.", "Input 2: neck."]
    assert lines[-1].startswith("Too loud: it clips.")
    assert not any("-20" in line for line in lines)


PAIRED = Step(
    "pluck", ("bridge", "neck"), string="D3", kind="paired", columns=(0, 1), pickups=("bridge", "neck")
)


@pytest.fixture
def screen():
    """A terminal too low for letters in the band, so that its words can be read; what stands there now."""
    console = Console(file=io.StringIO(), force_terminal=True, width=80, height=12)
    live = Live(console=console, auto_refresh=False, transient=True)
    display = ScreenDisplay(console, live)

    def now() -> str:
        return display._picture().renderables[0].plain.strip()

    return display, now


def test_the_band_says_what_the_moment_is(screen):
    """From across the bench a person tells "now" from all else, and whether the last take counted."""
    display, now = screen
    display.show_step(PAIRED, accepted=0, to_go=None)
    shown = {}
    for activity in get_args(Activity):
        display.show_notice(Progress(activity))
        shown[activity] = now()
    assert {a for a, word in shown.items() if word == "NOW"} == {
        "pluck",
        "ready",
        "nothing heard",
        "passed over",
    }
    assert shown["waiting"] == shown["still ringing"] == "QUIET"
    assert (shown["onset"], shown["too loud"]) == ("LISTENING", "TOO LOUD")
    for note, word in ((TakeAccepted("t001"), "ACCEPTED"), (TakeRefused("t002"), "NOT ACCEPTED")):
        display.show_note(note)
        display.show_step(PAIRED, accepted=1, to_go=None)
        display.show_notice(Progress("waiting"))
        assert now() == word
        display.show_notice(Progress("ready"))
        assert now() == "NOW"
        display.show_notice(Progress("waiting"))
        assert now() == "QUIET"
    display.show_question(BenchQuestion("tool", 1.0, tool="driver"), accepted=1)
    assert now() == "ANSWER"


def test_every_band_has_letters_that_fit_a_usual_terminal():
    for kind in get_args(BandKind):
        lines = band(kind, BAND[kind], width=80, height=24)
        assert len(lines) == 3, kind
        assert {len(line.plain) for line in lines} == {80}
        assert str(lines[0].style) == BAND_STYLES[kind]
