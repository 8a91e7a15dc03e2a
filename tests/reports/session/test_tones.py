"""Tones are soft, end by themselves, and where no output is nothing is lost."""

from __future__ import annotations

import numpy as np
import pytest

from capture.audio.devices import DeviceError
from capture.takes.hands_free import Progress
from reports.session import tones
from reports.session.tones import EACH_S, LEVEL, TONES_HZ, WithTones, tone


@pytest.mark.parametrize("kind", TONES_HZ)
def test_a_tone_is_soft_and_short(kind):
    said = tone(kind, rate=48_000)
    assert 0.5 * LEVEL < np.abs(said).max() <= LEVEL < 0.1
    assert len(said) <= 2 * EACH_S * 48_000 + 2
    assert said[0] == pytest.approx(0.0)
    assert said[-1] == pytest.approx(0.0)


def test_without_an_output_the_words_are_enough(monkeypatch):
    def none_there():
        raise DeviceError("there is no output")

    shown = []

    class Face:
        def show_notice(self, notice):
            shown.append(notice.what)

    monkeypatch.setattr(tones, "choose_output", none_there)
    face = WithTones(Face())
    for what in ("ready", "onset", "ready"):
        face.show_notice(Progress(what))
    assert shown == ["ready", "onset", "ready"]
