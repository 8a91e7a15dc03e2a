"""The sentences for what came of the work, and for what is heard against it (reports.model.work_notes).

`work_sentence` is the way from a note to its text.
"""

from __future__ import annotations

from shlex import quote
from typing import assert_never

from reports.messages.commands import quoted, voids
from reports.model.work_notes import (
    AnyWorkNote,
    EnteredTurned,
    EnterWiring,
    NamedLeads,
    ReadElsewhere,
    SettingResult,
    SettleWork,
    WorkContradicted,
    WorkResult,
)

WORK_RESULTS = {
    "as planned": "The harness came out as planned, as heard after the work: {}.",
    "as planned so far": (
        "So far the harness came out as planned; {} not heard well enough yet after the work."
    ),
    "not as planned": (
        "The harness did NOT come out as planned: {}. Look at the joints there before it is closed."
    ),
    "not recorded": (
        "Whether the harness came out as planned cannot be said: {} not heard well enough yet after the work."
    ),
    "not entered": (
        "No change is entered in the log, so whether the work came out as planned cannot be said. Heard "
        "after it: {}. Enter what was changed: coilwise change FOLDER PICKUP LEAD=hot "
        "LEAD=ground --before ENTRY, with the first entry after it."
    ),
    "as found": "Every setting does what it is for, as when it was found, and no change is entered: {}.",
    "against the log": (
        "Heard after the work: {}. That is what was aimed at, but not what the log's entries make of it, so "
        "whether it came out as planned cannot be said yet."
    ),
}
NOTHING_ENTERED = (
    " No change is entered; if nothing was soldered yet, its takes and readings are not from after the work: "
    "enter them as found, with --instead."
)
OPEN_RESULTS = frozenset(("as planned so far", "not recorded"))
IS_NOT = '"{}" was to be {} and is {}'
IS_NOT_QUIET = '"{}" was to be quiet and hums'
IS = '"{}" is {}'
HUM_HEARD = {"cancels": ", its hum cancels", "hums": " and hums", "unknown": ", its hum not known yet"}

WORK_ENTERED = (
    "most likely the change entered at {pickups} ({changes}) was not made{elsewhere}; else what was found "
    "before the work was wrong, or what was recorded after it ({heard})"
)
ELSEWHERE = ", or was made at another pickup ({})"
WORK_NOT_ENTERED = (
    "most likely the leads of {pickups} were exchanged and no change was entered; else what was found before "
    "the work was wrong, or what was recorded after it ({heard})"
)
SETTLE_ENTERED = (
    "Look at the joints of {pickups}. Not changed: {undo}. {elsewhere}Changed as entered: what was found "
    "before is wrong, {redo}."
)
SETTLE_ELSEWHERE = "Changed at another pickup: that, and {}. "
SETTLE_NOT_ENTERED = (
    "Look at the joints. Changed: {enter}. Nothing changed: what was found before is wrong, {redo}."
)
CHANGE = "coilwise change FOLDER {} {}=hot {}=ground --before {}"
READ_ELSEWHERE = (
    "{entry} was probably read at another pickup: its {kohm} at rest are those of {fits}, and {pickup} reads "
    "{usual}. If so, enter it there in one go: {enter}. If it was a slip: {back}."
)
ENTER_READING = "coilwise meter FOLDER {} --move {} --reading {} --red {} --kohm {:.4g} --instead {}"
ENTERED_TURNED = (
    "In {takes} {sleeve} of {pickup} was on the tip, as entered, and in {others} {tip}; the two contradict "
    "each other. If the clips were on as in the others, enter {takes} anew with {on} and --instead. If they "
    "were turned over for it, read the leads of {pickup} anew, clip on again, and record one more take "
    "(enter it with --clips-anew)."
)
ENTER_WIRING = (
    "Enter how {} was wired in, also where nothing was exchanged: {}. Until then what was recorded after the "
    "work counts as through clips, for the leads may have been read wrongly."
)


def work_sentence(note: AnyWorkNote) -> str:
    """The sentence for a note."""
    match note:
        case WorkResult():
            return _work_result(note)
        case WorkContradicted():
            return _work_contradicted(note)
        case SettleWork():
            return _settle_work(note)
        case ReadElsewhere():
            return READ_ELSEWHERE.format(
                entry=note.entry,
                pickup=note.pickup,
                fits=note.fits,
                kohm=f"{note.kohm:.3g} k",
                usual=f"{note.usual_kohm:.3g} k",
                enter=ENTER_READING.format(
                    quote(note.fits), note.move, note.reading, quote(note.red), note.kohm, note.entry
                ),
                back=voids((note.entry,)),
            )
        case EnteredTurned():
            return ENTERED_TURNED.format(
                takes=" and ".join(note.takes),
                others=", ".join(note.others),
                pickup=note.pickup,
                tip=note.tip,
                sleeve=note.sleeve,
                on="--on " + quote(f"{note.pickup}:{note.tip}/{note.sleeve}"),
            )
        case EnterWiring():
            return ENTER_WIRING.format(note.leads.pickup, _change(note.leads, note.first_after))
        case _:
            assert_never(note)


def _work_result(note: WorkResult) -> str:
    if note.code in OPEN_RESULTS:
        names = quoted((s.setting for s in note.settings), " and ")
        said = f"{names} {'was' if len(note.settings) == 1 else 'were'}"
    elif note.code == "not as planned":
        said = "; ".join(map(_missed, note.settings))
    else:
        said = ", ".join(
            IS.format(s.setting, s.after) + ("" if s.hum is None else HUM_HEARD[s.hum]) for s in note.settings
        )
    also = "" if note.entered or note.code != "not as planned" else NOTHING_ENTERED
    return WORK_RESULTS[note.code].format(said) + also


def _missed(result: SettingResult) -> str:
    if result.after not in (result.planned, "unknown"):
        return IS_NOT.format(result.setting, result.planned, result.after)
    return IS_NOT_QUIET.format(result.setting)


def _work_contradicted(note: WorkContradicted) -> str:
    pickups, heard = " or ".join(note.pickups), ", ".join(note.heard)
    if not note.changes:
        return WORK_NOT_ENTERED.format(pickups=pickups, heard=heard)
    elsewhere = ELSEWHERE.format(" or ".join(note.others)) if note.others else ""
    return WORK_ENTERED.format(
        pickups=" and ".join(note.pickups),
        changes=", ".join(note.changes),
        elsewhere=elsewhere,
        heard=heard,
    )


def _settle_work(note: SettleWork) -> str:
    changes = ", or ".join(_change(one, note.first_after) for one in note.exchanged)
    redo = voids(note.before)
    if not note.cause.changes:
        return SETTLE_NOT_ENTERED.format(enter=changes, redo=redo)
    return SETTLE_ENTERED.format(
        pickups=" and ".join(note.cause.pickups),
        undo=voids(note.cause.changes),
        elsewhere=SETTLE_ELSEWHERE.format(changes) if changes else "",
        redo=redo,
    )


def _change(leads: NamedLeads, before: str) -> str:
    return CHANGE.format(
        quote(leads.pickup), quote(leads.hot or "LEAD"), quote(leads.ground or "LEAD"), before
    )
