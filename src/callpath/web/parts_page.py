"""The catalogue: finding a part by its strip, reading it whole, and adding one to a job."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.job.draft import find_part
from callpath.job.model import Job
from callpath.parts import describe
from callpath.parts.catalogue import default_catalogue
from callpath.parts.find import ROLES, find_parts
from callpath.parts.model import Part
from callpath.web.build_page import SHOWN, Sent, job_facts, places
from callpath.web.render import page
from callpath.web.visit import DeniedError, Visit, VisitDep

__all__ = ["router"]

router = APIRouter()
_LONGEST = 100


def _search(search: str, role: str) -> dict[str, Any]:
    role = role if role in ROLES else ""
    words = search.strip()[:_LONGEST]
    return {"search": words, "role": role, "roles": ROLES, "found": find_parts(words, role)}


@router.get("/parts")
def parts(request: Request, who: VisitDep, search: str = "", role: str = "") -> Response:
    """Show the catalogue, or what of it fits some words."""
    return page(request, "parts.html", visit=who, **_search(search, role))


@router.get("/parts/{role}/{name}")
def part_page(request: Request, who: VisitDep, role: str, name: str) -> Response:
    """Show one part whole, as ``callpath parts PART`` tells it."""
    full = f"{role}/{name}"
    if full not in default_catalogue().names:
        near = find_parts(name.replace("-", " "))
        problems = [f"the catalogue has no part '{full}'", *(f"there is {p.part}: {p.title}" for p in near[:3])]
        return page(request, "error.html", status=404, visit=who, heading="Not here", problems=problems)
    part = default_catalogue().part(full)
    return page(request, "part.html", visit=who, part=part, told=describe)


@router.get("/jobs/{job_id}/add")
def add(request: Request, who: VisitDep, job_id: str, search: str = "", role: str = "", part: str = "") -> Response:
    """Choose a part from the catalogue for a job, with its settings."""
    return _add(request, who, job_id, part, Sent("add"), search=search, role=role)


def _add(
    request: Request, who: Visit, job_id: str, part: str, sent: Sent, *, search: str = "", role: str = ""
) -> Response:
    facts = job_facts(who, job_id)
    if not facts["may_edit"]:
        raise DeniedError("you may look at this job, not change it")
    problems: list[str] = []
    chosen: Part | None = None
    try:
        chosen = find_part(part) if part else None
    except CallpathError as error:
        problems = [str(error)]
    return page(
        request,
        "add.html",
        status=422 if problems or sent.problems else 200,
        chosen=chosen,
        usual=_usual_place(facts["job"], chosen),
        locations=[place.name for place in places(facts["job"])],
        problems=problems,
        sent=sent,
        **_search(search, role),
        **facts,
    )


SHOWN["add"] = lambda request, who, job_id, _, sent: _add(request, who, job_id, sent.given.get("part", ""), sent)


def _usual_place(job: Job, part: Part | None) -> str:
    """Return where a part most likely hangs: where the job has its like, the only place where it has."""
    at = {device.at for device in job.equipment.values() if part is not None and device.part.role == part.role}
    return at.pop() if len(at) == 1 and part is not None and part.role != "thermostat" else ""
