"""Damaged texts and recordings: no traceback, no waiting, no answer that is turned over.

Bytes of `job.toml`, `bench.jsonl` or of one recording are damaged at random (bits turned over, pieces cut
out, zeroed, repeated, put elsewhere, written over with noise or with what JSON and TOML hold dear, cut off);
then the verdict is asked for. An answer is turned where a pair that is likely or settled has another phase
than the whole job's. Hashes are taken out of the log, so that damaged recordings are heard. One damage in
many changes what was said (a digit, a letter of a name): it is refused or means something else, and must not
turn a sign.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import soundfile
from studies.faults.harness import DEMO, Counts, Outcome, bench, command, faults_of

DEAR = [
    *(
        b'"',
        b"'",
        b"\\",
        b"{",
        b"}",
        b"[",
        b"]",
        b",",
        b":",
        b"=",
        b"#",
        b"\n",
        b"\r",
        b"\0",
        b"\x7f",
        b"\x1b[2J",
    ),
    *(
        b"null",
        b"true",
        b"NaN",
        b"-Infinity",
        b"1e999",
        b"-1",
        b"0",
        b"99999999999999999999",
        b"1e-320",
        b"0x1p3",
    ),
    *(
        b'""',
        b"[]",
        b"{}",
        b"\xff",
        b"\xed\xa0\x80",
        b"\\ud800",
        b"\\u0000",
        b"\xef\xbb\xbf",
        b"../",
        b"/",
        b"~",
    ),
    *(
        b"[" * 5000,
        b"{" * 5000,
        b"9" * 5000,
        "\N{RIGHT-TO-LEFT OVERRIDE}".encode(),
        b"a" * 20_000,
        b"\xe2\x80\xa8",
    ),
]


def damaged(raw: bytes, rng: random.Random) -> tuple[str, bytes]:
    """A kind of damage, and what it makes of `raw`."""
    at = rng.randrange(len(raw))
    to = min(len(raw), at + int(2 ** rng.uniform(0, 9)))
    piece = raw[at:to]
    kinds: dict[str, Callable[[], bytes]] = {
        "bit": lambda: raw[:at] + bytes([raw[at] ^ 1 << rng.randrange(8)]) + raw[at + 1 :],
        "cut out": lambda: raw[:at] + raw[to:],
        "zeros": lambda: raw[:at] + bytes(len(piece)) + raw[to:],
        "noise": lambda: raw[:at] + rng.randbytes(len(piece)) + raw[to:],
        "repeated": lambda: raw[:to] + piece + raw[to:],
        "moved": lambda: _moved(raw, at, to, rng),
        "cut off": lambda: raw[:at],
        "put in": lambda: raw[:at] + rng.choice(DEAR) + raw[at:],
        "put over": lambda: raw[:at] + rng.choice(DEAR) + raw[to:],
    }
    kind = rng.choice(list(kinds))
    return kind, kinds[kind]()


def _moved(raw: bytes, at: int, to: int, rng: random.Random) -> bytes:
    rest = raw[:at] + raw[to:]
    where = rng.randrange(len(rest) + 1)
    return rest[:where] + raw[at:to] + rest[where:]


def base_job(home: Path, kind: str) -> Path:
    """Four short takes of the worked job as files of that kind, without hashes, and its readings."""
    (home / "takes").mkdir(parents=True)
    shutil.copy(DEMO / "job.toml", home)
    lines = []
    for line in (DEMO / "bench.jsonl").read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        if entry["kind"] == "take" and entry["id"] in ("t001", "t002", "t004"):
            sound, rate = soundfile.read(DEMO / entry["file"], dtype="int32")
            entry["file"] = f"takes/{entry['id']}.{kind}"
            entry.pop("sha256", None)
            soundfile.write(home / entry["file"], sound[: int(2.5 * rate)], rate, subtype="PCM_24")
            lines.append(json.dumps(entry))
        elif entry["kind"] == "meter":
            lines.append(line)
    (home / "bench.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return home


def phases(outcome: Outcome) -> dict[frozenset[str], tuple[str, str]]:
    """The phase of each pair that is likely or settled, and how sure."""
    try:
        pairs = json.loads(outcome.out)["pairs"]
    except (ValueError, KeyError):
        return {}
    return {frozenset((p["a"], p["b"])): (p["phase"], p["standing"]) for p in pairs if p["phase"]}


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--texts", type=int, default=1800)
    said.add_argument("--recordings", type=int, default=1700)
    said.add_argument("--minutes", type=float, default=15.0)
    said.add_argument("--seed", type=int, default=1)
    asked = said.parse_args()
    rng, began = random.Random(asked.seed), time.monotonic()
    with bench() as away:
        counts = Counts("Damage")
        jobs = {kind: base_job(away / kind, kind) for kind in ("wav", "flac")}
        whole = {kind: phases(command("verdict", job, "--json")) for kind, job in jobs.items()}
        print(whole)
        places = [("texts", n) for n in ("job.toml", "bench.jsonl")] * (asked.texts // 2)
        sounds = [("recordings", f"takes/{t}") for t in ("t002", "t004", "t001", "t002")]
        places += sounds * (asked.recordings // 4)
        rng.shuffle(places)
        for k, (what, place) in enumerate(places):
            if time.monotonic() - began > 60 * asked.minutes:
                break
            kind = ("wav", "flac")[k % 2]
            home = away / "job"
            shutil.rmtree(home, ignore_errors=True)
            shutil.copytree(jobs[kind], home)
            path = home / (place if what == "texts" else f"{place}.{kind}")
            how, raw = damaged(path.read_bytes(), rng)
            if rng.random() < 0.3 and raw:
                more, raw = damaged(raw, rng)
                how = f"{how}, {more}"
            path.write_bytes(raw)
            outcome = command("verdict", home, "--json")
            wrong = faults_of(outcome, names=("job.toml", "bench.jsonl", "take"))
            for pair, (phase, standing) in phases(outcome).items():
                if whole[kind].get(pair, (phase,))[0] != phase:
                    wrong.append(f"turned: {standing} {phase}")
            if wrong:
                kept = Path(f"{away}-fell") / str(k)
                shutil.copytree(home, kept)
                wrong = [f"{w} (kept in {kept}): {outcome.err.strip()[-300:]}" for w in wrong]
            of = path.name if what == "texts" else path.suffix[1:].upper()
            status = {0: "clear", 3: "not clear"}.get(outcome.status, outcome.kind)
            counts.add(f"{what}: {of}", status, case=re.sub(r"\s+", " ", how), wrong=wrong)
        counts.show()


if __name__ == "__main__":
    main()
