"""What is said while something is entered: what was not understood, what was probably meant, what came of it.

Templates alone; typed text that goes in is plain (`reports.messages.wording.plain`).
"""

from __future__ import annotations

NO_RESISTANCE = '"{text}" is no resistance; write it as 6.6k, 6k6, 6600 or 470 ohm'
ZERO = (
    '"{text}" is a short circuit: are both clips on one lead, or is the meter on another range? '
    "If it really reads nothing, write it as 0 ohm"
)
TOO_MUCH = (
    '"{text}" is more than any pickup reads; did you mean {meant}? '
    "If the meter shows nothing at all, it is open; if it really reads so much, write it as {read}"
)
NO_LENGTH = '"{text}" is no length; write it as 44, 44mm, 44,5 or 1 3/4"'
NO_SUCH_LENGTH = '"{text}" would be {length} mm, and {kind} {low} to {high} mm{along}'
KINDS_OF_LENGTH = {
    "scale": ("scales are", " long, nut to bridge saddle"),
    "place": ("pickups lie", " from the bridge saddle; measure from there, not from the nut"),
}
NOT_AT_REST = (
    '"{text}" is more than any coil reads, and an open one does not swing; did you mean {meant}? '
    "An open circuit is entered with coilwise ohms and --open"
)
NO_SUCH_LEAD = 'pickup "{pickup}" has no lead "{lead}"; red is on hot, ground, {leads}'
OHMS_MISSING = "say what the meter showed behind the two leads: {first} {second} 4.1 (or 4k1), or open"
ROLE_FIRST = '"{word}" is the wrong way round; write the lead first, as in {turned}'
ONLY_ROLES = (
    '"{word}" names no lead; write each lead as you see it and what it is now, as in black=hot white=ground'
)
COMMAS_BETWEEN = '"{text}" is not understood; write what the selector went through with commas: {commas}'
GESTURE_MISSING = "say what was played, with --gesture: {gestures}"
NO_FOLDER_FOR_REPORT = (
    "{path}: is a file, and the report is written into a folder; name a folder, or leave out --to"
)
IN_NO_JOB = "{name}: there is no job.toml here; name the folder of a job: {jobs}"
DID_YOU_MEAN = "; did you mean {meant}?"
OR = " or "

NO_SUCH_JOB = '{name}: there is no such job; {jobs} ("coilwise --help" says what to type)'
NO_JOBS = 'no job lies in {here} or its recordings/; "coilwise new NAME" begins one'
JOBS = "there are {named}{more}"
MORE_JOBS = " and {count} more"
NAME_FOR = {
    "new": 'give the new job a name, as in "coilwise new sunday"',
    "summary": 'name the folder that the jobs lie in, as in "coilwise summary recordings"',
}
"""What is said of a missing folder by commands that do not work on a job that is there."""
NAME_THE_JOB = 'name the job: {jobs} ("coilwise --help" says what to type)'

ENTERED = "{id}: {what}."
ACCEPTED = "{id}: accepted ({what})."
NOT_ACCEPTED = "{id}: does NOT count ({what}). {why}"
WITH_REMARK = "{id}: accepted ({what}). Mind: {why}"
SEVERAL = "{count} takes"
COUNT = "{count} accepted, {refused} not."

CHANGED = {
    "exchanged": (
        "Understood: hot and ground of {pickup} are exchanged against before. If they are not: {back}."
    ),
    "taken for an exchange": (
        "Understood: the leads of {pickup} had no names before, so this is taken for an exchange of hot and "
        'ground. If nothing was exchanged, take it back ({back}), and write hot = "{hot}" and ground = '
        '"{ground}" into job.toml.'
    ),
    "as it was": (
        "Understood: {pickup} is wired in with its leads as they were; nothing is exchanged. If hot and "
        "ground were exchanged, take it back ({back}), and enter it with the other lead as hot."
    ),
    "not carried": (
        "Understood: which of these leads of {pickup} was hot before is not known, so what was recorded of "
        "it before does not count for how it is now. If that is not so, take it back ({back}), and write its "
        "leads as they were into job.toml first."
    ),
}
"""What an entered change of leads is understood as."""

NOTHING_TO_TAKE_BACK = "there is nothing to take back: no entry counts"
NO_SUCH_ENTRY = 'there is no entry "{id}" to void; "coilwise list" shows the ids'
VOID_ALREADY = "{id} is void already (by {by}); nothing was written"
COUNTS_NO_MORE = "{id} does not count from here on"
COUNTS_ALREADY = "{id} counts already; nothing was written"
COUNTS_AGAIN = "{id} counts again"
REPLACES = "entered anew"
NO_INSTEAD = '--instead: "{id}" is a {kind}, and this is a {new}; name one of its kind, or: last'
NO_INPUT = "--on: names nothing; write a pickup or a setting, and nothing where nothing was plugged in"
OPEN_AT_REST = (
    '{what}: "{text}" is an open circuit, and no open coil swings; enter it with coilwise ohms and --open'
)
PART_OF_READING = (
    '"{text}" is not understood; write a reading as bridge:rises:6.6k, with rises, falls or unclear'
)
READING_MISSING = (
    "{pickup}: say what the reading did: rises, falls or unclear, with --reading or as {pickup}:rises"
)

NOT_NAMED = (
    "{file}: has {channels} channel{s}, and its name or note tells of {count}; name what was on each, as in "
    "neck_D3_1.wav, bridge_neck_D3.wav (two inputs) or neck_nothing_D3.wav, or use --order. The job "
    "knows {known}"
)
SEVERAL_ON_ONE = "{file}: has one channel, and {names} are named; only a switch take goes through several"
NO_GESTURE = (
    "{file}: does not say what was played; add --gesture to the command, or one of {gestures} to the name"
)
NOTES_NOT_READ = "{path}: cannot be read as notes ({reason})"
NO_TEXT = "it is no text"
NOTE_OF_NONE = '{path} line {line}: "{text}" begins with the name of no recording that is brought'
NAMED_HEADS = ("file", "gesture", "on", "string", "stage", "not read")
NAMED_TITLE = "As the names and notes have it"
ENTER_THESE = "Enter these {count} takes?"
NOT_ENTERED = "Nothing was written down. To enter them as shown, call it again with --yes."
DRY_RUN = "A dry run: nothing was written down. {count} takes would be."
ORDER_OR_NAMES = "--leave-out and --picture go with --order: whole files are entered as they are"
ONE_FILE_EACH = (
    "a {gesture} take has no onset to cut at, so bring one file for each: the order has {played} takes, and"
    " there are {files} files"
)
