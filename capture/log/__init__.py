"""The bench log as the rest of the house sees it: entries, reader and writer, under one name."""

from capture.log.entries import (
    TAKES,
    AnyEntry,
    Change,
    Gesture,
    Input,
    LeadsInput,
    Meter,
    Ohms,
    Pole,
    Stage,
    Take,
    TakeFields,
    Void,
    doubtful_points,
    new_entry,
    path_inside,
    pickups_of,
)
from capture.log.reading import LOG_FILE, BenchLog, LoggedEntry, read_log
from capture.log.writing import append_entry, utc_now

__all__ = [
    "LOG_FILE",
    "TAKES",
    "AnyEntry",
    "BenchLog",
    "Change",
    "Gesture",
    "Input",
    "LeadsInput",
    "LoggedEntry",
    "Meter",
    "Ohms",
    "Pole",
    "Stage",
    "Take",
    "TakeFields",
    "Void",
    "append_entry",
    "doubtful_points",
    "new_entry",
    "path_inside",
    "pickups_of",
    "read_log",
    "utc_now",
]
