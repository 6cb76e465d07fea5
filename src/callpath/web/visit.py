"""One visit to the page: who it is, what they may do, and the tokens that prove that a form is ours.

On its own machine callpath knows one person and asks for no password. Opened to the network it asks for the door key that it
printed when it started.
"""

from __future__ import annotations

import hmac
import re
import secrets
from collections.abc import AsyncIterator, Collection, Iterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request
from sqlalchemy import select
from sqlalchemy.orm import Session
from starlette.datastructures import FormData, UploadFile

from callpath.errors import CallpathError
from callpath.records.people import grants_of, logged_in
from callpath.records.schema import Job, Person
from callpath.records.shelf import job_of
from callpath.records.store import Store
from callpath.web.guard import COOKIE

__all__ = [
    "DeniedError",
    "Form",
    "FormDep",
    "LockedError",
    "LoginError",
    "Visit",
    "VisitDep",
    "address_of",
    "new_ticket",
    "signed",
    "ticket_of",
]

_MOST_FIELDS = 600
_MOST_FILES = 12


class DeniedError(CallpathError):
    """Somebody asks for what is not theirs to do."""


class LockedError(CallpathError):
    """Nobody has come in by the door yet."""


class LoginError(CallpathError):
    """Somebody must log in first."""


def signed(secret: bytes, purpose: str, word: str) -> str:
    """Return a token that only this server can make, for one purpose."""
    return hmac.new(secret, f"{purpose}:{word}".encode(), "sha256").hexdigest()


def new_ticket(request: Request) -> str:
    """Return a cookie's value that shows that its holder came in by the door, while that has the key that it has now."""
    word = secrets.token_hex(16)
    return f"{word}.{_mark(request, word)}"


def _mark(request: Request, word: str) -> str:
    state = request.app.state
    # Made by another key, or where no key was asked for, it opens nothing: a new key at every start shuts the old ones out.
    return signed(state.secret, f"ticket {state.door_key or ''}", word)


def address_of(request: Request) -> str:
    """Return where a request comes from."""
    return request.client.host if request.client else ""


def ticket_of(request: Request, *, anybody: bool = False) -> str:
    """Return the ticket of whoever comes, a new one where they have none that holds and none is asked for.

    Raises
    ------
    LockedError
        The page is open to the network and they have not come in by the door.
    """
    ticket = request.cookies.get(COOKIE, "")
    word, _, mark = ticket.partition(".")
    if not hmac.compare_digest(mark.encode(), _mark(request, word).encode()):
        if request.app.state.door_key is not None and not anybody:
            raise LockedError(
                "this page is open to those who have its key: use the whole address that callpath printed"
            )
        ticket = new_ticket(request)
        request.state.new_ticket = ticket
    return ticket


@dataclass(frozen=True)
class Visit:
    """A request by somebody who may be here.

    ``grants`` are the jobs that were given to them or are theirs, and whether they may change them; a lead needs none.
    """

    request: Request
    store: Store
    person_id: int
    name: str
    role: str
    ticket: str
    csrf: str
    grants: Mapping[str, bool]
    team: bool

    @property
    def among(self) -> Collection[str] | None:
        """The ids of the jobs that they may look at; None where that is every job."""
        return None if self.role == "lead" else self.grants.keys()

    def may_see(self, job: Job) -> bool:
        """Tell whether they may look at a job."""
        return self.role == "lead" or job.id in self.grants

    def may_edit(self, job: Job) -> bool:
        """Tell whether they may change a job."""
        return self.role == "lead" or (self.role == "technician" and self.grants.get(job.id, False))

    def must_not_be_trainee(self) -> None:
        """Let nobody make jobs who is still learning.

        Raises
        ------
        DeniedError
            They are a trainee.
        """
        if self.role == "trainee":
            raise DeniedError("a trainee practises on jobs that others make")

    def must_lead(self) -> None:
        """Let nobody look after people who does not lead.

        Raises
        ------
        DeniedError
            They do not.
        """
        if self.role != "lead" or not self.team:
            raise DeniedError("only who leads a team looks after its people")

    def job(self, session: Session, job_id: str, *, edit: bool = False) -> Job:
        """Return a job that they may see, or change.

        Raises
        ------
        CallpathError
            There is none, or it is not theirs to see, which is told in the same words.
        DeniedError
            They may see it, not change it.
        """
        job = job_of(session, job_id)
        if not self.may_see(job):
            raise CallpathError("there is no such job")
        if edit and not self.may_edit(job):
            raise DeniedError("you may look at this job, not change it")
        return job


def visit(request: Request) -> Visit:
    """Return who makes a request.

    Raises
    ------
    LockedError
        The page is open to the network and they have not come in by the door.
    LoginError
        It is a team's page, and they have not logged in.
    """
    store: Store = request.app.state.store
    team: bool = request.app.state.team
    if team:
        scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
        ticket = bearer if scheme.casefold() == "bearer" else request.cookies.get(COOKIE, "")
    else:
        ticket = ticket_of(request)
    with store.reading() as session:
        if team:
            person = logged_in(session, ticket)
            if person is None:
                raise LoginError("log in first")
        else:
            person = session.scalars(select(Person).order_by(Person.id).limit(1)).one()
        grants = {} if person.role == "lead" else grants_of(session, person.id)
    request.state.person_id = person.id
    csrf = signed(request.app.state.secret, "form", ticket)
    return Visit(request, store, person.id, person.name, person.role, ticket, csrf, grants, team)


VisitDep = Annotated[Visit, Depends(visit)]


@dataclass(frozen=True)
class Form:
    """What a form sent, checked to be from a page of ours."""

    data: FormData

    def word(self, name: str, default: str = "") -> str:
        """Return a field's text, without the blanks around it and what no database keeps."""
        value = self.data.get(name, default)
        return value.replace("\0", "").strip() if isinstance(value, str) else default

    def text(self, name: str) -> str:
        """Return a field's text as it was typed, its line breaks as a file has them."""
        value = self.data.get(name, "")
        return value.replace("\r\n", "\n").replace("\0", "") if isinstance(value, str) else ""

    def words(self, name: str) -> list[str]:
        """Return all texts of a field that may be given several times."""
        return [value for value in self.data.getlist(name) if isinstance(value, str)]

    def number(self, name: str) -> int:
        """Return a field's whole number.

        Raises
        ------
        CallpathError
            It is none.
        """
        word = self.word(name)
        if not word.isdecimal() or len(word) > 9:
            raise CallpathError(f"the form's {name} is no number; load the page again")
        return int(word)

    def length(self, name: str) -> str:
        """Return a length with its unit: with the one that is ticked beside it, where a number stands there alone."""
        word = self.word(name)
        alone = word.replace(",", ".") if re.fullmatch(r"\d+(?:[.,]\d*)?", word, re.ASCII) else ""
        return f"{alone.rstrip('.')} {self.word(f'{name}_in', 'ft')}" if alone else word

    def file(self, name: str) -> UploadFile | None:
        """Return a file that was sent, None where none was chosen."""
        return next(iter(self.files(name)), None)

    def files(self, name: str) -> list[UploadFile]:
        """Return all files that were sent in a field."""
        return [value for value in self.data.getlist(name) if isinstance(value, UploadFile) and value.filename]

    def starting(self, prefix: str) -> Iterator[tuple[str, str]]:
        """Yield the fields whose names start so, without that start."""
        for key, value in self.data.multi_items():
            if key.startswith(prefix) and isinstance(value, str):
                yield key.removeprefix(prefix), value


async def form(request: Request, who: VisitDep) -> AsyncIterator[Form]:
    """Hand out what a form sent, and let go of its files afterwards.

    Raises
    ------
    DeniedError
        It does not carry this visit's token.
    """
    async with checked_form(request, who.csrf) as sent:
        yield sent


@asynccontextmanager
async def checked_form(request: Request, csrf: str) -> AsyncIterator[Form]:
    """Read a form that must carry a token."""
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS, max_part_size=512 * 1024) as data:
        sent = data.get("csrf")
        if not isinstance(sent, str) or not hmac.compare_digest(sent.encode(), csrf.encode()):
            raise DeniedError(
                "this form is from an earlier visit, so nothing was done; load the page again, then repeat it"
            )
        yield Form(data)


FormDep = Annotated[Form, Depends(form)]
