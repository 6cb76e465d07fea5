"""One device, one cable, or all landings in a table: the pages on which a job is changed by form."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.errors import QuestionError, nearest
from callpath.job import edit
from callpath.job.rename import KINDS
from callpath.parts.makeup import makeups
from callpath.web.build_page import EDITS, SHOWN, Sent, job_facts, places
from callpath.web.render import page
from callpath.web.visit import DeniedError, Form, Visit, VisitDep

__all__ = ["router"]

router = APIRouter()


@router.get("/jobs/{job_id}/equipment/{name}")
def equipment(request: Request, who: VisitDep, job_id: str, name: str) -> Response:
    """Show a device of a job: settings, name, place."""
    return _equipment(request, who, job_id, name, Sent(f"equipment/{name}"))


def _equipment(request: Request, who: Visit, job_id: str, name: str, sent: Sent) -> Response:
    facts = _facts(who, job_id)
    if name not in facts["job"].equipment:
        raise QuestionError(f"this job has no equipment '{name}'; {nearest(name, facts['job'].equipment)}")
    device = facts["job"].equipment[name]
    locations = [place.name for place in places(facts["job"])]
    alone = edit.only_for(facts["job"], name)
    return _page(request, "equipment.html", sent, device=device, locations=locations, alone=alone, **facts)


@router.get("/jobs/{job_id}/cables/{name}")
def cable(request: Request, who: VisitDep, job_id: str, name: str) -> Response:
    """Show a cable of a job: what is in it, its length, its name."""
    return _cable(request, who, job_id, name, Sent(f"cables/{name}"))


def _cable(request: Request, who: Visit, job_id: str, name: str, sent: Sent) -> Response:
    facts = _facts(who, job_id)
    if name not in facts["job"].cables:
        raise QuestionError(f"this job has no cable '{name}'; {nearest(name, facts['job'].cables)}")
    return _page(request, "cable.html", sent, cable=facts["job"].cables[name], makeups=_words(), **facts)


@router.get("/jobs/{job_id}/cable")
def new_cable(request: Request, who: VisitDep, job_id: str) -> Response:
    """Ask what a new cable is made of."""
    return _new_cable(request, who, job_id, "", Sent("cable"))


def _new_cable(request: Request, who: Visit, job_id: str, name: str, sent: Sent) -> Response:
    facts = _facts(who, job_id)
    return _page(request, "new_cable.html", sent, places=places(facts["job"]), makeups=_words(), **facts)


@router.get("/jobs/{job_id}/table")
def table(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show every conductor with what its ends sit on, to be changed in one go."""
    return _table(request, who, job_id, "", Sent("table"))


def _table(request: Request, who: Visit, job_id: str, name: str, sent: Sent) -> Response:
    facts = _facts(who, job_id)
    spots = {place.name: place.spots for place in places(facts["job"])}
    return _page(request, "table.html", sent, spots=spots, **facts)


SHOWN |= {"equipment": _equipment, "cables": _cable, "cable": _new_cable, "table": _table}


def _page(request: Request, template: str, sent: Sent, **facts: Any) -> Response:
    return page(request, template, status=422 if sent.problems else 200, sent=sent, **facts)


def _facts(who: VisitDep, job_id: str) -> dict[str, Any]:
    facts = job_facts(who, job_id)
    if not facts["may_edit"]:
        raise DeniedError("you may look at this job, not change it")
    return facts


def _words() -> list[tuple[str, str]]:
    """Return the usual cables of 18 AWG as they are called, with their colours."""
    return [(f"18/{count}", " ".join(colours)) for count, colours in sorted(makeups().items())]


def _rename(text: str, form: Form) -> tuple[str, str]:
    kind, old, new = form.word("kind"), form.word("name"), form.word("new")
    if kind not in KINDS:
        raise QuestionError(f"nothing of the kind '{kind}' has a name")
    return edit.rename(text, kind, old, new), f"{old} is called {new} now"


def _move(text: str, form: Form) -> tuple[str, str]:
    name, at = form.word("name"), form.word("at")
    return edit.move_equipment(text, name, at), f"{name} hangs at {at}"


def _copy_cable(text: str, form: Form) -> tuple[str, str]:
    new, name = edit.copy_cable(text, form.word("name"))
    return new, f"added {name}, like {form.word('name')}"


def _set_cable(text: str, form: Form) -> tuple[str, str]:
    name = form.word("name")
    conductors = form.word("own") or form.word("conductors")
    return edit.set_cable(text, name, length=form.length("length"), conductors=conductors), f"changed the cable {name}"


EDITS |= {"rename": _rename, "move": _move, "copy-cable": _copy_cable, "set-cable": _set_cable}
