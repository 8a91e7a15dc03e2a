"""How pickups, settings and inputs are spelt on the command line.

pickup: ``NAME[:CENTRE][:KEY=VALUE][:loose][:turnable]``, as in ``neck:168:coils=2:loose:hot=violet``.
setting: ``NAME=MEMBER+MEMBER[:series][:out of phase][:quiet]``; a member is a pickup, or one coil of it as
``neck/1``, or reversed as ``neck/reversed``. input: a setting, settings with commas between,
``PICKUP:HOT/GROUND``, or ``nothing``. Raises JobError or LogError with the text that was not understood.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from capture.errors import JobError, LogError
from reports.words import NOTHING

if TYPE_CHECKING:
    from capture.bench_log import Input
    from capture.job import Job, Member, Pickup, Setting

    Record = TypeVar("Record", Pickup, Setting, Member)

_PICKUP_KEYS = ("coils", "hot", "ground", "link", "shield")
_PICKUP_SPELLING = "spell it as neck:168:coils=2:loose:hot=violet:ground=grey:link=orange/brown"
_SETTING_SPELLING = "spell it as both=bridge+neck, with :series, :out of phase or :quiet behind it"


def pickup_from(text: str) -> Pickup:
    """Return the pickup that `text` spells.

    Raises
    ------
    JobError
        A part is not understood.

    """
    from capture.job import Pickup

    name, *parts = text.split(":")
    said: dict[str, Any] = {"name": name.strip()}
    for part in (p.strip() for p in parts):
        key, equals, value = part.partition("=")
        if part == "loose":
            said["fitted"] = False
        elif part == "turnable":
            said["turnable"] = True
        elif equals and key in _PICKUP_KEYS:
            said[key] = _value(key, value)
        else:
            said["centre_mm"] = _number(
                part, f'pickup "{text}": "{part}" is not understood; {_PICKUP_SPELLING}'
            )
    return checked(Pickup, said, f'pickup "{text}"')


def setting_from(text: str) -> Setting:
    """Return the setting that `text` spells.

    Raises
    ------
    JobError
        A part is not understood.

    """
    from capture.job import Member, Setting

    where = f'setting "{text}"'
    name, equals, rest = text.partition("=")
    members, *parts = rest.split(":")
    if not equals or not members.strip():
        raise JobError(f"{where}: says nothing of what is on; {_SETTING_SPELLING}")
    on = tuple(checked(Member, _member(m.strip(), where), where) for m in members.split("+"))
    said: dict[str, Any] = {"name": name.strip(), "on": on}
    for part in (p.strip() for p in parts):
        if part in ("series", "parallel"):
            said["join"] = part
        elif part in ("in phase", "out of phase"):
            said["aim"] = part
        elif part == "quiet":
            said["quiet"] = True
        else:
            raise JobError(f'{where}: "{part}" is not understood; {_SETTING_SPELLING}')
    return checked(Setting, said, where)


def input_from(text: str, job: Job) -> Input:
    """Return what one channel of a recording had plugged in; a name of the job goes before any spelling.

    Raises
    ------
    LogError
        Leads are spelt wrong.

    """
    from capture.bench_log import LeadsInput

    word = text.strip()
    if job.setting(word) is not None:
        return word
    if word == NOTHING:
        return None
    pickup, colon, leads = word.rpartition(":")
    if colon:
        hot, stroke, ground = (part.strip() for part in leads.partition("/"))
        if not (hot and stroke and ground):
            raise LogError(f'"{text}" is not understood; spell leads as neck:violet/orange, the tip first')
        try:
            return LeadsInput(pickup=pickup.strip(), hot=hot, ground=ground)
        except ValueError:
            raise LogError(
                f'"{text}" is not understood; name two different lead colours, the tip first'
            ) from None
    if "," in word:
        return tuple(name.strip() for name in word.split(","))
    return word


def leads_from(words: list[str]) -> dict[str, str]:
    """Return lead colours with what each is, from words such as ``grey=hot``.

    Raises
    ------
    LogError
        A word is spelt wrong, or names a lead that was named before.

    """
    leads: dict[str, str] = {}
    for word in words:
        colour, equals, role = (part.strip() for part in word.rpartition("="))
        if not equals or not colour:
            raise LogError(f'"{word}" is not understood; spell it as grey=hot')
        if colour in leads:
            raise LogError(f'the lead "{colour}" is named twice; name each lead once')
        leads[colour] = role
    return leads


def checked(model: type[Record], said: dict[str, Any], where: str) -> Record:
    """Return the record of what was said.

    Raises
    ------
    JobError
        It is refused; the text begins with ``where``.

    """
    from pydantic import ValidationError

    from capture.complaints import complaint

    try:
        return model.model_validate(said)
    except ValidationError as error:
        raise JobError(f"{where}: {complaint(error, model=model)}") from None


def _value(key: str, value: str) -> Any:
    if key == "link":
        return tuple(part.strip() for part in value.split("/"))
    return int(value) if key == "coils" and value.isascii() and value.isdigit() else value.strip()


def _member(text: str, where: str) -> dict[str, Any]:
    name, *parts = (part.strip() for part in text.split("/"))
    said: dict[str, Any] = {"pickup": name}
    for part in parts:
        if part == "reversed":
            said["reversed"] = True
        elif part in ("1", "2"):
            said["coil"] = int(part)
        else:
            raise JobError(
                f'{where}: "{text}" is not understood; write neck/1 for a coil, neck/reversed, or neck'
            )
    return said


def _number(text: str, refusal: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise JobError(refusal) from None
