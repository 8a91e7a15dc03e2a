"""Files that were uploaded to the page, until they are in the job or the server ends.

One `UploadStore` a server: a private folder (mode 700) in which each file lies under its own name, made
harmless, in a folder of its own, so that two of one name do not meet. What the page's library writes on the
way lies there too, so that it goes with the folder, also after a kill. The person's own files are only read
by their browser. Seconds, bytes.
"""

from __future__ import annotations

import atexit
import filecmp
import re
import shutil
import tempfile
from pathlib import Path, PurePosixPath
from threading import Lock
from uuid import uuid4
from weakref import WeakKeyDictionary

from nicegui import app
from pathvalidate import sanitize_filename

from capture import RecordingError
from capture.audio.files import probe
from capture.disk.locks import ScratchFolder
from reports.entry.recordings import UploadedFile, without_folders
from reports.messages import page as words
from reports.messages.wording import plain
from reports.page.server.controller import PageController

LIMIT_BYTES = 2 * 1024**3
LIMIT = "2 GB"
AROUND_A_FILE = 1 << 16
"""What a browser puts around the file that it sends: its name, in two lines."""
MOST_FILES = 1000
"""A job has some hundred takes; a folder with more in it was dropped by mistake."""
LONGEST_NAME = 100


class UploadStore:
    """The files in order; `files` is another tuple whenever something changed."""

    def __init__(self) -> None:
        self._folder = ScratchFolder("uploads")
        self._elsewhere, tempfile.tempdir = tempfile.tempdir, str(self._folder.path)
        atexit.register(self._folder.close)
        self._lock = Lock()
        self.files: tuple[UploadedFile, ...] = ()
        app.on_shutdown(self.close)

    def close(self) -> None:
        """Remove everything; also done when the process ends."""
        self.files = ()
        if tempfile.tempdir == str(self._folder.path):
            tempfile.tempdir = self._elsewhere
        self._folder.close()

    def path_for(self, name: str) -> Path:
        """Return where a file of that name is to be written.

        Raises
        ------
        RecordingError
            So many are here already.

        """
        if len(self.files) >= MOST_FILES:
            raise RecordingError(words.TOO_MANY.format(most=MOST_FILES))
        own = self._folder.path / uuid4().hex
        own.mkdir(mode=0o700)
        return own / safe_name(name)

    def add(self, path: Path) -> UploadedFile:
        """Check a file that was written, and add it.

        Raises
        ------
        RecordingError
            It is no audio, empty, too large, or here already; it is removed.

        """
        try:
            if path.stat().st_size > LIMIT_BYTES:
                raise RecordingError(words.TOO_LARGE.format(name=path.name, limit=LIMIT))
            head = probe(path)
            dropped = UploadedFile(path, head.frames / head.rate, head.channels, head.truncated)
            with self._lock:
                self._put(dropped)
        except RecordingError as error:
            self.delete(path)
            raise RecordingError(without_folders(str(error), [path])) from None
        return dropped

    def remove(self, *gone: UploadedFile) -> None:
        """Remove files from the store; the person's own stay where they are."""
        with self._lock:
            self.files = tuple(f for f in self.files if f not in gone)
        for one in gone:
            self.delete(one.path)

    def move_up(self, one: UploadedFile) -> None:
        """Put a file before the one that it comes after."""
        if one not in self.files[1:]:
            return
        at = self.files.index(one)
        self.files = (*self.files[: at - 1], one, self.files[at - 1], *self.files[at + 1 :])

    def _put(self, new: UploadedFile) -> None:
        for other in self.files:
            if other.name == new.name and filecmp.cmp(other.path, new.path, shallow=False):
                raise RecordingError(words.HERE_ALREADY.format(name=new.name))
        self.files = _inserted(self.files, new)

    def delete(self, path: Path) -> None:
        """Remove a file that was written, with its folder."""
        shutil.rmtree(path.parent, ignore_errors=True)


_STORES: WeakKeyDictionary[PageController, UploadStore] = WeakKeyDictionary()


def upload_store(controller: PageController) -> UploadStore:
    """Return the tray of a server's controller."""
    if controller not in _STORES:
        _STORES[controller] = UploadStore()
    return _STORES[controller]


def safe_name(name: str) -> str:
    """Return a file's name without folders, not hidden, without what a system or a terminal may not like."""
    last = plain(PurePosixPath(name.replace("\\", "/")).name)
    clean = sanitize_filename(last.replace("\N{REPLACEMENT CHARACTER}", "-"), "-", "universal").strip(". -")
    stem, dot, suffix = clean.rpartition(".")
    if not dot or len(suffix) >= LONGEST_NAME // 4:
        return clean[:LONGEST_NAME] or words.NO_NAME
    return f"{stem[: LONGEST_NAME - 1 - len(suffix)] or words.NO_NAME}.{suffix}"


def _inserted(files: tuple[UploadedFile, ...], new: UploadedFile) -> tuple[UploadedFile, ...]:
    """By name, since browsers send many at once in any order; at the end once a person moved some."""
    in_order = list(files) == sorted(files, key=_natural_key)
    return tuple(sorted((*files, new), key=_natural_key)) if in_order else (*files, new)


def _natural_key(one: UploadedFile) -> list[tuple[int, str]]:
    """Names as people count them: take 2 before take 10."""
    return [(int(p), "") if p.isdecimal() else (-1, p.casefold()) for p in re.split(r"(\d+)", one.name) if p]
