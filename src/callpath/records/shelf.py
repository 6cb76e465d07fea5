"""All jobs together: finding them, putting one away, making one like another."""

from __future__ import annotations

import re
from collections.abc import Collection

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from callpath.errors import CallpathError
from callpath.job.rewrite import with_changes
from callpath.parts.catalogue import default_catalogue
from callpath.records.history import begin, head
from callpath.records.schema import Job, Revision, now

__all__ = ["archive", "copied", "job_of", "jobs"]

_MOST_WORDS = 8
_COMMENT = re.compile(r"(?m)(^|\s)#.*$")


def jobs(
    session: Session,
    *,
    search: str = "",
    archived: bool = False,
    among: Collection[str] | None = None,
    first: int = 0,
    most: int = 500,
) -> tuple[list[Job], int]:
    """Return jobs, the one changed last first, and how many there are in all.

    Parameters
    ----------
    search : str
        Words that each stand in the title or in the job file, whatever their case: an id, a part, a place. A word of a
        part's title stands for the part. Those with all words in the title come first.
    archived : bool
        Those that were put away, not the others.
    among : collection of str, optional
        Only jobs of these ids.
    first, most : int
        How many to pass over, and how many to return at most.
    """
    wanted = [Job.archived.is_(archived)] + ([] if among is None else [Job.id.in_(among)])
    order = (Job.changed_at.desc(), Job.id)
    words = search.casefold().split()[:_MOST_WORDS]
    if not words:
        total = session.scalar(select(func.count()).select_from(Job).where(*wanted)) or 0
        return list(session.scalars(select(Job).where(*wanted).order_by(*order).offset(first).limit(most))), total
    forms = {word: (word, *_parts_called(word)) for word in words}
    query = (
        select(Job.id, Job.title, Revision.text)
        .join(Revision, and_(Revision.job_id == Job.id, Revision.number == Job.head))
        .where(*wanted)
        .order_by(*order)
    )
    for word, shapes in forms.items():
        in_text = [Revision.text.icontains(shape, autoescape=True) for shape in shapes]
        query = query.where(or_(Job.title.icontains(word, autoescape=True), *in_text))
    titled, filed = [], []
    for job_id, title, text in session.execute(query):
        name = title.casefold()
        said = _COMMENT.sub("", text).casefold()
        if all(word in name for word in words):
            titled.append(job_id)
        elif all(word in name or any(shape in said for shape in forms[word]) for word in words):
            filed.append(job_id)
    found = [*titled, *filed]
    shown = found[first : first + most]
    by_id = {job.id: job for job in session.scalars(select(Job).where(Job.id.in_(shown)))}
    return [by_id[job_id] for job_id in shown], len(found)


def _parts_called(word: str) -> list[str]:
    """Return the parts that have a word in their title and not in their name."""
    parts = (default_catalogue().part(name) for name in default_catalogue().names)
    return [part.part for part in parts if word in part.title.casefold() and word not in part.part]


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
