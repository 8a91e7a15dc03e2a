"""The care of this bench, as earlier jobs of this machine showed it that were checked after soldering.

Nothing is kept before the person agreed; then one small JSON file in the user's data folder holds, of each of
the last jobs, a key by which a job counts once and the log-likelihood of what was recorded at each level of
care (nats, against the usual one). It holds no title, name, place or time, and nothing sends it anywhere;
whoever removes it takes the consent back. What a job says of itself is never among what is known before it.

The likelihoods of jobs multiply with the usual prior. A job counts once something was recorded or measured
after the work, however it came out. Were those alone counted that came out as planned, a careless bench would
look careful: of its jobs the ones without contradiction are those that come out (on benches drawn with the
careless rates, a job as planned says -1.0 nats of careless against usual, a job however it came out +1.4;
tests/studies/care_study.py). No level falls below ``LEAST``: a person has bad days, another one
sits at the bench, and jobs that were given up before the work are missing.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from json import JSONDecodeError, dumps, loads
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from capture import LOG_FILE
from capture.disk.kept import KeptFile
from capture.disk.reading import open_plain
from capture.log.reading import MOST_BYTES
from dsp import CoilwiseError
from reports.evidence.leads import LATEST
from reports.inference.error_priors import CARE_LEVELS, NOTHING_KNOWN, KnownCare, at_care, usual_care
from reports.inference.posterior import Posterior
from reports.messages.care import CARE_BROKEN, CARE_NEWER, CARE_SWITCHED_OFF, CARE_UNREADABLE
from reports.model.notes import CareLevel
from reports.verdict import CARE_FILE, CARE_VARIABLE
from reports.verdict.building import Judgement

FORMAT = 1
MOST_JOBS = 20
"""The newest so many count: people change."""
LEAST = 0.02
"""No level of care becomes less probable than this before a job."""
MOST_NATS = 100.0
"""What no job says of a level of care; more in a file was not written here."""
KEY_DIGITS = 16


class CareMemoryError(CoilwiseError):
    """What is remembered of care cannot be read, written or had; one line that says what to do."""


class JobCare(BaseModel):
    """What one job says of care: log-likelihoods of its levels, in nats against the usual one."""

    model_config = ConfigDict(defer_build=True, frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    job: Annotated[str, Field(pattern=f"^[0-9a-f]{{{KEY_DIGITS}}}$")]
    careful: Annotated[float, Field(ge=-MOST_NATS, le=MOST_NATS)]
    careless: Annotated[float, Field(ge=-MOST_NATS, le=MOST_NATS)]

    @property
    def log_likelihood(self) -> dict[CareLevel, float]:
        """By level of care, against the usual one."""
        return {"careful": self.careful, "usual": 0.0, "careless": self.careless}


@dataclass(frozen=True)
class RememberedCare:
    """What the jobs say, oldest first, at most ``MOST_JOBS`` of them."""

    jobs: tuple[JobCare, ...] = ()

    def before(self, folder: Path) -> KnownCare:
        """What is known before the job in this folder is judged: from all jobs but itself."""
        key = job_key(folder)
        return self._known([j for j in self.jobs if j.job != key])

    @property
    def known(self) -> KnownCare:
        """What is known before a new job."""
        return self._known(self.jobs)

    @property
    def learned(self) -> dict[CareLevel, float]:
        """What the jobs make of the usual prior, however small."""
        return _learned(self.jobs)

    @staticmethod
    def _known(jobs: Sequence[JobCare]) -> KnownCare:
        return KnownCare(at_least(_learned(jobs), LEAST), len(jobs)) if jobs else NOTHING_KNOWN

    def with_job(self, new: JobCare) -> RememberedCare:
        """With this job: in its old place where it is there already, else as the newest."""
        if any(j.job == new.job for j in self.jobs):
            return RememberedCare(tuple(new if j.job == new.job else j for j in self.jobs))
        return RememberedCare((*self.jobs, new)[-MOST_JOBS:])


NONE_REMEMBERED = RememberedCare()


def _learned(jobs: Sequence[JobCare]) -> dict[CareLevel, float]:
    log = {c: math.log(p) + sum(j.log_likelihood[c] for j in jobs) for c, p in usual_care().items()}
    top = max(log.values())
    weights = {c: math.exp(value - top) for c, value in log.items()}
    return {c: w / sum(weights.values()) for c, w in weights.items()}


def at_least(p: Mapping[CareLevel, float], least: float) -> dict[CareLevel, float]:
    """Probabilities with none below ``least``: the others give way in proportion, so that they sum to one."""
    low: set[CareLevel] = set()
    raised = dict(p)
    while any(raised[c] < least for c in raised if c not in low):
        low |= {c for c in raised if raised[c] < least}
        rest = (1 - least * len(low)) / sum(p[c] for c in p if c not in low)
        raised = {c: least if c in low else p[c] * rest for c in p}
    return raised


def job_key(folder: Path) -> str | None:
    """By what a job counts once, wherever it lies: a hash of its log's first line, which never changes.

    None where nothing is in the log.
    """
    try:
        with open_plain(folder / LOG_FILE) as log:
            first = log.readline(MOST_BYTES)
    except OSError:
        return None
    return hashlib.sha256(first).hexdigest()[:KEY_DIGITS] if first.strip() else None


def care_of_job(key: str, posterior: Posterior) -> JobCare:
    """What a job's takes and readings say of each level of care."""
    logs = posterior.at(*map(at_care, CARE_LEVELS)).log_evidence
    log = dict(zip(CARE_LEVELS, map(float, logs), strict=True))
    against = {c: min(MOST_NATS, max(-MOST_NATS, log[c] - log["usual"])) for c in log}
    return JobCare(job=key, careful=round(against["careful"], 4), careless=round(against["careless"], 4))


class CareMemory(KeptFile):
    """The file of care. There is one where, and as long as, the person agreed."""

    file = CARE_FILE
    variable = CARE_VARIABLE
    error = CareMemoryError
    unreadable = CARE_UNREADABLE
    broken = CARE_BROKEN

    def read(self) -> RememberedCare | None:
        """What is remembered; None where the person did not agree.

        Raises
        ------
        CareMemoryError
            The file cannot be read, is broken, or was written by a newer coilwise.

        """
        text = self.text()
        if text is None:
            return None
        try:
            return self._decoded(loads(text))
        except (JSONDecodeError, ValidationError, KeyError, TypeError, RecursionError):
            raise self.is_broken() from None

    def _decoded(self, told: Any) -> RememberedCare:
        version = told["format"]
        if version != FORMAT or isinstance(version, bool):
            if isinstance(version, int) and version > FORMAT:
                raise CareMemoryError(CARE_NEWER.format(self.path))
            raise self.is_broken()
        if set(told) != {"format", "jobs"} or not isinstance(told["jobs"], list):
            raise self.is_broken()
        jobs = tuple(JobCare.model_validate(line) for line in told["jobs"])
        if len({j.job for j in jobs}) < len(jobs):
            raise self.is_broken()
        return RememberedCare(jobs[-MOST_JOBS:])

    def agree(self) -> bool:
        """Begin to remember; whether it is new. What is there already stays.

        Raises
        ------
        CareMemoryError
            It is switched off, or the file cannot be read or written.

        """
        if self.path is None:
            raise CareMemoryError(CARE_SWITCHED_OFF)
        if self.read() is not None:
            return False
        self._write(NONE_REMEMBERED)
        return True

    def learn(self, folder: Path, judged: Judgement) -> None:
        """Add or replace what a job says that was checked after the work, where the person agreed.

        Raises
        ------
        CareMemoryError
            The file cannot be read or written.

        """
        key, before = job_key(folder), self.read()
        if key is None or before is None or not is_checked(judged):
            return
        new = before.with_job(care_of_job(key, judged.posterior))
        if new != before and self.read() is not None:
            self._write(new)

    def _write(self, care: RememberedCare) -> None:
        self.put(dumps({"format": FORMAT, "jobs": [j.model_dump() for j in care.jobs]}, indent=1) + "\n")


def is_checked(judged: Judgement) -> bool:
    """Whether a job was recorded or measured after the work, and no recording of it is missing."""
    verdict = judged.verdict
    return verdict.stage == LATEST and not verdict.missing and bool(judged.posterior.graph.evidence)


def remembered_care(*, complain: Callable[[str], None] = lambda _: None) -> RememberedCare:
    """What this machine remembers; nothing where the person did not agree.

    Where it cannot be read, ``complain`` is called with one line, and the usual prior stands.
    """
    try:
        return CareMemory.default().read() or NONE_REMEMBERED
    except CareMemoryError as error:
        complain(str(error))
        return NONE_REMEMBERED
