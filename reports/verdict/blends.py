"""What a magnetic pickup and a piezo or a microphone do together, band by band, from paired plucks.

Task: from the results of a job's takes to a `BlendRow` for each such pair that was plucked, with a finding
that says it in words; never one word for the pair. What split checks of the same inputs show is taken out,
their lag and their sign; where there is none, which way round the whole is stays open, and the row says so.
Units: Hz, dB, degrees. Sign: as the leads are now.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from statistics import median

from capture.job import Job
from capture.log import LeadsInput
from dsp.methods.blend import BlendBins, blend_bands
from dsp.model.calibration import split_ratio
from reports.evidence.leads import LeadHistory
from reports.evidence.results import NO_RIG, ChannelSource, TakeResult
from reports.model.build_notes import BlendNote, BlendRemedy, BlendRun
from reports.model.verdict import BandRow, BlendRow, Finding

SURE_NATS = 3.0
"""So much split checks have to say together before the inputs count as compared."""


def blend_rows(job: Job, history: LeadHistory, results: Sequence[TakeResult]) -> tuple[BlendRow, ...]:
    """A row for each pair of a magnetic pickup and another source, at the latest stage that was recorded."""
    plucks: dict[tuple[str, str], list[tuple[TakeResult, BlendBins, int]]] = defaultdict(list)
    for take in (t for t in results if t.blends and t.entry.stage == history.stage):
        for blend in take.blends:
            first, second = (take.sources[k] for k in blend.between)
            sign = _as_now(history, take, first) * _as_now(history, take, second)
            plucks[first.pickup, second.pickup].append((take, blend.bins, sign))
    rows = []
    for (a, b), found in plucks.items():
        columns = {tuple(take.sources[k].column for k in take.blends[0].between) for take, _, _ in found}
        rigs = {take.entry.rig or NO_RIG for take, _, _ in found}
        compared = _inputs(results, rigs=rigs) if len(columns) == 1 else None
        lag, way = compared or (0.0, 1)
        bands = [
            BandRow(
                low_hz=band.low_hz,
                high_hz=band.high_hz,
                sense=band.sense,
                likeness=round(band.likeness, 3),
                angle_deg=round(band.angle_deg, 1),
                level_db=round(band.level_db, 1),
                exchanged_db=round(band.exchanged_db, 1),
                plucks=band.plucks,
            )
            for sign in (1, -1)
            if (mine := [bins for _, bins, s in found if s == sign])
            for band in blend_bands(mine, lag_s=lag, sign=sign * way)
        ]
        ids = tuple(dict.fromkeys(take.entry.id for take, _, _ in found))
        other = next(p.source for p in job.pickups if p.name in (a, b) and p.source is not None)
        rows.append(
            BlendRow(
                a=a, b=b, source=other, bands=tuple(bands), inputs_compared=compared is not None, takes=ids
            )
        )
    return tuple(rows)


def _as_now(history: LeadHistory, take: TakeResult, source: ChannelSource) -> int:
    """-1 where a pickup was heard the other way round than its leads are now."""
    item = take.entry.inputs[source.column]
    view = (
        history.seen_at_leads(take.entry, item.pickup, hot=item.hot, ground=item.ground)
        if isinstance(item, LeadsInput)
        else history.seen(take.entry, source.pickup, turned=source.reversed)
    )
    return -1 if view is not None and view.turned else 1


def _inputs(results: Sequence[TakeResult], *, rigs: set[str]) -> tuple[float, int] | None:
    """Lag of the second input, s, and whether it inverts, from the split checks of one rig; None for none."""
    splits = [
        pluck
        for take in results
        if take.entry.is_split_check and not take.faults and {take.entry.rig or NO_RIG} == rigs
        for pluck in take.paired
    ]
    nats = sum(split_ratio(pluck.statistic) for pluck in splits)
    lags = [pluck.path.lag_s for pluck in splits if pluck.path is not None and pluck.path.plain]
    if abs(nats) < SURE_NATS or not lags:
        return None
    return median(lags), 1 if nats > 0 else -1


def blend_findings(rows: Sequence[BlendRow]) -> Iterator[Finding]:
    """What the rows say in words, and what to do."""
    for row in rows:
        runs: list[BlendRun] = []
        for band in row.bands:
            last = runs[-1] if runs else None
            if last is not None and last.sense == band.sense and last.high_hz == band.low_hz:
                most = band if abs(band.level_db) > abs(last.level_db) else last
                runs[-1] = BlendRun(last.sense, last.low_hz, band.high_hz, most.level_db, most.exchanged_db)
            else:
                runs.append(BlendRun(band.sense, band.low_hz, band.high_hz, band.level_db, band.exchanged_db))
        few = all(band.sense == "not clear" for band in row.bands)
        yield Finding(
            pickup_or_setting=f"{row.a} and {row.b}",
            what=BlendNote(row.source, tuple(runs)),
            next=BlendRemedy("more plucks" if few else "exchange" if row.inputs_compared else "split check"),
        )
