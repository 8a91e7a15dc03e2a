"""How soon the page says a word, what waiting costs, and how often the levels are drawn.

    python tests/studies/page_timing.py [--waiting 20]

A whole guided job of a simulated bench on a virtual input, shown in headless Chromium: from the session's
"that was long enough" to the word on the page and to the belief, as the browser sees both (the page's own
clock); then a session that waits for a pluck that never comes: processor time of the server and of the
browser, and level frames a second. Needs what tests/page needs.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import environment
import numpy as np
from browser import QUIETLY, Watcher, chromium, opened, page_server
from guided_parts import bench_of, loose_neck
from guitarist import Guitarist
from playwright.sync_api import sync_playwright
from virtual_input import NAME, VirtualInput, alsa_config

from reports.messages import page as words
from reports.messages.session import ENDED

WATCH = """
(ended) => {
  const text = (part) => (document.querySelector(part)?.textContent || "").trim();
  window.coilwiseTimes = [];
  let since = null, said = text(".now .word"), drawn = document.querySelector(".belief").innerHTML;
  new MutationObserver(() => {
    const now = performance.now(), belief = document.querySelector(".belief").innerHTML;
    if (text(".now .doing") === ended) since ??= {at: now};
    if (since && text(".now .word") !== said && !since.word) since.word = now - since.at;
    if (since && since.word && belief !== drawn) {
      window.coilwiseTimes.push([since.word, now - since.at]);
      since = null;
    }
    said = text(".now .word"); drawn = belief;
  }).observe(document.body, {subtree: true, childList: true, characterData: true});
}
"""


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--waiting", type=float, default=20.0)
    said = ask.parse_args()
    home = Path(tempfile.mkdtemp(prefix="cw", dir="/tmp"))
    alsa_config(home)
    virtual = VirtualInput(home / "v", (NAME,), home / "asound.conf")
    virtual.start()
    try:
        measure(virtual, home, waiting_s=said.waiting)
    finally:
        virtual.kill()


def measure(virtual: VirtualInput, home: Path, *, waiting_s: float) -> None:
    """One job played to its end, then one that only waits."""
    bench = bench_of(0)
    folder = loose_neck(home, bench)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(QUIETLY))
        served = page_server(
            folder.path, "--input", NAME, "--rate", 48_000, home=home, environment=virtual.environment
        )
        with served as server, opened(browser, server) as page:
            watcher = Watcher(page, Guitarist(bench, folder.job, np.random.default_rng(1)), virtual)
            virtual.play(watcher.guitarist.background(150.0))
            page.evaluate(WATCH, ENDED)
            watcher.begin()
            watcher.play_until(lambda: watcher.text(".now .big") == words.DONE_BIG)
            seen = page.evaluate("window.coilwiseTimes")
            for what, times in zip(("word", "belief"), zip(*seen, strict=True), strict=True):
                middle, most = statistics.median(times) / 1000, max(times) / 1000
                print(f"end of a take to the {what} on the page: {len(times)} takes, median {middle:.2f} s, "
                      f"most {most:.2f} s")  # fmt: skip
        waits = loose_neck(home / "waits", bench)
        served = page_server(
            waits.path, "--input", NAME, "--rate", 48_000, home=home, environment=virtual.environment
        )
        with served as server, opened(browser, server) as page:
            Watcher(page, watcher.guitarist, virtual).begin()
            page.get_by_text("Now.", exact=True).wait_for(timeout=60_000)
            frames, before, start = page.evaluate("window.coilwiseFrames"), cpu_s(), time.monotonic()
            page.wait_for_timeout(1000 * waiting_s)
            took = time.monotonic() - start
            after = cpu_s()
            drawn = page.evaluate("window.coilwiseFrames") - frames
            for who in after:
                share = 100 * (after[who] - before[who]) / took
                print(f"waiting: {who} {share:.0f} % of one processor")
            print(f"levels: {drawn / took:.1f} frames a second")
        browser.close()


def cpu_s() -> dict[str, float]:
    """Processor seconds so far of the server and of the browser, each with all processes that it began."""
    ticks = os.sysconf("SC_CLK_TCK")
    sums, found = {"server": 0.0, "browser": 0.0}, {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            command = (place / "cmdline").read_bytes().decode(errors="replace")
            parts = (place / "stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        found[int(place.name)] = (int(parts[1]), command, (int(parts[11]) + int(parts[12])) / ticks)
    for number, (_, command, spent) in found.items():
        who = "browser" if "chromium" in command else "server" if "\0page\0" in command else None
        if who and os.getpid() in _ancestors(number, found):
            sums[who] += spent
    return sums


def _ancestors(number: int, found: Mapping[int, tuple[int, str, float]]) -> Iterator[int]:
    while number in found:
        number = found[number][0]
        yield number


if __name__ == "__main__":
    main()
