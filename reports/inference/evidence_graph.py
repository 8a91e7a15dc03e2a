"""The evidence graph: which unknown signs and latent errors each piece of evidence is about.

Variables, all binary (index 0: +1, or "did not happen"): the sign ``s`` or ``w`` of each pickup or coil in
each era of its wiring, and latent errors, each with its prior (reports.inference.error_priors). A piece of
evidence has factors over the product of some of them: an error that happened turns over all evidence that
shares it, which is what makes two takes through one clip-up less than independent. A coil is tied to its
pickup by a factor with an error of its own ("inner joint", "inner winding"). Weights that depend on how
probable single mistakes are (a stroke the other way) are a `RatedFactor`.

Errors have parents, which are errors of their own that flip the same evidence: one habit behind all clip-ups
of a pickup, one hand behind its plucks and presses, one drawer behind several tools. A pickup's sign is that
under all strings: takes on one kind of string alone (each second one, or one half of a bass) leave open that
its poles alternate or its halves oppose each other.

What stands between the names of leads and what was under the clips is in reports.inference.clips.

`ClipUps` and `MeterClipUps` number the clip-ups as the log says them: a new one is what a person said
(``anew``); the order of entries says nothing, since at a bench the clips stay on and the plug is moved.
Recordings and meter readings have clips of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from capture.job import Job, note_hz
from capture.job.model import HIGHEST_BASS_HZ, LOWEST_GUITAR_HZ
from capture.log import LeadsInput, Meter, Pole, Take
from reports.evidence.leads import LeadHistory, LeadView
from reports.evidence.paths import BenchPaths, ClipLead
from reports.evidence.results import NO_RIG, ChannelSource
from reports.inference.clips import connection_errors
from reports.inference.error_priors import SINGLE_ERRORS, USUAL, ErrorRates
from reports.inference.factor_graph import Factor, Tables, Variable, prior_factor, product_factor
from reports.model.gestures import SignLetter, gesture_row
from reports.model.notes import (
    BenchError,
    ErrorKind,
    ErrorSubject,
    OnInput,
    OnPickups,
    OnRig,
    OnString,
    OnTool,
)
from reports.ohms.coil_ends import upper_coil


class _Named:
    """A variable of the graph. It is looked up so often that its hash is kept (in this process alone)."""

    _hash: int

    def __hash__(self) -> int:
        try:
            return self._hash
        except AttributeError:
            # dataclasses alone derive from this, which mypy cannot see
            own = tuple(getattr(self, f.name) for f in fields(self) if f.compare is not False)  # type: ignore[arg-type]
            object.__setattr__(self, "_hash", hash(own))
            return self._hash

    def __getstate__(self) -> dict[str, object]:
        return {name: value for name, value in self.__dict__.items() if name != "_hash"}


@dataclass(frozen=True)
class LatentError(_Named):
    """A binary variable: an error of this kind happened. ``key`` tells those of a kind apart."""

    kind: ErrorKind
    key: tuple[str, ...]
    subject: ErrorSubject = field(compare=False)

    __hash__ = _Named.__hash__

    @property
    def error(self) -> BenchError:
        """The error as the verdict names it."""
        return BenchError(self.kind, self.subject)

    def __str__(self) -> str:
        """Text used as a sort key: kind, then key."""
        return f"hidden {self.kind} {self.key}"


@dataclass(frozen=True)
class UnknownSign(_Named):
    """A variable for one unknown sign.

    ``letter``: "s" or "w" of a pickup or coil, "meter" (the sense in which the meter swings),
    "stage" (whether an active stage inverts) or "pull of <tool>" (what a magnetised tool shows). ``era`` -1
    is the wiring now.
    """

    letter: str
    pickup: str
    coil: int | None = None
    era: int = -1

    __hash__ = _Named.__hash__

    def __str__(self) -> str:
        """Text used as a sort key: kind, then key."""
        return f"sign {self.letter} {self.pickup} {self.coil} {self.era}"


@dataclass(frozen=True)
class HeardSign(_Named):
    """The sign with which a channel hears a pickup: the product of ``variables`` and ``sign``."""

    variables: tuple[Variable, ...]
    sign: int

    __hash__ = _Named.__hash__

    def __str__(self) -> str:
        """Text used as a sort key."""
        return f"heard {self.sign} {[str(v) for v in self.variables]}"


@dataclass(frozen=True, eq=False)
class RatedFactor:
    """A factor whose weights depend on how probable single mistakes are.

    ``weights`` gives them at some rates. They are likelihoods up to a constant that is the same at all rates.
    """

    variables: tuple[Variable, ...]
    weights: Callable[[ErrorRates], NDArray[np.float64]]
    _made: dict[tuple[float, ...], Factor] = field(default_factory=dict)

    def at(self, rates: ErrorRates) -> Factor:
        """The factor at these rates."""
        single = tuple(rates.of(kind) for kind in SINGLE_ERRORS)
        if single not in self._made:
            self._made[single] = Factor(self.variables, self.weights(rates))
        return self._made[single]


@dataclass(frozen=True, eq=False)
class Evidence:
    """One piece of evidence by a method, about ``pickups``, with the takes or entries it is from.

    ``letter`` is the sign it is about, "s" or "w"; "channels" for the inputs alone.
    """

    method: str
    factors: tuple[Factor | RatedFactor, ...]
    pickups: frozenset[str]
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    letter: str = "s"


@dataclass(eq=False)
class EvidenceGraph:
    """All evidence with the latent errors it names; ``ties`` join what is heard, and coils, to pickups."""

    history: LeadHistory
    evidence: list[Evidence] = field(default_factory=list)
    errors: dict[LatentError, None] = field(default_factory=dict)
    ties: dict[Variable, Factor] = field(default_factory=dict)
    paths: BenchPaths = field(default_factory=BenchPaths)

    def latent_error(self, kind: ErrorKind, *key: str, on: ErrorSubject) -> LatentError:
        """The latent error of that kind and key."""
        error = LatentError(kind, key, on)
        self.errors.setdefault(error, None)
        return error

    def add_sign_variables(self, view: LeadView, *, letter: str = "s") -> tuple[tuple[Variable, ...], int]:
        """Return the variables whose product this entry measures, and the sign (+1 or -1) of that product.

        Adds to the graph the latent errors and coil ties they need. Coils that are not joined yet are tied to
        nothing.
        """
        era, on = -1 if view.now else view.era, OnPickups((view.pickup,))
        sign = UnknownSign(letter, view.pickup, view.coil, era)
        variables: list[Variable] = [sign]
        if view.pickup not in self.history.unjoined:
            self._tie_coils(sign)
        elif view.coil is not None and letter == "s" and view.now and sign not in self.ties:
            signs, share = self.history.joined.get(view.pickup), self._share(view.pickup, view.coil)
            if signs is not None and share is not None:
                whole = UnknownSign("s", view.pickup, None, era)
                joint = self.latent_error("inner joint", view.pickup, str(view.coil), on=on)
                work = self.latent_error("work", view.pickup, on=on)
                over = share * signs[view.coil - 1]
                self.ties[sign] = product_factor((sign, whole, joint, work), over * np.inf)
        if view.now and view.before_work:
            variables.append(self.latent_error(self._work_doubt(view.pickup), view.pickup, on=on))
            if view.unnamed:
                variables.append(self.latent_error("unnamed change", view.pickup, on=on))
        return tuple(variables), -1 if view.turned else 1

    def _tie_coils(self, sign: UnknownSign) -> None:
        """Tie a coil's sign to that of its pickup, or of the other coil, as the pickup is built."""
        pickup = self.history.job.pickup(sign.pickup)
        made = None if pickup is None else pickup.made
        in_halves = made is not None and made.layout == "halves"
        if sign in self.ties or (sign.coil is None and not (in_halves and sign.letter == "s")):
            return
        on = OnPickups((sign.pickup,))
        whole, *coils = (replace(sign, coil=k) for k in (None, 1, 2))
        if in_halves:
            # one joint made the other way round exchanges the leads of one half: strings and hum alike
            joint = self.latent_error("inner joint", sign.pickup, "halves", on=on)
            tie = product_factor((*coils, joint), np.inf if sign.letter == "s" else -np.inf)
            if sign.letter == "s":
                tie = Factor((whole, *tie.variables), _AS_BOTH[..., np.newaxis] + tie.log)
                self.ties[whole] = tie
            self.ties |= dict.fromkeys(coils, tie)
        elif sign.letter == "w" and made is not None and made.count > len(coils):
            winding_error = self.latent_error("inner winding", sign.pickup, str(sign.coil), on=on)
            built = made.coil(sign.coil or 1)
            same = built is None or built.w_in_whole == made.coils[0].w_in_whole
            if sign.coil != 1:
                tie = product_factor((coils[0], sign, winding_error), np.inf if same else -np.inf)
                self.ties[sign] = tie
        elif sign.letter == "w":
            winding_error = self.latent_error("inner winding", sign.pickup, on=on)
            self.ties |= dict.fromkeys(coils, product_factor((*coils, winding_error), -np.inf))
        elif (share := self._share(sign.pickup, sign.coil or 1)) is not None:
            joint = self.latent_error("inner joint", sign.pickup, str(sign.coil), on=on)
            self.ties[sign] = product_factor((sign, whole, joint), share * np.inf)
        else:
            # a stack of which nobody said which coil is above: the two oppose each other on the strings
            joint = self.latent_error("inner joint", sign.pickup, "stack", on=on)
            self.ties |= dict.fromkeys(coils, product_factor((*coils, joint), -np.inf))

    def _share(self, pickup: str, coil: int) -> int | None:
        """The sign with which a coil's strings are in the whole as it was built; None: not known."""
        known = self.history.job.pickup(pickup)
        if known is None:
            return 1
        if known.made.layout != "stacked":
            built = known.made.coil(coil)
            return 1 if built is None else built.s_in_whole
        upper = upper_coil(known, self.history.unjoined.get(pickup))
        return None if upper is None else 1 if upper == coil else -1

    def _work_doubt(self, pickup: str) -> ErrorKind:
        """What may have turned a pickup over since what was found before the work."""
        if pickup in self.history.changed or not self._fitted(pickup):
            return "work"
        return "no work" if self.history.changed else "work not entered"

    def factors(
        self, evidence: Iterable[Evidence], *, also: Iterable[Variable] = (), rates: ErrorRates = USUAL
    ) -> list[Factor]:
        """Factors of some pieces, with the priors of the mistakes they share and the ties of coils.

        ``also`` are signs that are asked for, though no piece names them.
        """
        pieces, errors = self._pieces(evidence, also)
        found = [f if isinstance(f, Factor) else f.at(rates) for f in pieces]
        return [*found, *(prior_factor(h, rates.of(h.kind)) for h in errors)]

    def tables(
        self, evidence: Iterable[Evidence], *, also: Iterable[Variable] = (), rates: Sequence[ErrorRates]
    ) -> Tables:
        """The same at several rates at once."""
        pieces, errors = self._pieces(evidence, also)
        logs = [
            f.log[np.newaxis] if isinstance(f, Factor) else np.stack([f.at(r).log for r in rates])
            for f in pieces
        ]
        for error in errors:
            p = np.array([r.of(error.kind) for r in rates])
            logs.append(np.log(np.stack([1 - p, p], axis=1)))
        scopes = (*(f.variables for f in pieces), *((h,) for h in errors))
        return Tables(scopes, tuple(logs), len(rates))

    def _pieces(
        self, evidence: Iterable[Evidence], also: Iterable[Variable]
    ) -> tuple[list[Factor | RatedFactor], list[LatentError]]:
        """The factors of some evidence with the ties of what they are about, and its latent errors."""
        found = [f for piece in evidence for f in piece.factors]
        variables = dict.fromkeys([*(v for f in found for v in f.variables), *also])
        ties = self._ties_of(variables)
        variables |= dict.fromkeys(v for tie in ties for v in tie.variables)
        return [*found, *ties], [h for h in self.errors if h in variables]

    def heard(self, observation: Observation) -> HeardSign:
        """The variable for the sign with which an observation hears its pickup, tied to what makes it."""
        variable = HeardSign(observation.variables, observation.sign)
        self.ties.setdefault(
            variable, product_factor((variable, *observation.variables), observation.sign * np.inf)
        )
        return variable

    def variables_of(self, piece: Evidence) -> set[Variable]:
        """Every variable that a piece of evidence is about, through its ties too."""
        own = {v: None for f in piece.factors for v in f.variables}
        return {*own, *(v for tie in self._ties_of(own) for v in tie.variables)}

    def _ties_of(self, variables: Iterable[Variable]) -> list[Factor]:
        """The ties of some variables, and those of what they are tied to; each once, in their order."""
        found: dict[int, Factor] = {}
        open_variables = [v for v in variables if v in self.ties]
        while open_variables:
            tie = self.ties[open_variables.pop()]
            if id(tie) not in found:
                found[id(tie)] = tie
                open_variables += [v for v in tie.variables if v in self.ties]
        return [t for t in {id(t): t for t in self.ties.values()}.values() if id(t) in found]

    def _fitted(self, name: str) -> bool:
        pickup = self.history.job.pickup(name)
        return pickup is None or pickup.fitted


_EVEN = np.log(0.5)
_AS_BOTH = np.array([[[0.0, _EVEN], [_EVEN, -np.inf]], [[-np.inf, _EVEN], [_EVEN, 0.0]]])
"""Log weights of a whole's sign, and of its halves': that of both, and none where these oppose each other."""


def current_sign(pickup: str, *, letter: str = "s") -> UnknownSign:
    """The sign of a pickup as it is wired now."""
    return UnknownSign(letter, pickup)


@dataclass(eq=False)
class ClipUps:
    """Walks the takes in order; ``of`` numbers the clip-ups of each pickup up to a take."""

    job: Job
    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, take: Take) -> Mapping[str, int]:
        """The number of the clip-up that each pickup is in at this take; 0 where it was never put on anew."""
        if take.anew:
            self._counts.update({name for item in take.inputs for name in _pickups_of(self.job, item)})
        return Counter(self._counts)

    def copy(self) -> ClipUps:
        """The same, to walk on from here."""
        return ClipUps(self.job, Counter(self._counts))


@dataclass(eq=False)
class MeterClipUps:
    """Walks the meter readings in order; ``of`` names the clip-up of each."""

    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, reading: Meter) -> str:
        """The clip-up of a reading: the leads under the clips, and how often they were put on anew."""
        self._counts[reading.pickup] += reading.anew
        return f"{reading.red} {reading.black or ''} {self._counts[reading.pickup]}"

    def first(self, reading: Meter) -> bool:
        """Whether the clips were not put on anew up to this reading."""
        return self._counts[reading.pickup] == 0


def _pickups_of(job: Job, item: object) -> frozenset[str]:
    if isinstance(item, LeadsInput):
        return frozenset((item.pickup,))
    names = item if isinstance(item, tuple) else (item,)
    settings = (job.setting(name) for name in names if isinstance(name, str))
    return frozenset(m.pickup for s in settings if s is not None for m in s.on)


@dataclass(frozen=True)
class Observation:
    """What one channel of one take shows: variables, sign, and the pickup it is about."""

    pickup: str
    variables: tuple[Variable, ...]
    sign: int
    column: int

    @property
    def coil(self) -> int | None:
        """The coil that it is about; None for the whole pickup."""
        return next((v.coil for v in self.variables if isinstance(v, UnknownSign)), None)


def observation_of(
    graph: EvidenceGraph,
    entry: Take,
    source: ChannelSource,
    *,
    clip_up_of: Mapping[str, int],
    letter: SignLetter = "s",
) -> Observation | None:
    """What a station of a take shows; None where its leads are not known.

    ``clip_up_of`` numbers the clip-up that each pickup is in at this take.
    """
    history = graph.history
    if history.is_loose(entry, source.pickup):
        source = replace(source, through_clips=True)
    item = entry.inputs[source.column]
    if isinstance(item, LeadsInput):
        view = history.seen_at_leads(entry, item.pickup, hot=item.hot, ground=item.ground)
        if view is None:
            return None
    elif source.coil is not None and source.pickup in history.unjoined:
        return None
    else:
        view = history.seen(entry, source.pickup, coil=source.coil, turned=source.reversed)
    under = (view, 1) if letter == "w" else under_string(graph, entry, view)
    if under is None:
        return None
    view, pole = under
    variables, sign = graph.add_sign_variables(view, letter=letter)
    sign *= pole
    errors: list[Variable] = []
    if source.through_clips:
        errors += connection_errors(graph, entry, source.pickup, item, clip_up_of.get(source.pickup, 0))
    errors += _on_the_path(graph, entry, source, letter=letter)
    if source.column > 0:
        errors.append(channel_error(graph, entry, source.column))
    return Observation(source.pickup, (*variables, *errors), sign, source.column)


def under_string(
    graph: EvidenceGraph, entry: Take | Meter | Pole, view: LeadView
) -> tuple[LeadView, int] | None:
    """``view`` with the coil under the string of an entry, and the sign of the pole there.

    None where the string is not heard, or where it decides and was not said.
    """
    job = graph.history.job
    pickup = job.pickup(view.pickup)
    if pickup is None:
        return view, 1
    made = pickup.made
    if not made.hears_strings:
        return None
    coil, pole = job.coil_under(pickup, entry.string), job.pole_under(pickup, entry.string)
    if made.layout == "halves":
        if {view.coil, coil} == {None} or (None not in (view.coil, coil) and view.coil != coil):
            return None
        view = replace(view, coil=coil if view.coil is None else view.coil)
    return None if pole is None else (view, pole)


def _on_the_path(
    graph: EvidenceGraph, entry: Take, source: ChannelSource, *, letter: SignLetter
) -> list[Variable]:
    """What may turn a channel over between the pickup and the file, but for the input itself."""
    found: list[Variable] = []
    lead = graph.paths.clip_lead(entry, source)
    if lead is not None:
        found.append(clip_lead_error(graph, lead))
    pickup = graph.history.job.pickup(source.pickup)
    loose = graph.history.is_loose(entry, source.pickup)
    if loose and letter == "s" and gesture_row(entry.gesture).sounds_string:
        found.append(side_error(graph, source.pickup))
    at_leads = isinstance(entry.inputs[source.column], LeadsInput)
    if pickup is not None and pickup.active and (loose or not at_leads) and not source.bypassed:
        found.append(stage_sign(source.pickup if loose else ""))
    rig = entry.rig or NO_RIG
    if (rig, source.pickup) in graph.paths.late:
        found.append(graph.latent_error("late path", rig, source.pickup, on=OnPickups((source.pickup,))))
    if entry.id in graph.paths.said_one:
        recorder = graph.paths.said_one[entry.id]
        found.append(graph.latent_error("other recorder", recorder, on=OnRig(recorder)))
    return found


def clip_lead_error(graph: EvidenceGraph, lead: ClipLead) -> LatentError:
    """The chance that a clip lead has red on the sleeve."""
    if lead.pickup is not None:
        return graph.latent_error("clip lead", lead.rig, "of", lead.pickup, on=OnPickups((lead.pickup,)))
    return graph.latent_error("clip lead", lead.rig, str(lead.input), on=OnInput(lead.input, lead.rig))


def drawer_error(graph: EvidenceGraph) -> LatentError:
    """The chance that all tools of the bench lay on one magnet."""
    return graph.latent_error("magnetised drawer", on=OnTool("of the drawer"))


def side_error(graph: EvidenceGraph, pickup: str) -> LatentError:
    """The chance that a loose pickup was held over the strings: they leave it where others see them come."""
    return graph.latent_error("held over the strings", pickup, on=OnPickups((pickup,)))


def stage_sign(pickup: str) -> UnknownSign:
    """The sign of an active stage: behind the jack (an empty name), or of one loose pickup.

    Pickups that are heard through one jack share its stage, so between these it cancels.
    """
    return UnknownSign("stage", pickup)


def pole_errors(graph: EvidenceGraph, pickup: str, strings: Iterable[str | None]) -> list[LatentError]:
    """What is left open by takes on one kind of string alone; nothing where all kinds were heard.

    Nor what was said of this pickup or of another: who enters one in halves has looked at the rest, and what
    is left of the doubt (one in twenty overlooked, of 0.003) is too small to count.
    """
    heard = {string_kind(graph.history.job, s) for s in strings}
    on = OnPickups((pickup,))
    errors: list[LatentError] = []
    known = graph.history.job.pickup(pickup)
    if known is not None and (known.poles is not None or known.made.by_string):
        return errors  # how its poles stand was said
    said = {p.made.layout == "halves" for p in graph.history.job.pickups if p.made.by_string}
    if False not in said and len(by_turns := {turn for turn, _ in heard}) == 1:
        errors.append(graph.latent_error("poles alternate", pickup, *by_turns, on=on))
    if True not in said and len(halves := {half for _, half in heard}) == 1 and halves != {""}:
        errors.append(graph.latent_error("halves opposed", pickup, *halves, on=on))
    return errors


def string_kind(job: Job, string: str | None) -> tuple[str, str]:
    """Whether a string is an odd or an even one, and in which half of a bass ("" for a guitar)."""
    names = job.strings_with(string)
    if string is None or not names:
        return "unnamed", ""
    place = job.string_place(string)
    if place is None:
        return "unnamed", ""
    if note_hz(names[0]) > LOWEST_GUITAR_HZ or note_hz(names[-1]) > HIGHEST_BASS_HZ:
        return ("even", "odd")[place % 2], ""
    of_four = [n for n in names if n not in ("B0", "C3")]
    half = "" if string not in of_four else ("low", "high")[of_four.index(string) >= len(of_four) / 2]
    return ("even", "odd")[place % 2], half


def channel_error(graph: EvidenceGraph, entry: Take, column: int) -> LatentError:
    """The chance that an input inverts against the first one."""
    rig = entry.rig or NO_RIG
    return graph.latent_error("channels", rig, str(column), on=OnInput(column + 1, rig))


def sideways_error(graph: EvidenceGraph, pickup: str, string: str, *, ringing: bool = False) -> LatentError:
    """The chance that a string moved sideways at a pickup whose poles it does not run over.

    ``ringing``: some time after the pluck, and not right from it.
    """
    kind: ErrorKind = "sideways ringing" if ringing else "sideways string"
    return graph.latent_error(kind, pickup, string, on=OnString(string, pickup))
