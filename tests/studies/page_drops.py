"""How soon the page is there, and what two hundred recordings cost that are dropped on it at once.

    python tests/studies/page_drops.py [--files 200] [--runs 3]

A page over a job of two pickups in headless Chromium: from the start of the program to its address, to the
first answer, and to the page as a person sees it; then short recordings dropped together on "Bring": until
all of them, or as many as the page takes, stand in the table, with the processor time of the server and of
the browser. The least of the runs each.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

import environment
import numpy as np
import soundfile as sf
from browser import QUIETLY, chromium, opened, page_server
from new_jobs import create_job
from page_timing import cpu_s
from playwright.sync_api import Browser, sync_playwright

from capture.job import Pickup
from reports.messages import page as words
from reports.page.server.uploads import MOST_FILES

RATE = 16_000
WITHIN_MS = 600_000
ROWS = ".bring table tbody tr"


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--files", type=int, default=200)
    ask.add_argument("--runs", type=int, default=3)
    said = ask.parse_args()
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        home = Path(place)
        files = recordings(home / "sounds", said.files)
        create_job(home / "job", title="sunday", pickups=[Pickup(name="bridge"), Pickup(name="neck")])
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(QUIETLY))
        found = [measured(browser, home, files) for _ in range(said.runs)]
        browser.close()
    for what in found[0]:
        print(f"{what}: {min(one[what] for one in found):.2f}")


def recordings(place: Path, number: int) -> list[Path]:
    """So many short recordings, each of other sound."""
    place.mkdir()
    rng = np.random.default_rng(1)
    for k in range(number):
        sf.write(
            place / f"take {k + 1}.wav", 0.01 * rng.standard_normal((RATE // 10, 1)), RATE, subtype="PCM_24"
        )
    return [place / f"take {k + 1}.wav" for k in range(number)]


def measured(browser: Browser, home: Path, files: list[Path]) -> dict[str, float]:
    """Seconds by what they are of."""
    start = time.monotonic()
    with ExitStack() as stack:
        server = stack.enter_context(page_server(home / "job", home=home))
        address_s = time.monotonic() - start
        server.ask()
        answer_s = time.monotonic() - start
        page = stack.enter_context(opened(browser, server))
        shown_s = time.monotonic() - start
        page.get_by_role("tab", name=words.SCREENS["bring"], exact=True).click()
        page.wait_for_timeout(3000)
        taken = files[:MOST_FILES]
        before, begun = cpu_s(), time.monotonic()
        page.locator(".bring input[type=file]").set_input_files(files)
        page.wait_for_function(
            "([rows, many]) => document.querySelectorAll(rows).length === many",
            arg=[ROWS, len(taken)],
            timeout=WITHIN_MS,
            polling=200,
        )
        all_s, after = time.monotonic() - begun, cpu_s()
        names = page.locator(f"{ROWS} th").all_inner_texts()
        assert names == [f.name for f in taken], names[:5]
    return {
        "address printed, s": address_s,
        "first answer, s": answer_s,
        "page seen, s": shown_s,
        f"{len(taken)} of {len(files)} files in the table, s": all_s,
        "server, processor s": after["server"] - before["server"],
        "browser, processor s": after["browser"] - before["browser"],
    }


if __name__ == "__main__":
    main()
