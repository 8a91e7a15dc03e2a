"""Uploads to the page in raw requests: names that lead elsewhere, 2 GB, ten thousand files, cut connections.

A real server and a browser that has the page open, spoken to over a socket with that browser's cookie. After
each part: nothing is left behind or lies outside the server's own folder, the server answers, its memory and
handles stay, and it printed no traceback.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import shutil
import signal
import socket
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import numpy as np
from playwright.sync_api import Page as BrowserPage
from playwright.sync_api import sync_playwright
from studies import environment
from studies.faults.harness import Counts, pluck, small_job

from browser import QUIETLY, Server, chromium, opened, page_server  # isort: skip

LINE = "----------cut-here"
SMALL = {
    "ordinary": "one.wav",
    "climbs": "../../../../../../climbed.wav",
    "climbs, another way": "..\\..\\..\\climbed.wav",
    "climbs, in the middle": "a/../../../climbed.wav",
    "climbs, in hexadecimal": "%2e%2e%2f%2e%2e%2fclimbed.wav",
    "from the top": "/etc/climbed.wav",
    "from a drive": "C:\\climbed.wav",
    "from a share": "\\\\host\\share\\climbed.wav",
    "a folder": "climbed/",
    "up": "..",
    "here": ".",
    "nothing": "",
    "a space": " ",
    "hidden": ".profile",
    "a home": "~/climbed.wav",
    "zero": "a\0b.wav",
    "line ends": "a\nb.wav",
    "escape": "a\x1b[31mb.wav",
    "quotes": "a'`$(id)`;b.wav",
    "a tag": "<script>alert(1)<!script>.wav",
    "reserved": "CON",
    "reserved, with an ending": "NUL.wav",
    "reserved port": "COM1.wav",
    "a stream": "a.wav:hidden",
    "ends with a dot": "a.wav.",
    "a star": "*.wav",
    "very long": "a" * 5000 + ".wav",
    "very long ending": "a." + "w" * 5000,
    "very long, wide": "\N{GUITAR}" * 900 + ".wav",
    "another way round": "\N{RIGHT-TO-LEFT OVERRIDE}vaw.a",
    "half a character": "a\udcffb.wav",
    "a job": "job.toml",
    "a log": "bench.jsonl",
    "a part": ".x.part.wav",
    "an option": "--help",
}


class Page:
    """A running page, spoken to without a browser."""

    def __init__(self, server: Server, home: Path, shown: BrowserPage) -> None:
        self.server, self.home = server, home
        (cookie,) = shown.context.cookies()
        self.cookie = f"{cookie['name']}={cookie['value']}"
        self.said: list[str] = []
        Thread(target=self._read, daemon=True).start()
        self.place = re.search(r"/_nicegui/client/[\w-]+/upload/\d+", shown.content()).group(0)

    def _read(self) -> None:
        self.said.extend(self.server.process.stdout)

    @property
    def scratch(self) -> Path:
        return self.home / "cache" / "coilwise" / "scratch" / "uploads"

    def left(self) -> list[Path]:
        """Files in the server's folder for uploads, and in the common one."""
        places = [self.scratch, self.home / "tmp"]
        return [p for place in places for p in place.rglob("*") if p.is_file() and p.suffix != ".lock"]

    def memory_mb(self) -> float:
        status = Path(f"/proc/{self.server.process.pid}/status").read_text()
        return int(re.search(r"VmHWM:\s+(\d+)", status).group(1)) / 1024

    def handles(self) -> int:
        return len(os.listdir(f"/proc/{self.server.process.pid}/fd"))

    def connect(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=300)

    def send(
        self, body: Iterable[bytes], *, length: int | None, line: str = LINE, connection=None
    ) -> tuple[int, str]:
        """Post a body; without a length it goes in pieces of their own."""
        own = connection or self.connect()
        headers = {"Cookie": self.cookie, "Content-Type": f"multipart/form-data; boundary={line}"}
        if length is not None:
            headers["Content-Length"] = str(length)
        try:
            own.request("POST", self.place, body=body, headers=headers, encode_chunked=length is None)
            answer = own.getresponse()
            return answer.status, answer.read().decode(errors="replace")
        finally:
            if connection is None:
                own.close()

    def file(self, name: str, raw: bytes, *, connection=None) -> tuple[int, str]:
        head, foot = around(name)
        return self.send(
            iter([head + raw + foot]), length=len(head) + len(raw) + len(foot), connection=connection
        )

    def tracebacks(self) -> int:
        return sum("Traceback" in line for line in self.said)


def around(name: str) -> tuple[bytes, bytes]:
    """What stands before and after a file of that name."""
    said = name.encode("utf-8", "surrogateescape")
    head = (
        b"--"
        + LINE.encode()
        + b'\r\nContent-Disposition: form-data; name="file"; filename="'
        + said
        + b'"\r\nContent-Type: audio/wav\r\n\r\n'
    )
    return head, b"\r\n--" + LINE.encode() + b"--\r\n"


def wav(size: int) -> bytes:
    """The head of a WAV of that many bytes of sound: two channels, 16 bits."""
    import struct

    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF",
        36 + size,
        b"WAVE",
        b"fmt ",
        16,
        1,
        2,
        48_000,
        192_000,
        4,
        16,
        b"data",
        size,
    )


@contextmanager
def page(home: Path) -> Iterator[Page]:
    """A server over a small job, whose folders all lie under ``home``."""
    (home / "tmp").mkdir(exist_ok=True)
    places = {f"XDG_{kind}_HOME": str(home / kind.lower()) for kind in ("CACHE", "DATA", "CONFIG")}
    own = {**os.environ, **places, "TMPDIR": str(home / "tmp"), "COILWISE_CACHE": "off", "HOME": str(home)}
    with (
        page_server(home / "job", home=home, environment=own, trace=False) as server,
        sync_playwright() as play,
    ):
        browser = play.chromium.launch(executable_path=chromium(), args=list(QUIETLY))
        with opened(browser, server) as shown:
            shown.wait_for_timeout(2000)
            yield Page(server, home, shown)
        browser.close()


def everything(home: Path) -> set[str]:
    """All names where an upload that climbs could land: below home, beside it, at the top."""
    own = {p for p in home.rglob("*") if not {"scratch", "report", "tmp"} & set(p.parts[len(home.parts) :])}
    beside = [p for place in (home.parent, Path("/"), Path("/etc")) for p in place.iterdir()]
    return {str(p) for p in (*own, *(p for p in beside if "climbed" in p.name))}


def until(done, *, within_s: float = 20.0) -> bool:
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        if done():
            return True
        time.sleep(0.05)
    return False


def names(counts: Counts, on: Page, raw: bytes) -> None:
    before = everything(on.home)
    for k, (kind, name) in enumerate(SMALL.items()):
        seen = {p for p in on.left()}
        status, said = on.file(name, raw + bytes([k]) * 2)
        until(lambda seen=seen: set(on.left()) - seen, within_s=2.0)
        new = [p for p in set(on.left()) - seen]
        wrong = []
        if status not in (200, 400):
            wrong.append(f"status {status} {said[:80]}")
        if new and not all(
            on.scratch in p.parents and len(p.relative_to(on.scratch).parts) == 3 for p in new
        ):
            wrong.append(f"lies at {new}")
        if any(len(p.name) > 100 or p.name.startswith(".") for p in new):
            wrong.append(f"is called {new[0].name[:120]}")
        if everything(on.home) - before:
            wrong.append(f"made {everything(on.home) - before}")
        counts.add("names", f"status {status}", case=kind, wrong=wrong)


def broken(counts: Counts, on: Page, raw: bytes) -> None:
    """Bodies that are none."""
    head, foot = around("a.wav")
    whole = head + raw + foot
    cases = {
        "no boundary in it": (b"nothing at all", LINE),
        "nothing": (b"", LINE),
        "another boundary": (whole, "other"),
        "no name": (whole.replace(b' name="file";', b""), LINE),
        "no file": (whole.replace(b' filename="a.wav"', b""), LINE),
        "no end": (head + raw, LINE),
        "endless head": (b"--" + LINE.encode() + b"\r\nX: " + b"a" * 10_000_000, LINE),
        "a thousand and one files": (head.join([b""] * 1100) + foot, LINE),
        "noise": (np.random.default_rng(1).bytes(100_000), LINE),
        "a field of 5 MB": (whole.replace(b' filename="a.wav"', b"").replace(raw, b"a" * 5_000_000), LINE),
    }
    for kind, (body, line) in cases.items():
        fallen = on.tracebacks()
        try:
            status, said = on.send(iter([body]), length=len(body), line=line)
        except OSError as error:
            status, said = 0, str(error)
        time.sleep(0.1)
        wrong = [said] if status == 0 else []
        wrong += ["a traceback"] if on.tracebacks() > fallen else []
        counts.add("bodies", f"status {status}", case=kind, wrong=wrong)


def cut(counts: Counts, on: Page, raw: bytes, times: int) -> None:
    """Connections that end in the middle, or only stop."""
    rng = np.random.default_rng(2)
    head, foot = around("cut.wav")
    body = head + raw + rng.bytes(3_000_000) + foot
    before, handles, fallen = set(on.left()), on.handles(), on.tracebacks()
    for k in range(times):
        with socket.create_connection(("127.0.0.1", on.server.port)) as line:
            said = (
                f"POST {on.place} HTTP/1.1\r\nHost: 127.0.0.1:{on.server.port}\r\nCookie: {on.cookie}\r\n"
                f"Content-Type: multipart/form-data; boundary={LINE}\r\nContent-Length: {len(body)}\r\n\r\n"
            )
            if k % 2:
                line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
            try:
                line.sendall(said.encode() + body[: int(rng.integers(len(body)))])
            except OSError:
                counts.add("cut", "refused early")
                continue
        counts.add("cut", "reset" if k % 2 else "closed")
    gone = until(lambda: set(on.left()) <= before and on.handles() <= handles + 3)
    wrong = [] if gone else [f"{len(set(on.left()) - before)} files, {on.handles() - handles} handles left"]
    wrong += [f"{on.tracebacks() - fallen} tracebacks"] if on.tracebacks() > fallen else []
    counts.add("cut", "afterwards", case=f"{times} cuts", wrong=wrong)


def large(counts: Counts, on: Page, gigabytes: float) -> None:
    """A file of just below the limit, beyond it with its length said, and beyond it without."""
    piece = bytes(1 << 20)
    size = int(gigabytes * (1 << 30))

    def sound(megabytes: int) -> Iterator[bytes]:
        head, foot = around("long.wav")
        yield head + wav(megabytes << 20)
        for _ in range(megabytes):
            yield piece
        yield foot

    for kind, megabytes, said in (
        ("2 GB", (size >> 20) - 1, True),
        ("more, its length said", (size >> 20) + 100, True),
        ("more, no length said", (size >> 20) + 100, False),
    ):
        before, memory, began = set(on.left()), on.memory_mb(), time.monotonic()
        head, foot = around("long.wav")
        length = len(head) + 44 + (megabytes << 20) + len(foot) if said else None
        try:
            status, _ = on.send(sound(megabytes), length=length)
        except OSError:
            status = 0  # it answered before all was sent, and closed
        if megabytes << 20 < size:
            until(lambda: any(p.name == "long.wav" for p in on.left()), within_s=60)
            time.sleep(5.0)
        until(lambda before=before: {p.name for p in set(on.left()) - before} <= {"long.wav"}, within_s=10)
        kept = [p for p in set(on.left()) - before]
        seconds = time.monotonic() - began
        print(
            f"{kind}: status {status}, {seconds:.1f} s, {memory:.0f} to {on.memory_mb():.0f} MB of memory,"
            f" {len(kept)} kept"
        )
        wrong = []
        if on.memory_mb() - memory > 200:
            wrong.append(f"{on.memory_mb() - memory:.0f} MB more")
        if (megabytes << 20 < size) != (len(kept) == 1):
            wrong.append(f"kept {kept}")
        counts.add("2 GB", f"status {status}", case=kind, wrong=wrong)
        for path in kept:
            path.unlink()


def many(counts: Counts, on: Page, raw: bytes, number: int) -> None:
    """Files one after another, each of other sound."""
    memory, began, line = on.memory_mb(), time.monotonic(), on.connect()
    answered = 0
    for k in range(number):
        status, _ = on.file(f"take {k}.wav", raw + k.to_bytes(4, "little"), connection=line)
        answered += status == 200
    seconds = time.monotonic() - began
    until(lambda: not list((on.home / "tmp").iterdir()))
    kept, more = len(on.left()), on.memory_mb() - memory
    status, _ = on.server.ask(Cookie=on.cookie)
    print(
        f"{number} files: {answered} answered in {seconds:.0f} s, {kept} kept, {more:.0f} MB more;"
        f" then {status}"
    )
    wrong = [] if status == 200 and answered == number else [f"{answered} answered, then {status}"]
    wrong += [f"{more:.0f} MB more"] if more > 300 else []
    counts.add("ten thousand files", f"{kept} kept", case=str(number), wrong=wrong)


def killed(counts: Counts, home: Path, raw: bytes) -> None:
    """A server that is killed in the middle of uploads leaves nothing that the next does not remove."""
    with page(home) as on:
        on.file("kept.wav", raw)
        head, _ = around("half.wav")
        with socket.create_connection(("127.0.0.1", on.server.port)) as line:
            said = (
                f"POST {on.place} HTTP/1.1\r\nHost: 127.0.0.1:{on.server.port}\r\nCookie: {on.cookie}\r\n"
                f"Content-Type: multipart/form-data; boundary={LINE}\r\nContent-Length: 9000000\r\n\r\n"
            )
            line.sendall(said.encode() + head + raw + bytes(4_000_000))
            time.sleep(0.5)
            on.server.process.send_signal(signal.SIGKILL)
            on.server.process.wait()
    with page(home) as on:
        wrong = [f"left {on.left()}"] if on.left() else []
    counts.add("killed", "afterwards", case="in an upload", wrong=wrong)


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--gigabytes", type=float, default=2.0)
    said.add_argument("--files", type=int, default=10_000)
    said.add_argument("--cuts", type=int, default=200)
    asked = said.parse_args()
    with tempfile.TemporaryDirectory(prefix="coilwise-uploads-", dir=os.environ.get("TMPDIR")) as place:
        home = Path(place)
        small_job(home / "job")
        raw = pluck(home / "sound.wav", seconds=0.05).read_bytes()
        counts = Counts("Uploads")
        with page(home) as on:
            names(counts, on, raw)
            broken(counts, on, raw)
            cut(counts, on, raw, asked.cuts)
            if asked.gigabytes:
                large(counts, on, asked.gigabytes)
            if asked.files:  # last: where a thousand are, nothing more is taken in
                many(counts, on, raw, asked.files)
            print("".join(on.said)[:3000])
        left = [p for p in home.rglob("*") if "scratch" in p.parts and p.is_file()] + list(
            (home / "tmp").iterdir()
        )
        counts.add("ended", "afterwards", wrong=[f"left {left}"] if left else [])
        killed(counts, home, raw)
        counts.show()
    sys.stdout.flush()
    shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
