"""Finding a fault, guided: one test with the next best question, one answer, on whichever device is at hand."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from callpath.calls.reading import points_of
from callpath.errors import CallpathError, QuestionError
from callpath.faults.answer import Next, advice_for, cautions_of
from callpath.faults.asked import Check, Seen
from callpath.faults.candidate import places_of_check
from callpath.faults.choose import minutes_of
from callpath.faults.places import coils_of
from callpath.faults.practice import right
from callpath.faults.seen import read_seen
from callpath.faults.troubleshoot import Answer, Case
from callpath.faults.words import answer_words, faults_words, minutes_words, point_words
from callpath.records import history
from callpath.records.assumed import Assumptions, assumptions
from callpath.records.hunt import begin_hunt, end_hunt, keep, open_hunt, seen_of, skipped_of
from callpath.records.schema import Hunt
from callpath.web.api_sent import Count
from callpath.web.ask_page import call_asked
from callpath.web.asked_form import answered, as_value, check_of, made_up, shortcuts
from callpath.web.build_page import job_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page, problems_of
from callpath.web.visit import FormDep, Visit, VisitDep

__all__ = ["asking_facts", "router"]

router = APIRouter()
_SHOWN = 8


def asking_facts(found: Proved, case: Case) -> dict[str, Any]:
    """Return what a form needs to put a test together, and to say of each kind of test what to be careful of."""
    calls = call_asked(found, "")[1]
    return {
        "calls": calls,
        "cautions": {
            "jump": cautions_of(Check("running", jumped=("one", "other"))),
            **{kind: cautions_of(Check(kind)) for kind in ("running", "volts", "amps", "ohms")},
        },
        "functions": tuple(case.circuit.functions),
        "coils": coils_of(case.circuit),
        "points": points_of(case.circuit),
        "words_of_test": case.words,
        "point_words": partial(point_words, job=case.job),
        "answer_words": answer_words,
        "faults_words": faults_words,
        "minutes_words": minutes_words,
        "advice_for": advice_for,
        "as_value": as_value,
    }


@router.get("/jobs/{job_id}/fault")
def fault(request: Request, who: VisitDep, job_id: str) -> Response:
    """Show how far the search is, and what to test next."""
    return _page(request, who, job_id, [])


def _page(
    request: Request,
    who: Visit,
    job_id: str,
    problems: list[str],
    chosen: Next | None = None,
    sent: dict[str, str] | None = None,
) -> Response:
    """Return the page; ``sent`` is what was typed into one of its forms and not taken."""
    facts = job_facts(who, job_id)
    with who.store.reading() as session:
        hunt = open_hunt(session, facts["record"], "fault")
        assumed = assumptions(session, facts["record"])
        text = history.revision(session, facts["record"], hunt.version).text if hunt else facts["head"].text
    found: Proved = proved(text)
    with found.asking:
        case = found.case_of(assumed)
        seen: list[Seen] = seen_of(hunt, case) if hunt else []
        answer: Answer | None = None
        if seen and hunt:
            try:
                answer = case.answer(seen, without=skipped_of(hunt, case))
            except QuestionError as error:
                problems = [*problems, str(error)]
        told = asking_facts(found, case)
        following = chosen or (answer.next if answer else None)
        quick = shortcuts(case, following.test) if following else ()
    return page(
        request,
        "fault.html",
        status=422 if problems else 200,
        hunt=hunt,
        seen=seen,
        answer=answer,
        next=following,
        chosen=chosen,
        shown=_SHOWN,
        problems=problems,
        quick=quick,
        typed=sent if sent and sent.get("do") == "answer" else {},
        given=sent if sent and sent.get("do") != "answer" else {"call": call_asked(found, "")[0]},
        version=hunt.version if hunt else facts["head"].number,
        **told,
        **facts,
    )


@router.get("/jobs/{job_id}/fault/drawing")
def marked_drawing(
    who: VisitDep,
    job_id: str,
    version: Count = 0,
    narrow: bool = False,
    test: Annotated[str, Query(max_length=4000)] = "",
) -> Response:
    """Return the wiring as the job should have it, a test marked in it where one is given."""
    with who.store.reading() as session:
        record = who.job(session, job_id)
        text = history.revision(session, record, version or record.head).text
    found = proved(text)
    with found.asking:
        marked = check_of(found.case, test) if test else None
        return Response(found.plain_drawing(marked, narrow=narrow), media_type="image/svg+xml")


@router.post("/jobs/{job_id}/fault")
def step(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Take an answer, take one back, leave a test out, or end the search."""
    with who.store.reading() as session:
        job = who.job(session, job_id, edit=True)
        hunt = open_hunt(session, job, "fault")
        found = proved(history.revision(session, job, hunt.version if hunt else job.head).text)
        assumed = assumptions(session, job)
    try:
        if form.word("do") == "may":
            return _page(request, who, job_id, [], _allowed(found.case_of(assumed), hunt, form, found))
        _step(who, job_id, found, assumed, hunt, form)
    except CallpathError as error:
        return _page(request, who, job_id, problems_of(error), sent=dict(form.starting("")))
    return back(f"/jobs/{job_id}/fault")


def _allowed(case: Case, hunt: Hunt | None, form: FormDep, found: Proved) -> Next:
    """Return a jumper that somebody thought of as the next test, where it can do no harm."""
    with found.asking:
        test = made_up(case, form, unanswered=True).test
        if not test.jumped:
            raise CallpathError("say which two terminals to join")
        seen = seen_of(hunt, case) if hunt else []
        if danger := case.danger_of(seen, test):
            raise CallpathError(f"{danger}.")
        at = case.standing(seen)
        minutes, where = minutes_of(case.circuit, case.minutes, test, at), places_of_check(case.circuit, test)[0]
        return Next(
            test,
            case.words(test),
            where,
            minutes,
            0.0,
            "it is the test that you chose",
            cautions_of(test, harmless="likely"),
            (),
        )


def _step(who: Visit, job_id: str, found: Proved, assumed: Assumptions, before: Hunt | None, form: FormDep) -> None:
    do, _, given = form.word("do").partition(":")
    new: Seen | None = None
    with found.asking:
        case = found.case_of(assumed)
        if do == "answer":
            new = answered(case, form, given)
        elif do == "tell":
            new = made_up(case, form, given)
        elif do == "skip":
            test = check_of(case, form.text("test"))
            new = Seen(test, right(case, test))
        told = seen_of(before, case) if before else []
        if do != "skip" and new is not None and (danger := case.danger_of(told, new.test)):
            raise CallpathError(f"{danger}; this answer is not taken.")
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
            end_hunt(hunt, was=was)
        else:
            raise CallpathError("this form asks for something that callpath does not do; load the page again")
