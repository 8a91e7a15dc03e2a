"""Long studies that can be stopped and started at will: every finished piece of work is a line of a file.

Task: `kept` reads the file, `finish` does what is missing, on all cores at low priority, a line for each.
Units: none. A piece that is done is never done again.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

NICE = 10


def kept(path: Path) -> list[dict[str, Any]]:
    """Every line of the file; none where it is not there yet."""
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def finish(
    works: Sequence[Any], do: Callable[[Any], dict[str, Any]], path: Path, *, done: int, told_every: int
) -> None:
    """Do the ``works`` that are missing; ``done`` of them are in the file already."""
    print(f"{done} are there, {len(works)} to do", flush=True)
    if not works:
        return
    os.nice(NICE)
    start = time.monotonic()
    with ProcessPoolExecutor() as pool, path.open("a") as out:
        running = [pool.submit(do, work) for work in works]
        for count, finished in enumerate(as_completed(running), start=1):
            out.write(json.dumps(finished.result()) + "\n")
            out.flush()
            if count % told_every == 0:
                left = (len(works) - count) * (time.monotonic() - start) / count
                print(f"{count} of {len(works)}, about {left / 60:.0f} min to go", flush=True)
