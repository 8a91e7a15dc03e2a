"""What one channel of one take shows of a pickup.

Task: from a station of a take to the variables whose product it shows: the pickup's sign, and every hidden
mistake that may have turned it over on the way to this channel. Signs: ``sign`` is +1 where the station
shows the pickup as it is wired now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from capture.bench_log import LeadsInput, Take
from reports.belief.factors import Variable
from reports.belief.ledger import Hidden, Ledger, Unknown
from reports.belief.mistakes import Kind
from reports.heard import NO_RIG, Letter, Station


@dataclass(frozen=True)
class Shown:
    """What one channel of one take shows: variables, sign, and the pickup it is about."""

    pickup: str
    variables: tuple[Variable, ...]
    sign: int
    column: int

    @property
    def coil(self) -> int | None:
        """The coil that it is about; None for the whole pickup."""
        return next((v.coil for v in self.variables if isinstance(v, Unknown)), None)


def shown_by(
    ledger: Ledger, entry: Take, station: Station, *, run: Mapping[str, int], letter: Letter = "s"
) -> Shown | None:
    """What a station of a take shows; None where its leads are not known.

    ``run`` numbers the clip-up that each pickup is in at this take.
    """
    wires = ledger.wires
    item = entry.inputs[station.column]
    if isinstance(item, LeadsInput):
        seen = wires.seen_at_leads(entry, item.pickup, hot=item.hot, ground=item.ground)
        if seen is None:
            return None
    elif station.coil is not None and station.pickup in wires.unjoined:
        return None
    else:
        seen = wires.seen(entry, station.pickup, coil=station.coil, turned=station.turned)
    variables, sign = ledger.sign_of(seen, letter=letter)
    extra: list[Variable] = []
    if station.clips:
        way = f"{item.hot}/{item.ground}" if isinstance(item, LeadsInput) else ""
        extra.append(
            ledger.mistake(
                "clips", station.pickup, str(run.get(station.pickup, 0)), way, label=station.pickup
            )
        )
        extra.append(ledger.mistake("colours", station.pickup, label=station.pickup))
    if station.column > 0:
        extra.append(channels(ledger, entry, station.column))
    return Shown(station.pickup, (*variables, *extra), sign, station.column)


def channels(ledger: Ledger, entry: Take, column: int) -> Hidden:
    """The chance that an input inverts against the first one."""
    rig = entry.rig or NO_RIG
    return ledger.mistake("channels", rig, str(column), label=f"input {column + 1} of {rig}")


def sideways(ledger: Ledger, pickup: str, string: str, *, ringing: bool = False) -> Hidden:
    """The chance that a string moved sideways at a pickup whose poles it does not run over.

    ``ringing``: some time after the pluck, and not right from it.
    """
    kind: Kind = "sideways ringing" if ringing else "sideways string"
    return ledger.mistake(kind, pickup, string, label=f"{string} at {pickup}")
