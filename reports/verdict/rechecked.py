"""Whether what would tell of an error was done since: a reading taken again, clips put on anew.

Task: from the standing entries of the log, in time order, to yes or no for one latent error. What was done
once and did not end a contradiction is not asked for again. Signs and units: none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from capture.log import AnyEntry, LeadsInput, Meter, Pole, Take
from reports.inference.evidence_graph import LatentError
from reports.model.notes import ErrorKind, OnPickups, OnReading, OnString


def was_checked(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the log holds what would tell of this error."""
    told = _TOLD_BY.get(error.kind)
    return told is not None and told(error, entries)


def _read_again(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the swing at the pickup was read once more after the reading in question."""
    if not isinstance(error.subject, OnReading):
        return False
    ids = [e.id for e in entries if isinstance(e, Meter) and e.pickup == error.subject.pickup]
    return error.subject.entry in ids and ids[-1] != error.subject.entry


def _clips_anew(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the clips on the pickup were put on anew."""
    return any(isinstance(e, Take) and e.anew and set(_pickups(error)) & set(_on(e)) for e in entries)


def _meter_anew(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the meter's leads were put on the pickup anew."""
    return any(isinstance(e, Meter) and e.anew and e.pickup in _pickups(error) for e in entries)


def _other_strings(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether another string was heard at the pickup."""
    if not isinstance(error.subject, OnString):
        return False
    subject = error.subject
    return any(
        isinstance(e, Take) and e.string not in (None, subject.string) and subject.pickup in _on(e)
        for e in entries
    )


def _another_way(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the pickup was excited in a way that asks for no stroke."""
    return any(
        isinstance(e, Take) and e.gesture in ("lift", "press") and set(_pickups(error)) & set(_on(e))
        for e in entries
    )


def _tapped(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether poles were tapped."""
    return any(isinstance(e, Take) and e.gesture == "tap" for e in entries)


def _elsewhere(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether hum was recorded at more places than one."""
    return len({e.where for e in entries if isinstance(e, Take) and e.gesture == "hum"}) > 1


def _poles_read_again(error: LatentError, entries: Sequence[AnyEntry]) -> bool:
    """Whether the compass was read more than once at the pickup."""
    return sum(isinstance(e, Pole) and e.pickup in _pickups(error) for e in entries) > 1


_TOLD_BY: dict[ErrorKind, Callable[[LatentError, Sequence[AnyEntry]], bool]] = {
    "misread swing": _read_again,
    "meter leads": _meter_anew,
    "clips": _clips_anew,
    "clip habit": _clips_anew,
    "one clip-up for both": _clips_anew,
    "colours": _clips_anew,
    "sideways string": _other_strings,
    "sideways ringing": _other_strings,
    "hand": _another_way,
    "hand throughout": _another_way,
    "strings beside poles": _another_way,
    "selector list": _tapped,
    "settings": _tapped,
    "pickup names": _tapped,
    "same setting twice": _tapped,
    "one pickup twice": _tapped,
    "capacitive hum": _elsewhere,
    "field differs": _elsewhere,
    "hum levels": _elsewhere,
    "compass": _poles_read_again,
}
"""What the log holds once an error was looked into."""


def _pickups(error: LatentError) -> tuple[str, ...]:
    match error.subject:
        case OnPickups():
            return error.subject.names
        case OnString() | OnReading():
            return (error.subject.pickup,)
        case _:
            return ()


def _on(entry: Take) -> tuple[str, ...]:
    """The pickups, or settings, that a take names."""
    names: list[str] = []
    for item in entry.inputs:
        if isinstance(item, LeadsInput):
            names.append(item.pickup)
        elif item is not None:
            names += [item] if isinstance(item, str) else item
    return tuple(names)
