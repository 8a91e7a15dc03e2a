"""Two hundred takes in one session by a stand-in for the input: do memory and handles stay?

The guitarist of the tests plays what the session asks for, on a bench of the simulator, without a clock. Then
come sessions whose input goes at a random moment; the next goes on in the same job. What each session ended
with is told, with its last line.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from studies import environment  # isort: skip

sys.path.insert(0, str(environment.TESTS / "reports" / "session"))
from guided_parts import SLOW_RATE, bench_of, loose_neck
from guitarist import Blocks, Guitarist, Reader

from capture.audio.streams import InputLostError
from capture.takes.folder import JobFolder
from reports.entry.spelling import named_step
from reports.session.options import RecordingOptions, fixed_steps
from reports.session.session import Session

STRINGS = ("D3", "G3", "A2")


def memory_mb() -> float:
    """What this process has now."""
    return int(re.search(r"VmRSS:\s+(\d+)", Path("/proc/self/status").read_text()).group(1)) / 1024


def handles() -> int:
    return len(os.listdir("/proc/self/fd"))


class Ending(Blocks):
    """An input that goes after so many blocks."""

    blocks_left = 1 << 60

    def read(self, **said: float):
        self.blocks_left -= 1
        if self.blocks_left < 0:
            raise InputLostError("the input is gone: its plug was pulled")
        return super().read(**said)


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--takes", type=int, default=200)
    said.add_argument("--sessions", type=int, default=6, help="more sessions, whose input goes")
    asked = said.parse_args()
    os.environ.update(COILWISE_CARE="off", COILWISE_BOX="off")
    with tempfile.TemporaryDirectory(prefix="coilwise-soak-") as place:
        os.environ["COILWISE_CACHE"] = f"{place}/heard"
        bench = bench_of(3)
        folder = loose_neck(Path(place), bench)
        guitarist = Guitarist(bench, folder.job, np.random.default_rng(1), rate=SLOW_RATE)
        rows, began = [], time.monotonic()

        class Measured(Reader):
            def show_take(self, capture, result) -> None:
                rows.append((time.monotonic() - began, memory_mb(), handles()))
                if len(rows) % 20 == 0:
                    print(
                        f"{len(rows)} takes: {rows[-1][0]:.0f} s, {rows[-1][1]:.0f} MB, {rows[-1][2]} open",
                        flush=True,
                    )
                self.lines[:] = self.lines[-200:]

        def session(times: int, blocks: int | None) -> tuple[str, str]:
            stream = Ending(guitarist)
            if blocks is not None:
                stream.blocks_left = blocks
            face = Measured(stream, guitarist)
            step = named_step(folder.job, "pluck", ["bridge", "neck"], string=STRINGS[times % len(STRINGS)])
            options = RecordingOptions(inputs=2, rig="box", fixed=fixed_steps(step, times=times), most=times)
            try:
                ended = Session(folder.path, options).run(stream, face)
            except InputLostError as error:
                return "input gone", str(error)
            return ended.ending, face.lines[-1]

        ends = Counter()
        ends[session(asked.takes, None)] += 1
        before = len(rows)
        rng = np.random.default_rng(5)
        for _ in range(asked.sessions):
            ends[session(5, int(rng.integers(50, 900)))] += 1
        takes = JobFolder.open(folder.path).takes()
        print(
            f"\n{before} takes shown in the long session, {len(takes)} in the job, "
            f"{sum(t.status == 'usable' for t in takes)} usable"
        )
        first, last = rows[min(20, len(rows) - 1)], rows[before - 1]
        print(
            f"memory {first[1]:.0f} to {last[1]:.0f} MB, handles {first[2]} to {last[2]}, "
            f"{1000 * first[0] / 20:.0f} ms a take at first, {1000 * last[0] / before:.0f} on average"
        )
        for (ending, line), number in ends.items():
            print(f"{number} ended: {ending}: {line}")


if __name__ == "__main__":
    main()
