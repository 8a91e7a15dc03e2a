"""The pictures in README say what the demo's page, report and plot of a sweep say now."""

import json

from make_pictures import PICTURES, WORDS, words_in, words_now

from capture.takes.folder import JobFolder
from reports.cli.verdict import DEMO
from reports.verdict.building import judge


def test_the_pictures_are_as_the_demo_draws_them(tmp_path):
    """Else: make them anew with tests/demo/make_pictures.py."""
    kept = json.loads(WORDS.read_text(encoding="utf-8"))
    assert kept == words_now(tmp_path, judge(JobFolder.open(DEMO)))
    assert words_in((PICTURES / "sweep.svg").read_text(encoding="utf-8")) == kept["sweep"]
    assert {path.name for path in PICTURES.iterdir()} == {"play.png", "sheet.png", "sweep.svg", "words.json"}
    assert all(path.stat().st_size < 60_000 for path in PICTURES.iterdir())
