"""All jobs: finding one, making one, bringing one in, taking one out."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.job.decode import MAXIMUM_BYTES
from callpath.job.draft import Draft, draft_job
from callpath.job.read import known_job, read_job
from callpath.job.rewrite import with_changes, with_job
from callpath.job.starting import find_start, starts
from callpath.job.write import job_text
from callpath.landing.land import land
from callpath.parts.catalogue import default_catalogue
from callpath.parts.makeup import makeups
from callpath.records.history import begin, head
from callpath.records.phase import mark
from callpath.records.shelf import archive, copied, jobs
from callpath.web.proved import proved
from callpath.web.render import back, page, problems_of
from callpath.web.visit import Form, FormDep, Visit, VisitDep

__all__ = ["file_name", "router"]

router = APIRouter()


_A_PAGE = 50


@router.get("/")
def job_list(request: Request, who: VisitDep, search: str = "", archived: bool = False, sheet: int = 1) -> Response:
    """Show the jobs, so many on a sheet."""
    words = search.strip()[:200]
    with who.store.reading() as session:
        first = (min(max(sheet, 1), 100_000) - 1) * _A_PAGE
        found, total = jobs(session, search=words, archived=archived, among=who.among, first=first, most=_A_PAGE)
        return page(
            request,
            "jobs.html",
            visit=who,
            jobs=found,
            total=total,
            first=first,
            sheet=first // _A_PAGE + 1,
            sheets=-(-total // _A_PAGE),
            search=words,
            archived=archived,
        )


@router.get("/new")
def new(request: Request, who: VisitDep, made: str = "") -> Response:
    """Ask what a new job is made of; ``made`` opens the form in which that is said."""
    who.must_not_be_trainee()
    return _new_page(request, who, {}, "made" if made else "")


def _new_page(
    request: Request,
    who: Visit,
    given: dict[str, str],
    at: str = "",
    problems: list[str] | None = None,
    heading: str = "Nothing is made yet",
) -> Response:
    """Return the page; ``at`` is the form that is being filled in, with what was typed there and what is wrong with it."""
    catalogue = default_catalogue()
    parts: dict[str, list[Any]] = {}
    for name in catalogue.names:
        part = catalogue.part(name)
        parts.setdefault(part.role, []).append(part)
    return page(
        request,
        "new.html",
        status=422 if problems else 200,
        visit=who,
        parts=parts,
        makeups=[(f"18/{count}", " ".join(colours)) for count, colours in sorted(makeups().items())],
        starts=starts(),
        given=given,
        at=at,
        problems=problems or [],
        heading=heading,
    )


@router.get("/new/{name}/drawing")
def start_drawing(who: VisitDep, name: str) -> Response:
    """Return the wiring of a job to begin with, drawn, to choose it by."""
    return Response(
        _drawn(find_start(name).name), media_type="image/svg+xml", headers={"cache-control": "max-age=86400"}
    )


# A picture does not see the page's colours, but knows as well as the page whether the reader's are dark.
_DARK = """
.wiring > rect, .equipment rect, .splice rect, .capped rect { fill: #211f1c; }
.location rect, .terminal rect { fill: #171614; }
.wiring rect[stroke], path[stroke="#1a1a1a"] { stroke: #ece7de; }
text[fill="#1a1a1a"], .bond { fill: #ece7de; }
.edge { stroke: #211f1c; }
"""


@cache
def _drawn(name: str) -> str:
    drawn = proved(find_start(name).text).drawing()
    end = drawn.index(">") + 1
    return f"{drawn[:end]}<style>@media (prefers-color-scheme: dark) {{ {_DARK} }}</style>{drawn[end:]}"


@router.post("/new")
def make_new(request: Request, who: VisitDep, form: FormDep) -> Response:
    """Make a job of what the form says, landed where that is asked for."""
    who.must_not_be_trainee()
    given = {key: value for key, value in form.starting("") if key != "csrf"}
    try:
        text, short = _drafted(form)
    except CallpathError as error:
        return _new_page(request, who, given, "like" if form.word("like") else "made", problems_of(error))
    if not short:
        return _kept(who, text, "new")
    # What cannot be had is said first, with the ways out; nobody's call is struck out meanwhile.
    asked = urlencode([("asked", "yes"), *(("free", cable) for cable in known_job(text).cables)])
    return _kept(who, text, "new", then=f"/propose?{asked}")


def _drafted(form: Form) -> tuple[str, bool]:
    """Return a new job's text, and whether some call that it asks for cannot be served by its landings."""
    if form.word("like"):
        begun = find_start(form.word("like")).text
        return with_changes(begun, title=form.word("title")) if form.word("title") else begun, False
    wall = " ".join(form.word("wall").split())
    if not form.word("indoor"):
        # One device is the least that a job can be made of; everything else is then added on its page.
        bare = {"title": form.word("title"), "equipment": {"stat": {"part": form.word("thermostat"), "at": "hall"}}}
        text = job_text({key: value for key, value in bare.items() if value})
        read_job(text, file="the new job")
        return text, False
    draft = Draft(
        thermostat=form.word("thermostat"),
        indoor=form.word("indoor"),
        outdoor=form.word("outdoor"),
        wall=wall,
        outside=form.word("outside") if form.word("outdoor") else "",
        wall_length=form.length("wall_length"),
        outside_length=form.length("outside_length") if form.word("outdoor") else "",
        title=form.word("title"),
    )
    text = job_text(draft_job(draft, file="the new job"))
    if not form.word("land"):
        return text, False
    job = read_job(text)
    found = land(job)
    return with_job(text, replace(found.job, serves=job.serves) if found.unserved else found.job), bool(found.unserved)


@router.post("/upload")
def upload(request: Request, who: VisitDep, form: FormDep) -> Response:
    """Take in a job file."""
    who.must_not_be_trainee()
    sent = form.file("file")
    name = file_name(sent.filename or "" if sent else "", "the file")
    try:
        if sent is None:
            raise CallpathError("choose a job file first")
        raw = sent.file.read(MAXIMUM_BYTES + 1)
        # The reader counts the bytes, and tells what is wrong with them.
        read_job(raw, file=name)
    except CallpathError as error:
        heading = f"{name} is no sound job file" if sent else "Nothing is brought in yet"
        return _new_page(request, who, {}, "bring", problems_of(error), heading)
    text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    return _kept(who, text, f"brought in from {name}", found=True)


def _kept(who: Visit, text: str, what: str, *, found: bool = False, then: str = "") -> Response:
    with who.store.writing() as session:
        job = begin(session, text, who.person_id, what)
        if found:
            mark(session, job, "as-found", job.head, who.person_id)
        return back(f"/jobs/{job.id}{then}")


@router.post("/jobs/{job_id}/copy")
def copy(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Make a job like another."""
    who.must_not_be_trainee()
    with who.store.writing() as session:
        return back(f"/jobs/{copied(session, who.job(session, job_id), who.person_id).id}")


@router.post("/jobs/{job_id}/archive")
def put_away(who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Put a job away, or take it out again, and go back to the list as it was looked at."""
    words, away = form.word("search")[:200], form.word("away") == "yes"
    sheet = form.number("sheet") if form.word("sheet") else 1
    with who.store.writing() as session:
        archive(session, who.job(session, job_id, edit=True), form.word("archived") == "yes")
        total = jobs(session, search=words, archived=away, among=who.among, most=1)[1]
    # The job may have been the only one on its sheet.
    sheet = min(sheet, -(-total // _A_PAGE))
    return back("/", search=words, archived="true" if away else "", sheet=str(sheet) if sheet > 1 else "")


@router.get("/jobs/{job_id}/file")
def export(who: VisitDep, job_id: str) -> Response:
    """Hand out the job file as it was brought in and changed, comments and all."""
    with who.store.reading() as session:
        job = who.job(session, job_id)
        text, title = head(session, job).text, job.title
    name = file_name(title, "job") + ".job.yaml"
    return Response(
        text.encode(), media_type="application/yaml", headers={"content-disposition": f'attachment; filename="{name}"'}
    )


def file_name(title: str, otherwise: str) -> str:
    """Return a title as a file's name, of letters that every system takes."""
    words = re.findall(r"[a-z0-9._]+", title.casefold().encode("ascii", "ignore").decode())
    return "-".join(words)[:80].strip(".-") or otherwise
