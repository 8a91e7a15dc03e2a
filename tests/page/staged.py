"""A page that shows one moment of a session after the other, without an input: for its look and its keys.

`staged(browser, home)` starts the page's server over a job in a process of its own; `Stage.show(name)` has it
show one of `MOMENTS`. Run as a program it is that server, and reads names from its standard input.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from browser import free_port
from nicegui import app as library

from reports.model.session import BenchQuestion, Failure, Step, TakeAccepted, TakeRefused
from reports.page.server.controller import PageController
from reports.page.serving import serve
from reports.page.widgets.band import band_of
from reports.session.options import RecordingOptions
from reports.session.session import SessionResult

PAIRED = Step(
    "pluck", ("bridge", "neck"), string="D2", kind="paired", columns=(0, 1), pickups=("bridge", "neck")
)
SPLIT = Step(
    "pluck", ("neck", "neck"), string="D2", kind="split", columns=(0, 1), pickups=("neck",), by_clips=True
)
SWITCH = Step(
    "switch",
    (("bridge", "both", "neck"),),
    string="A1",
    kind="switch",
    columns=(0,),
    pickups=("bridge", "neck"),
)
LIFT = Step(
    "lift", ("neck",), tool="steel tool", coil=1, kind="lift", columns=(0,), pickups=("bridge", "neck")
)
HUM = Step("hum", ("both",), kind="hum", columns=(0,), pickups=("bridge", "neck"))
SWEEP = replace(SWITCH, volumes=(("bridge", True), ("neck", False)))
TAG = BenchQuestion("tag", 5.0, pickup="neck", take="t001")
MOMENTS: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "begin": {"phase": "resting"},
        "opening": {"phase": "opening", "activity": "opening"},
        "ready": {"phase": "playing", "step": PAIRED},
        "plug in": {
            "phase": "playing",
            "step": PAIRED,
            "moving": "plug in",
            "changed": (0, 1),
            "activity": "moving",
        },
        "plug": {"phase": "playing", "step": SPLIT, "moving": "plug", "changed": (0,), "activity": "moving"},
        "clips": {
            "phase": "playing",
            "step": PAIRED,
            "moving": "clips",
            "changed": (1,),
            "activity": "not moved",
        },
        "selector": {
            "phase": "playing",
            "step": HUM,
            "moving": "selector",
            "changed": (0,),
            "activity": "moving",
        },
        "quiet": {"phase": "playing", "step": PAIRED, "activity": "waiting"},
        "now": {"phase": "playing", "step": PAIRED, "activity": "ready"},
        "now switch": {"phase": "playing", "step": SWITCH, "activity": "ready"},
        "now volumes": {"phase": "playing", "step": SWEEP, "activity": "ready"},
        "now lift": {"phase": "playing", "step": LIFT, "activity": "ready"},
        "now hum": {"phase": "playing", "step": HUM, "activity": "ready"},
        "nothing heard": {"phase": "playing", "step": SWITCH, "activity": "nothing heard"},
        "passed over": {"phase": "playing", "step": PAIRED, "activity": "passed over"},
        "listening": {"phase": "playing", "step": PAIRED, "activity": "onset"},
        "accepted": {"phase": "playing", "step": PAIRED, "activity": "waiting", "note": TakeAccepted("t001")},
        "refused": {
            "phase": "playing",
            "step": PAIRED,
            "activity": "waiting",
            "note": TakeRefused("t002", (), PAIRED),
        },
        "too loud": {"phase": "playing", "step": PAIRED, "activity": "too loud"},
        "question": {"phase": "playing", "question": TAG},
        "settled": {"phase": "ended", "ending": "settled"},
        "paused": {"phase": "ended", "ending": "stopped"},
        "stuck": {"phase": "ended", "ending": "stuck", "note": TakeRefused("t002", (), PAIRED)},
        "stopped": {"phase": "failed", "outcome": Failure("input lost", "The input has stopped.")},
    }
)
DEMO = Path(__file__).resolve().parents[2] / "recordings" / "demo"
AT_REST = {"step": None, "question": None, "moving": None, "changed": (), "activity": None, "outcome": None}


@dataclass
class Stage:
    """The server's process, and the file that leads to the page."""

    process: subprocess.Popen[str]
    file: Path

    def show(self, name: str) -> str:
        """Show a moment; what the band is to say."""
        print(name, file=self.process.stdin, flush=True)
        return self.process.stdout.readline().strip()


@contextmanager
def staged(home: Path) -> Iterator[Stage]:
    """Start the server over a copy of the demo job; nothing is listened to."""
    job = home / "job"
    shutil.copytree(DEMO, job)
    said = [sys.executable, "-u", __file__, str(job), str(free_port())]
    process = subprocess.Popen(
        said,
        env={**os.environ, "XDG_STATE_HOME": str(home / "state"), "PYTHONPATH": os.pathsep.join(sys.path)},
        cwd=home,
        text=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    try:
        while "began" not in process.stdout.readline():
            assert process.poll() is None
        (file,) = (home / "state" / "coilwise").glob("start-*.html")
        yield Stage(process, file)
    finally:
        process.terminate()
        process.wait()
        process.stdin.close()
        process.stdout.close()


def main() -> None:
    """Serve, and show what is named on the standard input."""
    job, port = Path(sys.argv[1]), int(sys.argv[2])
    closed = job.with_name("closed")
    shutil.copytree(job, closed)
    (closed / "job.toml").write_text(
        (job / "job.toml").read_text().replace("fitted = false", "fitted = true")
    )
    controller = PageController(job, options=RecordingOptions(), jobs_folder=job.parent)

    def listen() -> None:
        verdict = controller.judge().verdict
        print("began", flush=True)
        for line in sys.stdin:
            said = dict(MOMENTS[line.strip()])
            note, ending = said.pop("note", None), said.pop("ending", None)
            step = said.get("step")
            controller.path = job if step is None or len(step.columns) > 1 else closed
            if ending is not None:
                said["outcome"] = SessionResult(ending, verdict, 4, 1)
            controller.live.levels = (-18.0, -30.0) if said["phase"] == "playing" else ()
            controller.live.update(
                **{**AT_REST, **said}, accepted=3, verdict=verdict if ending == "settled" else None, notes=()
            )
            if note is not None:
                controller.live.add_note(note)
            lately = None if note is None or said["phase"] != "playing" else isinstance(note, TakeAccepted)
            print(band_of(controller.live.now, lately=lately).word, flush=True)

    library.on_startup(lambda: threading.Thread(target=listen, daemon=True).start())
    serve(controller, port=port, show=False, announce=lambda _: None)


if __name__ == "__main__":
    main()
