"""The entries of bench.jsonl as frozen models, one for each kind.

Keys are those of the file. Keys that no model knows are kept (`extra_keys`) and written back. What an entry
says of itself is checked by its model, what it says of its job in capture.log.requirements. `id` is empty
only before capture.log.writing has given one.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, fields
from pathlib import Path, PureWindowsPath
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from capture import LogError
from capture.job.model import HIGHEST_FRET, CoilNumber, Colour, Facing, Job, Note, Pickup
from capture.job.reading import quoted_value, validation_message
from dsp.live import gestures

Gesture = gestures.Gesture
Stage = Literal["found", "after"]
Move = Literal["away", "toward"]
Reading = Literal["rises", "falls", "unclear"]
Role = Literal["hot", "ground", "link", "shield"]
CheckedThing = Literal["clip lead", "tool", "same path", "held", "bypass", "box", "shelf"]
Tip = Literal["red", "black"]
Staple = Literal["not lifted", "lifted"]
Side = Literal["under", "over"]

_INPUTS = (
    "must be a setting's name, a list of names, an object with pickup, hot and ground (two colours), or null"
)

BROUGHT_FROM = "from"
"""An extension of takes that were cut out of a longer recording: which file, which seconds. An extra key,
since no field can have that name; nothing is concluded from it."""
OWN_EXTRA_KEYS = (BROUGHT_FROM,)
"""Extra keys that this tool writes itself, so that a reader has nothing to wonder about."""

TAKES = "takes"
"""The folder of the recordings in a job's folder."""
HASH_DIGITS = 64
FEWEST_OF_ONE_PATH = 2
NonEmpty = Annotated[str, Field(min_length=1)]
KiloOhms = Annotated[float, Field(ge=0)]


def _hash(text: str) -> str:
    if len(text) != HASH_DIGITS or any(c not in "0123456789abcdef" for c in text):
        raise ValueError("is no SHA-256; it has 64 digits 0-9 a-f, or leave the key out")
    return text


class Entry(BaseModel):
    """What all kinds have in common. `after_torn`: the line before this one was torn, and stays as it is."""

    model_config = ConfigDict(
        defer_build=True,
        frozen=True,
        extra="allow",
        strict=True,
        allow_inf_nan=False,
        ser_json_inf_nan="constants",
    )

    id: str = ""
    at: str | None = None
    stage: Stage = "found"
    after_torn: bool = False

    @property
    def extra_keys(self) -> tuple[str, ...]:
        """Keys of the line that nothing reads."""
        return tuple(self.model_extra or ())

    def line(self) -> dict[str, Any]:
        """Return the entry as it stands in the file: kind and id first, only what was given."""
        given = self.model_dump(mode="json", exclude_unset=True)
        kept = {k: v for k, v in given.items() if v is not None or k in self.extra_keys}
        return {**dict.fromkeys(("kind", "id")), **kept, **{"kind": getattr(self, "kind", ""), "id": self.id}}


class LeadsInput(BaseModel):
    """A channel with a pickup's leads on it: `hot` goes to the tip, `ground` to the sleeve."""

    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid", strict=True)

    pickup: NonEmpty
    hot: Colour
    ground: Colour

    @model_validator(mode="after")
    def _two_leads(self) -> LeadsInput:
        if self.hot == self.ground:
            raise ValueError(f'have "{self.hot}" on tip and sleeve both; name two leads')
        return self


Input = NonEmpty | tuple[NonEmpty, ...] | LeadsInput | None


class Take(Entry):
    """A recording; `inputs` holds one item for each channel of `file`."""

    kind: Literal["take"] = "take"
    file: NonEmpty
    sha256: Annotated[str, AfterValidator(_hash)] | None = None
    gesture: Gesture
    inputs: Annotated[tuple[Input, ...], Field(min_length=1)]
    string: Note | None = None
    fret: Annotated[int, Field(ge=0, le=HIGHEST_FRET)] = 0
    coil: CoilNumber | None = None
    rig: str | None = None
    tool: str | None = None
    tapped: NonEmpty | None = None
    """An extension, of a tap: the pickup whose poles were tapped; ``coil`` is then one of its coils.

    Of a lift or a touch, where several pickups are on: the one at whose pole the tool was.
    """
    anew: bool = False
    """An extension: the clips were taken off, the leads read anew, and the clips put on again before it."""
    dropped: Annotated[int, Field(ge=1)] | bool = False
    """An extension: samples were lost while it was recorded; how many, where that is known."""
    where: str | None = None
    """An extension: where the guitar was and how it lay, in the person's words; other words: elsewhere."""

    @property
    def is_split_check(self) -> bool:
        """Whether two channels carry the same thing."""
        plugged = [i for i in self.inputs if i is not None]
        return len(plugged) > len(set(plugged))


class Meter(Entry):
    """An ohmmeter reading while the steel tool moved; `black` only where `red` is a colour."""

    kind: Literal["meter"] = "meter"
    pickup: NonEmpty
    move: Move
    reading: Reading
    red: NonEmpty
    black: NonEmpty | None = None
    kohm: KiloOhms | None = None
    tool: str | None = None
    anew: bool = False
    """An extension: the clips were taken off, the leads read anew, and the clips put on again before it."""
    string: Note | None = None
    """An extension: the string over the pole that the tool was at, where poles differ."""

    @model_validator(mode="after")
    def _both_leads(self) -> Meter:
        role, other = self.red in ("hot", "ground"), {"hot": "ground", "ground": "hot"}.get(self.red)
        if role and self.black not in (None, other):
            raise ValueError(
                f'"red" is on {self.red}, so "black" is on {other}; leave it out, or name two colours'
            )
        if not role and self.black is None:
            raise ValueError(
                '"red" is a lead\'s colour, so "black" is needed too: the colour the black clip is on'
            )
        if self.red == self.black:
            raise ValueError('"red" and "black" are on the same lead; name two leads')
        return self


class Ohms(Entry):
    """The resistance between two leads; no `kohm` means an open circuit."""

    kind: Literal["ohms"] = "ohms"
    pickup: NonEmpty
    between: tuple[NonEmpty, NonEmpty]
    kohm: KiloOhms | None = None

    @model_validator(mode="after")
    def _two_leads(self) -> Ohms:
        if self.between[0] == self.between[1]:
            raise ValueError(f'"between" names "{self.between[0]}" twice; name two leads')
        return self


class Pole(Entry):
    """Which pole faces the strings, as a compass or pole tester has it."""

    kind: Literal["pole"] = "pole"
    pickup: NonEmpty
    facing: Facing
    coil: CoilNumber | None = None
    string: Note | None = None
    """An extension: the string over the pole that was read, where poles differ."""


class Change(Entry):
    """Leads as they are from here on.

    An extension: ``before`` names the entry, standing earlier, before which it was made but not entered.
    """

    kind: Literal["change"] = "change"
    pickup: NonEmpty
    leads: dict[Colour, Role]
    before: str | None = None

    @model_validator(mode="after")
    def _hot_and_ground(self) -> Change:
        for role in ("hot", "ground"):
            if role not in self.leads.values():
                raise ValueError(f'"leads" does not say which lead is {role} from here on; name it')
        return self


LEAD_OF_CHECK = 0.1
"""Kilo-ohm; more than this from the tip to a clip is no connection."""
KEYS_OF_CHECK: dict[CheckedThing, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "clip lead": (("tip",), ("rig", "input", "kohm")),
    "tool": (("tool", "staple"), ()),
    "same path": (("takes",), ()),
    "held": (("pickup", "side"), ()),
    "bypass": (("pickup", "inverts"), ()),
    "box": (("rig", "opposed", "seen", "rate"), ()),
    "shelf": (("pickup", "shelf", "opposed", "doubt", "seen"), ("hot", "ground", "tool", "rig", "job")),
}
"""The keys that each check needs, and those that it may have besides."""
WORDS_OF_CHECK = {
    "tip": ": red, or black where the lead is the wrong way round",
    "tool": ": which one, as at its takes",
    "staple": ': "not lifted" or "lifted"',
    "takes": ": a take of each of the recorders",
    "side": ": under the strings, between them and the body, or over",
    "inverts": ": whether the stage turns the signal over",
}
"""What may be said for a key that is needed."""


class Check(Entry):
    """An extension: something on the bench that a person verified.

    ``clip lead``: with an ohmmeter, to which clip the tip leads: `tip` red as it should be, black the other
    way round; of one `input` (1 is the first), or of all. ``tool``: whether it lifts a `staple`.
    ``same path``: these `takes` came through one and the same recorder, though their files differ.
    ``held``: on which `side` of the strings a loose pickup was: under them, as it will sit, or over them,
    where a string that comes to the fitted pickups leaves it.
    ``bypass``: whether the active stage behind `pickup` `inverts`.
    ``box``: what this machine remembered of a box as the job began: a split check of another job, on the day
    `seen`, found its two inputs `opposed` or in step, at so many samples a second.
    ``shelf``: another `job` found `pickup` to oppose the reference coil `shelf` of the bench, or not, with so
    much `doubt`, by takes of the day `seen` with that `tool` on that `rig`; of a loose pickup, with `hot` and
    `ground` by the names that its leads have in both jobs.
    """

    kind: Literal["check"] = "check"
    what: CheckedThing
    rig: str | None = None
    input: Annotated[int, Field(ge=1)] | None = None
    tip: Tip | None = None
    kohm: KiloOhms | None = None
    tool: NonEmpty | None = None
    staple: Staple | None = None
    takes: tuple[NonEmpty, ...] | None = None
    pickup: NonEmpty | None = None
    side: Side | None = None
    inverts: bool | None = None
    opposed: bool | None = None
    seen: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = None
    rate: Annotated[int, Field(gt=0)] | None = None
    shelf: NonEmpty | None = None
    doubt: Annotated[float, Field(gt=0, lt=0.5)] | None = None
    hot: Colour | None = None
    ground: Colour | None = None
    job: str | None = None

    @model_validator(mode="after")
    def _keys_of_what(self) -> Check:
        needed, allowed = KEYS_OF_CHECK[self.what]
        for key in needed:
            if getattr(self, key) is None:
                raise ValueError(f'a check of "{self.what}" needs "{key}"{WORDS_OF_CHECK.get(key, "")}')
        for key in {k for keys in KEYS_OF_CHECK.values() for part in keys for k in part}:
            if key not in (*needed, *allowed) and getattr(self, key) is not None:
                raise ValueError(f'a check of "{self.what}" has no "{key}"; leave it out')
        if self.kohm is not None and self.kohm > LEAD_OF_CHECK:
            raise ValueError(
                f'"kohm" is {self.kohm:g}, so tip and clip are not joined; name the clip that reads near 0'
            )
        if self.takes is not None and len(set(self.takes)) < FEWEST_OF_ONE_PATH:
            raise ValueError('"takes" needs two or more: one from each of the recorders that are one')
        return self


class Tag(Entry):
    """A tag on the lead that was under the tip's clip in ``take``: from here on it is known by the tag.

    An extension. It seals the clip-up of that take: what was recorded through it up to here belongs to the
    tag, whatever colour was read and whichever clip went where.
    """

    kind: Literal["tag"] = "tag"
    pickup: NonEmpty
    take: NonEmpty


class Void(Entry):
    """Takes an earlier entry out of account; a void of a void restores."""

    kind: Literal["void"] = "void"
    entry: NonEmpty
    why: str = ""


AnyEntry = Take | Meter | Ohms | Pole | Change | Check | Tag | Void
KINDS: dict[str, type[AnyEntry]] = {
    "take": Take,
    "meter": Meter,
    "ohms": Ohms,
    "pole": Pole,
    "change": Change,
    "check": Check,
    "tag": Tag,
    "void": Void,
}
ID_LETTERS = {
    "take": "t",
    "meter": "m",
    "ohms": "r",
    "pole": "p",
    "change": "c",
    "check": "k",
    "tag": "g",
    "void": "v",
}

Made = TypeVar("Made", Take, Meter, Ohms, Pole, Change, Check, Tag, Void)


def new_entry(model: type[Made], **keys: Any) -> Made:
    """Return an entry of these keys; one that is None is left out.

    Raises
    ------
    LogError
        Says which key is wrong.

    """
    try:
        return model.model_validate({k: v for k, v in keys.items() if v is not None})
    except ValidationError as error:
        raise LogError(input_message(error) or validation_message(error, model=model)) from None


def input_message(error: ValidationError) -> str:
    """Return what is wrong with an item of `inputs`, if that is what the error is about."""
    place = error.errors(include_url=False)[0]["loc"]
    return (
        f'"inputs" item {int(place[1]) + 1} {_INPUTS}' if place[:1] == ("inputs",) and len(place) > 1 else ""
    )


@dataclass(frozen=True)
class TakeFields:
    """What is said of a take, whoever says it: a person, the session, or a note beside a part file.

    `inputs` has one item for each channel. `fret` is where the open string `string` was stopped. `anew`: the
    clips were taken off, the leads read anew, and the clips put on again before it. `tapped`: of a tap, the
    pickup whose poles were tapped. `where`: where the guitar was and how it lay, in the person's words.
    """

    gesture: Gesture
    inputs: tuple[Input, ...]
    string: str | None = None
    fret: int = 0
    stage: Stage = "found"
    rig: str | None = None
    tool: str | None = None
    coil: CoilNumber | None = None
    anew: bool = False
    tapped: str | None = None
    where: str | None = None

    @classmethod
    def of(cls, entry: Take) -> Self:
        """Return what an entry says."""
        return cls(**{field.name: getattr(entry, field.name) for field in fields(TakeFields)})

    def entry(self, **keys: Any) -> Take:
        """Return it as an entry with further keys; a fret without a string and clips not anew are left out.

        Without `file` it names no file that there is, and is only good to be checked.

        Raises
        ------
        LogError
            Says which key is wrong.

        """
        own = {field.name: getattr(self, field.name) for field in fields(TakeFields)}
        own |= {"inputs": tuple(self.inputs), "anew": self.anew or None}
        own |= {"fret": self.fret if self.fret or self.string is not None else None}
        return new_entry(Take, **{"file": f"{TAKES}/x", **own, **keys})


TAGGED, OTHER = "tagged", "other"
"""Names of leads once there is a tag: the tagged one, and the one that was on the sleeve with it."""
TAG_WORDS = (TAGGED, OTHER)
LEAD_WORDS = ("hot", "ground")
FEWEST_SETTINGS = 2
OHMS_WORDS = (*LEAD_WORDS, "shield")


def path_inside(folder: Path, file: str) -> Path:
    """Return where `file` of a log line lies.

    Raises
    ------
    LogError
        The path is absolute or leads out of the folder, by itself or through a link.

    """
    if _plainly_inside(folder, file):
        return folder / file
    if Path(file).is_absolute() or PureWindowsPath(file).drive or file.startswith("\\"):
        raise LogError(
            f'"file" is {quoted_value(file)}, an absolute path; give it as it lies in the job folder'
        )
    try:
        home = folder.resolve()
        inside = (home / file).resolve().is_relative_to(home)
    except (OSError, RuntimeError, ValueError):
        raise LogError(f'"file" is {quoted_value(file)}, which is no path that can be followed') from None
    if not inside:
        raise LogError(
            f'"file" is {quoted_value(file)}, which leads out of the job folder; copy the audio into takes/'
        )
    return folder / file


MOST_LETTERS_SEEN_THROUGH = 200


def _plainly_inside(folder: Path, file: str) -> bool:
    """Whether no link and no step upwards is on the way, which needs no path to be followed to its end."""
    parts = file.split("/")
    plain = file.isprintable() and len(file) <= MOST_LETTERS_SEEN_THROUGH
    if os.name != "posix" or not plain or {"", ".", ".."} & {*parts} or any(c in file for c in ":\\"):
        return False
    place = os.fspath(folder)
    for part in parts:
        place = os.path.join(place, part)
        if os.path.islink(place):
            return False
    return True


def clipped_input(take: Take, pickup: str, job: Job) -> str | LeadsInput | None:
    """Return what a take says of the clips on the leads of one whole pickup; None where it had none alone."""
    found = None
    for item in take.inputs:
        if isinstance(item, LeadsInput):
            here = item.pickup == pickup
        else:
            setting = job.setting(item) if isinstance(item, str) else None
            on = () if setting is None else setting.on
            here = [(m.pickup, m.coil, m.reversed) for m in on] == [(pickup, None, False)]
        if here and found is not None and item != found:
            return None
        found = item if here else found
    return found if isinstance(found, str | LeadsInput) else None


def pickups_of(entry: Take, job: Job) -> tuple[Pickup, ...]:
    """Return the pickups that a take can have heard, each once."""
    names: dict[str, None] = {}
    for item in entry.inputs:
        if isinstance(item, LeadsInput):
            names[item.pickup] = None
        elif item is not None:
            for name in (item,) if isinstance(item, str) else item:
                setting = job.setting(name)
                names.update(dict.fromkeys(m.pickup for m in setting.on) if setting else {})
    return tuple(p for p in job.pickups if p.name in names)
