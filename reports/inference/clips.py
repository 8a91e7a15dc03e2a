"""What stands between the leads as the log names them and the leads that were under the clips.

Task: the latent errors of one take (or meter reading) through clips on a loose pickup. Each is a sign, and
the evidence is turned over where an odd number of them happened, so a set of errors is added to another by
symmetric difference: what both share turns over neither against the other.

Without a tag the answer is about colours: a clip-up has an error of its own ("clips"), all that is told by
colours shares one ("colours"), as all clip-ups of one order share a habit, and the meter may have hung on the
first clip-up of the audio lead. With a tag (`LeadHistory.tag_of`) the answer is about the tagged lead. What
was recorded through the clip-up that the tag seals shows that lead, whatever was read and whichever clip went
where: left are the tag itself on the wrong lead, and a clip-up in between that nobody said. What went through
other clip-ups by colour has, against the tag, its own errors and those of the sealed one; a habit that both
share, such as a colour that is read wrongly each time, is gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from capture.log import Input, Meter, Take
from reports.evidence.leads import TaggedLead
from reports.model.notes import OnPickups

if TYPE_CHECKING:
    from reports.inference.evidence_graph import EvidenceGraph, LatentError

    Errors = dict[LatentError, None]
    """A set in order: that of the errors' making."""


def connection_errors(
    graph: EvidenceGraph, take: Take, pickup: str, item: Input, clip_up: int
) -> tuple[LatentError, ...]:
    """The errors between the leads of ``pickup`` and one channel of a take; its own clip-up's first.

    ``item`` is what the channel carried, ``clip_up`` how often the clips of the pickup were put on anew.
    """
    then, tag = graph.history.at_entry[take.id][pickup], graph.history.tag_of(pickup)
    number, order = clip_up, then.on_clips(item)
    by_tag = then.tag if then.by_tag(item) else None
    if tag is None:
        return tuple(_by_names(graph, pickup, number, order, by_tag))
    if take.id in tag.sealed:
        unsaid = {} if take.id == tag.take else {_unsaid(graph, pickup, tag): None}
        return (*unsaid, _wrong_lead(graph, pickup, tag))
    if (number, order) == tag.clip_up:  # the clips stayed on after the tag, as far as anybody said
        after = _clips(graph, pickup, number, f"{order} after {tag.entry}")
        return after, _wrong_lead(graph, pickup, tag)
    return tuple(_both(_by_names(graph, pickup, number, order, by_tag), _against(graph, pickup, tag)))


def meter_connection_errors(
    graph: EvidenceGraph, reading: Meter, leads: LatentError, *, loose: bool, first: bool
) -> tuple[LatentError, ...]:
    """The errors between the leads of a pickup and the meter's red lead; ``leads`` is that of its clip-up.

    ``loose``: the meter hung on the leads of a loose pickup, which were told by their colours or the tag;
    ``first``: its clips were not put on anew before.
    """
    pickup, errors = reading.pickup, {leads: None}
    then, tag = graph.history.at_entry[reading.id][pickup], graph.history.tag_of(pickup)
    named = reading.black is not None and reading.red not in ("hot", "ground")
    by_tag = then.tag is not None and reading.red in ("tagged", "other")
    if loose and not by_tag:
        straight = reading.red not in ("ground", _ground(graph, pickup))
        errors = _both(errors, _shared(graph, pickup, first=first, straight=straight))
    if by_tag and then.tag is not None:
        errors = _both(errors, _against(graph, pickup, then.tag))
    if tag is not None and (loose or named):
        errors = _both(errors, _against(graph, pickup, tag))
    return tuple(errors)


def _by_names(
    graph: EvidenceGraph, pickup: str, number: int, order: str, by_tag: TaggedLead | None
) -> Errors:
    """The errors of a clip-up against the leads' colours; ``by_tag``: told by that tag instead."""
    own = {_clips(graph, pickup, number, order): None}
    if by_tag is None:
        straight = order.split("/", maxsplit=1)[0] not in ("ground", _ground(graph, pickup))
        return {**own, **_shared(graph, pickup, first=number == 0, straight=straight)}
    return _both(own, _against(graph, pickup, by_tag))


def _against(graph: EvidenceGraph, pickup: str, tag: TaggedLead) -> Errors:
    """What stands between a tag and the colour of its lead: the sealed clip-up, and the tag itself."""
    then, number, order = graph.history.at_entry[tag.take][pickup], *tag.clip_up
    by_tag = then.tag if order and then.tag is not None and _told_by_tag(order) else None
    return _both(_by_names(graph, pickup, number, order, by_tag), {_wrong_lead(graph, pickup, tag): None})


def _told_by_tag(order: str) -> bool:
    return not {"tagged", "other"}.isdisjoint(order.split("/"))


def _both(one: Errors, other: Errors) -> Errors:
    """The errors that are in just one of two sets."""
    return {e: None for e in (*one, *other) if (e in one) != (e in other)}


def _clips(graph: EvidenceGraph, pickup: str, number: int, order: str) -> LatentError:
    return graph.latent_error("clips", pickup, str(number), order, on=OnPickups((pickup,)))


def _shared(graph: EvidenceGraph, pickup: str, *, first: bool, straight: bool) -> Errors:
    """The errors that all clip-ups of a loose pickup share, of the audio lead and of the meter.

    ``first``: no clip-up was made anew before; ``straight``: hot on the tip, or on the meter's red lead.
    Clips that are exchanged on purpose are an act of their own, which shares no habit with the one before.
    """
    on = OnPickups((pickup,))
    errors = {graph.latent_error("colours", pickup, on=on): None}
    errors[graph.latent_error("clip habit", pickup, "straight" if straight else "exchanged", on=on)] = None
    if first:
        errors[graph.latent_error("one clip-up for both", pickup, on=on)] = None
    return errors


def _ground(graph: EvidenceGraph, name: str) -> str | None:
    pickup = graph.history.job.pickup(name)
    return None if pickup is None else pickup.ground


def _wrong_lead(graph: EvidenceGraph, pickup: str, tag: TaggedLead) -> LatentError:
    return graph.latent_error("tag", pickup, tag.entry, on=OnPickups((pickup,)))


def _unsaid(graph: EvidenceGraph, pickup: str, tag: TaggedLead) -> LatentError:
    return graph.latent_error("clip-up not said", pickup, tag.entry, on=OnPickups((pickup,)))
