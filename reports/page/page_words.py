"""What the page says besides what a session, a verdict or a form says by itself.

Task: one place for the page's own wording. Units, signs: none.
"""

from __future__ import annotations

from typing import Final

TITLE: Final = "coilwise"
SCREENS: Final = {
    "play": "Play",
    "setup": "Set-up",
    "readings": "Readings",
    "bring": "Bring in",
    "wiring": "Wiring",
    "report": "Report",
    "job": "Job",
}
"""The screens, in the order of a job's life."""

OPENING = "Opening the input."
LISTENING = "Listening to {input}: {count} of its inputs, at {rate} Hz."
INPUT_LOST = (
    "The input is gone: {why} Every whole take is kept. Plug the box in again, then press Go on: the job "
    "goes on from the last whole take."
)
BROKEN_OFF = "{why} Every whole take is kept. When that is put right, press Go on."
ANOTHER_ACTS = "Another browser acts just now; this one watches."
NOBODY_ACTS = "No browser acts just now."
YOU_ACT = "This browser acts."
TAKE_OVER = "Act from here"
NO_JOB = "No job is open. Begin one, or open one that is there."

BEGIN = "Begin"
GO_ON = "Go on"
PAUSE = "Pause"
TAKE_BACK = "Take back the last"
NEXT = "Next, leave this"
KEYS: Final = {"begin": "b", "pause": "p", "void": "v", "next": "n"}
"""Which key does the same as which button."""
READY = "Nothing is being recorded. {cautions}"
REST_BIG = {
    "resting": "READY?",
    "opening": "ONE MOMENT",
    "looking": "KEEP STILL",
    "checking": "SET-UP CHECK",
    "ended": "PAUSED",
    "failed": "STOPPED",
}
"""In large letters while no take is asked for."""
DONE_BIG = "SETTLED"
HANDS_FREE = "After Begin no key and no click is needed: it hears when you play, and says what comes next."
PROGRESS = "{count}{part}"
PART = "; take {part} of {parts} that belong together"
NO_TAKE_YET = "No take yet."
NOTHING_BELIEVED = "Nothing is known of any pair yet."
UNFINISHED = (
    "A recording that was not finished lies here ({seconds:.1f} s, {planned}). Every whole take before it is "
    "kept."
)
TAKE_IN, SET_ASIDE = "Take it in", "Set it aside"
TAKEN_IN = "{id}: taken in; the verdict judges it."
WAS_SET_ASIDE = "Set aside as {path}."
NOTHING_SAID = "nothing said of it"
GESTURE_ON = "{gesture} on {on}"
LAST_TAKE = "Last take: {id}"
LEVELS = "Level of each input"
BELIEF = "What is believed, take by take"
GUITAR = "The guitar"
SETTINGS = "The selector's settings"
WHAT_NOW = "What to do now"
SAID = "What was said"
ACCEPTED_MARK, REFUSED_MARK = "Accepted.", "Not accepted."
ADDRESS = "The page is {address}"
ADDRESS_MORE = (
    "It answers this machine alone, and only with that key. Ctrl-C ends it; the job folder has everything."
)
NOT_INSTALLED = (
    "the bench page needs one more package: pip install 'coilwise[page]', then try again; everything else "
    "works without it"
)
NO_PORT = "no port from {first} to {last} is free on this machine; name another with --port"
CLOSE: Final = "Close"
WRITE_REPORT: Final = "Write the report"
NO_TITLE: Final = "No job is open"
TO_DO: Final = "To do:"
THEN: Final = "Next:"
CAUTIONS: Final = "Before anything is plugged in"
AFTER_ENDING: Final = {
    "stopped": "Go on when you like.",
    "stuck": "Look at the set-up, then go on.",
    "nothing": "Allow more gestures on the screen Set-up, or bring in recordings made elsewhere.",
}
"""What to do after a session that ended so, on the page."""

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
GESTURES_HELP: Final = {
    "pluck": "pluck",
    "press": "press: push a string to the body and let go",
    "lift": "lift: pull a steel tool off the pole",
    "touch": "touch: bring a steel tool to the pole and hold it",
    "switch": "switch: turn the selector while it rings",
    "hum": "hum: nothing is played",
    "drive": "drive: a driven coil held over the pickup",
}
STRING_FIELD, STRING_HELP = "String", "The open string that was played: D3."
FRET_FIELD, FRET_HELP = "Fret", "Where it was stopped; 0 is open."
ORDER_STRING_HELP: Final = "The open string that was played, where the order does not say: D3."
STAGE_FIELD: Final = "Stage"
STAGES: Final = {"found": "as found", "after": "after the work"}
RIG_FIELD, RIG_HELP = "Rig", "Box and cable, in your words; the same words for the same rig."
TOOL_FIELD, TOOL_HELP = "Tool", "Which steel tool, in your words."
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
    '"neck|bridge 5", "neck|nothing 5". A selector that was turned: "bridge>both>neck 3". Here: {names}.'
)
SHOW_CUTS: Final = "Show the cuts"
BRING_IN: Final = "Bring in"
HEARING: Final = "Listened to {done:.0f} of {whole:.0f} seconds"
CUTS_HEAD: Final = "The cuts"
CUTS_HELP: Final = "Tick what is no take, a knock or a false start. Nothing is written down before Bring in."
LEAVE_OUT: Final = "leave out"
COUNTS_DIFFER: Final = (
    "{found} onsets count, and the order has {wanted} takes: correct the order and show the cuts again, or "
    "tick those that are no takes."
)
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
