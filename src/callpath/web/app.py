"""The application put together: pages, what stands before them, and how an error is told."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import RedirectResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.responses import Response

from callpath.errors import CallpathError, InputError
from callpath.records.people import knock
from callpath.records.store import Store
from callpath.web import (
    ask_page,
    assumed_page,
    build_page,
    change_page,
    fault_page,
    job_list,
    parts_page,
    people_page,
    photo_page,
    practice_page,
    proposal_page,
    record_page,
    sequence_page,
    version_page,
    work_page,
)
from callpath.web.api import create_api, refused
from callpath.web.guard import Guard
from callpath.web.patience import Desk, Patience
from callpath.web.render import back, page
from callpath.web.status import status_of
from callpath.web.visit import LockedError, LoginError, address_of, new_ticket, visit

__all__ = ["ROOMS", "create_app"]

ROOMS = (
    job_list,
    parts_page,
    build_page,
    change_page,
    proposal_page,
    ask_page,
    sequence_page,
    fault_page,
    practice_page,
    assumed_page,
    record_page,
    photo_page,
    version_page,
    people_page,
    work_page,
)
"""Where the pages are."""


def create_app(
    store: Store, *, names: Collection[str] | None = None, door_key: str | None = None, team: bool = False
) -> Any:
    """Return the ASGI application.

    Parameters
    ----------
    store : Store
        The records.
    names : collection of str, optional
        Host names that it answers to; any without it.
    door_key : str, optional
        What a browser must bring once before it sees anything; in a team, before the first account is made.
    team : bool
        Whether people log in.
    """
    app = FastAPI(title="callpath", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.store, app.state.secret, app.state.door_key = store, store.secret(), door_key
    app.state.team, app.state.desk = team, Desk()
    for room in ROOMS:
        app.include_router(room.router)
    app.mount("/api", create_api(app.state))
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"))

    @app.get("/enter")
    def enter(request: Request, key: str = "") -> Response:
        """Let somebody in who has the key."""
        if team:
            return back("/login")
        if door_key is not None and not knock(store, key, door_key, address_of(request)):
            raise LockedError("this is not the key of this page; use the whole address that callpath printed")
        answer = RedirectResponse("/", 303)
        request.state.new_ticket = new_ticket(request)
        return answer

    app.add_exception_handler(CallpathError, _told)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _unforeseen)
    return Guard(Patience(app, app.state.desk), names)


def _told(request: Request, error: Exception) -> Response:
    if isinstance(error, LoginError) and request.method == "GET":
        return back("/login", then=request.url.path if request.url.path != "/" else "")
    status = status_of(error)
    problems = [problem.message for problem in error.problems] if isinstance(error, InputError) else [str(error)]
    if isinstance(error, LoginError):
        # Nobody who only looks comes here; who acts has lost their login meanwhile.
        return _error(request, status, ["nothing was done; log in, then do it again"], "You are not logged in any more")
    return _error(request, status, problems)


_HEADINGS = {403: "Not yours to do", 401: "The door is shut", 404: "Not here"}


def _http(request: Request, error: Exception) -> Response:
    if request.url.path.startswith("/api/"):
        # An address with a line break in it does not reach the application for programs.
        return refused(request, error)
    status = getattr(error, "status_code", 500)
    text = "there is no such page" if status == 404 else str(getattr(error, "detail", ""))
    return _error(request, status, [text])


def _invalid(request: Request, error: Exception) -> Response:
    problems = ["this address asks for something that this page does not know; go back, and follow a link"]
    return _error(request, 422, problems)


def _error(request: Request, status: int, problems: list[str], heading: str = "") -> Response:
    """Return a page that tells what is wrong, with the ways on for those who may be here."""
    try:
        who = visit(request)
    except CallpathError:
        who = None
    heading = heading or _HEADINGS.get(status, "That was not done")
    return page(request, "error.html", status=status, visit=who, heading=heading, problems=problems)


def _unforeseen(request: Request, error: Exception) -> Response:
    # The server logs the place in the program where it happened, never what was sent.
    problems = ["something went wrong that should not; nothing was changed, and the server's log names the place"]
    return page(request, "error.html", status=500, heading="A fault in callpath", problems=problems)
