"""For programs: what is assumed of faults and of work, for a job or for the whole office."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from callpath.faults.assumed import MOST_BYTES
from callpath.records.assumed import KINDS, assume, assumed, assumptions
from callpath.records.schema import Job
from callpath.web.api_sent import Count, Sent, Word
from callpath.web.assumed_page import may_set_for_all
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()

_Kind = Literal["priors", "minutes"]


class AssumptionTold(BaseModel):
    """The text that counts, whether it was said here, and the number of what was last said here."""

    text: str
    own: bool
    seen: int


class AssumptionSent(Sent):
    """A text, empty to go back to what counts without it; and the number of what was looked at, 0 where there was nothing."""

    text: Annotated[str, Field(max_length=MOST_BYTES)]
    seen: Count = 0


def _told(session: Session, job: Job | None, kind: str) -> AssumptionTold:
    here = assumed(session, job, kind)
    text = getattr(assumptions(session, job), kind) or KINDS[kind].shipped()
    return AssumptionTold(text=text, own=here is not None and bool(here.text), seen=here.id if here else 0)


@router.get("/assumptions/{kind}")
def of_office(who: VisitDep, kind: _Kind) -> AssumptionTold:
    """Return what is assumed for every job that says nothing of its own."""
    with who.store.reading() as session:
        return _told(session, None, kind)


@router.put("/assumptions/{kind}")
def assume_for_all(who: VisitDep, kind: _Kind, sent: AssumptionSent) -> AssumptionTold:
    """Keep what the whole office assumes."""
    may_set_for_all(who)
    with who.store.writing() as session:
        assume(session, None, kind, sent.text, who.person_id, sent.seen)
        return _told(session, None, kind)


@router.get("/jobs/{job_id}/assumptions/{kind}")
def of_job(who: VisitDep, job_id: Word, kind: _Kind) -> AssumptionTold:
    """Return what is assumed for a job."""
    with who.store.reading() as session:
        return _told(session, who.job(session, job_id), kind)


@router.put("/jobs/{job_id}/assumptions/{kind}")
def assume_for_job(who: VisitDep, job_id: Word, kind: _Kind, sent: AssumptionSent) -> AssumptionTold:
    """Keep what somebody assumes for a job."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        assume(session, job, kind, sent.text, who.person_id, sent.seen)
        return _told(session, job, kind)
