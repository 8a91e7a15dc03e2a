"""Whole sessions on a bench as it really is: takes of nothing, plucks that were missed, time to the verdict.

    python tests/studies/living_sessions.py [--sessions 20] [--first 0]

Each session is played by tests/reports/session/living_bench.py without a clock: strings that ring for ten
seconds unless a hand stops them, 0.4 to 3 s after it was asked to, with a thump; hum, noise and now and then
a radio; a string in sympathy; plugs pulled and pushed; guitars with a loose neck pickup, closed ones with two
and three pickups, and basses. A take is of nothing where no gesture was played in it; a gesture is missed
where no take holds it.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from pathlib import Path

import environment
import numpy as np
from guided_parts import SLOW_RATE, closed_guitar, closed_pair, loose_neck
from living_bench import play
from simulator.scenes import random_bench
from simulator.workbench import Bench

from capture.takes.folder import JobFolder
from reports.session.options import RecordingOptions
from reports.session.session import Session, SessionResult
from reports.verdict.building import sharing_pairs

KINDS = {
    "loose neck": (loose_neck, 2, False),
    "two pickups": (closed_pair, 2, False),
    "three pickups": (closed_guitar, 3, False),
    "bass": (closed_pair, 2, True),
}


def main() -> None:
    """Play the sessions and print a line for each, then the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--sessions", type=int, default=20)
    ask.add_argument("--first", type=int, default=0)
    ask.add_argument("--kind", choices=KINDS)
    said = ask.parse_args()
    rows = []
    for k in range(said.first, said.first + said.sessions):
        kind = said.kind or list(KINDS)[k % len(KINDS)]
        rows.append(one_session(kind, k))
        print(rows[-1], flush=True)
    print(table(rows))


def answered(ended: SessionResult, folder: JobFolder, bench: Bench) -> dict:
    """How a session ended, and what it says of the pairs that share a setting, against the truth."""
    wanted = sharing_pairs(folder.job)
    pairs = [p for p in ended.verdict.pairs if frozenset((p.a, p.b)) in wanted]
    told = [p for p in pairs if p.standing != "unsettled"]
    return {
        "ending": ended.ending,
        "settled": all(p.standing == "settled" for p in pairs),
        "wrong": sum((p.phase == "in phase") != bench.in_phase(p.a, p.b) for p in told),
        "told": len(told),
    }


def one_session(kind: str, seed: int) -> dict:
    """Play one session and say what came of it."""
    maker, pickups, bass = KINDS[kind]
    bench = random_bench(np.random.default_rng(500 + seed), pickups=pickups, bass=bass)
    with tempfile.TemporaryDirectory() as place:
        folder = maker(Path(place), bench)
        session = Session(folder.path, RecordingOptions(inputs=2, rig="box"))
        began = time.perf_counter()
        ended, player = play(session, bench, folder.job, seed=seed, rate=SLOW_RATE)
        took = time.perf_counter() - began
        written = len(JobFolder.open(folder.path).takes())
    why = Counter(line.split(". ")[0].split(":")[0] for line in player.refusals)
    return {
        "kind": kind,
        "seed": seed,
        **answered(ended, folder, bench),
        "takes": written,
        "phantoms": len(player.phantoms),
        "played": len(player.played),
        "missed": sum(not one.undamped for one in player.missed),
        "over ringing": sum(one.undamped for one in player.played),
        "accepted": ended.accepted,
        "refused": ended.refused,
        "seconds": round(player.stream.start / SLOW_RATE),
        "why": dict(why),
        "took": round(took),
    }


def table(rows: list[dict]) -> str:
    """The sessions of each kind in one row."""
    lines = [
        "| job | sessions | settled | wrong of settled or likely | takes of nothing | missed of played |"
        " takes, median (most) | refused | seconds, median |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in (*dict.fromkeys(r["kind"] for r in rows), "all"):
        own = [r for r in rows if kind in ("all", r["kind"])]
        add = {k: sum(r[k] for r in own) for k in rows[0] if isinstance(rows[0][k], int)}
        takes = [r["takes"] for r in own]
        lines.append(
            f"| {kind} | {len(own)} | {add['settled']} | {add['wrong']} of {add['told']} |"
            f" {add['phantoms']} of {add['takes']} | {add['missed']} of {add['played']} |"
            f" {np.median(takes):.0f} ({max(takes)}) | {add['refused']} |"
            f" {np.median([r['seconds'] for r in own]):.0f} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
