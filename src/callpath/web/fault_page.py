"""Finding a fault, guided: one test with the next best question, one answer, on whichever device is at hand."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.calls.closing import calls_of_job
from callpath.errors import CallpathError, QuestionError
from callpath.faults.asked import Seen
from callpath.faults.seen import points_of, read_seen
from callpath.faults.troubleshoot import Answer, Case
from callpath.faults.words import answer_words, faults_words, words_of_test
from callpath.records import history
from callpath.records.hunt import begin_hunt, end_hunt, keep, open_hunt, seen_of, skipped_of
from callpath.web.asked_form import answered, as_value, made_up
from callpath.web.build_page import job_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page, problems_of
from callpath.web.visit import FormDep, Visit, VisitDep

__all__ = ["case_facts", "router"]

router = APIRouter()
_SHOWN = 8


def case_facts(case: Case) -> dict[str, Any]:
    """Return what a form needs to put a test together."""
    return {
        "calls": calls_of_job(case.circuit),
        "functions": tuple(case.circuit.functions),
        "points": points_of(case.circuit),
        "words_of_test": words_of_test,
        "answer_words": answer_words,
        "faults_words": faults_words,
        "as_value": as_value,
    }


@router.get("/jobs/{job_id}/fault")
def fault(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show how far the search is, and what to test next."""
    return _page(request, who, job_id, [])


def _page(request: Request, who: Visit, job_id: str, problems: list[str]) -> Response:
    facts = job_facts(who, job_id)
    with who.store.reading() as session:
        hunt = open_hunt(session, facts["record"], "fault")
        text = history.revision(session, facts["record"], hunt.version).text if hunt else facts["head"].text
    found: Proved = proved(text)
    with found.asking:
        case = found.case
        seen: list[Seen] = seen_of(hunt, case) if hunt else []
        answer: Answer | None = None
        if seen and hunt:
            try:
                answer = case.answer(seen, without=skipped_of(hunt, case))
            except QuestionError as error:
                problems = [*problems, str(error)]
    return page(
        request,
        "fault.html",
        status=422 if problems else 200,
        hunt=hunt,
        seen=seen,
        answer=answer,
        shown=_SHOWN,
        problems=problems,
        **case_facts(case),
        **facts,
    )


@router.post("/jobs/{job_id}/fault")
def step(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Take an answer, take one back, leave a test out, or end the search."""
    with who.store.reading() as session:
        job = who.job(session, job_id, edit=True)
        hunt = open_hunt(session, job, "fault")
        found = proved(history.revision(session, job, hunt.version if hunt else job.head).text)
    try:
        _step(who, job_id, found, form)
    except CallpathError as error:
        return _page(request, who, job_id, problems_of(error))
    return back(f"/jobs/{job_id}/fault")


def _step(who: Visit, job_id: str, found: Proved, form: FormDep) -> None:
    do = form.word("do")
    with found.asking:
        case = found.case
        new = answered(case, form, unanswered=do == "skip") if do in ("answer", "skip") else None
        new = made_up(case, form) if do == "tell" else new
    with who.store.writing() as session:
        job = who.job(session, job_id, edit=True)
        hunt = open_hunt(session, job, "fault") or begin_hunt(session, job, "fault", who.person_id)
        with found.asking:
            seen, skipped = seen_of(hunt, case), read_seen(hunt.skipped, case.circuit)
        was = form.text("was") or hunt.seen
        if do in ("answer", "tell") and new is not None:
            keep(hunt, [*seen, new], was=was)
        elif do == "skip" and new is not None:
            keep(hunt, seen, [*skipped, new], was=was)
        elif do == "undo":
            keep(hunt, seen[:-1], was=was)
        elif do == "end":
            end_hunt(hunt)
        else:
            raise CallpathError("this form asks for something that callpath does not do; load the page again")
