"""The verdict on a job in which nothing changed, as it was printed before: nothing that hears is loaded.

An answer is kept under a digest of all that it can depend on: every file of the job's folder, by path and
content (without its report, which no verdict reads), this program's code and the packages it judges with, and
what was asked for. Nothing is kept, and nothing taken, where that cannot be told: a link or a pipe in the
folder, a file that cannot be read, more than `MOST_FILES` or `MOST_BYTES` (there the digest would take
longer than it saves), care that is remembered from other jobs, a folder that changed meanwhile.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from capture.disk.kept import place_named
from capture.disk.reading import read_plain
from reports.evidence.store import Store, code_version
from reports.verdict import CARE_FILE, CARE_VARIABLE

REPORT = "report"
CODE = ("capture", "dsp", "reports")
PACKAGES = ("numpy", "scipy", "soundfile", "pydantic", "tomlkit", "rich")
MOST_FILES = 400
MOST_BYTES = 100_000_000


@dataclass(frozen=True)
class Answer:
    """What is printed, and whether the job is clear: the exit status."""

    text: str
    clear: bool


def answered(folder: Path, asked: str, make: Callable[[], Answer]) -> Answer:
    """What was kept for this job and what is ``asked`` of it; else what ``make`` gives, and that is kept."""
    store = Store.default()
    key = _key(folder, asked) if store.folder is not None else None
    kept = None if key is None else store.get(key)
    if key is not None and kept is not None and (answer := _from_bytes(kept, key=key)):
        return answer
    answer = make()
    if key is not None and key == _key(folder, asked):
        text = json.dumps({"key": key, "clear": answer.clear, "text": answer.text})
        store.put(key, f"{hashlib.sha256(text.encode()).hexdigest()}\n{text}".encode())
    return answer


def _from_bytes(raw: bytes, *, key: str) -> Answer | None:
    """The answer in these bytes; None where they were cut off, or are of another key."""
    digest, _, text = raw.partition(b"\n")
    if digest != hashlib.sha256(text).hexdigest().encode():
        return None
    said = json.loads(text)
    return Answer(said["text"], said["clear"]) if said["key"] == key else None


def _key(folder: Path, asked: str) -> str | None:
    memory = place_named(CARE_VARIABLE, "user_data_path")
    if memory is not None and os.path.lexists(memory / CARE_FILE):
        return None
    digest, left = hashlib.sha256(f"{asked}\n{code_version(CODE, PACKAGES)}\n".encode()), MOST_BYTES
    try:
        for number, path in enumerate(_files(folder)):
            raw = read_plain(path, most_bytes=left)
            left -= len(raw)
            if number >= MOST_FILES:
                return None
            name = path.relative_to(folder).as_posix()
            digest.update(json.dumps([name, hashlib.sha256(raw).hexdigest()]).encode())
    except (OSError, ValueError):
        return None
    return digest.hexdigest()


def _files(folder: Path) -> Iterator[Path]:
    """All files of a job but its report, in order.

    Raises
    ------
    OSError
        Something is no folder and no ordinary file.

    """
    with os.scandir(folder) as found:
        entries = sorted(found, key=lambda entry: entry.name)
    for entry in entries:
        mode = entry.stat(follow_symlinks=False).st_mode
        if stat.S_ISDIR(mode):
            yield from () if entry.name == REPORT else _files(Path(entry.path))
        elif stat.S_ISREG(mode):
            yield Path(entry.path)
        else:
            raise OSError(f"{entry.path}: a verdict on it is not kept")
