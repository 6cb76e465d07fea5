"""Letting callpath propose: seen beside what is, proved for whatever is ticked, taken over whole, in part or move by move."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from callpath.calls.closing import thermostats
from callpath.errors import CallpathError
from callpath.job.model import Job
from callpath.records import history
from callpath.web import proposal
from callpath.web.build_page import EDITS, job_facts
from callpath.web.proposal import Proposal, with_steps
from callpath.web.proved import proved
from callpath.web.render import page, problems_of
from callpath.web.visit import Form, VisitDep

__all__ = ["router"]

router = APIRouter()
Words = Annotated[list[str], Query(max_length=400)]


@router.get("/jobs/{job_id}/propose")
def propose(
    request: Request,
    who: VisitDep,
    job_id: str,
    how: str = "land",
    free: Words = [],  # noqa: B006 - read only
    step: Words = [],  # noqa: B006 - read only
    asked: bool = False,
    looked: bool = False,
) -> Response:
    """Work out a landing, in which conductors of the cables ``free`` are taken off first, or how to ``mend``.

    ``looked`` tells that ``step`` holds the steps that are ticked; before that those are that give nothing up.
    """
    facts = job_facts(who, job_id)
    text, job = facts["head"].text, facts["job"]
    how = "mend" if how == "mend" else "land"
    all_landed = not any(ends == (None, None) for ends in job.landings.values())
    if how == "land" and not free and not asked and all_landed:
        free = list(job.cables)
    # Anew from scratch, several thermostats take long: whoever wants that says so.
    wait = how == "land" and not asked and bool(free) and len(thermostats(job)) > 1
    problems: list[str] = []
    found: Proposal | None = None
    ticked: Sequence[str] = step
    after: dict[str, Any] = {}
    try:
        if not wait:
            found = proposal.repair(text) if how == "mend" else proposal.landing(text, free)
            ticked = step if looked else found.usual
            after = _after(facts["at"], facts["head"].number, text, ticked, job)
            after["gives_up"] = [call for call in facts["proof"].serves if call not in after["proof"].serves]
    except CallpathError as error:
        problems = problems_of(error)
    return page(
        request,
        "propose.html",
        status=422 if problems else 200,
        proposal=found,
        ticked=set(ticked),
        after=after,
        how=how,
        free=free,
        all_landed=all_landed,
        wait=wait,
        problems=problems,
        **facts,
    )


def _after(at: str, version: int, text: str, ticked: Sequence[str], job: Job) -> dict[str, Any]:
    """Return what comes of the ticked steps: the proof, where the drawing is, and what is different in it."""
    new = proved(with_steps(text, ticked), after=text)
    query = urlencode([("version", version), *(("step", value) for value in ticked)])
    changed = [name for name, ends in new.job.landings.items() if ends != job.landings[name]]
    return {"proof": new.proof, "drawing": f"{at}/propose/drawing?{query}", "changed": changed}


@router.get("/jobs/{job_id}/propose/drawing")
def proposed_drawing(
    who: VisitDep,
    job_id: str,
    version: int = 0,
    step: Words = [],  # noqa: B006 - read only
    narrow: bool = False,
) -> Response:
    """Return the wiring of a version after some steps, drawn."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        text = history.revision(session, record, version or record.head).text
    return Response(proved(with_steps(text, step), after=text).drawing(narrow=narrow), media_type="image/svg+xml")


def _do_steps(text: str, form: Form) -> tuple[str, str]:
    """Take over the steps that a form names."""
    chosen = form.words("step")
    return with_steps(text, chosen), f"took over {len(chosen)} proposed step{'' if len(chosen) == 1 else 's'}"


EDITS["steps"] = _do_steps
EDITS["way"] = lambda text, form: (form.text("text"), f"way out: {form.word('title')}")
