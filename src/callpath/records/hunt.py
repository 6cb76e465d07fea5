"""Searches for faults: the one that is going on, and the scores of those that were practice."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from callpath.errors import CallpathError
from callpath.faults.asked import Check, Seen
from callpath.faults.seen import read_seen, seen_text
from callpath.faults.troubleshoot import Case
from callpath.records.assumed import SHIPPED, Assumptions
from callpath.records.schema import Hunt, Job, now

__all__ = ["begin_hunt", "end_hunt", "keep", "open_hunt", "scores", "seen_of", "skipped_of"]

_NOTHING = seen_text([])


def open_hunt(session: Session, job: Job, kind: str, person_id: int | None = None) -> Hunt | None:
    """Return the search that is going on: for a real fault anybody's, in practice one's own."""
    query = select(Hunt).where(Hunt.job_id == job.id, Hunt.kind == kind, Hunt.ended_at.is_(None))
    if person_id is not None:
        query = query.where(Hunt.person_id == person_id)
    return session.scalars(query.order_by(Hunt.id.desc()).limit(1)).first()


def begin_hunt(
    session: Session,
    job: Job,
    kind: str,
    person_id: int,
    *,
    seed: int = 0,
    faults: int = 0,
    alike: str = "",
    assumed: Assumptions = SHIPPED,
) -> Hunt:
    """Begin a search on the version that counts now, and keep to that version; an exercise keeps to its assumptions too."""
    made = Hunt(
        job_id=job.id,
        version=job.head,
        kind=kind,
        seen=_NOTHING,
        skipped=_NOTHING,
        seed=seed,
        faults=faults,
        alike=alike,
        priors=assumed.priors,
        minutes_assumed=assumed.minutes,
        person_id=person_id,
    )
    session.add(made)
    session.flush()
    return made


def keep(hunt: Hunt, seen: Sequence[Seen], skipped: Sequence[Seen] = (), *, was: str) -> None:
    """Keep what was seen.

    Raises
    ------
    CallpathError
        Somebody has answered meanwhile, on another device.
    """
    _must_be_as_it_was(hunt, was)
    hunt.seen, hunt.skipped = seen_text(seen), seen_text(skipped)


def seen_of(hunt: Hunt, case: Case) -> list[Seen]:
    """Return what was seen so far."""
    return read_seen(hunt.seen, case.circuit)


def skipped_of(hunt: Hunt, case: Case) -> list[Check]:
    """Return the tests that cannot be made."""
    return [seen.test for seen in read_seen(hunt.skipped, case.circuit)]


def end_hunt(hunt: Hunt, *, was: str | None = None) -> None:
    """End a search; ``was`` is what had been seen where somebody thought it done, anything where it is not given.

    Raises
    ------
    CallpathError
        Somebody has answered meanwhile, on another device.
    """
    _must_be_as_it_was(hunt, hunt.seen if was is None else was)
    hunt.ended_at = now()


def _must_be_as_it_was(hunt: Hunt, was: str) -> None:
    if hunt.seen != was:
        raise CallpathError("there is another answer already, from another device; look at it, then go on from there")


def scores(session: Session, person_id: int | None = None) -> list[Hunt]:
    """Return the practice that has ended, the latest first: everybody's, or one person's."""
    query = select(Hunt).where(Hunt.kind == "practice", Hunt.ended_at.is_not(None)).order_by(Hunt.ended_at.desc())
    if person_id is not None:
        query = query.where(Hunt.person_id == person_id)
    return list(session.scalars(query.limit(500)))
