"""How the order of what was played is spelt: ``neck 5, both 5, bridge 5``.

An item is ``INPUTS [STRING[/FRET]] COUNT``, items with commas between. INPUTS: one input, or one for each
channel with ``|`` between (``neck|nothing``); an input is spelt as for ``coilwise take``, but a selector
turned while a string rings is ``bridge>both>neck``. Read from the right, so names may hold spaces; a name of
the job goes before any spelling. Raises LogError with the text that was not understood.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from capture.errors import JobError, LogError
from capture.notes import semitone
from reports.commands.spelling import input_from

if TYPE_CHECKING:
    from capture.bench_log import Input
    from capture.cutting import Played
    from capture.job import Job

MOST = 10_000
_SPELLING = 'write it as in "neck 5, both 5, bridge 5", or "neck D3 5" with the string'


def order_from(text: str, job: Job, *, string: str | None = None, fret: int = 0) -> tuple[Played, ...]:
    """Return what was played, in order; `string` and `fret` are for items that do not say.

    Raises
    ------
    LogError
        An item is not understood.

    """
    return tuple(_item(part.strip(), job, string=string, fret=fret) for part in text.split(","))


def _item(text: str, job: Job, *, string: str | None, fret: int) -> Played:
    from capture.cutting import Played

    words, _, number = text.rpartition(" ")
    words = words.strip()
    if not text:
        raise LogError(f"the order has an empty item; {_SPELLING}")
    if not words or not (number.isascii() and number.isdigit()):
        raise LogError(f'order item "{text}": does not say how many in a row; {_SPELLING}')
    if not 0 < len(number) <= len(str(MOST)) or not 0 < int(number) <= MOST:
        raise LogError(f'order item "{text}": {number} in a row cannot be; {_SPELLING}')
    if job.setting(words) is None:
        before, _, last = words.rpartition(" ")
        note, stroke, stopped = last.partition("/")
        if before.strip() and _is_note(note):
            if stroke and not (stopped.isascii() and stopped.isdigit()):
                raise LogError(f'order item "{text}": "{last}" is no string and fret; write D3/5')
            words, string, fret = before.strip(), note, int(stopped) if stroke else 0
    inputs = tuple(_input(part.strip(), job) for part in _channels(words, job))
    return Played(inputs, int(number), string, fret)


def _channels(words: str, job: Job) -> list[str]:
    return [words] if job.setting(words) is not None else words.split("|")


def _input(word: str, job: Job) -> Input:
    if job.setting(word) is None and ">" in word:
        return tuple(part.strip() for part in word.split(">"))
    return input_from(word, job)


def _is_note(word: str) -> bool:
    try:
        semitone(word)
    except JobError:
        return False
    return True
