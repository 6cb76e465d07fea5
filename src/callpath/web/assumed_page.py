"""What is assumed of faults and of work: shown, changed as text or from a file, and taken back, for a job or for all."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from sqlalchemy.orm import Session
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.faults.assumed import MOST_BYTES
from callpath.records.assumed import KINDS, assume, assumed
from callpath.records.schema import Assumed, Job
from callpath.web.build_page import job_facts
from callpath.web.render import back, page, problems_of
from callpath.web.visit import DeniedError, Form, FormDep, Visit, VisitDep

__all__ = ["may_set_for_all", "router"]

router = APIRouter()


@dataclass(frozen=True)
class Told:
    """One kind of assumptions for the page: whose text counts, the text, and the number of what was last said here."""

    name: str
    words: str
    whose: str
    row: Assumed | None
    text: str
    seen: int
    own: bool


def may_set_for_all(who: Visit) -> None:
    """Let only who leads say what the whole office assumes.

    Raises
    ------
    DeniedError
        They do not.
    """
    if who.role != "lead":
        raise DeniedError("only who leads says what the whole office assumes")


def _told(session: Session, job: Job | None) -> list[Told]:
    found = []
    for name, kind in KINDS.items():
        here, office = assumed(session, job, name), assumed(session, None, name)
        own = here is not None and bool(here.text)
        if own:
            whose, row = ("of this job" if job else "of the office"), here
        elif job and office is not None and office.text:
            whose, row = "of the office", office
        else:
            whose, row = "as they ship with callpath", None
        text = row.text if row else kind.shipped()
        found.append(Told(name, kind.told, whose, row, text, here.id if here else 0, own))
    return found


def _text(form: Form) -> str:
    sent = form.file("file")
    if sent is None:
        return form.text("text")
    raw = sent.file.read(MOST_BYTES + 1)
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise CallpathError("the file is no text in UTF-8") from None


def _keep(session: Session, job: Job | None, form: Form, who: Visit) -> None:
    do = form.word("do")
    if do not in ("keep", "drop"):
        raise CallpathError("this form asks for something that callpath does not do; load the page again")
    text = _text(form) if do == "keep" else ""
    if do == "keep" and not text.strip():
        raise CallpathError("there is nothing in it; to go back to what counts without it, use the button for that")
    assume(session, job, form.word("kind"), text, who.person_id, form.number("seen"))


@router.get("/jobs/{job_id}/assumptions")
def of_job(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show what is assumed for a job."""
    return _of_job(request, who, job_id, [])


def _of_job(
    request: Request, who: Visit, job_id: str, problems: list[str], given: tuple[str, str] = ("", "")
) -> Response:
    facts = job_facts(who, job_id)
    with who.store.reading() as session:
        told = _told(session, who.job(session, job_id))
    return page(
        request,
        "assumed.html",
        status=422 if problems else 200,
        told=told,
        given=given,
        may_change=facts["may_edit"],
        problems=problems,
        **facts,
    )


@router.post("/jobs/{job_id}/assumptions")
def keep_of_job(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Keep what somebody assumes for a job, or go back to what counts without it."""
    with who.store.reading() as session:
        who.job(session, job_id, edit=True)
    try:
        with who.store.writing() as session:
            _keep(session, who.job(session, job_id, edit=True), form, who)
    except CallpathError as error:
        return _of_job(request, who, job_id, problems_of(error), (form.word("kind"), form.text("text")))
    return back(f"/jobs/{job_id}/assumptions")


@router.get("/assumptions")
def of_office(request: Request, who: VisitDep) -> Response:
    """Show what is assumed for every job that says nothing of its own."""
    return _of_office(request, who, [])


def _of_office(request: Request, who: Visit, problems: list[str], given: tuple[str, str] = ("", "")) -> Response:
    with who.store.reading() as session:
        told = _told(session, None)
    return page(
        request,
        "assumed_office.html",
        status=422 if problems else 200,
        visit=who,
        told=told,
        given=given,
        may_change=who.role == "lead",
        problems=problems,
        at="",
    )


@router.post("/assumptions")
def keep_of_office(request: Request, who: VisitDep, form: FormDep) -> Response:
    """Keep what the whole office assumes, or go back to what ships with callpath."""
    may_set_for_all(who)
    try:
        with who.store.writing() as session:
            _keep(session, None, form, who)
    except CallpathError as error:
        return _of_office(request, who, problems_of(error), (form.word("kind"), form.text("text")))
    return back("/assumptions")
