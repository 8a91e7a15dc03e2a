"""The thresholds of the standings stand once: charts, sentences and the manual follow them."""

import re

import pytest

from reports.messages.wording import chance_wrong, threshold_label
from reports.model import verdict as model
from reports.model.verdict import PairVerdict, standing_of
from reports.page.server.recording import PosteriorStep
from reports.page.widgets.last_take import posterior_svg
from reports.render.figures import belief_figure
from reports.render.manual import source

PAIR = PairVerdict(a="bridge", b="neck", p_in_phase=0.93, phase="in phase", standing="likely")


def labels(svg):
    return re.findall(r">([^<>]*?\d %)<", svg)


@pytest.mark.parametrize(("settled", "likely"), [(0.99, 0.9), (0.975, 0.8)])
def test_charts_and_sentences_follow_the_thresholds(monkeypatch, settled, likely):
    monkeypatch.setattr(model, "SETTLED_FROM", settled)
    monkeypatch.setattr(model, "LIKELY_FROM", likely)
    sure, fair = (threshold_label(s) for s in ("settled", "likely"))
    assert (sure, fair) == (f"{100 * settled:g} %", f"{100 * likely:g} %")
    ticks = labels(belief_figure(PAIR, key="k"))
    assert [t for t in ticks if t in (sure, fair)] == [sure, fair, fair, sure]
    lines = [
        t for t in labels(posterior_svg([PosteriorStep("t001", 0.93)])) if t.startswith(("settled", "likely"))
    ]
    assert lines == [f"settled {sure}", f"likely {fair}", f"likely {fair}", f"settled {sure}"]
    assert [standing_of(p) for p in (settled, likely, likely - 1e-9)] == ["settled", "likely", "unsettled"]
    assert chance_wrong(likely - 0.01).endswith("in 10 that this is wrong")


def test_the_manual_names_the_thresholds():
    text = source("verdict")
    named = dict(re.findall(r"- \*\*(settled|likely)\*\*: at least ([\d.]+ %)", text))
    assert named == {s: threshold_label(s) for s in ("settled", "likely")}
