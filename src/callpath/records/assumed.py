"""What is assumed of faults and of work, kept: for one job, for the whole office, or as it ships with callpath."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from callpath.errors import CallpathError, QuestionError, nearest
from callpath.faults.cost import Minutes, read_minutes, shipped_minutes
from callpath.faults.prior import Priors, read_priors, shipped_priors
from callpath.records.schema import Assumed, Job

__all__ = ["KINDS", "SHIPPED", "Assumptions", "Kind", "assume", "assumed", "assumptions"]


@dataclass(frozen=True)
class Kind:
    """One kind of assumptions: what it is in words, the text that ships with callpath, and what checks another."""

    told: str
    shipped: Callable[[], str]
    check: Callable[[str], object]


KINDS: Mapping[str, Kind] = {
    "priors": Kind("how often each fault is what is wrong", shipped_priors, read_priors),
    "minutes": Kind("what walks and tests take", shipped_minutes, read_minutes),
}
"""What can be assumed, by the name of the command's option."""


@dataclass(frozen=True)
class Assumptions:
    """Texts of what is assumed; an empty one stands for what ships with callpath."""

    priors: str = ""
    minutes: str = ""

    def read(self) -> tuple[Priors | None, Minutes | None]:
        """Return them read, None for what ships with callpath."""
        return (
            read_priors(self.priors) if self.priors else None,
            read_minutes(self.minutes) if self.minutes else None,
        )


SHIPPED = Assumptions()


def assumed(session: Session, job: Job | None, kind: str) -> Assumed | None:
    """Return what was last said of a job, or without one of the whole office; its text may be empty.

    Raises
    ------
    QuestionError
        Nothing of that kind is assumed.
    """
    if kind not in KINDS:
        raise QuestionError(f"nothing is assumed that is called '{kind}'; {nearest(kind, KINDS)}")
    query = select(Assumed).where(Assumed.kind == kind, Assumed.job_id == (job.id if job else None))
    return session.scalars(query.order_by(Assumed.id.desc()).limit(1)).first()


def assumptions(session: Session, job: Job | None) -> Assumptions:
    """Return what counts for a job: its own, else the office's, else what ships."""
    rows = {kind: [assumed(session, job, kind), assumed(session, None, kind)] for kind in KINDS}
    texts = {kind: next((row.text for row in both if row is not None and row.text), "") for kind, both in rows.items()}
    return Assumptions(**texts)


def assume(session: Session, job: Job | None, kind: str, text: str, person_id: int, seen: int) -> Assumed:
    """Keep what somebody assumes from now on; an empty text goes back to what counts without it.

    Parameters
    ----------
    seen : int
        The number of what they looked at, 0 where there was nothing: who was quicker is not written over.

    Raises
    ------
    FaultDataError
        The text holds no such assumptions.
    CallpathError
        Somebody was quicker.
    """
    before = assumed(session, job, kind)
    if (before.id if before else 0) != seen:
        raise CallpathError("somebody has changed these assumptions meanwhile; look at theirs, then say yours again")
    text = text if text.strip() else ""
    if text:
        KINDS[kind].check(text)
    made = Assumed(job_id=job.id if job else None, kind=kind, text=text, person_id=person_id)
    session.add(made)
    session.flush()
    return made
