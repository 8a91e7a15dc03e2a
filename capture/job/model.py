"""The job: what is on the bench, as job.toml has it; and the pitch of strings by their names.

Frozen models of exact types; capture.job.reading reads and cross-checks them. Lengths are millimetres;
`centre_mm` runs from the bridge saddle to the pickup's centre. Coil 1 of a two-coil pickup is the one that
`hot` belongs to. A pickup's name is also a setting that holds it alone, whether it is listed or not.

A string is named by its note: a letter A to G, sharps (#) or flats (b), and the octave in scientific pitch
notation: "E2" is the lowest string of a guitar, A4 = 440 Hz (ISO 16), equal temperament.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from capture import JobError
from dsp.model.network import circuit_from
from dsp.model.pickups import DUMMY, Layout, PickupBuild, halves, side_by_side, stacked, wired

A4_HZ = 440.0  # ISO 16
HIGHEST_FRET = 36

NO_NOTE = "is no note name; write a letter, # or b, and the octave, as in F#3 or Bb2"

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"([A-Ga-g])(##?|bb?)?([0-8])", re.ASCII)


def semitone(name: str) -> int:
    """Return the number of the note in semitones, A4 = 69.

    Raises
    ------
    JobError
        `name` is no note name.

    """
    found = _NAME.fullmatch(name)
    if found is None:
        raise JobError(f'"{name}" {NO_NOTE}')
    letter, turn, octave = found.group(1).upper(), found.group(2) or "", int(found.group(3))
    return 12 * (octave + 1) + _STEPS[letter] + turn.count("#") - turn.count("b")


def note_hz(name: str, *, fret: int = 0) -> float:
    """Return the pitch in Hz of the open string `name`, or of that string stopped at `fret`.

    Raises
    ------
    JobError
        `name` is no note name.

    """
    return float(A4_HZ * 2.0 ** ((semitone(name) + fret - 69) / 12))


FORMAT: Literal[1] = 1
MOSTLY = 0.7
"""A coil whose part in the whole is smaller at the mains is neither on nor off."""
MOST_STRINGS = 12
BOTH = 2
"""Signs: as many as there are."""
ROLES = ("hot", "ground", "link", "shield")

Join = Literal["parallel", "series"]
Aim = Literal["in phase", "out of phase"]
Facing = Literal["north", "south"]
Shield = Literal["own lead", "on ground", "none"]


BASS_STRINGS = ("B0", "E1", "A1", "D2", "G2", "C3")
GUITAR_STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")
LOWEST_GUITAR_HZ, HIGHEST_BASS_HZ = 60.0, 150.0
"""A bass has its lowest string below the first and its highest below the second; a guitar of eight strings
begins as low and goes on."""


def is_role(word: str) -> bool:
    """Whether `word` says what a lead does and so cannot be its colour."""
    return word.strip().casefold() in ROLES


def _plain_name(name: str) -> str:
    if name != name.strip() or not name.isprintable():
        raise ValueError(f"is {name!r}; leave out spaces at the ends, line breaks and control characters")
    return name


def _colour(name: str) -> str:
    if is_role(name):
        raise ValueError(
            f'is "{name}", which is no colour; write the colour of the lead (hot, ground, link and shield'
            " say what a lead does)"
        )
    return name


def _note(name: str) -> str:
    try:
        semitone(name)
    except JobError:
        raise ValueError(f'is "{name}", which {NO_NOTE}') from None
    return name


def _circuit(text: str) -> str:
    circuit_from(text)
    return text


def _whole(number: object) -> object:
    if type(number) is not int:
        raise ValueError("must be a whole number, without quotes or a decimal point")
    return number


WholeNumber = BeforeValidator(_whole)  # True and 1.0 equal 1, so a literal alone lets them in
Name = Annotated[str, Field(min_length=1), AfterValidator(_plain_name)]
Colour = Annotated[Name, AfterValidator(_colour)]
Note = Annotated[str, AfterValidator(_note)]
Length = Annotated[float, Field(gt=0, le=10_000)]
CoilNumber = Annotated[Literal[1, 2, 3, 4], WholeNumber]
Circuit = Annotated[Name, AfterValidator(_circuit)]
CoilKohm = Annotated[float, Field(gt=0, le=1000)]
Turns = Annotated[int, WholeNumber, Field(ge=100, le=100_000)]


class CheckedModel(BaseModel):
    """A frozen record of exact types; NaN and infinity are refused, and so is any key not named here."""

    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


@lru_cache
def _made(
    build: Layout | None,
    coils: int,
    upper: int | None,
    under: tuple[tuple[str, ...], ...],
    poles: str | tuple[str, ...],
) -> PickupBuild:
    if poles == "alternate":
        signs = tuple(1 - 2 * (k % 2) for k in range(MOST_STRINGS))
    else:
        signs = () if poles == "alike" else tuple(1 if one == poles[0] else -1 for one in poles)
    match build:
        case "dummy":
            return DUMMY
        case "stacked":
            return stacked(upper=upper, poles=signs)
        case "halves":
            return halves(under)
        case _:
            return side_by_side(coils, poles=signs)


@lru_cache
def _wired(made: PickupBuild, circuit: str) -> PickupBuild:
    return wired(made, circuit_from(circuit))


class Pickup(CheckedModel):
    """One pickup; lead colours are as typed in, None where they are not known.

    `active` is an extension: it is heard through a stage with a battery, which may invert.
    """

    name: Name
    centre_mm: Length | None = None
    centres_mm: tuple[Length, ...] = ()
    """An extension, job.toml's `centre_mm` as a list: under each string, low to high, or under the lowest and
    the highest of a pickup on a slant; `centre_mm` is then their mean."""
    coils: CoilNumber = 1
    fitted: bool = True
    hot: Colour | None = None
    ground: Colour | None = None
    link: tuple[Colour, Colour] | None = None
    shield: Shield | None = None
    turnable: bool = False
    active: bool = False
    turns: Turns | None = None
    """An extension: turns of its coil (of each of two), where they were counted."""
    stage: Literal["keeps", "inverts"] | None = None
    """An extension, of an active one: what the diagram of its stage says; worth a look, and no proof."""
    always: bool = False
    """An extension: it is wired straight to hot, on in every position of the selector."""
    source: Literal["piezo", "microphone"] | None = None
    """An extension: it is no magnetic pickup, so that no one word says how it stands to one."""
    shelf: Name | None = None
    """An extension: it is a reference coil of the bench, by the name that it has in every job."""
    was: tuple[Name, ...] = ()
    """An extension: names that it has in older lines of the log, which are read as its present one."""
    build: Layout | None = None
    """An extension: how its coils lie, where that is not side by side, each with a row of poles."""
    upper: CoilNumber | Colour | None = None
    """An extension: of stacked coils the one near the strings, by its number or by a lead of it."""
    under: tuple[tuple[Note, ...], ...] | None = None
    """An extension: of halves the strings over coil 1, and those over coil 2."""
    poles: Literal["alike", "alternate"] | tuple[Facing, ...] | None = None
    """An extension: whether its magnets face up and down by turns, or the pole under each string."""
    circuit: Circuit | None = None
    """An extension: how its coils are joined, where that is not one after the other (dsp.model.network)."""
    coil_kohm: tuple[CoilKohm, ...] | None = None
    """An extension: the resistance of each coil, coil 1's first."""

    @property
    def made(self) -> PickupBuild:
        """What it is made of. What nothing is said of is side by side, with poles that are alike."""
        return self.as_built if self.circuit is None else _wired(self.as_built, self.circuit)

    @property
    def as_built(self) -> PickupBuild:
        """The same with its coils in series, however they are joined."""
        return _made(self.build, self.coils, self._upper, self.under or (), self.poles or "alike")

    @property
    def _upper(self) -> int | None:
        """The number of the upper coil; None where its leads are not told apart yet."""
        if self.upper is None or isinstance(self.upper, int):
            return self.upper
        first, second = self.link or (None, None)
        return 1 if self.upper in (self.hot, first) else 2 if self.upper in (second, self.ground) else None

    @property
    def leads(self) -> tuple[str, ...]:
        """The colours of all leads that are named, hot first."""
        return tuple(c for c in (self.hot, self.ground, *(self.link or ())) if c is not None)


class Member(CheckedModel):
    """A pickup in a setting: whole or one coil of it, hot and ground reversed or not.

    Extensions: members of one ``group`` are joined the other way than the setting is (in series within a
    parallel one), and the group with the rest as the setting says. ``share``: so much of it a blend knob or a
    volume that is turned down lets through.
    """

    pickup: Name
    coil: CoilNumber | None = None
    reversed: bool = False
    group: Name | None = None
    share: Annotated[float, Field(gt=0, le=1)] | None = None
    circuit: Circuit | None = None
    """An extension: how the coils of the pickup are joined here, where that is not as they usually are."""


class Setting(CheckedModel):
    """A position of selector and switches; `quiet`: hum should cancel in it."""

    name: Name
    on: tuple[Member, ...] = Field(min_length=1)
    join: Join = "parallel"
    aim: Aim = "in phase"
    quiet: bool = False
    was: tuple[Name, ...] = ()
    """An extension, as of a pickup."""
    bypass: bool = False
    """An extension: the active stage behind the jack is bypassed in it."""

    @property
    def plain(self) -> bool:
        """Whether all its members are joined one way, and each is full up."""
        return all(m.group is None and m.share is None for m in self.on)


@lru_cache(maxsize=256)
def _alone(pickup: str) -> Setting:
    """The setting of a pickup by itself."""
    return Setting(name=pickup, on=(Member(pickup=pickup),))


class Job(CheckedModel):
    """All that is known of the guitar before anything is recorded."""

    format: Literal[1] = FORMAT
    title: str = ""
    scale_mm: Length | None = None
    mains_hz: Annotated[Literal[50, 60], WholeNumber] | None = None
    scales_mm: tuple[Length, ...] = ()
    """An extension, job.toml's `scale_mm` as a list (fan frets), as `centres_mm` of a pickup."""
    strings: tuple[Note, ...] = ()
    courses: tuple[tuple[Note, ...], ...] = ()
    """An extension, job.toml's `strings` with lists in it: the strings of each course, its main one first."""
    pickups: tuple[Pickup, ...]
    settings: tuple[Setting, ...] = ()
    stereo: Annotated[tuple[Name, ...], Field(min_length=2, max_length=2)] | None = None
    """An extension: a stereo jack has the first of these on its tip and the second on its ring."""
    control: Literal["selector", "volumes"] | None = None
    """An extension: what chooses among the pickups, where it is said; "volumes": a knob each, no selector."""

    @property
    def hard_wired(self) -> tuple[Pickup, ...]:
        """Pickups that are on in every position of the selector."""
        return tuple(p for p in self.pickups if p.always and p.fitted)

    def on_alone(self, name: str) -> bool:
        """Whether the selector can have a pickup on the jack by itself."""
        return all(p.name == name for p in self.hard_wired)

    @property
    def reference(self) -> Pickup:
        """The pickup all others are compared with: the first that is fitted, else the first.

        A reference coil of the bench is it where nothing else is fitted.
        """
        fitted = next((p for p in self.own_pickups if p.fitted and p.source is None), None)
        return fitted or next((p for p in self.pickups if p.shelf is not None), self.pickups[0])

    @property
    def own_pickups(self) -> tuple[Pickup, ...]:
        """The pickups that the job is about: all but reference coils of the bench."""
        return tuple(p for p in self.pickups if p.shelf is None)

    @property
    def compared(self) -> tuple[Pickup, ...]:
        """The pickups that are to agree where no setting is listed.

        Loose ones alone are compared with a reference coil of the bench; those of a guitar with each other.
        """
        among = self.own_pickups if any(p.fitted for p in self.own_pickups) else self.pickups
        return tuple(p for p in among if p.source is None)

    def pickup(self, name: str) -> Pickup | None:
        """Return the pickup of that name, or None."""
        return next((p for p in self.pickups if p.name == name), None)

    def setting(self, name: str) -> Setting | None:
        """Return the setting of that name, a pickup alone included, or None."""
        listed = next((s for s in self.settings if s.name == name), None)
        if listed is None and self.pickup(name) is not None:
            return _alone(name)
        return listed

    @property
    def present_names(self) -> dict[str, str]:
        """Of each name that a pickup or a setting had, the one it has now."""
        named: tuple[Pickup | Setting, ...] = (*self.pickups, *self.settings)
        return {old: one.name for one in named for old in one.was}

    @property
    def setting_names(self) -> tuple[str, ...]:
        """Every name that `setting` knows: the pickups, then the listed settings."""
        return tuple(dict.fromkeys([*(p.name for p in self.pickups), *(s.name for s in self.settings)]))

    def hears_strings(self, name: str) -> bool:
        """Whether a pickup hears strings at all: a dummy coil does not."""
        pickup = self.pickup(name)
        return pickup is None or pickup.made.hears_strings

    def wants_quiet(self, setting: Setting) -> bool:
        """Whether hum is to cancel in a setting: a coil that hears no string is on for nothing else."""
        return setting.quiet or not all(self.hears_strings(m.pickup) for m in setting.on)

    def circuit_of(self, member: Member) -> str | None:
        """The circuit of a member of a setting; None where its coils are joined as they usually are."""
        pickup = self.pickup(member.pickup)
        if member.circuit is not None or pickup is None or member.coil is not None:
            return member.circuit
        return pickup.circuit

    def member_hums(self, member: Member) -> bool | None:
        """Whether hum does not cancel within a member of a setting; None where it is left in part."""
        pickup = self.pickup(member.pickup)
        if pickup is None or member.coil is not None:
            return True
        made = pickup.made
        if member.circuit is not None:
            made = pickup.model_copy(update={"circuit": member.circuit}).made
        whole = all(coil.weight > MOSTLY or coil.weight == 0 for coil in made.coils)
        return made.hums if whole or not made.hums else None

    def strings_with(self, string: str | None) -> tuple[str, ...]:
        """The strings that `string` is one of, low to high: the job's, or the usual ones; () for none."""
        known = (tuple(self.strings), GUITAR_STRINGS, BASS_STRINGS)
        return next((names for names in known if string in names), ())

    @property
    def main_strings(self) -> tuple[str, ...]:
        """One string of each course, its main one; all strings where there are no courses."""
        return tuple(course[0] for course in self.courses) or self.strings

    def string_place(self, string: str | None) -> int | None:
        """The number of a string from the lowest on, of one course alike; None where it is not known."""
        if self.courses:
            return next((k for k, course in enumerate(self.courses) if string in course), None)
        names = self.strings_with(string)
        return names.index(string) if string is not None and names else None

    def partners(self, string: str | None) -> tuple[str, ...]:
        """The other strings of a string's course."""
        course: tuple[str, ...] = next((c for c in self.courses if string in c), ())
        return course[1:] if course[:1] == (string,) else tuple(n for n in course if n != string)

    def _under(self, lengths: Sequence[float], string: str | None) -> float | None:
        """Of lengths by string that of one string; between the lowest and the highest they go evenly."""
        place, count = self.string_place(string), len(self.main_strings)
        if place is None or not lengths or count < BOTH:
            return None
        if len(lengths) == BOTH:
            return lengths[0] + (lengths[1] - lengths[0]) * place / (count - 1)
        return lengths[place] if place < len(lengths) else None

    def centre_under(self, pickup: Pickup, string: str | None) -> float | None:
        """Millimetres from the saddle to a pickup's centre under a string; their mean where that is open."""
        found = self._under(pickup.centres_mm, string)
        return pickup.centre_mm if found is None else found

    def pole_under(self, pickup: Pickup, string: str | None) -> int | None:
        """The sign of the pole under a string, against the lowest one's; None where that is not known."""
        poles, names = pickup.made.poles, self.strings_with(string)
        if len(set(poles)) < BOTH:
            return 1
        place = self.string_place(string) if names else None
        return poles[place] if place is not None and place < len(poles) else None

    def string_kinds(self) -> tuple[str | None, ...]:
        """One string for each way in which the pickups differ under it; (None,) where they do not."""
        odd = [p for p in self.pickups if p.made.by_string]
        over = next((c.under[0] for p in odd for c in p.made.coils if c.under), None)
        names = tuple(self.strings) or self.strings_with(over) or GUITAR_STRINGS
        if not odd:
            return (None,)
        ways = {n: tuple((self.pole_under(p, n), self.coil_under(p, n)) for p in odd) for n in names}
        return tuple(n for k, n in enumerate(ways) if ways[n] not in list(ways.values())[:k])

    def coil_under(self, pickup: Pickup, string: str | None) -> int | None:
        """The coil that lies under a string alone; None where each lies under all, or none under this."""
        return next((c.number for c in pickup.made.coils if c.under is not None and string in c.under), None)

    def sounding_mm(self, *, fret: int = 0, string: str | None = None) -> float | None:
        """Return the sounding length of a string stopped at `fret`; None where the scale is not known.

        Of the mean scale where strings differ and `string` is left out.
        """
        if not 0 <= fret <= HIGHEST_FRET:
            raise ValueError(f"fret {fret} is not from 0 to {HIGHEST_FRET}")
        scale = self._under(self.scales_mm, string) or self.scale_mm
        return None if scale is None else float(scale / 2 ** (fret / 12))
