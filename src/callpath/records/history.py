"""A job's line of revisions: changes that never overwrite each other, and undo and redo without end.

Whoever changes a job says which revision they looked at. Where that is no longer the head, somebody has been quicker: the change
is kept aside, whole, and they are told. Undo and redo are revisions too, so that history only grows.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from callpath.errors import CallpathError
from callpath.job.read import known_job
from callpath.records.schema import Job, Revision, now

__all__ = ["Change", "begin", "change", "head", "redo", "redo_state", "revision", "take", "undo"]

_LONGEST = 400


@dataclass(frozen=True)
class Change:
    """What somebody wants a job to say: the whole new text, why, and the number of the revision that they looked at."""

    text: str
    what: str
    seen: int
    person_id: int


def begin(session: Session, text: str, person_id: int, what: str = "new") -> Job:
    """Put a new job into the records and return it.

    Raises
    ------
    JobError
        The text is no sound job.
    """
    title = known_job(text).title
    job = Job(title=_short(title), owner_id=person_id, head=1)
    session.add(job)
    session.flush()
    session.add(
        Revision(job_id=job.id, number=1, state=1, base=None, text=text, what=_short(what), person_id=person_id)
    )
    session.flush()
    return job


def revision(session: Session, job: Job, number: int) -> Revision:
    """Return one revision of a job.

    Raises
    ------
    CallpathError
        There is none of that number.
    """
    found = session.scalar(select(Revision).where(Revision.job_id == job.id, Revision.number == number))
    if found is None:
        raise CallpathError(f"this job has no version {number}")
    return found


def head(session: Session, job: Job) -> Revision:
    """Return the revision that counts."""
    return revision(session, job, job.head)


def change(session: Session, job_id: str, wanted: Change) -> Revision:
    """Save a change and return its revision; where it says what the head says already, the head.

    Where somebody was quicker the revision is kept aside and is not the head: ``aside`` tells.

    Raises
    ------
    JobError
        The text is no sound job.
    """
    title = known_job(wanted.text).title
    job = _locked(session, job_id)
    now_head, base = head(session, job), revision(session, job, wanted.seen)
    if wanted.text == now_head.text:
        return now_head
    if base.number != now_head.number:
        return _added(session, job, wanted, base=base.state, aside=True)
    new = _added(session, job, wanted, base=base.state)
    job.head, job.title, job.changed_at = new.number, _short(title), new.made_at
    return new


def undo(session: Session, job_id: str, seen: int, person_id: int) -> Revision:
    """Go back to what the head was made from.

    Raises
    ------
    CallpathError
        It is the first, or the job has been changed since it was looked at.
    """
    job = _locked(session, job_id)
    here = _only_if_seen(session, job, seen)
    if here.base is None:
        raise CallpathError("there is nothing to undo: this is the first version")
    undone = revision(session, job, here.state)
    return _moved(session, job, here.base, f"undo: {undone.what}", person_id)


def redo(session: Session, job_id: str, seen: int, person_id: int) -> Revision:
    """Go forward to the youngest state that was made from the head.

    Raises
    ------
    CallpathError
        There is none, or the job has been changed since it was looked at.
    """
    job = _locked(session, job_id)
    here = _only_if_seen(session, job, seen)
    target = redo_state(session, job, here)
    if target is None:
        raise CallpathError("there is nothing to redo")
    return _moved(session, job, target, f"redo: {revision(session, job, target).what}", person_id)


def redo_state(session: Session, job: Job, here: Revision) -> int | None:
    """Return the state to which redo would go."""
    query = select(func.max(Revision.number)).where(
        Revision.job_id == job.id, Revision.base == here.state, Revision.state == Revision.number, ~Revision.aside
    )
    return session.scalar(query)


def take(session: Session, job_id: str, number: int, seen: int, person_id: int) -> Revision:
    """Make an earlier version, or one kept aside, the head, as a change that can be undone."""
    job = _locked(session, job_id)
    text = revision(session, job, number).text
    return change(session, job_id, Change(text, f"version {number} taken again", seen, person_id))


def _locked(session: Session, job_id: str) -> Job:
    """Return a job that nobody else changes until this transaction ends: SQLite has one writer, PostgreSQL locks the row."""
    job = session.scalar(
        select(Job).where(Job.id == job_id).with_for_update(of=Job).execution_options(populate_existing=True)
    )
    if job is None:
        raise CallpathError("there is no such job")
    return job


def _only_if_seen(session: Session, job: Job, seen: int) -> Revision:
    here = head(session, job)
    if here.number != seen:
        raise CallpathError(
            f"{here.person.name} saved version {here.number} ({here.what}) meanwhile; look at it, then try again"
        )
    return here


def _added(session: Session, job: Job, wanted: Change, *, base: int, aside: bool = False) -> Revision:
    last = session.scalar(select(func.max(Revision.number)).where(Revision.job_id == job.id)) or 0
    new = Revision(
        job_id=job.id,
        number=last + 1,
        state=last + 1,
        base=base,
        aside=aside,
        text=wanted.text,
        what=_short(wanted.what),
        person_id=wanted.person_id,
        made_at=now(),
    )
    session.add(new)
    session.flush()
    return new


def _moved(session: Session, job: Job, state: int, what: str, person_id: int) -> Revision:
    there = revision(session, job, state)
    new = _added(session, job, Change(there.text, what, job.head, person_id), base=there.base or 0)
    new.state, new.base = there.state, there.base
    job.head, job.title, job.changed_at = new.number, _short(known_job(there.text).title), new.made_at
    session.flush()
    return new


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
