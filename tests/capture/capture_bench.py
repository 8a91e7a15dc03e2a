"""A bench that every test here shares: two pickups of our own invention, and a noise to record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
import typer

from reports.cli import register

JOB = """\
# a job of ours
format = 1
title = "Baritone, other neck pickup"
scale_mm = 686.0            # nut to saddle
mains_hz = 60
strings = ["B1", "E2", "A2", "D3", "F#3", "B3"]

[[pickup]]
name = "bridge"
centre_mm = 44.0
coils = 1

[[pickup]]
name = "neck"
centre_mm = 168.0
coils = 2
fitted = false
hot = "violet"              # as the sheet has it
ground = "grey"
link = ["orange", "brown"]
shield = "own lead"

[[setting]]
name = "both"
on = ["bridge", {pickup = "neck", coil = 1, reversed = true}]
"""

RATE = 48_000


def noise(*, frames: int = 4800, channels: int = 2, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-0.9, 0.9, (frames, channels))


def write_audio(path: Path, *, frames: int = 4800, channels: int = 2, seed: int = 1, **options: Any) -> Path:
    sf.write(path, noise(frames=frames, channels=channels, seed=seed), RATE, **options)
    return path


def write_log(folder: Path, *lines: str | dict[str, Any], end: str = "\n") -> None:
    texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
    (folder / "bench.jsonl").write_text("\n".join(texts) + end, encoding="utf-8")


TAKE = {"kind": "take", "id": "t001", "file": "takes/t001.wav", "gesture": "pluck", "inputs": ["bridge"]}
METER = {"kind": "meter", "id": "m001", "pickup": "bridge", "move": "away", "reading": "rises", "red": "hot"}


EXAMPLES = [  # sources R11
    {
        **TAKE,
        "at": "2026-11-25T10:12:00Z",
        "string": "A2",
        "stage": "found",
        "rig": "two-input box, short cable",
    },
    {**TAKE, "id": "t002", "inputs": ["bridge", "neck"], "string": "D3", "fret": 5},
    {**TAKE, "id": "t003", "gesture": "switch", "inputs": [["bridge", "both", "neck"]], "string": "A2"},
    {**TAKE, "id": "t004", "inputs": ["bridge", "bridge"]},
    {
        **TAKE,
        "id": "t005",
        "gesture": "lift",
        "tool": "steel rod",
        "inputs": [{"pickup": "neck", "hot": "violet", "ground": "orange"}],
    },
    {**TAKE, "id": "t006", "gesture": "hum", "inputs": ["neck", None], "sha256": "0" * 64},
    {**METER, "kohm": 6.6, "tool": "steel rod"},
    {**METER, "id": "m002", "pickup": "neck", "red": "violet", "black": "grey"},
    {"kind": "ohms", "id": "r001", "pickup": "neck", "between": ["violet", "orange"], "kohm": 4.1},
    {"kind": "ohms", "id": "r002", "pickup": "neck", "between": ["violet", "shield"]},
    {"kind": "pole", "id": "p001", "pickup": "bridge", "facing": "north", "stage": "after"},
    {"kind": "change", "id": "c001", "pickup": "neck", "leads": {"grey": "hot", "violet": "ground"}},
    {"kind": "void", "id": "v001", "entry": "t002", "why": "buzzing fret"},
]


def bench() -> typer.Typer:
    app = typer.Typer(add_completion=False, no_args_is_help=True)
    register(app)
    return app
