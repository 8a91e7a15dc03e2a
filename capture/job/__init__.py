"""The job as the rest of the house sees it: the models and the reader, under one name."""

from capture.job.model import (
    Aim,
    Job,
    Join,
    Member,
    Pickup,
    Setting,
    Shield,
    note_hz,
)
from capture.job.reading import parse_job, read_job

__all__ = [
    "Aim",
    "Job",
    "Join",
    "Member",
    "Pickup",
    "Setting",
    "Shield",
    "note_hz",
    "parse_job",
    "read_job",
]
