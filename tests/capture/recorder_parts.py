"""What the tests of recorded takes share: a sound, and a take that was left in the middle."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from capture_bench import RATE

from capture.log import TakeFields
from capture.takes.recorder import TakeWriter

PLUCK = TakeFields("pluck", ("bridge", "neck"), string="D3")
FULL = 1 << 23


def sound(frames: int = 4800, *, channels: int = 2, seed: int = 1) -> np.ndarray:
    """Samples as a 24-bit converter gives them."""
    whole = np.random.default_rng(seed).integers(1 - FULL, FULL, (frames, channels))
    return (whole / FULL).astype(np.float32)


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in (folder / "takes").iterdir())


def left_over(folder: Path, samples: np.ndarray, *, planned: TakeFields | None = None) -> None:
    writer = TakeWriter(folder, rate=RATE, channels=samples.shape[1], planned=planned)
    writer.write(samples)
    writer.close()
