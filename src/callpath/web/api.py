"""The same for programs: JSON in and out, told by an OpenAPI document at ``/api/openapi.json``.

Alone on a machine nothing is asked; in a team a program logs in once and sends the token that it gets as
``Authorization: Bearer``. What the answers of ``prove``, ``read``, ``sequence``, ``land`` and ``mend`` mean is in the documents
of the commands of these names.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from sqlalchemy import select
from starlette.exceptions import HTTPException
from starlette.responses import Response

from callpath.calls.closing import given_for
from callpath.calls.guard import safeties
from callpath.calls.outside import LONGEST_S
from callpath.calls.play import play
from callpath.calls.reading import amps_in, ohms_between, point, spread, volts_between, volts_table
from callpath.circuit.snapshot import snapshot
from callpath.circuit.spice import netlist
from callpath.errors import CallpathError, InputError
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.parts.catalogue import default_catalogue
from callpath.parts.describe import part_as_json
from callpath.records import history, people, phase, shelf
from callpath.records.history import Change
from callpath.records.schema import Job, Revision
from callpath.web import api_assumed, api_fault, api_papers, api_record
from callpath.web.api_sent import Number, Sent, Text, Word
from callpath.web.proved import Proved, proved
from callpath.web.status import status_of
from callpath.web.visit import DeniedError, VisitDep, address_of

__all__ = ["ROUTERS", "create_api"]

router = APIRouter()
ROUTERS = (router, api_record.router, api_papers.router, api_fault.router, api_assumed.router)
"""Where the questions of programs are."""

Several = Annotated[list[Word] | None, Query(max_length=20)]
Seconds = Annotated[float, Query(ge=0, le=LONGEST_S)]


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


@contextmanager
def _asked(who: VisitDep, job_id: str) -> Iterator[Proved]:
    """Hand out a job's circuit to one asker at a time."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    found = proved(text)
    with found.asking:
        yield found


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


@router.get("/jobs/{job_id}/prove")
def prove(who: VisitDep, job_id: Word) -> dict[str, Any]:
    """Return the proof, as ``callpath prove --json`` does."""
    with _asked(who, job_id) as found:
        return found.proof.as_json()


@router.get("/jobs/{job_id}/read")
def read(
    who: VisitDep,
    job_id: Word,
    call: Word = "off",
    by: Several = None,
    between: Annotated[list[Word] | None, Query(max_length=2)] = None,
    amps: Word = "",
    ohms: bool = False,
    lift: Annotated[list[Word] | None, Query(max_length=8)] = None,
    low_z: bool = False,
) -> dict[str, Any]:
    """Return what a meter shows, as ``callpath read --json`` does; without two points a table."""
    with _asked(who, job_id) as found:
        told: dict[str, Any] = {"call": call, **({"by": by} if by else {})}
        if amps:
            return {**told, "conductor": amps, **spread("amps", amps_in(found.circuit, call, amps, by=by or ()))}
        if not between:
            rows = volts_table(found.circuit, call, by=by or ())
            readings = [{"between": [row.terminal, row.against], **spread("volts", row.reading)} for row in rows]
            return {**told, "readings": readings}
        if len(between) != 2:
            raise CallpathError("a meter has two leads: give between twice")
        if ohms:
            reading = ohms_between(found.circuit, between[0], between[1], call=call, lifted=lift or [], by=by or ())
            return {"between": between, **spread("ohms", reading)}
        reading = volts_between(found.circuit, call, between[0], between[1], low_z=low_z, by=by or ())
        return {**told, "between": between, **spread("volts", reading)}


@router.get("/jobs/{job_id}/sequence")
def sequence(
    who: VisitDep,
    job_id: Word,
    call: Word,
    by: Several = None,
    then: Several = None,
    ends: Seconds | None = None,
    opens: Annotated[list[Word] | None, Query(alias="open", max_length=20)] = None,
    closes: Annotated[list[Word] | None, Query(alias="close", max_length=20)] = None,
    power_off: Annotated[list[Word] | None, Query(alias="power-off", max_length=20)] = None,
    power_on: Annotated[list[Word] | None, Query(alias="power-on", max_length=20)] = None,
    no_flame: Annotated[list[Word] | None, Query(alias="no-flame", max_length=20)] = None,
    flame: Several = None,
    frost: bool = False,
    stopped_ago: Annotated[float | None, Query(alias="stopped-ago", ge=0, le=10**9)] = None,
) -> dict[str, Any]:
    """Return the sequence of operation, as ``callpath sequence --json`` does; what comes between is written as there."""
    given = {
        "open": opens,
        "close": closes,
        "power-off": power_off,
        "power-on": power_on,
        "no-flame": no_flame,
        "flame": flame,
        "then": then,
    }
    wanted = play(call, given, by=by, ends=ends, stopped_ago=stopped_ago, frost=frost)
    with _asked(who, job_id) as found:
        return wanted.timing(found.circuit).as_json(call, safeties(found.circuit, call))


@router.get("/jobs/{job_id}/netlist")
def spice(
    who: VisitDep,
    job_id: Word,
    call: Word = "off",
    between: Annotated[list[Word] | None, Query(max_length=2)] = None,
) -> dict[str, Any]:
    """Return the settled circuit for any SPICE, as ``callpath netlist --json`` does."""
    with _asked(who, job_id) as found:
        circuit = found.circuit
        if between and len(between) != 2:
            raise CallpathError("a meter has two leads: give between twice")
        pair = (point(circuit, between[0]), point(circuit, between[1])) if between else None
        state = snapshot(circuit, given_for(circuit, call))
        return {"call": call, "netlist": netlist(state, title=f"{found.job.title}: {call}", between=pair)}


@router.get("/jobs/{job_id}/land")
def landing(
    who: VisitDep, job_id: Word, free: Annotated[list[Word] | None, Query(max_length=8)] = None
) -> dict[str, Any]:
    """Return the best landing, as ``callpath land --json`` does; nothing is changed."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    return land(proved(text).job, free=free or []).as_json()


@router.get("/jobs/{job_id}/mend")
def repair(who: VisitDep, job_id: Word) -> dict[str, Any]:
    """Return the smallest repair, as ``callpath mend --json`` does; nothing is changed."""
    with who.store.reading() as session:
        text = history.head(session, who.job(session, job_id)).text
    return mend(proved(text).job).as_json()
