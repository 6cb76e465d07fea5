"""Which version shows a job as it was found, and which as it was left: said by somebody at some moment, and kept.

Until somebody says, both are the version that counts. What is brought in as a file is marked as found when it comes; of another
job, the version on which the first reading or photo as found is taken, or that from which a proposed repair sets out.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from callpath.errors import QuestionError, nearest
from callpath.job.read import known_job
from callpath.records.history import head, revision
from callpath.records.schema import Job, PhaseMark, Revision

__all__ = ["PHASES", "Phase", "known_phase", "mark", "mark_once", "mark_repaired", "phase_of", "phases"]

PHASES = ("as-found", "as-left")
"""In the order of the work."""


@dataclass(frozen=True)
class Phase:
    """A phase of the work on a job: the version that shows it, and who said so; nobody has where ``mark`` is None."""

    name: str
    version: Revision
    mark: PhaseMark | None

    @property
    def words(self) -> str:
        """The phase as people say it."""
        return self.name.replace("-", " ")


def known_phase(name: str) -> str:
    """Return the name of a phase.

    Raises
    ------
    QuestionError
        It is none.
    """
    if name not in PHASES:
        raise QuestionError(f"there is no phase '{name}'; {nearest(name, PHASES)}")
    return name


def phase_of(session: Session, job: Job, name: str) -> Phase:
    """Return a phase of a job.

    Raises
    ------
    QuestionError
        It is none.
    """
    found = _mark(session, job, known_phase(name))
    if found is None or found.version is None:
        return Phase(name, head(session, job), None)
    return Phase(name, revision(session, job, found.version), found)


def phases(session: Session, job: Job) -> dict[str, Phase]:
    """Return every phase of a job by its name."""
    return {name: phase_of(session, job, name) for name in PHASES}


def mark(session: Session, job: Job, name: str, version: int | None, person_id: int) -> None:
    """Say that a version shows a phase; None says that the one that counts does, whichever it is.

    Raises
    ------
    CallpathError
        There is no such phase, or no such version.
    """
    known_phase(name)
    if version is not None:
        revision(session, job, version)
    session.add(PhaseMark(job_id=job.id, phase=name, version=version, person_id=person_id))
    session.flush()


def mark_once(session: Session, job: Job, name: str, version: int, person_id: int) -> None:
    """Say that a version shows a phase where nobody has ever said anything of it."""
    if _mark(session, job, name) is None:
        mark(session, job, name, version, person_id)


def mark_repaired(session: Session, job: Job, before: int, after: Revision, person_id: int) -> None:
    """Say that the version from which a proposal set out is as found, where it undoes what was there and nobody has said."""
    was, now = known_job(revision(session, job, before).text), known_job(after.text)
    moved = any(
        end is not None and end != new
        for name, ends in was.landings.items()
        for end, new in zip(ends, now.landings.get(name, (None, None)), strict=True)
    )
    set_anew = any(
        device.settings != now.equipment[name].settings
        for name, device in was.equipment.items()
        if name in now.equipment
    )
    if moved or set_anew or set(was.jumpers) != set(now.jumpers):
        mark_once(session, job, "as-found", before, person_id)


def _mark(session: Session, job: Job, name: str) -> PhaseMark | None:
    query = select(PhaseMark).where(PhaseMark.job_id == job.id, PhaseMark.phase == name)
    return session.scalars(query.order_by(PhaseMark.id.desc()).limit(1)).first()
