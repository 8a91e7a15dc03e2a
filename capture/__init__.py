"""What comes from the bench: the job, the log of what was done, the recordings.

Errors of this package: one line each that names file, line or field, what is wrong, and what to do.
"""

from dsp import CoilwiseError

JOB_FILE = "job.toml"
LOG_FILE = "bench.jsonl"
"""What makes a folder a job, and what was done on it."""


class JobError(CoilwiseError):
    """The job folder or its job.toml is at fault."""


class LogError(CoilwiseError):
    """bench.jsonl is at fault, or an entry that was to be added to it."""


class RecordingError(CoilwiseError):
    """An audio file that cannot be used as it is."""
