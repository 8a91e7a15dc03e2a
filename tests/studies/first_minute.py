"""The first minute at the page, in real time: from opening it to "Now.", to likely, to settled.

    python tests/studies/first_minute.py [--kinds closed-two ...] [--benches 4] [--first 0] [--rows FILE]

The front door of `coilwise page` in headless Chromium over a virtual input, on a machine that remembers
nothing (`BOX` kinds: that remembers the box). A player reads the page alone: the band, the large words, where
the cables go, how to play. Every movement takes two seconds: a click, a plug out, a plug in, the selector,
a hand to the strings to damp them (with a thump), a hand to pluck them. Strings ring for four to ten seconds
before they are damped; hum and noise go on throughout. Strings, pickups and hum are those of tests/simulator.

Seconds are of the wall clock from opening the page. What each entry of the log made of the verdict is worked
out afterwards and dated when it was written. `--rows`: each bench is written there as it ends, and what
stands there is not played again. Where other programs wait for the processors, run it under `chrt -r 1`: the
browser gives its own processes an ordinary priority.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import re
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Literal, NamedTuple

import environment
import numpy as np
from browser import DESK, QUIETLY, chromium, page_server
from guided_parts import SLOW_RATE
from guitarist import Guitarist
from living_bench import LEAD_S, RINGS_S, Sounding, quiet_bench
from living_real import AHEAD_S, RealStream
from playwright.sync_api import Browser, Page, sync_playwright
from simulator.conditions import evenly
from simulator.scenes import random_bench
from simulator.volumes import TurnSpec, Volumes
from simulator.workbench import Bench
from virtual_input import NAME, VirtualInput, alsa_config, reason_to_skip

from capture import LOG_FILE
from capture.takes.folder import JobFolder
from reports.entry.first_job import THREE, TWO
from reports.messages import door
from reports.messages import page as words
from reports.messages.sentences import say
from reports.messages.summary import headline
from reports.verdict.box_memory import BoxMemory, RememberedBox
from reports.verdict.building import judge, sharing_pairs

MOVE_S = 2.0
RINGS_FOR_S = (4.0, 10.0)
AGAIN_S = 4.0
"""What was played and not heard is played once more, so long after."""
LISTENED_S = 5.0
"""After a plug was moved and the page does not go on by itself, so long until the strings are tapped."""
LOOK_EVERY_S = 0.05
BOX_RATE = 48_000
PLUGGED_BEFORE = 0.5
"""How often the guitar's cable is in before the page is opened."""
TAG_S = 5.0
"""To put a tape on a lead and come back to the keyboard."""


@dataclass(frozen=True)
class Kind:
    """What is on the bench and how the door is answered; ``layouts``: one is drawn."""

    bench: Literal["closed", "beside", "loose"]
    layouts: tuple[str, ...]
    pickups: tuple[str, ...]
    box: bool = False


KINDS = {
    "closed-two": Kind("closed", ("two",), TWO),
    "closed-three": Kind("closed", ("five",), THREE),
    "volumes": Kind("closed", ("volumes",), TWO),
    "beside-box": Kind("beside", ("two-neck", "two-bridge"), TWO, box=True),
    "beside": Kind("beside", ("two-neck", "two-bridge"), TWO),
    "loose": Kind("loose", ("loose",), TWO),
    "loose-box": Kind("loose", ("loose",), TWO, box=True),
}

READ = """() => {
  const said = (part) => (document.querySelector(part)?.innerText ?? "").trim();
  const band = document.querySelector(".band");
  const kinds = ["begin", "ready", "move", "quiet", "now", "listening", "accepted", "refused", "question",
                 "settled", "ended", "stopped"];
  return [band ? kinds.find((k) => band.classList.contains(k)) ?? "" : "", said(".band-word"),
          said(".door h1"), said(".now .big"), said(".now .where"), said(".now .how"), said(".now .doing"),
          said(".now .word")];
}"""


class Shown(NamedTuple):
    """What can be read on the page at one moment; ``kind`` of the band, and "" where there is none."""

    kind: str
    word: str
    asks: str
    big: str
    where: str
    how: str
    doing: str
    notes: str

    @property
    def moment(self) -> tuple[str, ...]:
        return self[:7]

    @property
    def step(self) -> tuple[str, ...]:
        return (self.big, *self.where.splitlines(), self.how)


@dataclass
class Hands(Guitarist):
    """A guitarist who also turns volume knobs."""

    volumes: Volumes = field(default_factory=Volumes)

    def _on(self, name: str) -> tuple[str, ...]:
        return super()._on(name) if self.job.setting(name) is not None else tuple(name.split(" and "))

    def _played(self, what: str, text: str) -> np.ndarray:
        around = {"rate": self.rate, "lead_in_s": self.lead_in_s}
        up = re.search(r"Volume of (.+?) full up(?:, of (.+?) all the way down)?\.", text)
        if up is None:
            return super()._played(what, text)
        on = self._on(up.group(1))
        if "AND VOLUMES" not in what:
            return super()._played(what, f"Selector on {up.group(1)}. {text}")
        pair = (on[0], up.group(2))
        stays = 0.2 if self.volumes.wired == "divider" else 0.0
        first, second = evenly(self.rng, (0.45, 0.8)), evenly(self.rng, (0.4, 0.75))
        one, two = (evenly(self.rng, (0.15, 0.35)) for _ in range(2))
        turns = (TurnSpec(1, first, 1.0, one), TurnSpec(0, first + one + second, stays, two))
        self.way, self.switched_s = (pair[0], " and ".join(pair), pair[1]), (first, first + one + second)
        return self.bench.volumes(
            self.rng,
            pair,
            re.search(r"\b([A-G]#?\d)\b", what).group(1),
            volumes=self.volumes,
            start=(1.0, stays),
            turns=turns,
            **{**around, "ringing_s": max(self.rings_s or 0.0, first + one + second + two + 1.5)},
        )


def wanted_on(shown: Shown, hands: Hands) -> dict[int, tuple[str, ...]]:
    """What the step has on each input, as far as it says."""
    text = " ".join(shown.where.splitlines())
    if split := re.search(r"put (\w+) into both", text):
        return dict.fromkeys((0, 1), hands._on(split.group(1)))
    if each := re.findall(r"Input (\d): ([^.]+)\.", text):
        return {int(n) - 1: hands._on(on) for n, on in each}
    if one := re.search(r"(?:Selector on|Volume of) ([^.]+?)(?: full up|\.)", text):
        return {0: hands._on(one.group(1))}
    return {}


@dataclass
class PagePlayer:
    """Somebody at the page, with two seconds for every movement."""

    page: Page
    stream: RealStream
    rng: np.random.Generator
    answers: dict[str, str]
    """To the questions of the door, by heading."""
    on: list[tuple[str, ...] | None]
    """What is on each input as far as this player has planned it."""
    hands: Hands | None = None
    began: float = field(default_factory=time.monotonic)
    clicks: int = 0
    clicks_at_now: int | None = None
    seen: list[tuple[float, str, str, str]] = field(default_factory=list)
    """Seconds from the beginning, the band, what stands in large letters, what is said."""
    played: list[tuple[float, str]] = field(default_factory=list)
    _shown: Shown | None = None
    _since: float = 0.0
    _free: float = 0.0
    """When the hands are free; this and all times are of the monotonic clock."""
    _step: tuple[str, ...] | None = None
    _heard: bool = False
    _waits_until: float | None = None
    """Something was played for the step: until it is heard, or so long, nothing more is."""
    _gesture: tuple[float, Sounding] | None = None
    _rings_until: float = 0.0
    _damps_at: float | None = None
    _tap_at: float = math.inf
    _sound: tuple[tuple[str, ...] | None, np.ndarray | None] = (None, None)
    _rendering: threading.Lock = field(default_factory=threading.Lock)

    def look(self) -> Shown:
        """Read the page, note what changed, and act on what stands there at a second look."""
        shown, now = Shown(*self.page.evaluate(READ)), time.monotonic()
        if self._shown is None or shown.moment != self._shown.moment:
            self._since = now
            self.seen.append((self._s(now), shown.kind, shown.asks or shown.big, shown.doing))
            if shown.kind == "now" and self.clicks_at_now is None:
                self.clicks_at_now = self.clicks
            self._heard = self._heard or shown.kind == "listening"
        elif now - self._since > LOOK_EVERY_S:
            self._act(shown, now)
        self._shown = shown
        return shown

    def _s(self, at: float) -> float:
        return round(at - self.began, 2)

    def _frame(self, at: float) -> int:
        """The frame of the stream that is heard at a time."""
        after_s = at - time.monotonic() - AHEAD_S
        return self.stream.start + max(0, round(after_s * self.stream.rate))

    def _click(self, name: str, now: float) -> None:
        """Press a button two seconds after it was first there."""
        if now - self._since >= MOVE_S and now >= self._free:
            self.clicks += 1
            button = self.page.get_by_role("button", name=re.compile(f"^{re.escape(name)}"))
            button.first.click(timeout=5000)
            self._since = time.monotonic()

    def _act(self, shown: Shown, now: float) -> None:
        if shown.asks:
            self._click(self.answers[shown.asks], now)
        elif shown.kind == "begin":
            self._click(words.BEGIN, now)
        elif self.hands is None:
            return
        elif shown.kind == "question":
            if shown.step != self._step:
                self._step, self._free = shown.step, now + TAG_S
            said = self.hands.answers([f"[] {shown.big}", shown.how])
            self._click(words.YES if said == "yes" else words.NO, now)
        elif shown.kind in ("move", "quiet", "now", "ready", "accepted", "refused") and shown.where:
            with self.stream.lock:
                self._at_step(shown, now)

    def _at_step(self, shown: Shown, now: float) -> None:
        """Damp, move, play, each when it is time."""
        over = self._waits_until is not None and (self._heard or now > self._waits_until)
        if shown.step != self._step or over:
            self._begin_step(shown, now)
        if self._damps_at is not None:
            if now >= self._damps_at - AHEAD_S - 2 * LOOK_EVERY_S:
                self.stream.damp(self._frame(self._damps_at))
                self._damps_at = None
        elif shown.kind == "move":
            if now > self._tap_at:
                self.stream.taps(self._frame(now + MOVE_S))
                self._tap_at = now + MOVE_S + LISTENED_S
        elif shown.kind == "now" and self._waits_until is None:
            self._play(shown, now)

    def _begin_step(self, shown: Shown, now: float) -> None:
        """Plan the movements of a step: the strings are damped first, then come plugs and selector."""
        self._step, self._waits_until, self._heard = shown.step, None, False
        if self._gesture is not None and self._gesture[0] > now + AHEAD_S:  # not begun yet
            self.stream.sounding = [s for s in self.stream.sounding if s is not self._gesture[1]]
            self.played.pop()
        elif self._gesture is not None and self._gesture[1].stays:
            self._damps_at = max(self._rings_until, now + MOVE_S)
        self._gesture = None
        self._free = max(self._free, now, self._damps_at or now)
        moved = self._move(shown)
        self._tap_at = self._free + LISTENED_S if moved else now
        if shown.kind != "move" and not shown.big.startswith("KEEP"):
            self._sound = (shown.step, None)
            threading.Thread(target=self._render, args=(shown.step,), daemon=True).start()

    def _move(self, shown: Shown) -> bool:
        """Plugs, clips and selector, as this step wants them; whether any was moved."""
        anew, moved = "clip on again" in shown.where, False
        for column, wanted in wanted_on(shown, self.hands).items():
            on = self.on[column]
            if on == wanted and not (anew and shown.kind == "move" and self._is_loose(wanted)):
                continue
            moved, self.on[column] = True, wanted
            if on is None or self._is_loose(on) or self._is_loose(wanted) or shown.big.startswith("SPLIT"):
                if on is not None:
                    self._plug(column, None)
                self._plug(column, wanted)
            else:
                at = self._hand()
                self.stream.pop(at)
                self.stream.events.append((at, column, wanted))
        return moved

    def _plug(self, column: int, wanted: tuple[str, ...] | None) -> None:
        at = self._hand()
        self.stream.bang(at, column)
        self.stream.events.append((at, column, wanted))

    def _hand(self) -> int:
        """One movement more; the frame at which it is done."""
        self._free += MOVE_S
        return self._frame(self._free)

    def _is_loose(self, on: tuple[str, ...]) -> bool:
        return any(not self.hands.job.pickup(name).fitted for name in on)

    def _render(self, step: tuple[str, ...]) -> None:
        with self._rendering:
            if self._sound[0] == step:
                self._sound = (step, self.hands.plays([f"[] {step[0]}", *step[1:]]))

    def _play(self, shown: Shown, now: float) -> None:
        if shown.big.startswith("KEEP"):
            self._waits_until = math.inf
            return
        at = max(self._since, self._free) + MOVE_S
        sound = self._sound[1] if self._sound[0] == shown.step else None
        if sound is None or now < at - AHEAD_S - 2 * LOOK_EVERY_S:
            return
        at = max(at, now + AHEAD_S)
        stays = not shown.big.startswith(("LIFT", "TAP"))
        one = Sounding(self._frame(at) - round(LEAD_S * self.stream.rate), sound, stays=stays)
        self.stream.sounding.append(one)
        if " AND " in shown.big:
            for s, name in zip(self.hands.switched_s, self.hands.way[1:], strict=True):
                self.on[0] = self.hands._on(name)
                self.stream.events.append((self._frame(at + s), 0, self.on[0]))
        self._gesture, self._waits_until = (at, one), at + AGAIN_S
        self._rings_until = at + float(self.rng.uniform(*RINGS_FOR_S))
        self.played.append((self._s(at), shown.big))


def main() -> None:
    """Play the benches and print the table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--kinds", nargs="+", choices=KINDS, default=list(KINDS))
    ask.add_argument("--benches", type=int, default=4)
    ask.add_argument("--first", type=int, default=0)
    ask.add_argument("--rows", type=Path)
    ask.add_argument("--within", type=float, default=180.0)
    said = ask.parse_args()
    if reason := reason_to_skip():
        sys.exit(reason)
    lines = said.rows.read_text().splitlines() if said.rows and said.rows.exists() else []
    rows = [json.loads(line) for line in lines]
    known = {(r["kind"], r["seed"]) for r in rows}
    home = Path(tempfile.mkdtemp(prefix="cw", dir="/tmp"))
    os.environ["ALSA_CONFIG_PATH"] = str(alsa_config(home))
    virtual = VirtualInput(home / "v", (NAME,), home / "asound.conf")
    virtual.start()
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium(), args=list(QUIETLY))
            for seed in range(said.first, said.first + said.benches):
                for name in said.kinds:
                    if (name, seed) in known:
                        continue
                    row = one_bench(browser, virtual, home, name, seed, within_s=said.within)
                    rows.append(row)
                    if said.rows is not None:
                        with said.rows.open("a") as file:
                            print(json.dumps(row), file=file)
                    print({k: v for k, v in row.items() if k != "seen"}, flush=True)
            browser.close()
    finally:
        virtual.kill()
    print(table([r for r in rows if r["kind"] in said.kinds]))


def one_bench(
    browser: Browser, virtual: VirtualInput, home: Path, name: str, seed: int, *, within_s: float
) -> dict:
    """Play one bench from the front door on, and say what came of it."""
    kind, rng = KINDS[name], np.random.default_rng(3000 + seed)
    bench = random_bench(np.random.default_rng(700 + seed), pickups=len(kind.pickups))
    place = Path(tempfile.mkdtemp(prefix=f"{name}-{seed}-", dir=home))
    own = {f"XDG_{what}_HOME": str(place / what.lower()) for what in ("DATA", "CONFIG", "CACHE")}
    if kind.box:
        seen = (datetime.now(UTC) - timedelta(days=3)).date().isoformat()
        box = RememberedBox(rig=NAME, rate=BOX_RATE, opposed=not bench.channels_agree(), seen=seen)
        BoxMemory(place / "data" / "coilwise" / BoxMemory.file).remember([box])
    stream = RealStream(bench, rng, SLOW_RATE)
    for on in {*((p,) for p in kind.pickups), *pairwise(kind.pickups)}:
        for channel in range(2):
            stream._hum(channel, on)
    first = (str(rng.choice(kind.pickups)),)
    stream.on = [first if kind.bench == "closed" and rng.random() < PLUGGED_BEFORE else None, None]
    feeder = threading.Thread(target=stream.feed, args=(virtual,))
    layout = str(rng.choice(kind.layouts))
    started = time.monotonic()
    served = page_server(
        "--input", NAME, "--rate", BOX_RATE, home=place, environment={**virtual.environment, **own}
    )
    folder, ends = None, ("settled", "ended", "stopped")
    written: list[float] = []
    with served as server:
        server_s = time.monotonic() - started
        context = browser.new_context(viewport=DESK)
        page = context.new_page()
        feeder.start()
        try:
            player = PagePlayer(page, stream, rng, answers_of(kind, layout, bench), on=list(stream.on))
            page.goto(server.file.as_uri())
            page.locator(".top .seat").wait_for(state="attached")
            while (shown := player.look()).kind not in ends and time.monotonic() < player.began + within_s:
                if folder is None and shown.kind:
                    folder = next(iter(place.rglob("job.toml"))).parent
                    player.hands = hands_at(bench, folder, rng)
                if folder is not None:
                    log = folder / LOG_FILE
                    lines = log.read_text().count("\n") if log.exists() else 0
                    written += [time.monotonic() - player.began] * (lines - len(written))
                time.sleep(LOOK_EVERY_S)
            took_s = time.monotonic() - player.began
        finally:
            stream.ended.set()
            feeder.join()
            context.close()
    return {
        "kind": name,
        "seed": seed,
        "layout": layout,
        "server": round(server_s, 1),
        "clicks": player.clicks_at_now,
        "now": next((t for t, kind, _, _ in player.seen if kind == "now"), None),
        "seconds": round(took_s, 1),
        "ended": shown.kind if shown.kind in ends else "time is up",
        **judged(folder, bench, written),
        "all clicks": player.clicks,
        "asked": shown.big,
        "notes": shown.notes,
        "played": player.played,
        "load": round(os.getloadavg()[0], 1),
        "seen": player.seen,
    }


def answers_of(kind: Kind, layout: str, bench: Bench) -> dict[str, str]:
    """What is answered at the door, by question."""
    coils = tuple(len(bench.pickup(p).coils) for p in kind.pickups)
    return {
        door.WHAT_IS_THERE: door.BENCHES[kind.bench][0],
        **dict.fromkeys(door.WHICH_LAYOUT.values(), door.LAYOUTS.get(layout, ("",))[0]),
        door.HOW_MANY_COILS: door.coils_text(kind.pickups, coils)[0],
    }


def hands_at(bench: Bench, folder: Path, rng: np.random.Generator) -> Hands:
    """The hands at this bench; its own hum and noise come from the stream."""
    job = JobFolder.open(folder).job
    around = {"rate": SLOW_RATE, "lead_in_s": LEAD_S, "rings_s": RINGS_S, "fades_s": 0.5 * LEAD_S}
    return Hands(quiet_bench(bench), job, rng, **around)


def judged(folder: Path, bench: Bench, written: list[float]) -> dict:
    """What each entry of the log made of the pairs that matter, and when."""
    log = folder / LOG_FILE
    lines = log.read_text().splitlines() if log.exists() else []
    likely_s = settled_s = None
    wrong, steps = set(), []
    for n, at in enumerate(written[: len(lines)], start=1):
        log.write_text("\n".join(lines[:n]) + "\n")
        opened_ = JobFolder.open(folder)
        verdict, wanted = judge(opened_).verdict, sharing_pairs(opened_.job)
        pairs = [p for p in verdict.pairs if frozenset((p.a, p.b)) in wanted]
        standings = [p.standing for p in pairs]
        what = json.loads(lines[n - 1])
        steps.append(
            [
                round(at, 1),
                what.get("gesture", what.get("kind", "?")),
                standings,
                [p.p_in_phase for p in pairs],
                [say(fault) for take in verdict.takes[-1:] for fault in take.faults],
            ]
        )
        for p in pairs:
            if p.standing != "unsettled" and (p.phase == "in phase") != bench.in_phase(p.a, p.b):
                wrong.add(p.standing)
        likely = all(standing != "unsettled" for standing in standings)
        likely_s = (at if likely_s is None else likely_s) if likely else None
        settled = all(standing == "settled" for standing in standings)
        settled_s = (at if settled_s is None else settled_s) if settled else None
    verdict = judge(JobFolder.open(folder)).verdict
    return {
        "likely": None if likely_s is None else round(likely_s, 1),
        "settled": None if settled_s is None else round(settled_s, 1),
        "wrong": sorted(wrong),
        "tagged": any(json.loads(line).get("kind") == "tag" for line in lines),
        "steps": steps,
        "headline": headline(verdict),
        "next": " ".join(say(p.next) for p in verdict.pairs if p.standing != "settled" and p.next),
    }


def table(rows: list[dict]) -> str:
    """The benches of each kind in one row."""
    lines = [
        "| bench | benches | clicks to Now | seconds to Now, median (most) | likely at 60 s |"
        " settled within 120 s | seconds to likely | to settled | settled wrong, likely wrong at some time |"
        " not settled and no step named |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in dict.fromkeys(r["kind"] for r in rows):
        own = [r for r in rows if r["kind"] == kind]
        clicks = sorted({r["clicks"] for r in own})
        mute = sum(not r["settled"] and not r["next"] and r["ended"] != "time is up" for r in own)
        wrong = [sum(standing in r["wrong"] for r in own) for standing in ("settled", "likely")]
        lines.append(
            f"| {kind} | {len(own)} | {', '.join(map(str, clicks))} | {spread(own, 'now')} |"
            f" {sum('unsettled' not in standings_at(r, 60.0) for r in own)} |"
            f" {sum(bool(r['settled']) and r['settled'] <= 120 for r in own)} | {spread(own, 'likely')} |"
            f" {spread(own, 'settled')} | {wrong[0]}, {wrong[1]} | {mute} |"
        )
    return "\n".join(lines)


def standings_at(row: dict, seconds: float) -> list[str]:
    """How the pairs stood so long after the page was opened."""
    known = [standings for at, _, standings, *_ in row["steps"] if at <= seconds]
    return known[-1] if known else ["unsettled"]


def spread(rows: list[dict], key: str) -> str:
    """Median and most of what came at all."""
    values = [r[key] for r in rows if r[key] is not None]
    return f"{np.median(values):.0f} ({max(values):.0f}) of {len(values)}" if values else "-"


if __name__ == "__main__":
    main()
