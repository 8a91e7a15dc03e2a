"""Makes the pictures of README and the manual anew, from the demo: reports/manual/pictures.

From the top of the project, with Chromium and a virtual input on the machine:

    PYTHONPATH=.:tests:tests/capture:tests/page:tests/demo python tests/demo/make_pictures.py

`play.png` is the page's screen Play when the first take is asked for, `sheet.png` the report's first sheet,
`sweep.svg` the plot of a sweep of the selector on the demo's bass. A picture cannot be compared with another
machine's letter for letter, so the words in each stand beside it in `words.json`; `words_now` has them as
they would be drawn now, without a browser.
"""

from __future__ import annotations

import html
import io
import json
import re
import shutil
import tempfile
from pathlib import Path

import numpy as np
import soundfile as sf
from make_demo import RIG, SEED, bench

from capture import JOB_FILE, LOG_FILE
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from reports.cli.verdict import DEMO
from reports.entry.new_job import copy_job
from reports.evidence.analysis import analyse_take
from reports.model.session import Step
from reports.render.exhibits import switch_exhibit
from reports.render.front import front_sheet
from reports.render.jack_plots import switch_figure
from reports.render.lead_drawing import lead_pictures
from reports.render.manual import MANUAL
from reports.render.play_picture import play_svg
from reports.render.report import page_of
from reports.verdict.building import Judgement, judge

PICTURES = MANUAL / "pictures"
WORDS = PICTURES / "words.json"
RATE = 48_000
SWEEP, SWEEP_AT_S = ("bridge", "both", "neck"), (0.8, 1.4)
MADE_AT = "2026-03-14"
PIXELS_WIDE, COLOURS = 640, 48
NOW_WITHIN_MS = 60_000


FIRST = Step(
    "pluck",
    ("bridge", "neck"),
    string="G2",
    kind="paired",
    columns=(0, 1),
    pickups=("bridge", "neck"),
)
"""What a session asks for first on the fresh job."""
ON_PAPER = re.compile(r"(<svg\b[^>]*>)", re.DOTALL)
PAPER = r"\1<rect width='100%' height='100%' fill='white'/>"
"""The start of a drawing, and what lays it on white: README is read on dark screens too."""


def words_in(markup: str) -> list[str]:
    """What can be read in markup, piece by piece, without what only a screen reader is told."""
    shown = re.sub(r"<(style|title|desc|script)\b.*?</\1>", "", markup, flags=re.DOTALL)
    pieces = (html.unescape(piece).strip() for piece in re.findall(r">([^<>]+)<", shown))
    return [" ".join(piece.split()) for piece in pieces if piece]


def sheet(judged: Judgement) -> str:
    """The report's first sheet, as a page."""
    job = judged.posterior.graph.history.job
    leads = lead_pictures(job, judged.verdict)
    front = front_sheet(judged.verdict, made_at=MADE_AT, job=job, entries=judged.entries, leads=leads)
    return page_of(front, ()).split('<section class="bench"')[0]


def sweep(home: Path) -> str:
    """The plot of one sweep from the bridge pickup over both to the neck, on the A; ``home`` is scratch."""
    folder = JobFolder.open(copy_job(DEMO, home / "swept"))
    rng = np.random.default_rng([SEED, 100])
    sound = bench().switch(rng, ("bridge", SWEEP[::2], "neck"), "A1", at_s=SWEEP_AT_S, rate=RATE)
    sf.write(home / "sweep.wav", sound, RATE, subtype="PCM_24")
    take = folder.add_take(home / "sweep.wav", TakeFields("switch", (SWEEP,), string="A1", rig=RIG))
    drawn = switch_exhibit(analyse_take(folder.job, take), folder.job)
    assert drawn is not None
    return switch_figure(drawn, key="sweep")


def fresh(home: Path) -> Path:
    """The demo's bass with nothing recorded yet, in ``home``, which is made."""
    job = home / "bass"
    job.mkdir(parents=True)
    shutil.copy(DEMO / JOB_FILE, job)
    (job / LOG_FILE).touch()
    return job


def play(home: Path) -> str:
    """The picture on Play when the first take of the fresh job is asked for."""
    folder = JobFolder.open(fresh(home))
    return play_svg(folder.job, judge(folder).verdict, now=FIRST)


def words_now(home: Path, judged: Judgement) -> dict[str, list[str]]:
    """The words in each picture as it would be drawn now; ``home`` is scratch, ``judged`` the demo."""
    return {"play": words_in(play(home)), "sheet": words_in(sheet(judged)), "sweep": words_in(sweep(home))}


def small(png: bytes) -> bytes:
    """A screenshot in few pixels and few colours."""
    from PIL import Image

    with Image.open(io.BytesIO(png)) as shot:
        tall = round(shot.height * PIXELS_WIDE / shot.width)
        less = shot.convert("RGB").resize((PIXELS_WIDE, tall), Image.Resampling.LANCZOS).quantize(COLOURS)
    kept = io.BytesIO()
    less.save(kept, "PNG", optimize=True)
    return kept.getvalue()


def main() -> None:
    """Make all pictures and write down their words."""
    from browser import QUIETLY, chromium, opened, page_server
    from playwright.sync_api import sync_playwright
    from virtual_input import NAME, VirtualInput, alsa_config

    PICTURES.mkdir(exist_ok=True)
    judged = judge(JobFolder.open(DEMO))
    with tempfile.TemporaryDirectory(prefix="cw", dir="/tmp") as scratch, sync_playwright() as playwright:
        home = Path(scratch)
        swept = sweep(home)
        (PICTURES / "sweep.svg").write_text(
            ON_PAPER.sub(r"\1<rect width='100%' height='100%' fill='white'/>", swept), "utf-8"
        )
        words = words_now(home / "now", judged)
        WORDS.write_text(json.dumps(words, indent=1, ensure_ascii=False) + "\n", "utf-8")
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(QUIETLY))
        page = browser.new_page(viewport={"width": 760, "height": 1075}, device_scale_factor=2)
        page.set_content(sheet(judged))
        (PICTURES / "sheet.png").write_bytes(small(page.locator("section.front").screenshot()))
        virtual = VirtualInput(home / "v", (NAME,), alsa_config(home))
        virtual.start()
        try:
            quiet = 2e-5 * np.random.default_rng(SEED).standard_normal((60 * RATE, 2))
            virtual.play(quiet)
            told = (fresh(home), "--input", NAME, "--rate", RATE)
            served = page_server(*told, home=home, environment=virtual.environment)
            with served as server, opened(browser, server) as shown:
                shown.get_by_role("button", name=re.compile("^(Begin|Go on)")).click()
                shown.locator(".band.now").wait_for(timeout=NOW_WITHIN_MS)
                drawn = words_in(shown.locator(".guitar").inner_html())
                assert drawn == words["play"], (drawn, words["play"])
                (PICTURES / "play.png").write_bytes(small(shown.screenshot()))
        finally:
            virtual.kill()
        browser.close()


if __name__ == "__main__":
    main()
