"""The record of the work: readings as found and as left beside what to expect, photos, and the papers."""

from __future__ import annotations

import datetime
from dataclasses import replace

from fastapi import APIRouter, Request
from sqlalchemy import select
from starlette.responses import Response

from callpath.calls.closing import callers_of, calls_of_job
from callpath.calls.reading import points_at
from callpath.errors import CallpathError
from callpath.papers import Book, imprint, svg
from callpath.papers.field import field_sheet
from callpath.papers.pdf import PAPERS, pdf
from callpath.records import measured
from callpath.records.history import head
from callpath.records.measured import KINDS, Noted
from callpath.records.phase import PHASES, Phase, mark, phase_of, phases
from callpath.records.schema import Measured, Photo
from callpath.web.ask_page import call_asked
from callpath.web.build_page import job_facts, places
from callpath.web.job_list import file_name
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page
from callpath.web.visit import FormDep, Visit, VisitDep

__all__ = ["record_page", "router"]

router = APIRouter()


@router.get("/jobs/{job_id}/record")
def record(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show what was measured and photographed."""
    return record_page(request, who, job_id, {}, [])


def record_page(request: Request, who: Visit, job_id: str, given: dict[str, str], problems: list[str]) -> Response:
    """Return the page, with what was typed into its form and what is wrong with that."""
    facts = job_facts(who, job_id)
    with who.store.reading() as session:
        spoken = phases(session, facts["record"])
        rows = measured.noted(session, facts["record"])
        photos = session.scalars(select(Photo).where(Photo.job_id == job_id).order_by(Photo.id)).all()
    told: list[tuple[Phase, list[measured.Compared]]] = []
    choices = _Choices()
    for phase in spoken.values():
        found = proved(phase.version.text)
        with found.asking:
            here = [row for row in rows if row.phase == phase.name]
            told.append((phase, [measured.compared(row, found.circuit, phase.version.number) for row in here]))
            choices.add(found)
    own = [each for _, here in told for each in here if each.row.person_id == who.person_id]
    last = max(own, key=lambda each: each.row.id, default=None)
    if not given and last:
        # Readings come one after another: the next is most often as one's last, with the black lead where it was.
        row = last.row
        given = {"phase": row.phase, "call": row.call, "kind": row.kind, "black": row.other, "by": row.callers}
    return page(
        request,
        "record.html",
        status=422 if problems else 200,
        told=told,
        differ=len({phase.version.text for phase in spoken.values()}) > 1,
        photos=photos,
        choices=choices,
        kinds=KINDS,
        phases=PHASES,
        papers=PAPERS,
        given=given or {"call": call_asked(found, "")[0]},
        last=last,
        problems=problems,
        **facts,
    )


class _Choices:
    """What can be named in a reading of either phase."""

    def __init__(self) -> None:
        self.calls: dict[str, None] = {}
        self.callers: dict[str, None] = {}
        self.functions: dict[str, None] = {}
        self.conductors: dict[str, None] = {}
        self.spots: dict[str, dict[str, None]] = {}
        self.points: dict[str, dict[str, None]] = {}
        self.things: dict[str, None] = {}

    def add(self, found: Proved) -> None:
        """Take in what one version has."""
        calls = calls_of_job(found.circuit)
        self.calls |= dict.fromkeys(calls)
        for able in (callers_of(found.job, call) for call in calls):
            self.callers |= dict.fromkeys(able if len(able) > 1 else ())
        self.functions |= dict.fromkeys(found.circuit.functions)
        self.conductors |= dict.fromkeys(found.job.landings)
        self.things |= dict.fromkeys((*found.job.equipment, *found.job.splices, *found.job.cables))
        for place in places(found.job):
            self.spots.setdefault(place.name, {}).update(dict.fromkeys(place.spots))
        for at, points in points_at(found.circuit).items():
            self.points.setdefault(at, {}).update(dict.fromkeys(points))


@router.post("/jobs/{job_id}/record")
def add_reading(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Write a reading down."""
    given = {key: value for key, value in form.starting("") if key != "csrf"} | {"by": " ".join(form.words("by"))}
    try:
        with who.store.writing() as session:
            job = who.job(session, job_id, edit=True)
            version = phase_of(session, job, form.word("phase")).version
            found = proved(version.text)
            kind = form.word("kind")
            one = form.word({"amps": "conductor", "running": "function"}.get(kind, "red"))
            wanted = Noted(
                form.word("phase"),
                form.word("call"),
                kind,
                one,
                form.word("black"),
                form.word("lifted"),
                form.word("read") or form.word("amount"),
                form.word("note"),
                form.word("unit"),
                " ".join(form.words("by")),
            )
            with found.asking:
                measured.note(session, job, found.circuit, version.number, wanted, who.person_id)
    except CallpathError as error:
        with who.store.reading() as session:
            who.job(session, job_id, edit=True)
        return record_page(request, who, job_id, given, [str(error)])
    return back(f"/jobs/{job_id}/record")


@router.post("/jobs/{job_id}/phase")
def set_phase(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Say which version shows the job as found, or as left; ``head`` stands for the one that counts, whichever it is."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        version = None if form.word("version") == "head" else form.number("version")
        mark(session, job, form.word("phase"), version, who.person_id)
    return back(f"/jobs/{job_id}/{'versions' if form.word('then') == 'versions' else 'record'}")


@router.post("/jobs/{job_id}/record/strike")
def strike(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Strike an entry out, or put it back."""
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        measured.strike(session, job, Photo if form.word("what") == "photo" else Measured, form.number("number"))
    return back(f"/jobs/{job_id}/record")


@router.get("/jobs/{job_id}/papers")
def papers(who: VisitDep, job_id: str, kind: str = "pdf", paper: str = "letter", phase: str = "") -> Response:
    """Return the papers of a phase, that is of its version with its readings; of the version that counts where none is named.

    They are all in one PDF, the diagram, or the sheet for the field.
    """
    if kind not in ("pdf", "svg", "html") or paper not in PAPERS or phase not in ("", *PHASES):
        raise CallpathError(f"the papers come as pdf, svg or html, on {' or '.join(PAPERS)}, {' or '.join(PHASES)}")
    with who.store.reading() as session:
        job = who.job(session, job_id)
        shown = phase_of(session, job, phase or "as-left")
        version = shown.version if phase else head(session, job)
        rows = measured.noted(session, job)
        name = file_name(job.title, "job") + (f"-{phase}" if phase else "")
    found = proved(version.text)
    told = imprint(found.job, datetime.datetime.now(datetime.UTC).date())
    if phase:
        told = replace(told, title=f"{shown.words.capitalize()}: {told.title}")
    with found.asking:
        taken = measured.taken(rows, shown.name)
        book = Book(found.job, told, taken=taken, left=shown.name == "as-left", circuit=found.circuit)
        if kind == "svg":
            raw, media = svg(book.diagram(), findings=book.proof.findings, imprint=told).encode(), "image/svg+xml"
        elif kind == "html":
            raw, media = field_sheet(book).encode(), "text/html; charset=utf-8"
        else:
            raw, media = pdf(book, paper=paper), "application/pdf"
    return Response(raw, media_type=media, headers={"content-disposition": f'attachment; filename="{name}.{kind}"'})
