"""The same for programs: JSON in and out, told by an OpenAPI document at ``/api/openapi.json``.

Alone on a machine nothing is asked; in a team a program logs in once and sends the token that it gets as
``Authorization: Bearer``. What the answers of ``prove``, ``read``, ``sequence``, ``land`` and ``mend`` mean is in the documents
of the commands of these names.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from sqlalchemy import select
from starlette.exceptions import HTTPException
from starlette.responses import Response

from callpath.errors import CallpathError, InputError
from callpath.parts.catalogue import default_catalogue
from callpath.parts.describe import part_as_json
from callpath.records import history, people, phase, shelf
from callpath.records.history import Change
from callpath.records.schema import Job, Revision
from callpath.web import api_assumed, api_circuit, api_fault, api_papers, api_record
from callpath.web.api_sent import Number, Sent, Text, Word
from callpath.web.status import status_of
from callpath.web.visit import DeniedError, VisitDep, address_of

__all__ = ["ROUTERS", "create_api"]

router = APIRouter()
ROUTERS = (router, api_circuit.router, api_record.router, api_papers.router, api_fault.router, api_assumed.router)
"""Where the questions of programs are."""


class JobSent(Sent):
    """A job file's text."""

    text: Text


class ChangeSent(Sent):
    """A new text, and the number of the version that it was made from."""

    text: Text
    seen: Number
    what: Word = "by a program"


class Seen(Sent):
    """The number of the version that was looked at."""

    seen: Number


class LoginSent(Sent):
    """Who logs in."""

    name: Word
    password: Word


class JobTold(BaseModel):
    """A job, without its text."""

    id: str
    title: str
    head: int
    archived: bool
    owner: str
    made_at: datetime
    changed_at: datetime


class VersionTold(BaseModel):
    """A version, without its text; ``counts`` tells whether it is the job's head."""

    number: int
    what: str
    by: str
    made_at: datetime
    aside: bool
    counts: bool


class Saved(BaseModel):
    """What became of a change: the version in which it is kept, and whether that is the job's head now."""

    number: int
    counts: bool
    head: int


class ErrorTold(BaseModel):
    """What is wrong: the place where there is one, and the words."""

    errors: list[dict[str, str | int]]


_ERRORS: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorTold, "description": description}
    for status, description in (
        (400, "the request cannot be read"),
        (401, "log in first"),
        (403, "not yours to do"),
        (404, "not there, or not yours to see"),
        (413, "too large"),
        (422, "what was sent is wrong"),
        (429, "too many wrong passwords lately"),
    )
}


def create_api(state: Any) -> FastAPI:
    """Return the application for programs, which shares the pages' records."""
    api = FastAPI(title="callpath", version="1", docs_url=None, redoc_url=None, responses=_ERRORS)
    api.state = state
    for part in ROUTERS:
        api.include_router(part)
    api.add_exception_handler(CallpathError, _told)
    api.add_exception_handler(HTTPException, refused)
    api.add_exception_handler(RequestValidationError, _invalid)
    return api


def _told(request: Request, error: Exception) -> Response:
    problems = error.problems if isinstance(error, InputError) else ()
    rows = [problem.as_json() for problem in problems] or [_row(str(error))]
    return JSONResponse({"errors": rows}, status_of(error))


def refused(request: Request, error: Exception) -> Response:
    """Return an error of HTTP as programs get it."""
    headers = getattr(error, "headers", None)
    return JSONResponse(
        {"errors": [_row(str(getattr(error, "detail", "")))]}, getattr(error, "status_code", 500), headers=headers
    )


def _invalid(request: Request, error: Exception) -> Response:
    rows = error.errors() if isinstance(error, RequestValidationError) else []
    return JSONResponse({"errors": [_row(f"{'.'.join(map(str, row['loc']))}: {row['msg']}") for row in rows]}, 422)


def _row(message: str) -> dict[str, str | int]:
    return {"file": "", "line": 0, "column": 0, "message": message}


def _job(job: Job) -> JobTold:
    return JobTold(
        id=job.id,
        title=job.title,
        head=job.head,
        archived=job.archived,
        owner=job.owner.name,
        made_at=job.made_at,
        changed_at=job.changed_at,
    )


@router.post("/login")
def log_in(request: Request, sent: LoginSent) -> dict[str, str]:
    """Return a token for who knows the password."""
    if not request.app.state.team:
        raise DeniedError("nobody logs in here: one person works on these records")
    token = people.log_in(request.app.state.store, sent.name, sent.password, address_of(request))
    if token is None:
        raise HTTPException(401, "this name and this password do not belong together")
    return {"token": token}


@router.get("/parts")
def parts(who: VisitDep) -> dict[str, Any]:
    """Return the catalogue."""
    catalogue = default_catalogue()
    return {"parts": [part_as_json(catalogue.part(name)) for name in catalogue.names]}


@router.get("/jobs")
def list_jobs(who: VisitDep, search: Word = "", archived: bool = False) -> list[JobTold]:
    """List the jobs that are yours to see."""
    with who.store.reading() as session:
        found, _ = shelf.jobs(session, search=search, archived=archived, among=who.among)
        return [_job(job) for job in found]


@router.post("/jobs", status_code=201)
def new_job(who: VisitDep, sent: JobSent) -> JobTold:
    """Keep a new job."""
    who.must_not_be_trainee()
    with who.store.writing() as session:
        job = history.begin(session, sent.text, who.person_id, "by a program")
        phase.mark(session, job, "as-found", job.head, who.person_id)
        return _job(_fresh(session, job))


def _fresh(session: Any, job: Job) -> Job:
    session.refresh(job)
    return job


@router.get("/jobs/{job_id}")
def one_job(who: VisitDep, job_id: Word) -> JobTold:
    """Return a job."""
    with who.store.reading() as session:
        return _job(who.job(session, job_id))


@router.get("/jobs/{job_id}/file", response_class=Response, responses={200: {"content": {"application/yaml": {}}}})
def job_file(who: VisitDep, job_id: Word, version: Number | None = None) -> Response:
    """Return the job file of a version, the head's without one."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        return Response(history.revision(session, job, version or job.head).text, media_type="application/yaml")


@router.put("/jobs/{job_id}/file", responses={409: {"model": Saved, "description": "somebody was quicker; kept aside"}})
def change_job(who: VisitDep, job_id: Word, sent: ChangeSent, response: Response) -> Saved:
    """Save a change; where somebody was quicker it is kept aside, and the answer says 409."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        new = history.change(session, job.id, Change(sent.text, sent.what, sent.seen, who.person_id))
        if new.aside:
            response.status_code = 409
        return Saved(number=new.number, counts=not new.aside, head=job.head)


@router.post("/jobs/{job_id}/undo")
def undo(who: VisitDep, job_id: Word, sent: Seen) -> Saved:
    """Go one step back."""
    with who.store.writing() as session:
        new = history.undo(session, who.job(session, job_id, edit=True).id, sent.seen, who.person_id)
        return Saved(number=new.number, counts=True, head=new.number)


@router.post("/jobs/{job_id}/redo")
def redo(who: VisitDep, job_id: Word, sent: Seen) -> Saved:
    """Go one step forward again."""
    with who.store.writing() as session:
        new = history.redo(session, who.job(session, job_id, edit=True).id, sent.seen, who.person_id)
        return Saved(number=new.number, counts=True, head=new.number)


@router.post("/jobs/{job_id}/copy", status_code=201)
def copy(who: VisitDep, job_id: Word) -> JobTold:
    """Make a job like another."""
    who.must_not_be_trainee()
    with who.store.writing() as session:
        return _job(_fresh(session, shelf.copied(session, who.job(session, job_id), who.person_id)))


@router.post("/jobs/{job_id}/archive")
def archive(who: VisitDep, job_id: Word, archived: bool = True) -> JobTold:
    """Put a job away, or take it out again; nothing of it is lost."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        shelf.archive(session, job, archived)
        return _job(job)


@router.get("/jobs/{job_id}/versions")
def versions(who: VisitDep, job_id: Word) -> list[VersionTold]:
    """List every version, the youngest first."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        rows = session.scalars(select(Revision).where(Revision.job_id == job.id).order_by(Revision.number.desc()))
        return [
            VersionTold(
                number=row.number,
                what=row.what,
                by=row.person.name,
                made_at=row.made_at,
                aside=row.aside,
                counts=row.number == job.head,
            )
            for row in rows
        ]
