"""Photos of a job: several at once, each of something or of nothing in particular, small in a list and large alone."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from sqlalchemy import select
from sqlalchemy.orm import Session
from starlette.responses import Response

from callpath.errors import CallpathError, QuestionError, nearest
from callpath.job.model import Job
from callpath.records.phase import mark_once, phase_of
from callpath.records.photo import MOST_BYTES, Picture, encoded_anew, smaller
from callpath.records.schema import Photo
from callpath.web.api_sent import Number
from callpath.web.build_page import job_facts
from callpath.web.proved import proved
from callpath.web.record_page import record_page
from callpath.web.render import back, page
from callpath.web.visit import FormDep, VisitDep

__all__ = ["router", "things_of"]

router = APIRouter()


def things_of(job: Job) -> tuple[str, ...]:
    """Return everything in a job that a photo can be of."""
    terminals = [f"{device.id}.{letters}" for device in job.equipment.values() for letters in device.part.terminals]
    return (*job.equipment, *terminals, *job.splices, *job.cables, *job.landings)


@router.post("/jobs/{job_id}/photos")
def add_photos(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Take photos in: all of those that are sound; what is wrong with the others is told."""
    with who.store.reading() as session:
        job = who.job(session, job_id, edit=True)
    sent, phase, of = form.files("photo"), form.word("phase"), form.word("of")
    problems: list[str] = []
    pictures: list[Picture] = []
    try:
        if not sent:
            raise CallpathError("choose a photo first")
        with who.store.reading() as session:
            things = things_of(proved(phase_of(session, job, phase).version.text).job)
        if of and of not in things:
            raise QuestionError(f"this job has no '{of}' that a photo could be of; {nearest(of, things)}")
        for place, file in enumerate(sent, 1):
            try:
                pictures.append(encoded_anew(file.file.read(MOST_BYTES + 1)))
            except CallpathError as error:
                problems.append(f"photo {place} of {len(sent)}: {error}" if len(sent) > 1 else str(error))
    except CallpathError as error:
        problems.append(str(error))
    if pictures:
        with who.store.writing() as session:
            job = who.job(session, job_id, edit=True)
            session.add_all(
                Photo(
                    job_id=job.id,
                    phase=phase,
                    caption=form.word("caption")[:400],
                    of=of,
                    width=picture.width,
                    height=picture.height,
                    jpeg=picture.jpeg,
                    small=picture.small,
                    person_id=who.person_id,
                )
                for picture in pictures
            )
            if phase == "as-found":
                mark_once(session, job, phase, job.head, who.person_id)
    if problems:
        kept = f"{len(pictures)} of {len(sent)} photos are kept" if pictures else ""
        return record_page(request, who, job_id, {}, [*problems, *([kept] if kept else [])])
    return back(f"/jobs/{job_id}/record")


def _photo(session: Session, job_id: str, number: int) -> Photo:
    found = session.get(Photo, number)
    if found is None or found.job_id != job_id:
        raise CallpathError("there is no such photo")
    return found


@router.get("/jobs/{job_id}/photos/{number}")
def photo(who: VisitDep, job_id: str, number: Number, small: bool = False) -> Response:
    """Return a photo, or a small one of it."""
    with who.store.reading() as session:
        who.job(session, job_id)
        found = _photo(session, job_id, number)
        raw = (found.small or smaller(found.jpeg)) if small else found.jpeg
    return Response(raw, media_type="image/jpeg")


@router.get("/jobs/{job_id}/photos/{number}/alone")
def photo_alone(request: Request, who: VisitDep, job_id: str, number: Number) -> Response:
    """Show one photo as large as there is room, with the way to the next."""
    facts: dict[str, Any] = job_facts(who, job_id)
    with who.store.reading() as session:
        found = _photo(session, job_id, number)
        query = select(Photo.id).where(Photo.job_id == job_id, ~Photo.struck).order_by(Photo.id)
        numbers = list(session.scalars(query))
    before = max((n for n in numbers if n < number), default=None)
    after = min((n for n in numbers if n > number), default=None)
    return page(request, "photo.html", photo=found, before=before, after=after, **facts)
