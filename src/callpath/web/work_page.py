"""How far slow work is, for who waits for it; and the button that stops it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, Response

from callpath.web.patience import Desk, Work
from callpath.web.render import back, page
from callpath.web.visit import FormDep, VisitDep

__all__ = ["router"]

router = APIRouter()


@router.get("/underway/{key}")
def work_page(request: Request, who: VisitDep, key: str) -> Response:
    """Show how far it is, or hand its answer over."""
    desk: Desk = request.app.state.desk
    work = desk.find(key, who.person_id)
    # Looked at once: it may end while its page is written.
    ready = work.ended is not None
    if ready and not work.is_file:
        # The browser asks once more for what it wanted, so that it stands under its own address; a form is not sent twice.
        return back(work.address) if work.method == "GET" else desk.take(work)
    return page(request, "work.html", visit=who, work=work, ready=ready, where=_where(work))


@router.get("/underway/{key}/state")
def state(request: Request, who: VisitDep, key: str) -> Response:
    """Return how far it is."""
    desk: Desk = request.app.state.desk
    return JSONResponse(desk.find(key, who.person_id).as_json())


@router.post("/underway/{key}/stop")
def stop(request: Request, who: VisitDep, form: FormDep, key: str) -> Response:
    """Stop it, and go back to where it was asked for."""
    desk: Desk = request.app.state.desk
    work = desk.find(key, who.person_id)
    desk.stop(work)
    return back(_where(work))


def _where(work: Work) -> str:
    """Return the page of the job that it is for."""
    _, room, name, *_ = (*work.address.partition("?")[0].split("/"), "", "")
    return f"/{room}/{name}" if room == "jobs" and name else "/"
