"""What hands have to move before a step: a plug, clips, or the selector before hum.

A plug or a clip that is moved bangs, so it is waited for in a step of its own, in which nothing is recorded.
A selector may be silent, and what it does is passed over anyway; but hum recorded before it was moved
would be that of another setting. A bang is no string, but as abrupt as a lift: where a tool comes first, the
guitar is plugged in before it.
"""

from __future__ import annotations

from capture.job import Job
from reports.model.gestures import WITH_TOOL
from reports.model.session import Moving, Step
from reports.session.rounds import at_jack


def to_move(job: Job, step: Step, *, plugged: tuple[tuple[int, object], ...], after: bool) -> Moving | None:
    """What has to be moved, None where nothing is; ``plugged``: what the last step had on each input."""
    if step.plugged == plugged and not step.anew:
        return None
    if not plugged and (len(step.columns) > 1 or step.gesture in WITH_TOOL):
        return "plug in"
    at = dict(plugged)
    changed = [(item, at.get(c)) for c, item in step.plugged if item != at.get(c)]
    loose = any(not from_jack(job, one, after=after) for both in changed for one in both if one is not None)
    if step.anew or (loose and len(step.columns) > 1 and step.kind != "split"):
        return "clips"
    if loose or (changed and len(step.columns) > 1):
        return "plug"
    return "selector" if step.gesture == "hum" and plugged else None


def from_jack(job: Job, item: object, *, after: bool) -> bool:
    """Whether what is on an input comes out of the guitar's jack, where only the selector moves."""
    names = item if isinstance(item, tuple) else (item,)
    settings = [job.setting(str(name)) for name in names]
    return all(
        setting is not None and all(at_jack(job, m.pickup, after=after) for m in setting.on)
        for setting in settings
    )
