"""What a person typed, in a terminal or on the page, as records of the job and entries of the log.

pickup: ``NAME[:CENTRE][:KEY=VALUE][:loose][:turnable][:active]``, as in
``neck:168:coils=2:loose:hot=violet``.
setting: ``NAME=MEMBER+MEMBER[:series][:out of phase][:quiet][:bypass]``; a member is a pickup, or one coil of
it as ``neck/1``, or reversed as ``neck/reversed``, or let through in part as ``neck/40%``; members in
brackets are joined the other way than the rest, ``bridge+(middle+neck)``. input: a setting, settings with
commas between (the selector went through them), ``PICKUP:HOT/GROUND``, or ``nothing``.

order of what was played: items ``INPUTS [STRING[/FRET]] COUNT`` with commas between, as in ``neck 5, both
5``. INPUTS: one input, or one for each channel with ``|`` between (``neck|nothing``); a selector that was
turned while a string rang is ``bridge,both,neck``. An item is read from the right, so names may hold spaces;
a name of the job goes before any spelling. Of settings, ``>`` between them is read too.

Lengths and readings are written as a bench does (`reports.entry.units`). JobError or LogError name the text
that was not understood; whether an entry fits the job is checked when it is written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, TypeVar, cast

from capture import JobError, LogError
from capture.job.model import semitone
from capture.job.reading import did_you_mean
from capture.log import Change, Check, Meter, Ohms, Pole, Tag, Take, Void, clipped_input, new_entry, utc_now
from capture.log.entries import OTHER, TAG_WORDS, TAGGED
from reports.entry.lengths import centre_keys, lengths_from
from reports.entry.units import CENTRE_MM, MOST_KOHM, is_open, kohm_from
from reports.messages import entering
from reports.messages.wording import NOTHING, plain
from reports.model.gestures import SESSION_GESTURES

if TYPE_CHECKING:
    from capture.job import Job, Member, Pickup, Setting
    from capture.job.model import CoilNumber
    from capture.log import BenchLog, Gesture, Input, Stage, TakeFields
    from reports.model.session import Step

    Record = TypeVar("Record", Pickup, Setting, Member)
    from capture.takes.imported import PlayedItem


UNUSUAL_KEYS = ("build", "upper", "under", "poles", "circuit", "coil_kohm")
"""What is said of a pickup that is built otherwise than coil beside coil."""
_PICKUP_KEYS = (
    *("coils", "hot", "ground", "link", "shield", "turns", "shelf", "stage", "source"),
    *UNUSUAL_KEYS,
)
_FLAGS = ("loose", "turnable", "active", "always")
_PICKUP_SPELLING = "spell it as neck:168:coils=2:loose:hot=violet:ground=grey:link=orange/brown"
_SETTING_SPELLING = (
    "spell it as both=bridge+neck, with :series, :out of phase or :quiet behind it; as in "
    "mixed=bridge+(middle+neck) what stands in brackets is joined the other way than the rest"
)


def pickup_from(text: str) -> Pickup:
    """Return the pickup that `text` spells.

    Raises
    ------
    JobError
        A part is not understood.

    """
    from capture.job import Pickup

    name, *parts = text.split(":")
    keys: dict[str, Any] = {"name": name.strip()}
    for part in (p.strip() for p in parts):
        key, equals, value = part.partition("=")
        if part == "loose":
            keys["fitted"] = False
        elif part in _FLAGS:
            keys[part] = True
        elif equals and key in _PICKUP_KEYS:
            keys[key] = _key_value(key, value)
        elif equals:
            raise JobError(f'pickup "{text}": "{part}" is not understood; {_PICKUP_SPELLING}')
        else:
            keys |= centre_keys(_centre(part, where=f'pickup "{text}"'))
    return checked_record(Pickup, keys, f'pickup "{text}"')


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
    on = tuple(checked_record(Member, keys, where) for keys in _members(members, where))
    keys: dict[str, Any] = {"name": name.strip(), "on": on}
    for part in (p.strip() for p in parts):
        if part in ("series", "parallel"):
            keys["join"] = part
        elif part in ("in phase", "out of phase"):
            keys["aim"] = part
        elif part in ("quiet", "bypass"):
            keys[part] = True
        else:
            raise JobError(f'{where}: "{part}" is not understood; {_SETTING_SPELLING}')
    return checked_record(Setting, keys, where)


BETWEEN_SETTINGS = ",>"
"""What stands between settings that the selector went through; the second is read, and written no more."""


def input_from(text: str, job: Job) -> Input:
    """Return what one channel of a recording had plugged in; a name of the job goes before any spelling.

    Raises
    ------
    LogError
        Leads are spelt wrong.

    """
    from capture.log import LeadsInput

    word = text.strip()
    if not word:
        raise LogError(entering.NO_INPUT)
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
    if any(mark in word for mark in BETWEEN_SETTINGS):
        return tuple(name.strip() for name in re.split(r"[,>]", word))
    parts = [part for part in re.split(r"[-–/+;\s]+", word) if part]
    if len(parts) > 1 and all(job.setting(part) is not None for part in parts):
        raise LogError(entering.COMMAS_BETWEEN.format(text=plain(word), commas=",".join(parts)))
    return word


ROLES = ("hot", "ground", "link", "shield")


def leads_from(words: list[str]) -> dict[str, str]:
    """Return lead colours with what each is, from words such as ``grey=hot``.

    Raises
    ------
    LogError
        A word is spelt wrong, or names a lead that was named before.

    """
    leads: dict[str, str] = {}
    for word in words:
        mark = "=" if "=" in word else ":"
        colour, equals, role = (part.strip() for part in word.rpartition(mark))
        if not equals or not colour:
            raise LogError(f'"{word}" is not understood; spell it as grey=hot')
        if role not in ROLES and colour in ROLES:
            raise LogError(entering.ROLE_FIRST.format(word=word, turned=f"{role}{mark}{colour}"))
        if role in ROLES and colour in ROLES:
            raise LogError(entering.ONLY_ROLES.format(word=word))
        if colour in leads:
            raise LogError(f'the lead "{colour}" is named twice; name each lead once')
        leads[colour] = role
    return leads


def checked_record(model: type[Record], keys: dict[str, Any], where: str) -> Record:
    """Return the record of what was said.

    Raises
    ------
    JobError
        It is refused; the text begins with ``where``.

    """
    from pydantic import ValidationError

    from capture.job.reading import validation_message

    try:
        return model.model_validate(keys)
    except ValidationError as error:
        raise JobError(f"{where}: {validation_message(error, model=model)}") from None


def _key_value(key: str, value: str) -> Any:
    if key == "link":
        return tuple(part.strip() for part in value.split("/"))
    if key in UNUSUAL_KEYS:
        return unusual_value(key, value)
    return int(value) if key in ("coils", "turns") and value.isascii() and value.isdigit() else value.strip()


SIDE_BY_SIDE = "side by side"
_FACING = {"n": "north", "s": "south"}


PLACE_KEYS = ("source", "stage", "shelf", "always")
"""What is said of a pickup that is wired, or stands, otherwise than on a selector."""
YES = "yes"


def placed_values(said: Mapping[str, str]) -> dict[str, Any]:
    """Return the keys of `PLACE_KEYS` as a pickup has them, from what was typed."""
    texts = {key: said.get(key, "").strip() or None for key in PLACE_KEYS if key != "always"}
    return {**texts, "always": said.get("always", "").strip() == YES}


def placed_text(pickup: Pickup) -> dict[str, str]:
    """Return the same of a pickup as it would be typed."""
    return {
        "source": pickup.source or "",
        "stage": pickup.stage or "",
        "shelf": pickup.shelf or "",
        "always": YES if pickup.always else "",
    }


def unusual_value(key: str, value: str) -> Any:
    """Return how a pickup is built, as it was typed; None where nothing was.

    ``upper`` is a coil's number or a lead's colour; ``under`` are strings, as in "E1 A1 / D2 G2"; ``poles``
    one word, or "N S N S" string by string.
    """
    words = value.replace(",", " ").split()
    if not words:
        return None
    match key:
        case "coil_kohm":
            return tuple(number_from(word, what="coil_kohm") for word in words)
        case "upper":
            return int(value) if value.strip() in ("1", "2") else value.strip()
        case "under":
            return tuple(tuple(group.replace(",", " ").split()) for group in value.split("/"))
        case "poles" if len(words) > 1:
            return tuple(_FACING.get(word.lower(), word.lower()) for word in words)
        case _:
            return value.strip()


def unusual_text(pickup: Pickup) -> dict[str, str]:
    """Return the same of a pickup as it would be typed; nothing for what was not said."""
    under, poles, kohm = pickup.under or (), pickup.poles, pickup.coil_kohm or ()
    return {
        "build": pickup.build or "",
        "upper": "" if pickup.upper is None else str(pickup.upper),
        "under": " / ".join(" ".join(group) for group in under),
        "poles": " ".join(poles) if isinstance(poles, tuple) else poles or "",
        "circuit": pickup.circuit or "",
        "coil_kohm": " ".join(f"{one:g}" for one in kohm),
    }


GROUP = "group {}"
"""What a bracket is called in job.toml."""


def _members(text: str, where: str) -> list[dict[str, Any]]:
    """The members of a setting; those in one bracket are a group."""
    found: list[dict[str, Any]] = []
    groups = 0
    for piece in re.split(r"([()])", text):
        if piece == "(":
            if any(one.get("open") for one in found):
                raise JobError(f"{where}: one bracket is inside another; {_SETTING_SPELLING}")
            groups += 1
            found.append({"open": True})
            continue
        if piece == ")":
            inside = next((k for k, one in enumerate(found) if one.get("open")), None)
            if inside is None:
                raise JobError(f"{where}: a bracket is closed that was not open; {_SETTING_SPELLING}")
            for one in found[inside + 1 :]:
                one["group"] = GROUP.format(groups)
            del found[inside]
            continue
        found += [_member(m.strip(), where) for m in piece.split("+") if m.strip()]
    if any(one.get("open") for one in found):
        raise JobError(f"{where}: a bracket is not closed; {_SETTING_SPELLING}")
    if not found:
        raise JobError(f"{where}: says nothing of what is on; {_SETTING_SPELLING}")
    return found


def _member(text: str, where: str) -> dict[str, Any]:
    name, *parts = (part.strip() for part in text.split("/"))
    keys: dict[str, Any] = {"pickup": name}
    for part in parts:
        if part == "reversed":
            keys["reversed"] = True
        elif part in ("1", "2", "3", "4"):
            keys["coil"] = int(part)
        elif part.endswith("%") and (shown := number_from(part[:-1], what=where)) is not None:
            keys["share"] = shown / 100
        else:
            raise JobError(
                f'{where}: "{text}" is not understood; write neck/1 for a coil, neck/reversed, or neck'
            )
    return keys


_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", re.ASCII)


def number_from(text: str, *, what: str) -> float | None:
    """Return the number that was typed, with a point or a comma; None where nothing was.

    Raises
    ------
    LogError
        It is no number; ``what`` names the field.

    """
    keys = text.strip()
    if not keys:
        return None
    number = float(keys.replace(",", ".")) if _NUMBER.fullmatch(keys) else math.nan
    if not math.isfinite(number):
        from reports.messages.page import NO_NUMBER

        raise LogError(NO_NUMBER.format(what=what, text=plain(keys)))
    return number


def _centre(part: str, *, where: str) -> float | tuple[float, ...] | None:
    if not any(c.isdigit() for c in part):
        near = did_you_mean(part, _FLAGS) if get_close_matches(part, _FLAGS) else f"; {_PICKUP_SPELLING}"
        raise JobError(f'{where}: "{part}" is not understood{near}')
    return lengths_from(part, what=where, among=CENTRE_MM)


def resistance_from(text: str, *, what: str, may_be_zero: bool = False) -> float | None:
    """Return the kilohms that were typed; None where nothing was.

    Raises
    ------
    LogError
        It is no resistance; ``what`` names the field.

    """
    if is_open(text):
        raise LogError(entering.OPEN_AT_REST.format(what=what, text=plain(text)))
    return kohm_from(text, what=what, may_be_zero=may_be_zero) if text.strip() else None


def mains_from(text: str) -> int | None:
    """Return the mains frequency in Hz; None where nothing was typed.

    Raises
    ------
    JobError
        It is neither 50 nor 60.

    """
    said = text.lower().removesuffix("hz").strip()
    if said not in ("", "50", "60"):
        raise JobError(f'"{text}" is neither 50 nor 60; write one of them')
    return int(said) if said else None


def onset_numbers(texts: Sequence[str]) -> frozenset[int]:
    """Return the numbers of onsets, from words such as ``3,7``.

    Raises
    ------
    LogError
        A word is no number.

    """
    words = [word for text in texts for word in text.replace(",", " ").split()]
    for word in words:
        if not (word.isascii() and word.isdigit()):
            raise LogError(f'--leave-out: "{word}" is no number of an onset; write "3,7", as in the list')
    return frozenset(int(word) for word in words)


def open_or_kohm(text: str, *, what: str = "", may_be_zero: bool = True) -> float | None:
    """Return kilohms that a meter read; None for an open circuit.

    Raises
    ------
    LogError
        It is neither a resistance nor ``open``.

    """
    return None if is_open(text) else kohm_from(text, what=what, may_be_zero=may_be_zero)


MOST_IN_A_ROW = 10_000
_SPELLING = 'write it as in "neck 5, both 5, bridge 5", or "neck D3 5" with the string'


def named_step(job: Job, gesture: str, on: Sequence[str], **said: Any) -> Step:
    """Return the take that a person names, to be recorded: ``on`` is what is on each input, in his spelling.

    ``said`` are the keywords of `take_fields`.

    Raises
    ------
    SignalError, LogError
        There is no such gesture, nothing is on any input, or leads are spelt wrong.

    """
    from dsp.live.gestures import plan_for
    from reports.model.session import Step, with_volumes

    plan_for(gesture)
    if not on:
        raise LogError("say what is on each input, input 1 first")
    fields = take_fields(gesture, [input_from(text, job) for text in on], **said)
    step = Step(**vars(fields), kind="in turn", columns=tuple(range(len(on))), pickups=())
    return with_volumes(job, step)


def take_fields(
    gesture: str,
    inputs: Sequence[Input] = (),
    *,
    string: str | None = None,
    fret: int = 0,
    stage: str = "found",
    rig: str | None = None,
    tool: str | None = None,
    coil: int | None = None,
    anew: bool = False,
    tapped: str | None = None,
    where: str | None = None,
) -> TakeFields:
    """Return what a person says of a take, unchecked; an empty text is nothing said."""
    from capture.log import TakeFields

    return TakeFields(
        cast("Gesture", gesture),
        tuple(inputs),
        string=f"{string[0].upper()}{string[1:]}" if string else None,
        fret=fret,
        stage=cast("Stage", stage),
        rig=rig or None,
        tool=tool or None,
        coil=cast("CoilNumber | None", coil),
        anew=anew,
        tapped=tapped or None,
        where=where or None,
    )


def order_from(text: str, job: Job, alike: TakeFields) -> tuple[PlayedItem, ...]:
    """Return what was played, in order; ``alike`` is said of all, string and fret where an item does not.

    Raises
    ------
    LogError
        An item is not understood.

    """
    return tuple(
        _order_item(item, job, alike) for item in _order_items(text, sweeps=alike.gesture == "switch")
    )


def _order_items(text: str, *, sweeps: bool) -> list[str]:
    """The items of an order; of sweeps, the settings up to the one behind which the number stands are one."""
    items: list[str] = []
    open_item = ""
    for part in (p.strip() for p in text.split(",")):
        open_item = f"{open_item},{part}" if open_item else part
        if not sweeps or part.rpartition(" ")[2].isdigit():
            items.append(open_item)
            open_item = ""
    return [*items, open_item] if open_item else items


def _order_item(text: str, job: Job, alike: TakeFields) -> PlayedItem:
    from capture.takes.imported import PlayedItem

    words, _, number = text.rpartition(" ")
    words = words.strip()
    if not text:
        raise LogError(f"the order has an empty item; {_SPELLING}")
    if not words or not (number.isascii() and number.isdigit()):
        raise LogError(f'order item "{text}": does not say how many in a row; {_SPELLING}')
    if not 0 < len(number) <= len(str(MOST_IN_A_ROW)) or not 0 < int(number) <= MOST_IN_A_ROW:
        raise LogError(f'order item "{text}": {number} in a row cannot be; {_SPELLING}')
    if job.setting(words) is None:
        before, _, last = words.rpartition(" ")
        note, stroke, stopped = last.partition("/")
        if before.strip() and _is_note(note):
            if stroke and not (stopped.isascii() and stopped.isdigit()):
                raise LogError(f'order item "{text}": "{last}" is no string and fret; write D3/5')
            words = before.strip()
            alike = replace(alike, string=note, fret=int(stopped) if stroke else 0)
    inputs = tuple(input_from(part, job) for part in _channels(words, job))
    return PlayedItem(replace(alike, inputs=inputs), int(number))


def _channels(words: str, job: Job) -> list[str]:
    return [words] if job.setting(words) is not None else words.split("|")


def _is_note(word: str) -> bool:
    try:
        semitone(word)
    except JobError:
        return False
    return True


def reading_words(text: str) -> tuple[str, str | None, float | None]:
    """Return pickup, reading and kilohms of words such as ``bridge:rises:6.6k``; None for what is left out.

    Raises
    ------
    LogError
        A part is neither a reading nor a resistance.

    """
    name, *parts = (part.strip() for part in text.split(":"))
    reading: str | None = None
    kohm: float | None = None
    for part in parts:
        if part in READINGS and reading is None:
            reading = part
        elif any(c.isdigit() for c in part) and kohm is None:
            kohm = kohm_from(part, what=name)
        else:
            raise LogError(entering.PART_OF_READING.format(text=plain(part)))
    return name, reading, kohm


READINGS = ("rises", "falls", "unclear")


def black_lead(pickup: Pickup | None, red: str, black: str | None) -> str | None:
    """The lead under the black clip: as it was said, or the other one of a pickup that has two.

    Raises
    ------
    LogError
        The red clip is on a lead that the pickup has not.

    """
    if pickup is None or black or red in ("hot", "ground") or not pickup.leads:
        return black
    leads = [*pickup.leads, TAGGED, OTHER]
    if red not in leads:
        raise LogError(
            entering.NO_SUCH_LEAD.format(
                pickup=plain(pickup.name),
                lead=plain(red),
                leads=" or ".join((", ".join(map(plain, leads[:-1])), leads[-1])),
            )
        )
    both = {pickup.hot: pickup.ground, pickup.ground: pickup.hot, TAGGED: OTHER, OTHER: TAGGED}
    return both[red] if pickup.link is None or red in TAG_WORDS else black


def meter_entry(
    *,
    pickup: str,
    move: str,
    reading: str,
    red: str,
    black: str | None,
    kohm: float | None,
    tool: str | None,
    stage: str,
    anew: bool = False,
    string: str | None = None,
) -> Meter:
    """Return which way the ohmmeter swung; ``anew``: the clips were put on anew before it."""
    if kohm is not None and kohm > MOST_KOHM:
        meant = f"{kohm / 1000:g}k"
        raise LogError(entering.NOT_AT_REST.format(text=f"{kohm / 1000:g}M", meant=meant))
    keys = {"pickup": pickup, "move": move, "reading": reading, "red": red, "black": black, "kohm": kohm}
    clips: dict[str, bool] = {"anew": True} if anew else {}
    return new_entry(Meter, at=utc_now(), **keys, tool=tool, string=string, stage=stage, **clips)


SHIELDS = frozenset(("shield", "bare", "braid", "cover", "screen"))
"""What leads are called that may well read a short circuit against another one."""


def ohms_entry(*, pickup: str, first: str, second: str, kohm: float | None, stage: str) -> Ohms:
    """Return the resistance between two leads; without ``kohm`` the meter shows an open circuit."""
    return new_entry(Ohms, at=utc_now(), pickup=pickup, between=(first, second), kohm=kohm, stage=stage)


def pole_entry(*, pickup: str, facing: str, coil: int | None, stage: str, string: str | None = None) -> Pole:
    """Return which magnet pole faces the strings; ``string``: the one over it, where poles differ."""
    facing = {"n": "north", "s": "south"}.get(facing.lower(), facing.lower())
    return new_entry(Pole, at=utc_now(), pickup=pickup, facing=facing, coil=coil, string=string, stage=stage)


def check_entry(what: str, **said: Any) -> Check:
    """Return what was verified on the bench; ``what`` may have a hyphen for a blank.

    ``said``: the keys of the entry; one that is None or empty is left out.
    """
    given = {key: value for key, value in said.items() if value is not None and value not in ("", ())}
    return new_entry(Check, at=utc_now(), what=what.replace("-", " "), **given)


def change_entry(*, pickup: str, leads: Sequence[str], stage: str, before: str | None = None) -> Change:
    """Return leads as they are from here on, or from an entry on, from words such as ``grey=hot``."""
    late = {"before": before} if before else {}
    return new_entry(Change, at=utc_now(), pickup=pickup, leads=leads_from(list(leads)), stage=stage, **late)


def tag_entry(job: Job, log: BenchLog, *, pickup: str, take: str | None = None) -> Tag:
    """Return the tag on the lead that was under the tip's clip of a loose pickup in ``take``.

    Left out, it is the latest take that was recorded through clips on that pickup.

    Raises
    ------
    LogError
        There is no such take.

    """
    if not take:
        takes = (e for e in reversed(log.standing) if isinstance(e, Take) and e.stage == "found")
        latest = next((e for e in takes if clipped_input(e, pickup, job) is not None), None)
        if latest is None and job.pickup(pickup) is not None:
            raise LogError(
                f'nothing was recorded through clips on "{pickup}" yet; record a take first, and leave the'
                " clips on until the tag is"
            )
        take = latest.id if latest is not None else ""
    return new_entry(Tag, at=utc_now(), pickup=pickup, take=take or "-")


def void_entry(*, entry: str, why: str) -> Void:
    """Return what takes an entry out of account."""
    return new_entry(Void, at=utc_now(), entry=entry, why=why)


def gestures_from(only: str) -> tuple[str, ...]:
    """The gestures of ``--only``, from words such as ``pluck,lift``.

    Raises LogError where a word is no gesture that a session asks for, or none is named.
    """
    wanted = tuple(word.strip() for word in only.split(",") if word.strip())
    for word in wanted:
        if word not in SESSION_GESTURES:
            raise LogError(f'--only: "{word}" is none of {", ".join(SESSION_GESTURES)}')
    if not wanted:
        raise LogError(f"--only: names no gesture; there are {', '.join(SESSION_GESTURES)}")
    return wanted
