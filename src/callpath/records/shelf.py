"""All jobs together: finding them, putting one away, making one like another."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from callpath.errors import CallpathError
from callpath.job.rewrite import with_changes
from callpath.records.history import begin, head
from callpath.records.schema import Job, now

__all__ = ["archive", "copied", "job_of", "jobs"]

_MOST = 500


def jobs(session: Session, *, search: str = "", archived: bool = False) -> list[Job]:
    """Return jobs, the one changed last first.

    Parameters
    ----------
    search : str
        Words that all stand in the title, whatever their case.
    archived : bool
        Those that were put away, not the others.
    """
    query = select(Job).where(Job.archived.is_(archived)).order_by(Job.changed_at.desc(), Job.id).limit(_MOST)
    for word in search.split():
        query = query.where(Job.title.icontains(word, autoescape=True))
    return list(session.scalars(query))


def job_of(session: Session, job_id: str) -> Job:
    """Return one job.

    Raises
    ------
    CallpathError
        There is none of that id.
    """
    job = session.get(Job, job_id)
    if job is None:
        raise CallpathError("there is no such job")
    return job


def copied(session: Session, job: Job, person_id: int) -> Job:
    """Make a job of its own with the same file; its history begins anew."""
    text = with_changes(head(session, job).text, title=f"{job.title} (copy)".strip())
    return begin(session, text, person_id, what=f"copy of {job.title or 'a job without a title'}")


def archive(session: Session, job: Job, archived: bool) -> None:
    """Put a job away, or take it out again; nothing of it is lost."""
    job.archived, job.changed_at = archived, now()
    session.flush()
