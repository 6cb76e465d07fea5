"""Every version of a job that was ever saved, what is different between two, and taking one again."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import lru_cache

from fastapi import APIRouter, Request
from sqlalchemy import select
from sqlalchemy.orm import Session
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.papers.changes import Changes, changes
from callpath.papers.compared import drawn_together
from callpath.papers.measure import PAPER_MEASURE, THUMB
from callpath.records import history
from callpath.records.phase import PHASES, phase_of, phases
from callpath.records.schema import Job, Revision
from callpath.web.api_sent import Number
from callpath.web.build_page import job_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page
from callpath.web.visit import FormDep, VisitDep

__all__ = ["router", "version_called"]

router = APIRouter()


@dataclass(frozen=True)
class Compared:
    """Two versions, proved, and what is different."""

    older: Revision
    newer: Revision
    before: Proved
    after: Proved
    changes: Changes
    lines: list[str]


def version_called(session: Session, record: Job, name: str) -> Revision:
    """Return the version of a number, or that is ``as-found`` or ``as-left``.

    Raises
    ------
    CallpathError
        There is none.
    """
    if name in PHASES:
        return phase_of(session, record, name).version
    if not name.isdecimal() or len(name) > 9:
        raise CallpathError(f"'{name}' is no version; give its number, {' or '.join(PHASES)}")
    return history.revision(session, record, int(name))


@router.get("/jobs/{job_id}/versions")
def versions(request: Request, who: VisitDep, job_id: str, older: str = "", newer: str = "") -> Response:
    """List the versions; with two of them, what is different."""
    facts = job_facts(who, job_id)
    record = facts["record"]
    compared: Compared | None = None
    with who.store.reading() as session:
        query = select(Revision).where(Revision.job_id == record.id).order_by(Revision.number.desc())
        rows = [(revision, revision.person.name) for revision in session.scalars(query)]
        spoken = phases(session, record)
        if older and newer:
            compared = _compared(*(version_called(session, record, name) for name in (older, newer)))
    return page(request, "versions.html", rows=rows, compared=compared, spoken=spoken, **facts)


def _compared(older: Revision, newer: Revision) -> Compared:
    before, after = proved(older.text), proved(newer.text)
    lines = difflib.unified_diff(older.text.splitlines(), newer.text.splitlines(), "", "", lineterm="", n=2)
    shown = [line for line in lines if not line.startswith(("---", "+++"))]
    return Compared(older, newer, before, after, changes(before.job, after.job), shown)


@router.get("/jobs/{job_id}/compared")
def compared_drawing(who: VisitDep, job_id: str, older: Number, newer: Number, narrow: bool = False) -> Response:
    """Return two versions in one drawing, what came thick and what went dashed."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        before, after = (history.revision(session, record, number).text for number in (older, newer))
    return Response(_together(before, after, narrow=narrow), media_type="image/svg+xml")


@lru_cache(maxsize=16)
def _together(before: str, after: str, *, narrow: bool) -> str:
    # In the order in which the newer one is drawn on the job's own page, so that everything is found where it is there.
    new = proved(after)
    columns, measure = (1, THUMB) if narrow else (3, PAPER_MEASURE)
    return drawn_together(
        proved(before).job, new.job, columns=columns, measure=measure, like=new.diagram(narrow=narrow)
    )


@router.post("/jobs/{job_id}/take")
def take(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Make an earlier version, or one kept aside, the one that counts."""
    with who.store.writing() as session:
        record = who.job(session, job_id, edit=True)
        history.take(session, record.id, form.number("number"), form.number("seen"), who.person_id)
    return back(f"/jobs/{job_id}")
