"""What to do next: the take or reading that would settle a pair, and the words for conflicts.

Task: from what keeps a pair from being surer, or from two methods that contradict each other, to one
sentence with one action. Signs: none. Wording of advice stands here alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from reports.inference.error_priors import ERROR_PRIORS, ErrorKind
from reports.inference.evidence_graph import Evidence, LatentError, UnknownSign
from reports.inference.posterior import MethodPosterior, Posterior, log_ratio, opposed_evidence
from reports.model.verdict import Conflict, standing_of

SAYS = 0.8
"""From here on a method says something, for a conflict."""
CLEARLY = 1.0
"""From here on, in nats, one paired pluck contradicts another."""
CLOSE = 0.6
"""Mistakes this close to the likeliest are named with it."""
MOST_NAMED = 2

NEXT: dict[ErrorKind, str] = {
    "clips": (
        "Take the clips off {}, read its leads anew, clip on again and record one more take "
        "(enter it with --clips-anew)."
    ),
    "colours": "Trace the leads of {} to its coil, or have someone else read them, then measure once more.",
    "meter leads": (
        "Check which meter lead is on hot at {}, exchange the meter leads, and read the swing once more."
    ),
    "misread swing": (
        "Read the swing at {} once more, on a fixed range, pulling the tool away slowly and then fast."
    ),
    "hand": (
        "Record {} once more, pushing the string towards the body and letting go, or pull a steel"
        " tool off its pole."
    ),
    "magnetised tool": (
        "Take another tool, one that lifts no staple, and record one more lift on each pickup."
    ),
    "channels": "Do the split check: record one pickup into both inputs at once, with {} as it is.",
    "compass": "Check the compass against a magnet you know, and read the pole once more at {}.",
    "sideways string": "Pluck another string too, pushed towards the body (heard so far: {}).",
    "sideways ringing": (
        "Record one more switch take on another string, pushed towards the body and moved sooner (heard so "
        "far: {})."
    ),
    "one pickup twice": (
        "Tap each pickup's cover alone to see that each moves its own input, then record once more ({})."
    ),
    "work": "Open the joint at {} and compare it with the log.",
    "no work": "Compare the wiring of {} with what was found.",
    "inner joint": "Record the two coils of {} one after the other.",
    "coil's face": "Hold the driven coil over {} once more, the marked face down, and record again.",
    "inner winding": "Record hum on each coil of {} alone and on both.",
    "settings": (
        "Tap each pickup's cover with a screwdriver in each position of the selector ({}), and correct the "
        "settings in job.toml if another one answers."
    ),
    "same setting twice": (
        "Tap the covers of {} with a screwdriver to see which answers in which position, and record again."
    ),
    "profile": "Record a switch take through {} on E2 or A2: it does not rest on the harmonics' levels.",
    "capacitive hum": (
        "Turn the guitar by a quarter turn, where it hums louder or softer, and record hum once more on the "
        "same settings ({})."
    ),
}
NOTHING_YET = "Nothing yet connects them."
PAIR_THEM = (
    "Record one pluck with {a} on input 1 and {b} on input 2, or one pluck each in turn on the same string; "
    "for two loose, healthy, passive pickups the meter's swing is quicker."
)
SWITCH_THEM = (
    "Pluck E2 or A2 over the neck, wait half a second, move the selector from {a} to {b} in one go, and let "
    "it ring on for a second and a half (a switch take); twice, on two strings."
)
ASK_HUM = (
    '"{}" is meant to be quiet, and its hum is not known: damp the strings and record hum on each of its '
    "pickups alone and on this setting."
)
MORE_HUM = (
    '"{}" is meant to be quiet, and its hum is not settled: turn the guitar by a quarter turn, near a mains '
    "transformer, and record hum once more on each of its pickups alone and on this setting."
)
TOO_LITTLE = "What was heard and measured so far leans too little to either side."
ONE_MORE = "Record two more takes of {a} and {b} on another string, plucked towards the body."
ONE_METHOD = "One thing could still turn it over: {}."
AFTER_CHANGE = (
    "The log says that the leads of {} were changed. Once it is soldered, record each pickup at the "
    "jack with --stage after, to see that it came out as planned."
)
PROMISED = "{} That is with the leads as changed in the log; it has not been heard yet."
RECORDINGS_LOST = "Recordings of this job are missing or changed ({}), so there is no answer."
PUT_BACK = (
    "Put the recordings back as they were (is the disk plugged in?): {}. Those that are gone for good are "
    "taken out with coilwise void."
)
WITHOUT_LOST = "This rests on what is left: recordings of the job are missing or changed."
BETWEEN_TAKES = (
    "two of the takes contradict each other: one was probably entered wrongly or its pickup mistaken"
)


def next_for(posterior: Posterior, a: str, b: str, *, p: float | None) -> tuple[str, str]:
    """(why the pair is not settled, what to do next) for a pair that is not settled."""
    if p is None:
        return NOTHING_YET, (SWITCH_THEM if _on_one_jack(posterior, a, b) else PAIR_THEM).format(a=a, b=b)
    cap = posterior.cap(a, b)
    if cap is None or standing_of(p) == "unsettled":
        return TOO_LITTLE, ONE_MORE.format(a=a, b=b)
    return ONE_METHOD.format(words_of(cap).replace("probably ", "")), NEXT[cap.kind].format(cap.label)


def _on_one_jack(posterior: Posterior, a: str, b: str) -> bool:
    """Whether both are wired in and a selector joins them: then the jack is enough."""
    job = posterior.graph.history.job
    fitted = all((p := job.pickup(name)) is not None and p.fitted for name in (a, b))
    return fitted and any({a, b} <= {m.pickup for m in s.on} for s in job.settings)


def words_of(hidden: LatentError) -> str:
    """A hidden mistake in the bench's words."""
    return ERROR_PRIORS[hidden.kind].words.format(hidden.label)


def conflicts_of(posterior: Posterior, a: str, b: str, methods: Sequence[MethodPosterior]) -> list[Conflict]:
    """Methods that contradict each other on a pair, and takes of one method that do.

    Each method of the smaller party is set against the surest of the larger.
    """
    same = sorted((m for m in methods if m.same >= SAYS), key=lambda m: -m.same)
    opposed = sorted((m for m in methods if m.same <= 1 - SAYS), key=lambda m: m.same)
    fewer, more = sorted((same, opposed), key=len)
    found = [
        _conflict(
            posterior,
            a,
            b,
            between=(odd.method, more[0].method),
            about=(*odd.takes, *odd.entries, *more[0].takes, *more[0].entries),
        )
        for odd in fewer
    ]
    for method in dict.fromkeys(p.method for p in posterior.graph.evidence):
        mine = [p for p in posterior.graph.evidence if p.method == method and {a, b} == set(p.links)]
        if method == "paired pluck":
            loud = [p for p in mine if abs(log_ratio(p)) > CLEARLY]
            agree, against = opposed_evidence(loud)
            if agree and against:
                ids = [t for p in (*agree, *against) for t in p.takes]
                found.append(_conflict(posterior, a, b, between=(method, method), about=ids))
    return found


def meter_conflicts(posterior: Posterior, reference: str) -> list[Conflict]:
    """Pickups on which meter readings contradict each other."""
    found = []
    swings: dict[tuple[str, int | None], list[Evidence]] = {}
    for piece in posterior.graph.evidence:
        if piece.method == "meter swing":
            swings.setdefault((next(iter(piece.links)), _coil_of(piece)), []).append(piece)
    for (pickup, _), evidence in swings.items():
        agree, against = opposed_evidence(evidence)
        if agree and against:
            ids = [e for p in evidence for e in p.entries]
            other = reference if pickup != reference else pickup
            found.append(
                _conflict(posterior, other, pickup, between=("meter swing", "meter swing"), about=ids)
            )
    return found


def _coil_of(piece: Evidence) -> int | None:
    """The coil whose sign a piece is about; None for a whole pickup."""
    signs = (v for f in piece.factors for v in f.variables if isinstance(v, UnknownSign) and v.letter == "s")
    return next((v.coil for v in signs if v.coil is not None), None)


def _conflict(
    posterior: Posterior, a: str, b: str, *, between: tuple[str, ...], about: Sequence[str]
) -> Conflict:
    suspects = [(h, p) for h, p in posterior.suspects() if _concerns(posterior, h, about)]
    if not suspects or suspects[0][1] < 2 * ERROR_PRIORS[suspects[0][0].kind].probability:
        return Conflict(
            between=between, pair=(a, b), likely_cause=BETWEEN_TAKES, next=ONE_MORE.format(a=a, b=b)
        )
    top = suspects[0][1]
    close = [h for h, p in suspects if p >= CLOSE * top][:MOST_NAMED]
    cause = ", or ".join(dict.fromkeys(words_of(h) for h in close))
    return Conflict(
        between=between, pair=(a, b), likely_cause=cause, next=NEXT[close[0].kind].format(close[0].label)
    )


def _concerns(posterior: Posterior, hidden: LatentError, about: Sequence[str]) -> bool:
    """Whether a mistake is shared by the entries in question."""
    wanted = set(about)
    return any(
        hidden in f.variables
        for piece in posterior.graph.evidence
        if wanted & {*piece.takes, *piece.entries}
        for f in piece.factors
    )
