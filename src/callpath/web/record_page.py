"""The record of the work: readings as found and as left beside what to expect, photos, and the papers."""

from __future__ import annotations

import datetime

from fastapi import APIRouter, Request
from sqlalchemy import select
from starlette.responses import Response

from callpath.calls.closing import calls_of_job
from callpath.errors import CallpathError
from callpath.papers import Book, imprint, svg
from callpath.papers.field import field_sheet
from callpath.papers.pdf import PAPERS, pdf
from callpath.records import measured
from callpath.records.history import head
from callpath.records.measured import KINDS, PHASES, Noted
from callpath.records.photo import MOST_BYTES, encoded_anew
from callpath.records.schema import Measured, Photo
from callpath.web.build_page import job_facts, places
from callpath.web.job_list import file_name
from callpath.web.proved import proved
from callpath.web.render import back, page
from callpath.web.visit import FormDep, Visit, VisitDep

__all__ = ["router"]

router = APIRouter()


@router.get("/jobs/{job_id}/record")
def record(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show what was measured and photographed."""
    return _page(request, who, job_id, {}, [])


def _page(request: Request, who: Visit, job_id: str, given: dict[str, str], problems: list[str]) -> Response:
    facts = job_facts(who, job_id)
    found = facts["proved"]
    with who.store.reading() as session:
        rows = measured.noted(session, facts["record"])
        photos = session.scalars(select(Photo).where(Photo.job_id == job_id).order_by(Photo.id)).all()
    with found.asking:
        circuit = found.circuit
        calls, functions = calls_of_job(circuit), tuple(circuit.functions)
    return page(
        request,
        "record.html",
        status=422 if problems else 200,
        rows=rows,
        in_band=measured.in_band,
        photos=photos,
        calls=calls,
        functions=functions,
        kinds=KINDS,
        phases=PHASES,
        papers=PAPERS,
        places=places(found.job),
        given=given,
        problems=problems,
        **facts,
    )


@router.post("/jobs/{job_id}/record")
def add_reading(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Write a reading down."""
    given = {key: value for key, value in form.starting("") if key != "csrf"}
    try:
        with who.store.writing() as session:
            job = who.job(session, job_id, edit=True)
            found = proved(head(session, job).text)
            kind = form.word("kind")
            one = form.word({"amps": "conductor", "running": "function"}.get(kind, "red"))
            wanted = Noted(
                form.word("phase"),
                form.word("call"),
                kind,
                one,
                form.word("black"),
                form.word("lifted"),
                form.word("amount"),
                form.word("note"),
            )
            with found.asking:
                measured.note(session, job, found.circuit, wanted, who.person_id)
    except CallpathError as error:
        with who.store.reading() as session:
            who.job(session, job_id, edit=True)
        return _page(request, who, job_id, given, [str(error)])
    return back(f"/jobs/{job_id}/record")


@router.post("/jobs/{job_id}/record/strike")
def strike(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Strike an entry out, or put it back."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        measured.strike(session, job, Photo if form.word("what") == "photo" else Measured, form.number("number"))
    return back(f"/jobs/{job_id}/record")


@router.post("/jobs/{job_id}/photos")
def add_photo(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Take a photo in."""
    with who.store.reading() as session:
        who.job(session, job_id, edit=True)
    sent, phase = form.file("photo"), form.word("phase")
    try:
        if sent is None:
            raise CallpathError("choose a photo first")
        if phase not in PHASES:
            raise CallpathError("say whether the photo shows the job as found or as left")
        picture = encoded_anew(sent.file.read(MOST_BYTES + 1))
    except CallpathError as error:
        return _page(request, who, job_id, {}, [str(error)])
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        session.add(
            Photo(
                job_id=job.id,
                phase=phase,
                caption=form.word("caption")[:400],
                width=picture.width,
                height=picture.height,
                jpeg=picture.jpeg,
                person_id=who.person_id,
            )
        )
    return back(f"/jobs/{job_id}/record")


@router.get("/jobs/{job_id}/photos/{number}")
def photo(who: VisitDep, job_id: str, number: int) -> Response:
    """Return a photo."""
    with who.store.reading() as session:
        who.job(session, job_id)
        found = session.get(Photo, number)
        if found is None or found.job_id != job_id:
            raise CallpathError("there is no such photo")
        return Response(found.jpeg, media_type="image/jpeg")


@router.get("/jobs/{job_id}/papers")
def papers(who: VisitDep, job_id: str, kind: str = "pdf", paper: str = "letter", phase: str = "as-left") -> Response:
    """Return the papers: all in one PDF with the readings of a phase in its form, the diagram, or the sheet for the field."""
    if kind not in ("pdf", "svg", "html") or paper not in PAPERS or phase not in PHASES:
        raise CallpathError(f"the papers come as pdf, svg or html, on {' or '.join(PAPERS)}, {' or '.join(PHASES)}")
    facts = job_facts(who, job_id)
    found = facts["proved"]
    told = imprint(found.job, datetime.datetime.now(datetime.UTC).date())
    name = file_name(facts["record"].title, "job")
    with who.store.reading() as session:
        taken = measured.taken(measured.noted(session, facts["record"]), phase)
    with found.asking:
        terminals, landings = found.circuit.network.node_of, found.job.landings
        # What was measured on a version with other names is kept in the record, but has no place in this form.
        fitting = [row for row in taken if all(point in terminals or point in landings for point in row.points)]
        book = Book(found.job, told, taken=fitting, circuit=found.circuit)
        if kind == "svg":
            raw, media = svg(book.diagram(), findings=book.proof.findings, imprint=told).encode(), "image/svg+xml"
        elif kind == "html":
            raw, media = field_sheet(book).encode(), "text/html; charset=utf-8"
        else:
            raw, media = pdf(book, paper=paper), "application/pdf"
    return Response(raw, media_type=media, headers={"content-disposition": f'attachment; filename="{name}.{kind}"'})
