"""What the page alone says: names of screens, labels of fields and buttons, its own sentences."""

from __future__ import annotations

from typing import Final

from reports.messages.wording import as_sentence, plain
from reports.model.session import Failure, FailureKind

TITLE: Final = "coilwise"
SCREENS: Final = {
    "start": "Start",
    "play": "Play",
    "setup": "Set-up",
    "readings": "Readings",
    "bring": "Bring in",
    "wiring": "Wiring",
    "report": "Report",
    "log": "Log",
    "job": "Job",
}
"""The screens, in the order of a job's life."""
MANUAL: Final = "Manual"
MANUAL_TOPICS: Final = {
    "start": "page",
    "play": "recording",
    "setup": "path",
    "readings": "leads",
    "bring": "bring",
    "wiring": "leads",
    "report": "verdict",
    "log": "entering",
    "job": "format",
}
"""Which of the manual's topics goes with a screen."""

INPUT_LOST = (
    "The input is gone: {why} Every whole take is kept. Plug the box in again, then press Go on: the job "
    "goes on from the last whole take."
)
BROKEN_OFF = "{why} Every whole take is kept. When that is put right, press Go on."
CHECK_BROKEN = "{why} Put that right, then check again."
ANOTHER_ACTS = "Another browser acts just now; this one watches."
NOBODY_ACTS = "No browser acts just now; press anything to act from here."
YOU_ACT = "This browser acts."
TAKE_OVER = "Act from here"
NO_SUCH_TAKE = "{id}: there is no take of that name whose recording can be used"
NO_JOB = "No job is open. Begin one, or open one that is there."

BEGIN = "Begin"
GO_ON = "Go on"
PAUSE = "Pause"
TAKE_BACK = "Take back the last"
NEXT = "Next, leave this"
KEEP = "That was a pluck"
OWN_HEAD = "A take of your own choice"
OWN_GESTURE, OWN_STRING, OWN_INPUT = "Gesture", "Open string", "On input {number}"
OWN_RECORD = "Record this next"
TONES = "Soft tones for now, accepted and refused"
MOVED = "Moved"
YES: Final = "Yes"
NO: Final = "No"
KEYS: Final = {
    "begin": "b",
    "pause": "p",
    "void": "v",
    "keep": "w",
    "moved": "m",
    "next": "n",
    "yes": "y",
    "no": "o",
}
"""Which key does the same as which button."""
REST_BIG = {
    "resting": "READY?",
    "opening": "ONE MOMENT",
    "checking": "SET-UP CHECK",
    "ended": "PAUSED",
    "failed": "STOPPED",
}
"""In large letters while no take is asked for."""
DONE_BIG = "SETTLED"
HANDS_FREE = (
    "After Begin no key and no click is needed to record: it hears when you play, and says what comes next. "
    "What no take can tell it asks; then Yes and No are on the page."
)
PART = "; take {part} of {parts} that belong together"
NO_TAKE_YET = "No take since this page was started."
NOTHING_BELIEVED = "Nothing is known of any pair yet."
UNFINISHED = (
    "A recording that was not finished lies here ({seconds:.1f} s, {planned}). Every whole take before it is "
    "kept."
)
TAKE_IN, SET_ASIDE = "Take it in", "Set it aside"
LAST_TAKE = "Take {id}"
LAST_TAKE_HEAD: Final = "The last take"
BELIEF = "What is believed, since this page was started"
GUITAR = "The guitar"
SETTINGS = "The settings"
SETTING_HEADS = ("Setting", "Pickups", "Sounds", "Hum")
WHAT_NOW = "What to do now"
ADDRESS = "The page is {address}"
ADDRESS_MORE = (
    "It answers this machine alone, and the key in that address is good once. In another browser, or again: "
    "open {file}. Ctrl-C ends it; the job folder has everything."
)
NAME_NOT_POSSIBLE = 'no folder can be called "{name}" on this system; choose another name'
NO_START_FILE = "{file}: cannot be written ({why}), and without it no browser can be let in"
NO_PORT = "no port from {first} to {last} is free on this machine; name another with --port"
CLOSE: Final = "Close"
WRITE_REPORT: Final = "Write the report"
NO_TITLE: Final = "No job is open"
TO_DO: Final = "To do:"
THEN: Final = "Next:"
CAUTIONS: Final = "Before anything is plugged in"
RECORDED_ELSEWHERE = (
    "{why} records into this job just now, and two would count each pluck twice. What it enters is shown "
    "here as it comes; end it there, then go on here."
)
FAILURES: Final[dict[FailureKind, str]] = {
    "input lost": INPUT_LOST,
    "recorded elsewhere": RECORDED_ELSEWHERE,
    "session": BROKEN_OFF,
    "check": CHECK_BROKEN,
    "judging": "{why}",
    "internal": "{why}",
}


def failure_text(failure: Failure) -> str:
    """What broke off, why, and how to go on."""
    return FAILURES[failure.kind].format(why=as_sentence(plain(failure.why)))


# The screens for recordings from elsewhere, for the wiring and for the report.

BRING_HEAD: Final = "Recordings from elsewhere"
BRING_HELP: Final = (
    "WAV, AIFF, FLAC or CAF, up to {limit} each, recorded with volume and tone full up. They are copied; "
    "yours stay as they are."
)
DROP_HERE: Final = "Drop recordings here, or"
CHOOSE_FILES: Final = "Choose recordings"
CHOSEN_FILES: Final = "Recordings to bring in"
NO_FILES: Final = "No recording is here yet."
FILES_HEAD: Final = "Recordings that are here"
FILE_HEADS: Final = ("recording", "seconds", "channels", "change")
FILE_CUT_OFF: Final = "{name} (cut off before its end)"
EARLIER, REMOVE = "Earlier", "Remove"
EARLIER_THAN: Final = "Put {name} earlier"
REMOVE_THAT: Final = "Remove {name}"
TOO_LARGE: Final = (
    "{name}: is larger than {limit}; cut it in an audio editor, or use coilwise bring, which takes any"
)
TOO_MANY: Final = "There are {most} files here; bring these in or remove them, then choose the rest"
HERE_ALREADY: Final = "{name}: is here already"
NOT_SENT: Final = "{name}: could not be taken in; choose it again"
OTHER_CHANNELS: Final = (
    "{name}: channels in it are {channels}, and inputs named are {named}; name as many inputs, nothing where "
    "nothing was plugged in, and bring it in by itself"
)
NO_NAME: Final = "recording"
WHAT_ARE_THEY: Final = "What are they?"
WAYS: Final = {
    "each": "Each file is one take",
    "cut": "One long recording, or many in order: cut them at the onsets",
}
GESTURE_FIELD: Final = "Gesture"
STRING_FIELD, STRING_HELP = "String", "The open string that was played: D3."
FRET_FIELD, FRET_HELP = "Fret", "Where it was stopped; 0 is open."
ORDER_STRING_HELP: Final = "The open string that was played, where the order does not say: D3."
STAGE_FIELD: Final = "Stage"
STAGES: Final = {"found": "as found", "after": "after the work"}
RIG_FIELD, RIG_HELP = "Rig", "Box and cable, in your words; the same words for the same rig."
TOOL_FIELD, TOOL_HELP = "Tool", "Which steel tool, in your words."
TAPPED_FIELD, TAPPED_HELP = "Tapped", "Of a tap: the pickup whose poles were tapped."
COIL_FIELD: Final = "Which coil, of two"
COILS: Final = {0: "not one alone", 1: "1 (hot's)", 2: "2"}
ON_FIELD: Final = "On input {number}"
ON_HELP: Final = (
    'What was plugged in: {names}; "bridge,both,neck" for a selector turned through these; '
    '"neck:violet/orange" for leads, tip first; "nothing".'
)
ON_SECOND_HELP: Final = "The same for the second channel; empty where the recordings have one channel."
CLIPS_ANEW: Final = "The clips were taken off, the leads read anew, the clips put on again"
ORDER_FIELD: Final = "What was played, in order, and how often"
ORDER_HELP: Final = (
    '"neck 5, both 5, bridge 5". With the string: "neck D3 5", at fret 5 "neck D3/5 5". Two inputs: '
    '"neck|bridge 5", "neck|nothing 5". A selector that was turned: "bridge,both,neck 3". Here: {names}.'
)
SHOW_CUTS: Final = "Show the cuts"
BRING_IN: Final = "Bring in"
HEARING: Final = "Listened to {done:.0f} of {whole:.0f} seconds"
CUTS_HEAD: Final = "The cuts"
CUTS_HELP: Final = "Tick what is no take, a knock or a false start. Nothing is written down before Bring in."
LEAVE_OUT: Final = "leave out"
WILL_BE: Final = "{count} takes will be brought in."
FORM_CHANGED: Final = "what is said of them has changed since; show the cuts again, then bring in"
NO_FILE_YET: Final = "no recording is here yet; drop one first"
NO_CUTS_YET: Final = "show the cuts first, then bring in"
NOTHING_ON: Final = 'say what was on input 1, or "nothing"'
AT_WORK: Final = "The recordings before these are still being worked on; wait until that is done"
CAME_HEAD: Final = "What came in"
CAME_HEADS: Final = ("id", "what", "what was heard")
CAME_IN: Final = "{count} brought in: {ids}."
CAME_IN_PARTLY: Final = "{count} brought in, {refused} not: see below."
NONE_CAME_IN: Final = "Nothing was brought in: see below."
REFUSED_HEAD: Final = "Not taken in"
NOT_JUDGED: Final = "Being judged."
COUNTS, COUNTS_NOT = "Counts.", "Does not count."

WIRING_NOT_YET: Final = "Being judged."
CAUTIONS_HEAD: Final = "Cautions"

REPORT_HELP: Final = (
    "A page to print that goes with the guitar, the same as text, and as JSON for other programs."
)
WRITING: Final = "Being written."
REPORT_WRITTEN: Final = "The report is {path}"
REPORT_NONE: Final = "No report was written yet."
REPORT_OLD: Final = "The job has changed since this was written: write it again to have it in."
REPORT_HEADS: Final = {"found": "As found", "after": "After the work"}
REPORT_LIES: Final = "It lies at {path}, written {at}."
REPORT_PRINT: Final = "Open it in a tab of its own, to print"
REPORT_FRAME: Final = "Report: {stage}"

# The screens for the job, for the set-up and for readings.

NO_NUMBER: Final = '{what}: "{text}" is no number; write it as 4.1 or 4,1, without a unit'
REFUSED_FILE: Final = "What is shown is as it was before: {why}"

JOB_NONE: Final = "Open one that is there, or begin one below."
JOB_OPEN_HEAD: Final = "On the bench: {title}"
JOB_LIES: Final = "Its folder is {path}"
JOB_EDIT: Final = (
    "It stands in {path}, a plain text file: change it below, or with any text editor. Comments in it stay, "
    "and this page reads it anew by itself."
)
PICKUPS_HEAD, SETTINGS_HEAD = "Pickups", "Settings"
NO_SETTINGS: Final = "No setting joins several pickups yet."
OPEN_HEAD: Final = "Open a job that is there"
OPEN_HEADS: Final = ("title", "folder", "changed", "")
OPEN, OPEN_IT = "Open", "Open {title}"
OPEN_NOW: Final = "open"
TO_PUT_RIGHT: Final = "{count} things are to be put right; each stands at its field."
NO_JOBS: Final = "There is none in {place} yet."
SHOW_ALL: Final = "Show all {count}"
ELSEWHERE_FIELD, ELSEWHERE_HELP = "Folder of another job", "The whole path of a folder with a job.toml."
NO_FOLDER_NAMED: Final = "name the job's folder first"
OPENED: Final = "{title} is open. Next: Set-up, then Play."
BEGIN_HEAD: Final = "Begin a job"
BEGIN_HELP: Final = (
    "A folder for one guitar. What is not known is left out; job.toml in the folder is a plain text file, to "
    "add it later."
)
FOLDER_FIELD: Final = "Name of the folder"
ROW_FOLDER_FIELD: Final = "Folder of the row"
FOLDER_HELP: Final = "A bare name goes under {place}."
TITLE_FIELD, TITLE_HELP = "Title", "What stands on the ticket, in your words."
SCALE_FIELD, SCALE_HELP = "Scale length, mm", "Nut to bridge saddle; fan frets: 686..648."
MAINS_FIELD: Final = "Mains frequency"
MAINS: Final = {0: "not known", 50: "50 Hz", 60: "60 Hz"}
STRINGS_FIELD, STRINGS_HELP = "Open strings", "Low to high: E2 A2 D3 G3 B3 E4; pairs: E2/E3."
NO_ROOM_FOR_COPY = "{path}: is there already and holds no job; move it, or stand in another folder"
NOT_COPIED = "{path}: cannot be written ({reason})"
PICKUP_NUMBER, PICKUP_NAMED = "pickup {n}", 'pickup "{name}"'
SETTING_NUMBER, SETTING_NAMED = "setting {n}", 'setting "{name}"'
NAME_FIELD: Final = "Name"
PICKUP_NAME_HELP, SETTING_NAME_HELP = "Such as bridge or neck.", "Such as both."
CENTRE_FIELD, CENTRE_HELP = "Centre, mm", "Bridge saddle to the pickup's centre; on a slant: 35..60."
COILS_FIELD: Final = "Coils"
COIL_COUNTS: Final = {1: "1", 2: "2", 3: "3", 4: "4"}
FITTED_FIELD: Final = "Fitted or loose"
FITTED: Final = {True: "fitted: wired in already", False: "loose: not wired in yet"}
UNUSUAL_FIELD: Final = "This pickup is unusual"
BUILD_FIELD: Final = "How its coils lie"
BUILDS: Final = {
    "": "side by side, as usual",
    "side by side": "side by side, looked at: a row of poles each",
    "stacked": "stacked: one above the other, one row of poles",
    "halves": "in halves, each under its own strings",
    "dummy": "a dummy: no magnet, against hum alone",
}
BUILD_HELP: Final = (
    "One row of poles and the height of two coils: stacked. A compass over it reads the same for both, and a "
    "lift is softer through the lower coil's leads."
)
SOURCE_FIELD, ACTIVE_STAGE_FIELD, ALWAYS_FIELD = (
    "What it is",
    "Its active stage, by the diagram",
    "On the selector",
)
SOURCES: Final = {"": "a magnetic pickup", "piezo": "a piezo", "microphone": "a microphone"}
ACTIVE_STAGES: Final = {"": "none, or not known", "keeps": "keeps the sign", "inverts": "inverts"}
ALWAYS: Final = {"": "switched", "yes": "wired straight to hot, always on"}
SHELF_FIELD, SHELF_HELP = "Reference coil of the bench", "Its name in every job; empty: it is none."
UPPER_FIELD, UPPER_HELP = "Stacked: the upper coil", "1, 2, or the colour of a lead of it; empty: not known."
UNDER_FIELD, UNDER_HELP = "Halves: strings over each", "As in E1 A1 / D2 G2, coil 1's first."
CIRCUIT_FIELD: Final = "How its coils are joined"
CIRCUIT_HELP: Final = "1 + 2 in series, 1 | 2 in parallel, 1 + (2 | 22n), 1@60%; empty: in series."
COIL_KOHM_FIELD, COIL_KOHM_HELP = "Kilo-ohm of each coil", "As in 4.1 4.0, coil 1's first."
POLE_STRING_FIELD: Final = "String over the pole"
POLE_STRING_HELP: Final = "Where poles differ along the strings, as in A2; else empty."
POLES_FIELD: Final = "Poles along the strings"
POLES_HELP: Final = "alternate, alike, or N S N S low to high; empty: not looked at."
TURNABLE_FIELD: Final = "The magnet can be turned"
ACTIVE_FIELD: Final = "Heard through a stage with a battery"
HOT_FIELD, GROUND_FIELD = "Hot", "Ground"
LEAD_HELP: Final = "The lead's colour, as the maker's sheet has it or as assumed."
LINK_FIRST_FIELD, LINK_SECOND_FIELD = "Link, on hot's coil", "Link, on the other coil"
LINK_HELP: Final = "Joined between the coils: the lead's colour."
SHIELD_FIELD: Final = "Shield"
SHIELDS: Final = {
    "": "not known",
    "own lead": "own lead",
    "on ground": "on ground: braid or cover joined to it",
    "none": "none",
}
ADD_PICKUP, ADD_SETTING = "Add a pickup", "Add a setting"
REMOVE_ROW: Final = "Remove {row}"
SETTINGS_HELP: Final = "What a selector position joins. A pickup alone needs no setting of its own."
MEMBERS: Final = {
    "off": "not on",
    "whole": "on",
    "whole reversed": "on, hot and ground reversed",
    "coil 1": "coil 1 (hot's) alone",
    "coil 2": "coil 2 alone",
    "coil 1 reversed": "coil 1 alone, reversed",
    "coil 2 reversed": "coil 2 alone, reversed",
    "coil 3": "coil 3 alone",
    "coil 4": "coil 4 alone",
    "coil 3 reversed": "coil 3 alone, reversed",
    "coil 4 reversed": "coil 4 alone, reversed",
}
SHELF_HEAD: Final = "Reference coil on the shelf, and a row of pickups"
SHELF_SAYS: Final = (
    "A pickup that the bench keeps, on a plug of its own, is the third thing by which pickups of different "
    "days compare: lift the same steel tool off it in each job, three times, as off that job's own pickups."
)
SHELF_NONE: Final = (
    "The open job has no reference coil. Give one of its pickups a name under "
    '"Reference coil of the bench" (this pickup is unusual), or begin a row.'
)
SHELF_HEADS: Final = ("Pickup", "Lifts", "Last lift", "Against {coil}", "How sure", "Leads", "The row")
NEVER_LIFTED, NOT_LIFTED, FITS_ROW = "none yet", "not lifted", "fits"
COMPARE, WRITE_LABELS, SHOW_LABELS = "Compare with the coil", "Write the label sheet", "Open the labels"
LABELS_WRITTEN: Final = "The labels are written: {path}"
ROW_IS_RECORDED: Final = (
    "A row of loose pickups is lifted in one go: the coil first, then each pickup, three lifts each, and the "
    "coil once more. It waits while the plug is moved, and goes on where it was left."
)
ROW_TOOL_FIELD, ROW_TOOL_HELP = "Steel tool", "In your words; the same one for all."
RECORD_ROW: Final = "Lift the row"
ROW_IS_WHOLE: Final = "Every pickup of the row was lifted three times; nothing is left to record."
FROM_ANOTHER: Final = "What another job found"
OTHER_JOB_FIELD, OTHER_JOB_HELP = "Folder of the other job", "In which it was lifted beside the same coil."
HERE_FIELD, CALLED_FIELD, CALLED_HELP = "Pickup here", "Its name there", "Empty: the same."
COUNT_ON_IT: Final = "Count on it"
ROW_HEAD, BEGIN_ROW = "A new row", "Begin this row"
ROW_COUNT_FIELD, ROW_COUNT_HELP = "How many pickups", "Up to 40; they are called 01, 02 and so on."
ROW_COIL_FIELD, ROW_COIL_HELP = "Reference coil", "What it is called on the shelf, as in coil A."
ROW_BEGUN: Final = "Made: {path}, {count} pickups beside the reference coil {shelf}."
ROW_NEEDS = "a row needs the reference coil's name, and a number of pickups from 1 to {most}"
COUNTED_ON: Final = "Entered as {id}: what the other job found of {pickup}."
UNUSUAL_CIRCUIT_FIELD: Final = "This circuit is unusual"
STEREO_FIELD: Final = "Stereo jack: on its tip, on its ring"
STEREO_HELP: Final = "Two pickups, as in bridge, neck; empty: a mono jack."
STEREO_NOT_TWO = 'stereo jack "{text}": name two pickups of this guitar, the tip\'s first, as in bridge, neck'
GROUP_FIELD, GROUP_HELP = "{pickup}: joined", "Those of one group are joined the other way than the rest."
GROUPS: Final = {"": "with the rest", "group 1": "in group 1", "group 2": "in group 2"}
SHARE_FIELD, SHARE_HELP = "Let through, %", "By a blend knob or a volume; empty: all."
SHARE_OF, CIRCUIT_HERE = "{pickup}: let through, %", "{pickup}: its coils here"
CIRCUIT_HERE_HELP: Final = "1 | 2 in parallel, 1 + (2 | 22n); empty: as usual."
BYPASS_FIELD: Final = "Past the active stage (bypassed)"
JOIN_FIELD, AIM_FIELD = "Joined", "Wanted"
JOINS: Final = {"parallel": "in parallel", "series": "in series"}
AIMS: Final = {"in phase": "in phase", "out of phase": "out of phase"}
QUIET_FIELD: Final = "Hum should cancel here"
MORE_HEAD: Final = "More about this guitar"
MORE_HELP: Final = (
    "Fill in what is known, rename, add or remove. What was recorded keeps counting under new names; nothing "
    "in the log is rewritten. A place or the scale lets higher harmonics of a pluck vote."
)
KEEP_CHANGES: Final = "Keep these changes"
CHANGES_KEPT: Final = "Written down in job.toml. What was recorded counts as before."
PAUSE_FIRST: Final = "a session listens just now; press Pause on the screen Play, then change the job"
BY_HAND: Final = "Begin another job by hand"
UNFINISHED_FIRST: Final = (
    "a recording that was not finished lies here under the names as they are; take it in or set it aside "
    "first"
)
LOG_IN_THE_WAY: Final = (
    "this cannot be changed safely, since the log has lines that need it as it is ({why}); nothing was "
    "written"
)
FITTED_STAYS: Final = (
    'pickup "{name}": whether it is fitted cannot be changed safely any more, since {id} was recorded or '
    "measured through its leads as they were; take such entries back on Log first, or begin another job"
)
COLOURS_STAY: Final = (
    'pickup "{name}": its lead colours cannot be changed safely any more, since {id} does not say which lead '
    "was on the tip; put a tag on that lead, or enter leads soldered another way, both on Readings"
)
BEGIN_JOB: Final = "Begin this job"
BEGUN: Final = "{path}: made, with {pickups}. Next: Set-up, then Play."
NO_FOLDER_NAME: Final = "give the job's folder a name; a bare one is enough"
NO_PICKUP: Final = "no pickup is given; name one pickup at least"
NO_NAME_IN: Final = "{where}: has no name; give it one, or remove it"
NOTHING_ON_IN: Final = "{where}: says nothing of what is on; choose which pickups it joins, or remove it"
ONE_LINK: Final = "{where}: the link is two leads; name both, or leave both empty"

WANTED_HEAD: Final = "How to record"
INPUT_FIELD: Final = "Input"
INPUT_TAKEN: Final = "{input}: taken unless another is chosen"
NO_INPUT: Final = "none"
INPUT_NONE_TAKEN: Final = "none by itself: choose one"
INPUT_NOT_THERE: Final = '"{word}": not in the list'
LOOK_AT_INPUTS: Final = "Look at the inputs"
LOOKING_AT_INPUTS: Final = "Looking at the inputs."
INPUTS_THERE: Final = (
    "{count} listed. What was plugged in later is listed when coilwise page is started anew."
)
NO_INPUTS: Final = (
    "There is no audio input here; plug the interface in, end coilwise page with Ctrl-C and start it again. "
    "Everything but recording works meanwhile."
)
NO_SOUND: Final = "Nothing can be recorded here: {why}."
HOW_MANY_FIELD: Final = "Inputs used"
HOW_MANY: Final = {0: "2 where it has them", 1: "1", 2: "2"}
WANTED_STAGE_HELP: Final = "Takes and readings are written down as this."
WANTED_RIG_HELP: Final = "Box and cable, in your words; the input's name where it is left out."
GESTURES_HEAD: Final = "What may be asked for"
NO_GESTURE: Final = "what may be asked for: leave one at least"
LOOK_HEAD: Final = "Nobody can hear these, so look"
CHECK_HEAD: Final = "Set-up check"
CHECK_HELP: Final = "It listens for six seconds: to quiet first, then to one hard pluck. Nothing is kept."
CHECK: Final = "Check the set-up"
CHECK_GOES_ON: Final = "the set-up is being checked already; wait for its end"
CHECK_RUNS: Final = "a session listens just now; press Pause on the screen Play, then check the set-up"
FOUND_HEAD: Final = "What was heard"
INPUT_LEVELS_HEAD: Final = "Each input"
CHECK_FIRST: Final = "Not checked yet."
CHECK_THEN_PLAY: Final = "Next: Play."
CHECK_AGAIN: Final = "Put that right, then check again."

STAGE_NOW: Final = (
    "Readings are written down {stage}; that is chosen on the screen Set-up. A change of leads is always "
    "after the work."
)
PICKUP_FIELD: Final = "Pickup"
KOHM_FIELD: Final = "Kilohms"
METER_HEAD: Final = "Which way the ohmmeter swung"
METER_HELP: Final = "Hold a steel tool on the pole, pull it away, watch the reading."
MOVE_FIELD: Final = "How the tool moved"
MOVES: Final = {"away": "away from the pole", "toward": "toward the pole"}
READING_FIELD: Final = "Reading, as it moved"
READINGS: Final = {"rises": "rises", "falls": "falls", "unclear": "unclear"}
RED_FIELD, RED_HELP = "Red clip on", "hot, ground, or a lead's colour."
BLACK_FIELD, BLACK_HELP = "Black clip on", "Its lead, if red is a colour."
AT_REST_HELP: Final = "The reading at rest, if it was taken."
OHMS_HEAD: Final = "Resistance between two leads"
FIRST_LEAD_FIELD, SECOND_LEAD_FIELD = "One lead", "The other lead"
OHMS_LEAD_HELP: Final = "Its colour, or hot, ground, shield."
OPEN_FIELD: Final = "The meter shows an open circuit"
OHMS_EITHER: Final = "give either the kilohms, or say that the meter shows an open circuit"
POLE_HEAD: Final = "Which pole faces the strings"
POLE_HELP: Final = "A compass or a pole tester over the pickup tells. Of a two-coil pickup name the coil."
FACING_FIELD: Final = "Facing the strings"
FACINGS: Final = {"north": "north", "south": "south"}
COIL_FIELD_OF_TWO: Final = "Coil"
WHICH_COIL: Final = {0: "it has one", 1: "1 (hot's)", 2: "2"}
CHECKED_HEAD: Final = "What was checked on the bench"
CHECKED_HELP: Final = (
    "A clip lead: ohmmeter from the tip, near 0 ohm to red. A tool: a steel tool that is not magnetised "
    "lifts no staple. A loose pickup: under the strings, as it will sit. An active stage: the same "
    "signal before and behind it. Fill in what the check is about, and leave the rest."
)
CHECKED_FIELD: Final = "What was checked"
CHECKED: Final = {
    ("clip lead", "red"): "clip lead: the tip leads to red, as it should",
    ("clip lead", "black"): "clip lead: the tip leads to black",
    ("tool", "not lifted"): "tool: lifts no staple",
    ("tool", "lifted"): "tool: lifts a staple",
    ("held", "under"): "loose pickup: was under the strings, as it will sit",
    ("held", "over"): "loose pickup: was over the strings",
    ("bypass", "keeps"): "active stage: does not invert",
    ("bypass", "inverts"): "active stage: inverts",
}
CHECKED_INPUT_FIELD, CHECKED_INPUT_HELP = "Input", "Of a clip lead: 1 or 2; empty: all of them."
CHECKED_TOOL_FIELD, CHECKED_TOOL_HELP = "Tool", "The same words as at the lifts."
TAG_HEAD: Final = "A tag on the lead under the tip's clip"
TAG_HELP: Final = (
    "Put it on a loose pickup's lead before unclipping. The answer is then about the tagged lead, whatever "
    "colour was read."
)
TAG_TAKE_FIELD: Final = "Take whose clips are still on"
TAG_TAKE_HELP: Final = "the latest, if left empty"
CHANGE_HEAD: Final = "Leads soldered another way"
CHANGE_HELP: Final = (
    "The colour of every lead that is hot, ground, link or shield from here on. Earlier evidence still "
    "counts, by its leads."
)
NEW_LEADS: Final = {
    "hot": ("Hot",),
    "ground": ("Ground",),
    "link": ("Link", "Link, the other lead"),
    "shield": ("Shield",),
}
WRITE_DOWN: Final = "Write down"
NOT_CHOSEN: Final = "{field}: nothing is chosen yet"
LOG_HEAD: Final = "What was done, the latest first"
LOG_HEADS: Final = ("id", "kind", "what", "stage", "remark", "")
LOG_EMPTY: Final = "Nothing has been entered yet."
TAKEN_BACK: Final = "taken back"
TAKE_BACK_ENTRY, TAKE_BACK_THAT = "Take back", "Take back {id}"
BRING_BACK, BRING_BACK_THAT = "Bring back", "Bring back {id}"
LEAVE_IT: Final = "Leave it"
WHY_FIELD: Final = "Why {id} is taken back, in your words"
WAS_TAKEN_BACK: Final = "{id} is taken back; it stays in the log."
WAS_BROUGHT_BACK: Final = "{id} counts again."
NOT_TYPED: Final = "{field}: nothing is written there yet"
ON_INPUT: Final = "Input {number}"
