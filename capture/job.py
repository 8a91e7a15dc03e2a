"""The job as the rest of the house sees it: the models and the reader, under one name."""

from capture.job_models import (
    JOB_FILE,
    Aim,
    Job,
    Join,
    Member,
    Pickup,
    Setting,
    Shield,
)
from capture.job_reading import parse_job, read_job
from capture.notes import note_hz

__all__ = [
    "JOB_FILE",
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
