"""What is drawn, printed and photographed of a job, for programs."""

from __future__ import annotations

from typing import Any, Literal

from fastapi import APIRouter
from sqlalchemy import select
from starlette.responses import Response

from callpath.records import history
from callpath.records.schema import Photo
from callpath.web import photo_page, record_page
from callpath.web.api_sent import Count, Number, Word
from callpath.web.proved import proved
from callpath.web.visit import VisitDep

__all__ = ["router"]

router = APIRouter()

_SVG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/svg+xml": {}}}}
_PAPERS: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/pdf": {}, "image/svg+xml": {}, "text/html": {}}}
}
_JPEG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/jpeg": {}}}}


@router.get("/jobs/{job_id}/drawing", response_class=Response, responses=_SVG)
def drawing(who: VisitDep, job_id: Word, version: Count = 0, call: Word = "", narrow: bool = False) -> Response:
    """Return the wiring of a version as SVG, the one that counts with 0: its findings marked, or a call's live loops lit."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        text = history.revision(session, job, version or job.head).text
    return Response(proved(text).drawing(call, narrow=narrow), media_type="image/svg+xml")


@router.get("/jobs/{job_id}/papers", response_class=Response, responses=_PAPERS)
def papers(
    who: VisitDep,
    job_id: Word,
    kind: Literal["pdf", "svg", "html"] = "pdf",
    paper: Literal["letter", "a4"] = "letter",
    phase: Literal["", "as-found", "as-left"] = "",
) -> Response:
    """Return the papers: all in one PDF, the diagram, or the sheet for the field; of a phase of the work where one is named."""
    return record_page.papers(who, job_id, kind, paper, phase)


@router.get("/jobs/{job_id}/photos")
def photos(who: VisitDep, job_id: Word) -> list[dict[str, Any]]:
    """List the photos."""
    names = ("id", "phase", "caption", "width", "height", "struck")
    with who.store.reading() as session:
        job = who.job(session, job_id)
        rows = session.scalars(select(Photo).where(Photo.job_id == job.id).order_by(Photo.id))
        return [
            {**{name: getattr(row, name) for name in names}, "by": row.person.name, "made_at": row.made_at.isoformat()}
            for row in rows
        ]


@router.get("/jobs/{job_id}/photos/{number}", response_class=Response, responses=_JPEG)
def photo(who: VisitDep, job_id: Word, number: Number, small: bool = False) -> Response:
    """Return a photo, or a small one of it, as JPEG."""
    return photo_page.photo(who, job_id, number, small)
