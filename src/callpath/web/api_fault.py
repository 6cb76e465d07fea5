"""For programs: finding a fault, and work that takes long.

A request with ``Prefer: respond-async`` (RFC 7240) that takes more than a second is answered with 202 and where its work is.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import JSONResponse, Response

from callpath.faults.seen import read_seen
from callpath.job.write import flow
from callpath.records import history
from callpath.records.assumed import assumptions
from callpath.web.api_sent import Sent, Word
from callpath.web.patience import Desk
from callpath.web.proved import proved
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()

_MOST_SEEN = 200


class SeenSent(Sent):
    """What was seen, item by item as in a ``seen`` file; where somebody stands, empty where the last test was."""

    seen: Annotated[list[dict[str, Any]], Field(min_length=1, max_length=_MOST_SEEN)]
    at: Word = ""


@router.post("/jobs/{job_id}/troubleshoot")
def troubleshoot(who: VisitDep, job_id: Word, sent: SeenSent) -> dict[str, Any]:
    """Return suspects and the next test, as ``callpath troubleshoot --json`` does with the job's assumptions."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        text, assumed = history.head(session, job).text, assumptions(session, job)
    found = proved(text)
    with found.asking:
        case = found.case_of(assumed)
        lines = "".join(f"  - {flow(item)}\n" for item in sent.seen)
        seen = read_seen(f"seen:\n{lines}", case.circuit, file="seen")
        return case.answer(seen, sent.at or None).as_json()


@router.get(
    "/underway/{key}",
    response_class=Response,
    responses={
        200: {"description": "what the request would have been answered"},
        202: {"description": "how far it is"},
    },
)
def fetch(request: Request, who: VisitDep, key: Word) -> Response:
    """Return how far work is with status 202, or its answer, once."""
    desk: Desk = request.app.state.desk
    work = desk.find(key, who.person_id)
    return JSONResponse(work.as_json(), 202) if work.ended is None else desk.take(work)


@router.delete("/underway/{key}", status_code=204, response_class=Response)
def stop(request: Request, who: VisitDep, key: Word) -> Response:
    """Stop work; nothing is changed by it."""
    desk: Desk = request.app.state.desk
    desk.stop(desk.find(key, who.person_id))
    return Response(status_code=204)
