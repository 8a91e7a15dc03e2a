"""One whole simulated job with human mishaps: folder, takes and readings, judged, and compared with the
truth.

Task: `one_job(Work)` gives a row for each letter that the job tells of: "s" (in phase) and, for two single
coils, "w" (hum cancels). Units: probabilities; seconds of processor time. Signs: dsp/model/signs.py.

A job has a bridge pickup that is fitted and another that is loose (two inputs, clips), or two that are fitted
(one jack). Of a fitted pickup clips and colours are no matter.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from mishaps import PLACES_SD_MM, READINGS, WRONG_STRING, Mishaps, Rates, drawn
from new_jobs import create_job
from simulator.conditions import ORDINARY
from simulator.scenes import random_bench
from simulator.workbench import Bench

from capture.job import Member, Pickup, Setting
from capture.log import LeadsInput, Meter, Pole, Tag, TakeFields, append_entry, new_entry
from capture.takes.folder import JobFolder
from reports.inference.error_priors import PriorEnd
from reports.inference.posterior import Posterior
from reports.model.notes import Standing
from reports.verdict.building import Judgement, judge

RATE = 16_000
LOOSE = (
    "paired",
    "lift, loose",
    "paired and lift",
    "two clip-ups",
    "tagged",
    "drive, loose",
    "meter alone",
)
"""``two clip-ups``: a split check through both clip leads, paired plucks and lifts, the clips put on anew
between; ``tagged``: a split check through both clip leads, paired plucks and lifts in one clip-up, a tag."""
CLOSED = (
    "paired, fitted",
    "pluck in turn",
    "press in turn",
    "lift",
    "touch",
    "switch",
    "a, b and both",
    "hum level",
    "drive",
    "pluck in turn and lift",
    "switch, a, b and both, hum",
)
GESTURES = (*LOOSE, *CLOSED)
SETTINGS = {
    "ordinary": ORDINARY,
    "wide": replace(
        ORDINARY,
        snr_db=(20.0, 60.0),
        hum_db=(15.0, 50.0),
        habit_deg=30.0,
        careless_rate=0.2,
        off_centre_mm=1.8,
        level_db=6.0,
        pop=(0.0, 8.0),
        switch_bounce_rate=0.4,
    ),
    "unseen": replace(
        ORDINARY,
        snr_db=(18.0, 40.0),
        hum_db=(12.0, 35.0),
        habit_deg=45.0,
        careless_rate=0.25,
        off_centre_mm=2.0,
        humbucker_rate=0.7,
        distance_mm=(1.2, 5.0),
        detune_hz=(0.05, 2.0),
        high_pass_hz=(8.0, 25.0),
    ),
}
"""``unseen``: a long scale, with other pickups, hands and inputs than any that a number was fitted on."""


WITH_ENDS = 12
"""Jobs of a row that are also judged with every prior at either end of its range."""


@dataclass(frozen=True)
class Work:
    """One job of the study."""

    setting: str
    factor: float
    gesture: str
    meter: bool
    number: int
    seed: int

    @property
    def key(self) -> str:
        """What it is called in the file of results."""
        how = "meter" if self.meter else "no meter"
        return f"{self.setting}|{self.factor:g}|{self.gesture}|{how}|{self.seed}|{self.number}"


def one_job(work: Work) -> dict:
    """Make the job, judge it, and compare."""
    start = time.process_time()
    rng = np.random.default_rng([work.seed, work.number, GESTURES.index(work.gesture), int(work.meter)])
    rates = Rates(work.factor)
    bass = work.setting == "unseen"
    bench = random_bench(rng, conditions=rates.conditions(SETTINGS[work.setting]), bass=bass, pickups=3)
    pair = ("bridge", str(rng.choice(["middle", "neck"])))
    loose = (False, work.gesture in LOOSE)
    mishaps = drawn(rng, rates, loose=loose)
    with tempfile.TemporaryDirectory() as place:
        folder = _begun(Path(place) / "job", bench, rng, pair, loose)
        for audio, said in _takes(work, bench, rng, pair, mishaps, rates):
            path = folder.path / "new.wav"
            soundfile.write(path, np.clip(audio, -1, 1), RATE, subtype="PCM_24")
            last = folder.add_take(path, TakeFields(**said))
        if work.gesture == "tagged":
            append_entry(folder.path, new_entry(Tag, pickup=pair[1], take=last.entry.id))
        if work.meter or work.gesture == "meter alone":
            _read_meter(folder, bench, pair, mishaps)
        judged = judge(JobFolder.open(folder.path))
    verdict = judged.verdict
    (found,) = verdict.pairs
    a, b = pair
    turned = False
    if work.gesture == "tagged":  # the answer is about the tagged lead, which was to be the one under the tip
        turned = (mishaps.clips[1] != mishaps.colours[1]) != mishaps.tag
    rows = {"s": _row(found.p_in_phase, found.standing, bench.in_phase(a, b) != turned)}
    if work.number < WITH_ENDS:
        rows["s"] |= {f"at {end}": _standing_at(judged, end, pair) for end in ("low", "high")}
    if all(len(bench.pickup(n).coils) == 1 for n in pair):
        cancels = (bench.w(a) != bench.w(b)) != turned
        rows["w"] = _row(found.p_hum_cancels, found.hum_standing, cancels)
    names = list(mishaps.names)
    names += ["magnetised tool"] * (bench.tool.magnet is not None)
    names += ["channels"] * (not bench.channels_agree())
    return {
        "key": work.key,
        "setting": work.setting,
        "factor": work.factor,
        "gesture": work.gesture,
        "meter": work.meter,
        "rows": rows,
        "mishaps": names,
        "by": {word.method: word.p_in_phase for word in found.by},
        "conflict": bool(verdict.conflicts),
        "takes": len(verdict.takes),
        "refused": sum(not t.used for t in verdict.takes),
        "cpu_s": round(time.process_time() - start, 3),
    }


def _standing_at(judged: Judgement, end: PriorEnd, pair) -> Standing:
    """The standing with every prior at one end of its range."""
    found = Posterior(judged.posterior.graph, end=end).assess(lambda one: one.in_phase(*pair))
    standing = "unsettled" if found is None else found.standing
    return "likely" if judged.verdict.conflicts and standing == "settled" else standing


def _row(p: float | None, standing: Standing, truth: bool) -> dict:
    return {"p": p, "truth": bool(truth), "standing": standing}


def _begun(place: Path, bench: Bench, rng, pair, loose) -> JobFolder:
    return create_job(
        place,
        title="study",
        scale_mm=bench.scale_mm,
        pickups=[
            Pickup(
                name=name,
                centre_mm=max(5.0, bench.pickup(name).centre_mm + PLACES_SD_MM * rng.standard_normal()),
                coils=len(bench.pickup(name).coils),
                fitted=not is_loose,
                **({"hot": "violet", "ground": "grey"} if is_loose else {}),
            )
            for name, is_loose in zip(pair, loose, strict=True)
        ],
        settings=[Setting(name="both", on=tuple(Member(pickup=n) for n in pair))],
    )


def _takes(work: Work, bench, rng, pair, mishaps: Mishaps, rates: Rates) -> Iterator[tuple[np.ndarray, dict]]:
    """The takes with what they are entered as; a clip-up is one block of takes."""
    what = work.gesture
    strings = [s.name for s in bench.strings]
    high = ("D2", "G2", "A1") if "G2" in strings else ("D3", "G3", "A2")
    low = (strings[0], strings[1]) if len(strings) == len(("E", "A", "D", "G")) else ("E2", "A2")
    turn = tuple(c != k for c, k in zip(mishaps.clips, mishaps.colours, strict=True))

    def named(string: str) -> str:
        wrong = rng.random() < rates.times(WRONG_STRING)
        return str(rng.choice([s for s in strings if s != string])) if wrong else string

    if what in ("two clip-ups", "tagged"):
        yield from _through_clips(work, bench, rng, pair, mishaps, high, named)
    if "paired" in what:
        yield from _paired(bench, rng, pair, mishaps, turn, high, named)
    if "lift" in what or what == "touch":
        yield from _pulled(bench, rng, pair, "touch" if what == "touch" else "lift", turn)
    if "in turn" in what:
        yield from _in_turn(bench, rng, pair, mishaps, what.split()[0], high, named)
    if "switch" in what:
        yield from _switched(bench, rng, pair, low, named)
    if "a, b and both" in what:
        yield from _combined(bench, rng, pair, mishaps, (high[0], low[1]), named)
    if "hum" in what:
        for _ in range(2):
            for name, wanted in (("", pair[0]), ("both", _both(pair, mishaps)), ("", pair[1])):
                audio = bench.hum(rng, [wanted], rate=RATE, ringing_s=2.0)
                yield audio, {"gesture": "hum", "inputs": [name or wanted]}
    if "drive" in what:
        yield from _driven(bench, rng, pair, mishaps, turn)


def _both(pair, mishaps: Mishaps):
    return pair[1] if mishaps.wrong_both else tuple(pair)


def _paired(bench, rng, pair, mishaps, turn, high, named):
    a, b = pair
    first = named(high[0])
    yield (
        bench.split_check(rng, a, high[0], rate=RATE),
        {"gesture": "pluck", "inputs": [a, a], "string": first},
    )
    signs = np.array([-1.0 if t else 1.0 for t in turn])
    other = a if mishaps.one_pickup_twice else b
    for string in (high[0], high[1], high[2], high[0]):
        audio = bench.paired(rng, a, other, string, rate=RATE) * (signs if other == b else signs[[0, 0]])
        yield audio, {"gesture": "pluck", "inputs": [a, b], "string": named(string)}


def _through_clips(work: Work, bench, rng, pair, mishaps: Mishaps, high, named):
    """Paired plucks and lifts of a loose pickup through one clip lead, in one clip-up or two."""
    a, b = pair
    lead = -1.0 if mishaps.clip_lead else 1.0
    clips = LeadsInput(pickup=b, hot="violet", ground="grey")
    audio = bench.split_check(rng, b, high[0], rate=RATE) * np.array([1.0, lead])
    yield audio, {"gesture": "pluck", "inputs": [clips, clips], "string": high[0]}
    slips = (mishaps.clips[1], mishaps.clips_again) if work.gesture == "two clip-ups" else (mishaps.clips[1],)
    for number, slip in enumerate(slips):
        sign = lead * (-1.0 if slip != mishaps.colours[1] else 1.0)
        for k, string in enumerate((high[0], high[1]) if number else (high[0], high[1], high[2])):
            audio = bench.paired(rng, a, b, string, rate=RATE) * np.array([1.0, sign])
            anew = {"anew": True} if number and not k else {}
            yield audio, {"gesture": "pluck", "inputs": [a, clips], "string": named(string), **anew}
        for name, item, turned in ((a, a, 1.0), (b, clips, sign)):
            for _ in range(2):
                audio = bench.lift(rng, name, rate=RATE) * turned
                yield audio, {"gesture": "lift", "inputs": [item], "tool": "steel rod"}


def _pulled(bench, rng, pair, gesture, turn):
    for name, turned in zip(pair, turn, strict=True):
        for _ in range(3):
            audio = getattr(bench, gesture)(rng, name, rate=RATE) * (-1.0 if turned else 1.0)
            yield audio, {"gesture": gesture, "inputs": [name], "tool": "steel rod"}


def _in_turn(bench, rng, pair, mishaps, gesture, high, named):
    lead = {"lead_in_s": 0.8} if gesture == "press" else {}
    for k in range(3):
        for place, name in enumerate(pair):
            on = pair[0] if mishaps.selector_stays else name
            hand = mishaps.presses if gesture == "press" else mishaps.hand
            turned = True if hand[place] else None
            string = high[0] if k < 2 else high[1]
            audio = getattr(bench, gesture)(rng, on, string, rate=RATE, turned=turned, **lead)
            yield audio, {"gesture": gesture, "inputs": [name], "string": named(string)}


def _switched(bench, rng, pair, low, named):
    through = bool(rng.integers(2))
    for string in (*low, low[0]):
        way, listed, at_s = (
            ([pair[0], pair, pair[1]], (pair[0], "both", pair[1]), (0.8, 1.3))
            if through
            else (list(pair), pair, (0.8,))
        )
        audio = bench.switch(rng, way, string, at_s=at_s, rate=RATE, ringing_s=at_s[-1] + 1.7)
        yield audio, {"gesture": "switch", "inputs": [listed], "string": named(string)}


def _combined(bench, rng, pair, mishaps, strings, named):
    a, b = pair
    for k in range(5):
        for place, (name, wanted) in enumerate(((a, a), (b, b), ("both", _both(pair, mishaps)))):
            on = a if mishaps.selector_stays and name == b else wanted
            turned = True if mishaps.hand[place] else None
            string = strings[k % 2]
            audio = bench.pluck(rng, on, string, rate=RATE, turned=turned)
            yield audio, {"gesture": "pluck", "inputs": [name], "string": named(string)}


def _driven(bench, rng, pair, mishaps, turn):
    for place, name in enumerate(pair):
        for _ in range(2):
            upside = True if mishaps.face[place] else None
            audio = bench.drive(rng, name, rate=RATE, upside_down=upside) * (-1.0 if turn[place] else 1.0)
            coil = {"coil": 1} if len(bench.pickup(name).coils) > 1 else {}
            yield audio, {"gesture": "drive", "inputs": [name], **coil}


def _read_meter(folder: JobFolder, bench: Bench, pair, mishaps: Mishaps) -> None:
    """Two swings a pickup with the same tool, and the compass where the coils are single."""
    for place, name in enumerate(pair):
        sign = bench.s(name) if bench.tool.magnet is None else bench.w(name) * bench.tool.magnet
        sign *= -1 if mishaps.meter[place] else 1
        sign *= -1 if mishaps.colours[place] else 1
        for k in range(READINGS):
            shown = sign * (-1 if mishaps.misread[place][k] else 1)
            entry = new_entry(
                Meter,
                pickup=name,
                move="away",
                reading="rises" if shown > 0 else "falls",
                red="hot",
                tool="steel rod",
            )
            append_entry(folder.path, entry)
        if len(bench.pickup(name).coils) == 1:
            pole = bench.pickup(name).coils[0].signs.magnet * (-1 if mishaps.compass[place] else 1)
            append_entry(folder.path, new_entry(Pole, pickup=name, facing="north" if pole > 0 else "south"))
