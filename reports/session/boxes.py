"""A session over a box that is remembered: the job is told of it first, and learned from at the end.

In: an input that was chosen with how many of its channels are used, and the session over a job. What is known
of the box goes into the job's log before the first step is chosen, so that the session asks for a split check
only where that would tell most; what the session's own split checks found is remembered however it ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from reports.session.options import PreparedRecording
from reports.session.session import Session
from reports.verdict.box_memory import begin_with_box, learn_boxes


@contextmanager
def box_remembered(prepared: PreparedRecording, session: Session) -> Iterator[None]:
    """Begin with what is remembered of the box, and remember what was found of it.

    Raises
    ------
    CoilwiseError
        The job folder cannot be read or written.

    """
    options = prepared.options
    begin_with_box(
        session.path,
        rig=options.rig,
        rate=options.rate or prepared.device.rate_hz,
        channels=prepared.channels,
    )
    try:
        yield
    finally:
        learn_boxes(session.path, session.results.values())
