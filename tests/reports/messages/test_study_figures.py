"""The figures that a report gives of the calibration study are those that the study wrote down."""

import re
from pathlib import Path

import pytest

from reports.messages.wording import study_sentence
from reports.model.verdict import ORDINARY_BENCHES, TEN_TIMES_THE_MISTAKES

RESULTS = Path(__file__).parents[2] / "studies" / "calibration" / "RESULTS.md"


@pytest.mark.parametrize(
    ("name", "figures"),
    [("ordinary", ORDINARY_BENCHES), ("ten times the mistakes", TEN_TIMES_THE_MISTAKES)],
)
def test_the_report_gives_the_figures_of_the_study(name, figures):
    section = RESULTS.read_text(encoding="utf-8").split("## Settled and wrong, by whether the job shows it")[
        1
    ]
    row = re.search(rf"^\| {name} \| (\d+) \| (\d+) \| [^|]+ \| (\d+) \|$", section, re.MULTILINE)
    settled, traced, traceless = map(int, row.groups())
    assert (figures.settled, figures.wrong, figures.traceless) == (settled, traced + traceless, traceless)
    assert f"{figures.wrong} of {figures.settled}" in study_sentence()
