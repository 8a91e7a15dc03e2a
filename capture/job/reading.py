"""From job.toml to a `Job`, and from pydantic's errors to one line in the bench's words.

`read_job(folder)` opens the file, `parse_job(text)` works on text alone. Both raise `JobError` only, with the
file and the field. The log's reader uses the same wording: `validation_message`, `unknown_key`,
`did_you_mean`; they return text, and who calls them puts file and line in front.
"""

from __future__ import annotations

import difflib
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from capture import JOB_FILE, JobError
from capture.disk.reading import read_plain
from capture.job.model import BASS_STRINGS, FORMAT, CheckedModel, Job, Member, Pickup, Setting
from dsp.model.network import circuit_from, coils_in

_MUST_BE = {
    "string_type": "must be text in quotes",
    "string_unicode": "holds characters that are not text",
    "string_too_short": "must not be empty",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "int_parsing_size": "is too large a number",
    "float_type": "must be a number",
    "finite_number": "must be a finite number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "dict_type": "must be an object",
    "model_type": "must be an object",
    "model_attributes_type": "must be an object",
    "missing": "is missing",
    "too_long": "has too many items",
    "too_short": "has too few items",
}
_LIMITS = {"greater_than": "above", "greater_than_equal": "at least", "less_than_equal": "at most"}
_PAIRS = ("link", "between")
_SHORT = 60
MOST_BYTES = 256_000
"""A job.toml has some kilobytes."""


def quoted_value(value: object) -> str:
    """Return `value` as one short line for a message."""
    text = f'"{value}"' if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= _SHORT else text[: _SHORT - 1] + "…"


def or_list(names: Iterable[str], *, last: str = "or") -> str:
    """Return names as ``"a", "b" or "c"``; "none" where there are none."""
    quoted = [f'"{name}"' for name in names]
    if not quoted:
        return "none"
    head, tail = quoted[:-1], quoted[-1]
    return f"{', '.join(head)} {last} {tail}" if head else tail


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean "x"?`` or, with nothing near, ``; there is "a" and "b"``."""
    names = list(known)
    by_case = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(word.casefold(), by_case, n=1, cutoff=0.6)
    if near:
        return f'; did you mean "{by_case[near[0]]}"?'
    return f"; there is {or_list(names, last='and')}"


def unknown_key(key: str, known: Iterable[str]) -> str:
    """Return the complaint about a key that nothing reads."""
    return f"unknown key {quoted_value(key)}{did_you_mean(key, known)}"


def validation_message(error: ValidationError, *, model: type[BaseModel]) -> str:
    """Return the first complaint of `error` in plain words, the field named."""
    return _message(error.errors(include_url=False)[0], model)


def _message(detail: ErrorDetails, model: type[BaseModel]) -> str:
    place: Sequence[int | str] = detail["loc"]
    context: Mapping[str, Any] = detail.get("ctx", {})
    match detail["type"]:
        case "value_error" if not place:
            message = str(context.get("error", detail["msg"]))
        case "value_error":
            message = f"{_field(place)} {context.get('error', detail['msg'])}"
        case "extra_forbidden":
            message = unknown_key(str(place[-1]), model.model_fields)
        case "literal_error":
            message = (
                f"{_field(place)} is {quoted_value(detail['input'])}; write {_quoted(context['expected'])}"
            )
        case kind if kind in _LIMITS:
            limit = next(iter(context.values()))
            message = (
                f"{_field(place)} is {quoted_value(detail['input'])}; it must be {_LIMITS[kind]} {limit:g}"
            )
        case "missing" if len(place) == 1:
            message = f"{_field(place)} {_MUST_BE['missing']}"
        case "missing" | "too_long" if place[0] in _PAIRS:
            message = f'"{place[0]}" must name two leads'
        case kind:
            must_be = _MUST_BE.get(kind, f"is not as it should be ({detail['msg']})")
            message = f"{_field(place)} {must_be}, not {quoted_value(detail['input'])}"
    return message


def _quoted(expected: str) -> str:
    return expected.replace("'", '"')


def _field(place: Sequence[int | str]) -> str:
    name = f'"{place[0]}"' if place else "the entry"
    numbers = [part for part in place[1:] if isinstance(part, int)]
    return f"{name} item {numbers[0] + 1}" if numbers else name


_TABLES = {"pickup": "pickups", "setting": "settings"}
_BY_STRING = {"scale_mm": "scales_mm", "centre_mm": "centres_mm"}
"""Lengths that may be a list: a number a string, or one for the lowest and one for the highest."""
_DERIVED = (*_BY_STRING.values(), "courses")
"""Keys of the models that the file has in another form."""
_TOP_KEYS = [*(k for k in Job.model_fields if k not in (*_TABLES.values(), *_DERIVED)), *_TABLES]

Model = TypeVar("Model", bound=CheckedModel)


def read_job(folder: str | PathLike[str]) -> Job:
    """Read and check ``job.toml`` in `folder`; without a title, the folder's name is the title.

    Raises
    ------
    JobError
        The file is missing, cannot be read, is no TOML, or says something that cannot be.

    """
    path = Path(folder) / JOB_FILE
    try:
        raw = read_plain(path, most_bytes=MOST_BYTES)
    except (FileNotFoundError, NotADirectoryError):
        raise JobError(
            f'{folder}: there is no {JOB_FILE} here; name the folder of a job, or run "coilwise new"'
        ) from None
    except (OSError, ValueError) as error:
        raise JobError(f"{path}: cannot be read ({getattr(error, 'strerror', None) or error})") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise JobError(f"{JOB_FILE}: line {line} is not UTF-8 text; save the file as UTF-8") from None
    return parse_job(text, title=Path(folder).resolve().name)


def parse_job(text: str, *, title: str = "") -> Job:
    """Return the job that `text` describes; `title` is taken where the text gives none.

    Raises
    ------
    JobError
        The text is no TOML, or says something that cannot be.

    """
    try:
        table = tomllib.loads(text.replace("\r\n", "\n"))
    except RecursionError:
        raise JobError(f"{JOB_FILE}: nested too deeply; see the example in the manual") from None
    except ValueError as error:
        raise JobError(
            f"{JOB_FILE}: not valid TOML: {' '.join(str(error).split())}; look there and on the "
            "line before for a quotation mark, an equals sign or a bracket that is missing or one too many"
        ) from None
    try:
        return _job(table, title=title)
    except JobError as error:
        raise JobError(f"{JOB_FILE}: {error}") from None


def _job(table: dict[str, Any], *, title: str) -> Job:
    _require_known_keys(table, _TOP_KEYS)
    if "format" not in table:
        raise JobError(f'"format" is missing; write format = {FORMAT} at the top')
    if type(table["format"]) is not int or table["format"] != FORMAT:
        raise JobError(
            f'"format" is {quoted_value(table["format"])}, and this coilwise reads format {FORMAT};'
            " use the coilwise that wrote the file"
        )
    pickups = [_pickup(item, number) for number, item in enumerate(_tables(table, "pickup"), start=1)]
    if not pickups:
        raise JobError("no pickup is given; add a [[pickup]] with a name")
    _require_distinct("pickup", [p.name for p in pickups])
    settings = [
        _setting(item, number, pickups) for number, item in enumerate(_tables(table, "setting"), start=1)
    ]
    _require_distinct("setting", [s.name for s in settings])
    _require_free_of_earlier(pickups, settings)
    rest = {k: v for k, v in table.items() if k not in _TABLES}
    job = _validated(Job, {"title": title, **_with_courses(_by_string(rest)), "pickups": (), "settings": ()})
    _require_of_each_string(job.scales_mm, job, "scale_mm")
    for pickup in pickups:
        _require_of_each_string(pickup.centres_mm, job, f'pickup "{pickup.name}": "centre_mm"')
    pickups = [_with_strings(p, job.main_strings) for p in pickups]
    job = job.model_copy(update={"pickups": tuple(pickups), "settings": tuple(settings)})
    twice = _first_repeated([p.shelf for p in pickups if p.shelf is not None])
    if twice is not None:
        raise JobError(f"two pickups are the reference coil {or_list([twice])}; there is one of it")
    _require_sound_circuit(job)
    if not job.own_pickups:
        raise JobError("there is a reference coil of the bench and no pickup beside it; add a [[pickup]]")
    for pickup in pickups:
        if job.scale_mm is not None and pickup.centre_mm is not None and pickup.centre_mm >= job.scale_mm:
            raise JobError(
                f'pickup "{pickup.name}": "centre_mm" is {pickup.centre_mm:g}, beyond the scale of'
                f" {job.scale_mm:g} mm; measure from the bridge saddle"
            )
    return job


def _by_string(item: Mapping[str, Any]) -> dict[str, Any]:
    """The keys with lengths that are lists put where the models have them, and their mean in their place."""
    found = dict(item)
    for key, each in _BY_STRING.items():
        lengths = found.get(key)
        if isinstance(lengths, list) and lengths and all(type(n) in (int, float) for n in lengths):
            found[each] = [float(n) for n in lengths]
            found[key] = sum(lengths) / len(lengths)
    return found


def _with_courses(table: dict[str, Any]) -> dict[str, Any]:
    """The keys with courses put where the model has them, and all their strings in a row."""
    strings = table.get("strings")
    if not isinstance(strings, list) or not any(isinstance(s, list) for s in strings):
        return table
    courses = [tuple(s) if isinstance(s, list) else (s,) for s in strings]
    return {**table, "strings": [name for course in courses for name in course], "courses": tuple(courses)}


def _require_of_each_string(lengths: Sequence[float], job: Job, what: str) -> None:
    """Refuse a list of lengths that does not go with the strings."""
    count = len(job.main_strings)
    if lengths and count < FEWEST_BY_STRING:
        raise JobError(f'{what} is a list, one for each string, and "strings" does not name them; name them')
    if lengths and len(lengths) not in (FEWEST_BY_STRING, count):
        raise JobError(
            f"{what} has {len(lengths)} lengths, and there are {count} strings; give one for each, low to"
            " high, or one for the lowest and one for the highest"
        )


FEWEST_BY_STRING = 2


def _require_sound_circuit(job: Job) -> None:
    """Refuse a circuit that cannot be: a setting without what is always on, a jack of no pickups."""
    for pickup in job.pickups:
        if pickup.stage is not None and not pickup.active:
            raise JobError(
                f'pickup "{pickup.name}": "stage" says what its active stage does; set active = true, or'
                " leave it out"
            )
        if pickup.always and not pickup.fitted:
            raise JobError(
                f'pickup "{pickup.name}": "always" is of a fitted pickup; a loose one is on nothing'
            )
    active = {p.name for p in job.pickups if p.active}
    for setting in job.settings:
        on = {m.pickup for m in setting.on}
        for pickup in job.hard_wired:
            if pickup.name not in on:
                raise JobError(
                    f'setting "{setting.name}": "{pickup.name}" is always on, and the setting is without it;'
                    " add it, or leave out always"
                )
        if setting.bypass and not on & active:
            raise JobError(f'setting "{setting.name}": "bypass" is of an active stage, and no pickup has one')
    for name in job.stereo or ():
        known = job.pickup(name)
        if known is None or not known.fitted or known.shelf is not None:
            raise JobError(f'"stereo" names {quoted_value(name)}, and no fitted pickup is called so')
    if job.stereo is not None and len(set(job.stereo)) < len(job.stereo):
        raise JobError('"stereo" names one pickup twice; the first is on the tip, the second on the ring')


def _require_free_of_earlier(pickups: Sequence[Pickup], settings: Sequence[Setting]) -> None:
    """Refuse a name that older lines of the log have for something else."""
    named: tuple[Pickup | Setting, ...] = (*pickups, *settings)
    taken = {one.name.casefold(): one.name for one in named}
    for one in named:
        for old in one.was:
            if taken.setdefault(old.casefold(), one.name) != one.name:
                raise JobError(
                    f'"{old}" is what older lines of the log call "{one.name}"; give '
                    f'"{taken[old.casefold()]}" a name that nothing had before'
                )


def _tables(table: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    items = table.get(key, [])
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        raise JobError(f'"{key}" must be a table in double brackets: [[{key}]]')
    return items


def _heading(item: Mapping[str, Any], key: str, number: int) -> str:
    name = item.get("name")
    return f"{key} {quoted_value(name)}" if isinstance(name, str) and name else f"{key} number {number}"


def _pickup(item: Mapping[str, Any], number: int) -> Pickup:
    where = _heading(item, "pickup", number)
    _require_known_keys(item, [k for k in Pickup.model_fields if k not in _DERIVED], f"{where}: ")
    pickup = _validated(Pickup, _by_string(item), where=where)
    twice = _first_repeated(pickup.leads)
    if twice is not None:
        raise JobError(f'{where}: the colour "{twice}" is used twice; give each lead a name of its own')
    _require_coils(pickup.circuit, pickup, where)
    if pickup.link is not None and not pickup.made.several:
        raise JobError(f'{where}: "link" joins two coils, and "coils" is 1; set coils = 2 or leave link out')
    _require_build(pickup, where)
    if pickup.coil_kohm is not None and len(pickup.coil_kohm) != pickup.coils:
        raise JobError(
            f'{where}: "coil_kohm" has {len(pickup.coil_kohm)} for {pickup.coils} coils; give each one'
        )
    return pickup


def _require_coils(circuit: str | None, pickup: Pickup, where: str) -> None:
    """Refuse a circuit of coils that the pickup has not."""
    for number in () if circuit is None else coils_in(circuit_from(circuit)):
        if number > pickup.coils:
            raise JobError(
                f'{where}: "circuit" has coil {number}, and pickup "{pickup.name}" has {pickup.coils}'
            )


def _require_build(pickup: Pickup, where: str) -> None:
    """Refuse what no pickup is made like."""
    wanted = {"dummy": 1, "stacked": 2, "halves": 2}.get(pickup.build or "")
    if wanted is not None and pickup.coils != wanted:
        raise JobError(
            f'{where}: "build" is "{pickup.build}", which has coils = {wanted}, not {pickup.coils}'
        )
    if pickup.upper is not None and pickup.build != "stacked":
        raise JobError(
            f'{where}: "upper" is one of two stacked coils; write build = "stacked" or leave it out'
        )
    if pickup.under is not None and pickup.build != "halves":
        raise JobError(f'{where}: "under" says what strings lie over halves; write build = "halves"')
    if pickup.poles is not None and pickup.build in ("dummy", "halves"):
        raise JobError(f'{where}: "poles" does not go with build = "{pickup.build}"; leave it out')
    if pickup.under is not None:
        named = [name for group in pickup.under for name in group]
        if len(pickup.under) != pickup.coils or not all(pickup.under) or _first_repeated(named) is not None:
            raise JobError(f'{where}: "under" has the strings over coil 1 and those over coil 2, each once')


def _with_strings(pickup: Pickup, strings: Sequence[str]) -> Pickup:
    """The pickup with its halves and poles held against the strings that there are."""
    where = f'pickup "{pickup.name}"'
    if isinstance(pickup.poles, tuple) and len(pickup.poles) != len(strings):
        raise JobError(
            f'{where}: "poles" has {len(pickup.poles)} and "strings" {len(strings)}; give one pole for each '
            "string, low to high"
        )
    if pickup.build != "halves":
        return pickup
    names = tuple(strings) or BASS_STRINGS[1:5]
    if pickup.under is None:
        middle = (len(names) + 1) // 2
        return pickup.model_copy(update={"under": (names[:middle], names[middle:])})
    for name in (n for group in pickup.under for n in group):
        if name not in names:
            raise JobError(f'{where}: "under" names {quoted_value(name)}{did_you_mean(name, names)}')
    return pickup


def _setting(item: Mapping[str, Any], number: int, pickups: list[Pickup]) -> Setting:
    where = _heading(item, "setting", number)
    on = item.get("on")
    if isinstance(on, list):
        item = {
            **item,
            "on": tuple(_validated(Member, _member_table(m, where), where=f"{where}: on") for m in on),
        }
    setting = _validated(Setting, item, where=where)
    setting = setting.model_copy(update={"on": tuple(map(_one_coil, setting.on))})
    for member in setting.on:
        pickup = next((p for p in pickups if p.name == member.pickup), None)
        if pickup is None:
            hint = did_you_mean(member.pickup, [p.name for p in pickups])
            raise JobError(f"{where}: no pickup {quoted_value(member.pickup)}{hint}")
        if pickup.shelf is not None:
            raise JobError(
                f'{where}: "{pickup.name}" is a reference coil of the bench ("shelf"), which no selector puts'
                " on the jack; leave it out of the setting"
            )
        if member.coil is not None and member.coil > pickup.coils:
            has = "one coil" if pickup.made.count == 1 else f"{pickup.made.count} coils"
            raise JobError(f'{where}: pickup "{pickup.name}" has {has}, so there is no coil {member.coil}')
        others = () if member.circuit is None else coils_in(circuit_from(member.circuit))
        if others and (member.coil not in (None, *others[:1]) or pickup.build == "halves"):
            raise JobError(
                f'{where}: "circuit" says which coils are on; leave out coil, and halves as they are'
            )
        _require_coils(member.circuit, pickup, where)
    for name, count in Counter(m.pickup for m in setting.on).items():
        coils = [m.coil for m in setting.on if m.pickup == name]
        if count > 1 and (None in coils or len(set(coils)) < count):
            raise JobError(f'{where}: "{name}" is on twice; name it once, or one coil each')
    for group, count in Counter(m.group for m in setting.on if m.group is not None).items():
        if count == 1 or count == len(setting.on):
            raise JobError(
                f'{where}: group "{group}" must hold two pickups or more, and not all of them: they are'
                f" joined the other way than the setting ({setting.join})"
            )
    _require_own_name(setting, pickups, where)
    return setting


def _one_coil(member: Member) -> Member:
    """A member whose circuit holds one coil alone is that coil."""
    coils = () if member.circuit is None else coils_in(circuit_from(member.circuit))
    return member.model_copy(update={"coil": coils[0]}) if member.coil is None and len(coils) == 1 else member


def _member_table(item: object, where: str) -> Mapping[str, Any]:
    if isinstance(item, str):
        return {"pickup": item}
    if not isinstance(item, dict):
        raise JobError(
            f'{where}: "on" holds {quoted_value(item)}; name a pickup, or write {{pickup = "neck", coil = 1}}'
        )
    return item


def _require_own_name(setting: Setting, pickups: list[Pickup], where: str) -> None:
    names = {p.name.casefold(): p.name for p in pickups}
    own = names.get(setting.name.casefold())
    if own is not None and (own != setting.name or setting.on != (Member(pickup=own),)):
        raise JobError(
            f'{where}: has the name of pickup "{own}", and that name is that pickup alone;'
            " give the setting another name"
        )


def _require_known_keys(item: Mapping[str, Any], known: list[str], where: str = "") -> None:
    for key in item:
        if key not in known:
            raise JobError(f"{where}{unknown_key(key, known)}")


def _validated(model: type[Model], item: Mapping[str, Any], *, where: str = "") -> Model:
    before = f"{where}: " if where else ""
    _require_known_keys(item, list(model.model_fields), before)
    values = {k: _frozen(v) for k, v in item.items()}
    try:
        return model.model_validate(values)
    except ValidationError as error:
        raise JobError(f"{before}{validation_message(error, model=model)}") from None


def _frozen(value: object) -> object:
    return tuple(map(_frozen, value)) if isinstance(value, list) else value


def _first_repeated(names: tuple[str, ...] | list[str]) -> str | None:
    seen: set[str] = set()
    for name in names:
        if name.casefold() in seen:
            return name
        seen.add(name.casefold())
    return None


def _require_distinct(key: str, names: list[str]) -> None:
    twice = _first_repeated(names)
    if twice is not None:
        raise JobError(f"two {key}s have the name {or_list([twice])}; give each a name of its own")
