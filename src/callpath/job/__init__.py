"""The job file: what a job is, and reading one with line and column."""

from __future__ import annotations

from callpath.job.model import Cable, Equipment, Fault, Job, Landing
from callpath.job.read import load_job, read_job

__all__ = ["Cable", "Equipment", "Fault", "Job", "Landing", "load_job", "read_job"]
