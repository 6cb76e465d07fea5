"""What every paper says of itself: the job's title, the date, which revision of the job it shows, and the cautions."""

from __future__ import annotations

import datetime
import hashlib
from dataclasses import dataclass

from callpath.job.model import Job
from callpath.job.write import job_data, job_text
from callpath.papers.text import plain

__all__ = ["CAUTIONS", "Imprint", "imprint", "revision"]

CAUTIONS = (
    "Power off and prove it off before touching a terminal. Line voltage, gas and capacitors kill.",
    "The equipment maker's diagram and local code win over anything said here, and so does licensed practice.",
)
"""What stands on every paper."""


@dataclass(frozen=True)
class Imprint:
    """Title, date (ISO 8601) and revision of a paper."""

    title: str
    date: str
    revision: str

    @property
    def line(self) -> str:
        """The date and revision as one line of text."""
        return f"{self.date}, revision {self.revision}"


def imprint(job: Job, date: datetime.date) -> Imprint:
    """Return the imprint of a job's papers made on a date."""
    return Imprint(plain(job.title) or plain(job.file) or "Control wiring", date.isoformat(), revision(job))


def revision(job: Job) -> str:
    """Return the digest of what a job says, however its file is laid out: twelve hexadecimal digits of SHA-256."""
    return hashlib.sha256(job_text(job_data(job)).encode()).hexdigest()[:12]
