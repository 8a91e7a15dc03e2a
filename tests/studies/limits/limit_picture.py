"""The picture of the distance to the limit: one panel a method.

Task: error curves to a PNG. Shapes and units as in limit_tables. Signs: none. Line styles and markers, not
colours, tell the curves apart; what was never wrong lies on the bottom line.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
from limit_tables import FINE_DB, ORDINARY_DB, Method

COLUMNS = 4
LEAST = 1e-3
SIDE_IN = (3.3, 2.5)
LEGEND_IN = 0.6
LABELS = {
    "bound": "best detector possible",
    "told": "method, told where and what to listen to",
    "heard": "method, the whole way (refused: a coin)",
    "refused": "share refused or silent, the whole way",
}


def draw(found: Sequence[Method], path: Path) -> None:
    """Draw all methods."""
    rows = -(-len(found) // COLUMNS)
    size = (COLUMNS * SIDE_IN[0], rows * SIDE_IN[1] + LEGEND_IN)
    figure, panels = plt.subplots(rows, COLUMNS, figsize=size, sharey=True, squeeze=False)
    for panel, method in zip(panels.flat, found, strict=False):
        _panel(panel, method)
    for panel in list(panels.flat)[len(found) :]:
        panel.axis("off")
    for panel in panels[:, 0]:
        panel.set_ylabel("wrong (share)")
    for number, panel in enumerate(panels.flat):
        if number + COLUMNS >= len(found):
            panel.set_xlabel("signal to noise, dB")
    handles, labels = panels[0, 0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="lower center", ncol=3, frameon=False, fontsize=10)
    figure.tight_layout(rect=(0, LEGEND_IN / size[1], 1, 1))
    figure.savefig(path, dpi=110, metadata={"Software": None})
    plt.close(figure)


def _panel(panel: Any, method: Method) -> None:
    panel.axvspan(
        *ORDINARY_DB, facecolor="0.9", edgecolor="none", label="signal to noise of ordinary benches"
    )
    panel.axhline(0.01, color="0.6", linewidth=0.8)
    panel.plot(
        FINE_DB, np.maximum(method.bound, LEAST), "-", color="black", linewidth=1.2, label=LABELS["bound"]
    )
    told, heard = method.told, method.heard
    blue = {"color": "#1f5f9f", "markersize": 3.5, "linewidth": 1, "markerfacecolor": "white"}
    red = {"color": "#b03a12", "markersize": 3.5, "linewidth": 1.2}
    for key, steps, shares, style, pen in (
        ("told", told.steps, told.errors(), "--^", blue),
        ("heard", heard.steps, heard.errors(), "-o", red),
        ("refused", heard.steps, heard.refused(), ":", {"color": "0.35", "linewidth": 1}),
    ):
        panel.plot(steps, np.maximum(shares, LEAST), style, label=LABELS[key], **pen)
    panel.set_yscale("log")
    panel.set_ylim(LEAST * 0.85, 1.1)
    panel.set_xlim(-50, 62)
    panel.set_yticks([0.001, 0.01, 0.1, 1], ["none", "1 %", "10 %", "100 %"])
    panel.set_xticks(range(-40, 61, 20))
    panel.set_title(method.name, fontsize=9.5)
    panel.tick_params(labelsize=8)
