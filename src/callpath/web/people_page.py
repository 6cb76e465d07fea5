"""Coming in and going out of an office's page, and looking after who may: accounts, roles, jobs given to people."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlalchemy import select
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.records import people
from callpath.records.schema import Grant, Person
from callpath.records.store import Store
from callpath.web.api_sent import Number
from callpath.web.build_page import job_facts
from callpath.web.guard import COOKIE
from callpath.web.render import back, page
from callpath.web.status import status_of
from callpath.web.visit import (
    DeniedError,
    Form,
    FormDep,
    LockedError,
    VisitDep,
    address_of,
    checked_form,
    signed,
    ticket_of,
)

__all__ = ["router"]

router = APIRouter()


def _stranger(request: Request) -> str:
    """Return the token of a form for somebody who has not come in yet."""
    if not request.app.state.team:
        raise DeniedError("nobody logs in here: one person works on this page")
    ticket = request.cookies.get(COOKIE, "")
    with request.app.state.store.reading() as session:
        known = people.logged_in(session, ticket) is not None
    if not known:
        # The key is for the first account only; whoever has an account needs none.
        ticket = ticket_of(request, anybody=True)
    return signed(request.app.state.secret, "login", ticket)


StrangerDep = Annotated[str, Depends(_stranger)]


async def _strangers_form(request: Request, csrf: StrangerDep) -> object:
    async with checked_form(request, csrf) as form:
        # Only words come in these forms, so that they may be kept after the form is let go of.
        return form


StrangersFormDep = Annotated[Form, Depends(_strangers_form)]


_TOLD = {
    "changed": "Your password is changed. Log in with the new one.",
    "out": "You are logged out.",
    "everywhere": "You are logged out on every device.",
}


@router.get("/login")
def login(request: Request, csrf: StrangerDep, then: str = "", told: str = "") -> Response:
    """Ask who comes."""
    return _login(request, csrf, then=then, told=_TOLD.get(told, ""))


def _login(
    request: Request, csrf: str, problems: list[str] | None = None, status: int = 200, name: str = "", **facts: str
) -> Response:
    with request.app.state.store.reading() as session:
        first = not people.has_accounts(session)
    facts = {"then": "", "told": "", **facts}
    return page(
        request, "login.html", status=status, csrf=csrf, first=first, name=name, problems=problems or [], **facts
    )


@router.post("/login")
def log_in(request: Request, csrf: StrangerDep, form: StrangersFormDep) -> Response:
    """Let somebody in who knows their password."""
    then = form.word("then")
    problems, token, status = [], None, 401
    try:
        token = people.log_in(request.app.state.store, form.word("name"), form.text("password"), address_of(request))
    except CallpathError as error:
        problems, status = [str(error)], status_of(error)
    if token is None:
        problems = problems or ["this name and this password do not belong together"]
        return _login(request, csrf, problems, status, form.word("name"), then=then)
    request.state.new_ticket = token
    # Only to a page of ours: an address elsewhere would start with two slashes or a scheme.
    return back(then if re.fullmatch(r"/[\w-]+(/[\w-]+)*", then) else "/")


@router.post("/first")
def first(request: Request, csrf: StrangerDep, form: StrangersFormDep) -> Response:
    """Make the first account, by whoever has the key that the server printed."""
    key: str | None = request.app.state.door_key
    store: Store = request.app.state.store
    try:
        if key is None or not people.knock(store, form.word("key"), key, address_of(request)):
            raise LockedError("this is not the key that callpath printed when it started")
        with store.writing() as session:
            if people.has_accounts(session):
                raise LockedError("somebody has an account already; they can make yours")
            people.add_person(session, form.word("name"), "lead", form.text("password"))
    except CallpathError as error:
        return _login(request, csrf, [str(error)], status_of(error), form.word("name"))
    request.state.new_ticket = people.log_in(store, form.word("name"), form.text("password"), address_of(request))
    return back("/")


@router.post("/logout")
def log_out(who: VisitDep, form: FormDep) -> Response:
    """Let somebody go, from this device or from every one."""
    with who.store.writing() as session:
        if form.word("everywhere") and who.team:
            people.log_out_everywhere(session, who.person_id)
        people.log_out(session, who.ticket)
    return back("/login", told="everywhere" if form.word("everywhere") else "out") if who.team else back("/")


@router.get("/people")
def list_people(request: Request, who: VisitDep) -> Response:
    """Show who may come in."""
    who.must_lead()
    return _people(request, who, [])


def _people(request: Request, who: VisitDep, problems: list[str], name: str = "", role: str = "technician") -> Response:
    with who.store.reading() as session:
        everybody = session.scalars(select(Person).where(Person.password_hash.is_not(None)).order_by(Person.name)).all()
        locked = people.locked_out(session)
    status = 422 if problems else 200
    return page(
        request,
        "people.html",
        status=status,
        visit=who,
        everybody=everybody,
        locked=locked,
        roles=people.ROLES,
        problems=problems,
        name=name,
        role=role,
    )


@router.post("/people")
def add(request: Request, who: VisitDep, form: FormDep) -> Response:
    """Make an account."""
    who.must_lead()
    try:
        with who.store.writing() as session:
            people.add_person(session, form.word("name"), form.word("role"), form.text("password"))
    except CallpathError as error:
        return _people(request, who, [str(error)], form.word("name"), form.word("role"))
    return back("/people")


@router.post("/people/{person_id}")
def change(request: Request, who: VisitDep, form: FormDep, person_id: Number) -> Response:
    """Change somebody's role, shut them out or let them in again, or give them a new password."""
    who.must_lead()
    try:
        with who.store.writing() as session:
            people.set_person(session, person_id, role=form.word("role"), active=form.word("active") == "yes")
            if form.text("password"):
                people.change_password(session, person_id, form.text("password"))
    except CallpathError as error:
        return _people(request, who, [str(error)])
    return back("/people")


@router.get("/me")
def me(request: Request, who: VisitDep) -> Response:
    """Show one's own account."""
    return page(request, "me.html", visit=who, problems=[])


@router.post("/me")
def change_me(request: Request, who: VisitDep, form: FormDep) -> Response:
    """Change one's own password, which ends every login of it."""
    if not who.team:
        raise DeniedError("nobody logs in here, so there is no password")
    try:
        with who.store.writing() as session:
            people.change_password(session, who.person_id, form.text("new"), form.text("old"))
    except CallpathError as error:
        return page(request, "me.html", status=422, visit=who, problems=[str(error)])
    return back("/login", told="changed")


@router.get("/jobs/{job_id}/people")
def job_people(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show who may see a job."""
    facts = job_facts(who, job_id)
    _must_give(who, facts["record"].owner_id)
    with who.store.reading() as session:
        given = {row.person_id: row.may_edit for row in session.scalars(select(Grant).where(Grant.job_id == job_id))}
        others = session.scalars(
            select(Person)
            .where(Person.password_hash.is_not(None), Person.role != "lead", Person.id != facts["record"].owner_id)
            .order_by(Person.name)
        ).all()
    return page(request, "job_people.html", others=others, given=given, problems=[], **facts)


@router.post("/jobs/{job_id}/people")
def give(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Give a job to somebody, or take it back."""
    with who.store.writing() as session:
        _must_give(who, who.job(session, job_id).owner_id)
        people.give(session, job_id, form.number("person"), form.word("may"))
    return back(f"/jobs/{job_id}/people")


def _must_give(who: VisitDep, owner_id: int) -> None:
    if not who.team or (who.role != "lead" and (owner_id != who.person_id or who.role == "trainee")):
        raise DeniedError("only who leads, or whose job it is, gives it to others")
