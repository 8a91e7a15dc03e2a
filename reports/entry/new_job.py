"""A new job: where it lies, and what was typed into the form for it, as pickups and settings.

Refused with the same words as on the command line. Rows in which nothing was typed are left out. Lengths are
millimetres.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from pathvalidate import ValidationError, validate_filename

from capture import JOB_FILE, JobError
from capture.job import Member, Pickup, Setting
from capture.job.writing import new_job
from dsp import CoilwiseError
from reports.entry.bench_memory import remember_bench
from reports.entry.finding import DEFAULT_PLACE
from reports.entry.lengths import centre_keys, lengths_from, open_strings
from reports.entry.spelling import (
    PLACE_KEYS,
    UNUSUAL_KEYS,
    checked_record,
    number_from,
    placed_values,
    unusual_value,
)
from reports.entry.units import CENTRE_MM
from reports.messages import page as words


def jobs_folder() -> Path:
    """Where new jobs go: recordings/ of the folder one stands in, if there is one, else that folder."""
    jobs = Path(DEFAULT_PLACE)
    return jobs if jobs.is_dir() else Path()


def new_job_folder(folder: str, *, under: Path) -> Path:
    """Where a new job is made: as given, and a bare name ``under`` the place for jobs.

    Raises
    ------
    JobError
        No folder can have that name on this system.

    """
    given = Path(folder)
    try:
        validate_filename(given.name or "job", platform="auto")
    except ValidationError:
        raise JobError(words.NAME_NOT_POSSIBLE.format(name=given.name)) from None
    bare = len(given.parts) == 1 and not given.is_absolute() and folder not in (".", "..")
    return under / given if bare else given


def copy_job(source: Path, to: Path) -> Path:
    """Copy a job with its recordings, and return the copy; one that is there already stays as it is.

    Raises
    ------
    JobError
        There is something else of that name, or it cannot be written.

    """
    if (to / JOB_FILE).is_file():
        return to
    if to.exists():
        raise JobError(words.NO_ROOM_FOR_COPY.format(path=to))
    try:
        shutil.copytree(source, to, ignore=shutil.ignore_patterns("report", ".*"))
    except (OSError, shutil.Error) as error:
        raise JobError(
            words.NOT_COPIED.format(path=to, reason=getattr(error, "strerror", None) or error)
        ) from None
    return to


OFF = "off"
MEMBER_FORMS: Mapping[str, tuple[int | None, bool]] = MappingProxyType(
    {
        "whole": (None, False),
        "whole reversed": (None, True),
        "coil 1": (1, False),
        "coil 2": (2, False),
        "coil 1 reversed": (1, True),
        "coil 2 reversed": (2, True),
        "coil 3": (3, False),
        "coil 4": (4, False),
        "coil 3 reversed": (3, True),
        "coil 4 reversed": (4, True),
    }
)
"""How a pickup can be on in a setting: which coil, and whether reversed."""
TWO_COILS, BOTH_SIDES = 2, 2


@dataclass(frozen=True)
class PickupFields:
    """One row of the pickups; text as it was typed."""

    name: str = ""
    centre: str = ""
    coils: int = 1
    fitted: bool = True
    turnable: bool = False
    active: bool = False
    hot: str = ""
    ground: str = ""
    link: tuple[str, str] = ("", "")
    shield: str = ""
    build: str = ""
    upper: str = ""
    under: str = ""
    poles: str = ""
    circuit: str = ""
    coil_kohm: str = ""
    source: str = ""
    stage: str = ""
    shelf: str = ""
    always: str = ""
    was: str = ""
    """The name that it has in the job so far; nothing where it is new."""

    @property
    def unusual(self) -> bool:
        """Whether it was said to be built, wired or placed otherwise than coil beside coil on a selector."""
        return any(getattr(self, key) for key in (*UNUSUAL_KEYS, *PLACE_KEYS))

    @property
    def blank(self) -> bool:
        """Whether nothing was typed."""
        return not any((self.name, self.centre, self.hot, self.ground, *self.link))


@dataclass(frozen=True)
class MemberFields:
    """How a pickup is wired in a position that is no plain sum; text as it was typed.

    Those of one ``group`` are joined the other way than the rest; ``share``: per cent that a knob lets
    through; ``circuit``: how its coils are joined here.
    """

    group: str = ""
    share: str = ""
    circuit: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing was typed."""
        return not (self.group or self.share or self.circuit)


@dataclass(frozen=True)
class SettingFields:
    """One row of the settings; ``on`` has pickups by name with how each is on (a key of HOW, or OFF).

    ``wired``: of some of them how they are wired otherwise than in a plain sum.
    """

    name: str = ""
    on: tuple[tuple[str, str], ...] = ()
    join: str = "parallel"
    aim: str = "in phase"
    quiet: bool = False
    was: str = ""
    """The name that it has in the job so far; nothing where it is new."""
    wired: tuple[tuple[str, MemberFields], ...] = ()
    bypass: bool = False

    @property
    def blank(self) -> bool:
        """Whether nothing was typed or chosen."""
        return not self.name and all(how == OFF for _, how in self.on)


@dataclass(frozen=True)
class JobFields:
    """The whole form."""

    folder: str = ""
    title: str = ""
    scale: str = ""
    mains_hz: int | None = None
    strings: str = ""
    pickups: tuple[PickupFields, ...] = ()
    settings: tuple[SettingFields, ...] = ()
    stereo: str = ""
    """Of a stereo jack the pickup on its tip and the one on its ring, with a comma between."""
    control: Literal["volumes"] | None = None
    """Of a guitar that has no selector; the form of an open job does not ask it, and keeps it."""

    @property
    def unusual(self) -> bool:
        """Whether its circuit is more than a selector and plain sums."""
        odd = (s.bypass or any(not m.blank for _, m in s.wired) for s in self.settings)
        return bool(self.stereo) or any(odd)


@dataclass(frozen=True)
class FieldError:
    """What is wrong at one field of row ``row`` (from 0) of the ``rows``; the job's own fields have row 0."""

    rows: Literal["job", "pickup", "setting"]
    row: int
    field: str
    why: str


def field_errors(fields: JobFields, *, new: bool) -> tuple[FieldError, ...]:
    """Return everything that would be refused of a form, all at once; ``new``: a folder has to be named."""
    found: list[FieldError] = []

    def look(at: tuple[Literal["job", "pickup", "setting"], int, str], work: Callable[[], object]) -> None:
        try:
            work()
        except CoilwiseError as error:
            found.append(FieldError(*at, str(error)))

    if new and not fields.folder:
        found.append(FieldError("job", 0, "folder", words.NO_FOLDER_NAME))
    look(("job", 0, "scale"), lambda: lengths_from(fields.scale, what=words.SCALE_FIELD))
    look(("job", 0, "strings"), lambda: open_strings(fields.strings))
    if all(p.blank for p in fields.pickups):
        found.append(FieldError("pickup", 0, "name", words.NO_PICKUP))
    for row, pickup in enumerate(fields.pickups):
        if not pickup.blank:
            where = words.PICKUP_NUMBER.format(n=row + 1)
            what = f"{pickup.name or where}: {words.CENTRE_FIELD}"
            look(("pickup", row, "centre"), partial(lengths_from, pickup.centre, what=what, among=CENTRE_MM))
            look(("pickup", row, "name"), partial(pickup_of, replace(pickup, centre=""), row + 1))
    look(("job", 0, "stereo"), lambda: stereo_of(fields))
    for row, setting in enumerate(fields.settings):
        if not setting.blank:
            look(("setting", row, "name"), partial(setting_of, setting, row + 1))
    return tuple(found)


def create_job_folder(fields: JobFields, *, under: Path) -> Path:
    """Make the job's folder, a bare name ``under`` the place for jobs, and return it.

    Raises
    ------
    JobError
        Something is missing or refused, or the folder is taken.

    """
    if not fields.folder:
        raise JobError(words.NO_FOLDER_NAME)
    pickups = [pickup_of(p, n) for n, p in enumerate(fields.pickups, start=1) if not p.blank]
    if not pickups:
        raise JobError(words.NO_PICKUP)
    settings = [setting_of(s, n) for n, s in enumerate(fields.settings, start=1) if not s.blank]
    place = typed_job_folder(fields.folder, under=under)
    remember_bench(mains_hz=fields.mains_hz)
    new_job(
        place,
        title=fields.title or place.name,
        pickups=pickups,
        settings=settings,
        scale_mm=lengths_from(fields.scale, what=words.SCALE_FIELD),
        mains_hz=fields.mains_hz,
        strings=open_strings(fields.strings),
        stereo=stereo_of(fields),
        control=fields.control,
    )
    return place


MOST_IN_ROW = 40
ROW_NAME, COIL_NAME = "{:02d}", "coil"


@dataclass(frozen=True)
class RowFields:
    """A row of loose pickups beside the bench's reference coil ``shelf``, all with the same leads if any."""

    folder: str
    count: int
    shelf: str
    coils: int = 1
    hot: str = ""
    ground: str = ""


def create_row(fields: RowFields, *, under: Path) -> Path:
    """Make a row's folder, its pickups 01, 02 and so on, and return it.

    Raises
    ------
    JobError
        Something is missing or refused, or the folder is taken.

    """
    if not fields.folder:
        raise JobError(words.NO_FOLDER_NAME)
    if not fields.shelf or not 1 <= fields.count <= MOST_IN_ROW:
        raise JobError(words.ROW_NEEDS.format(most=MOST_IN_ROW))
    place = typed_job_folder(fields.folder, under=under)
    leads = {"hot": fields.hot or None, "ground": fields.ground or None}
    row = [
        checked_record(
            Pickup,
            {"name": ROW_NAME.format(n), "coils": fields.coils, "fitted": False, **leads},
            words.PICKUP_NUMBER.format(n=n),
        )
        for n in range(1, fields.count + 1)
    ]
    said = {"name": COIL_NAME, "shelf": fields.shelf}
    coil = checked_record(Pickup, said, f'reference coil "{fields.shelf}"')
    new_job(place, title=place.name, pickups=[coil, *row])
    return place


def stereo_of(fields: JobFields) -> tuple[str, str] | None:
    """Return the two pickups of a stereo jack, tip first; None where there is none.

    Raises
    ------
    JobError
        Not two pickups of the form are named.

    """
    said = [name.strip() for name in fields.stereo.split(",") if name.strip()]
    if not said:
        return None
    if len(said) != BOTH_SIDES or not set(said) <= {p.name for p in fields.pickups}:
        raise JobError(words.STEREO_NOT_TWO.format(text=fields.stereo))
    return said[0], said[1]


def typed_job_folder(folder: str, *, under: Path) -> Path:
    """Return the folder that was typed; the home folder may be a tilde, as in a terminal."""
    try:
        whole = str(Path(folder).expanduser()) if folder.startswith("~") else folder
    except RuntimeError:
        whole = folder
    return new_job_folder(whole, under=under)


def pickup_of(fields: PickupFields, number: int) -> Pickup:
    """Return the pickup of one row.

    Raises
    ------
    JobError
        It has no name, or something in it is refused.

    """
    where = (
        words.PICKUP_NAMED.format(name=fields.name) if fields.name else words.PICKUP_NUMBER.format(n=number)
    )
    if not fields.name:
        raise JobError(words.NO_NAME_IN.format(where=where))
    values: dict[str, Any] = {
        "name": fields.name,
        **centre_keys(lengths_from(fields.centre, what=f"{where}: {words.CENTRE_FIELD}", among=CENTRE_MM)),
        "coils": fields.coils,
        "fitted": fields.fitted,
        "turnable": fields.turnable,
        "active": fields.active,
        "hot": fields.hot or None,
        "ground": fields.ground or None,
        "shield": fields.shield or None,
        **{key: unusual_value(key, getattr(fields, key)) for key in UNUSUAL_KEYS},
        **placed_values({key: getattr(fields, key) for key in PLACE_KEYS}),
    }
    if fields.coils == TWO_COILS and any(fields.link):
        if not all(fields.link):
            raise JobError(words.ONE_LINK.format(where=where))
        values["link"] = fields.link
    return checked_record(Pickup, values, where)


def setting_of(fields: SettingFields, number: int) -> Setting:
    """Return the setting of one row.

    Raises
    ------
    JobError
        It has no name, nothing is on in it, or something in it is refused.

    """
    where = (
        words.SETTING_NAMED.format(name=fields.name) if fields.name else words.SETTING_NUMBER.format(n=number)
    )
    if not fields.name:
        raise JobError(words.NO_NAME_IN.format(where=where))
    on = _members(fields, where)
    if not on:
        raise JobError(words.NOTHING_ON_IN.format(where=where))
    values = {"name": fields.name, "on": on, "join": fields.join, "aim": fields.aim, "quiet": fields.quiet}
    return checked_record(Setting, values | {"bypass": fields.bypass}, where)


def _members(fields: SettingFields, where: str) -> tuple[Member, ...]:
    found, wired = [], dict(fields.wired)
    for name, how in fields.on:
        if how == OFF:
            continue
        (coil, turned), more = MEMBER_FORMS[how], wired.get(name, MemberFields())
        percent = number_from(more.share.strip(" %"), what=f"{where}: {words.SHARE_FIELD}")
        keys = {
            "pickup": name,
            "coil": coil,
            "reversed": turned,
            "group": more.group or None,
            "share": None if percent is None or percent == ALL_OF_IT else percent / ALL_OF_IT,
            "circuit": more.circuit or None,
        }
        found.append(checked_record(Member, keys, where))
    return tuple(found)


ALL_OF_IT = 100.0
"""Per cent that a knob lets through when it is full up."""
