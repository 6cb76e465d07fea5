"""Practice: a hidden fault, a meter, a clock that counts minutes; and how it went, for who leads to see too."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.faults.practice import ALIKE, Exercise, Path, amiss, culprits, hide
from callpath.faults.troubleshoot import Case
from callpath.records import history
from callpath.records.assumed import Assumptions, assumptions
from callpath.records.hunt import begin_hunt, end_hunt, keep, open_hunt, scores, seen_of
from callpath.records.schema import Hunt
from callpath.web.api_sent import Count
from callpath.web.asked_form import as_fields, made_up
from callpath.web.build_page import job_facts
from callpath.web.fault_page import asking_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import back, page, problems_of
from callpath.web.visit import FormDep, Visit, VisitDep

__all__ = ["router"]

router = APIRouter()


def _case(found: Proved, hunt: Hunt) -> Case:
    """Return what is known of the job under the assumptions that counted when the exercise began."""
    return found.case_of(Assumptions(hunt.priors, hunt.minutes_assumed))


def _exercise(found: Proved, hunt: Hunt) -> Exercise:
    """Return an exercise with everything done again that was done: the same seed gives the same answers."""
    case = _case(found, hunt)
    exercise = hide(case, hunt.seed, faults=hunt.faults, alike=hunt.alike)
    for step in seen_of(hunt, case):
        exercise.make(step.test)
    exercise.path.wrong = hunt.wrong
    return exercise


def _groups(case: Case, names: tuple[tuple[str, ...], ...]) -> dict[str, list[str]]:
    """Return what can be named as being at fault, as lists to choose from."""
    job, elements = case.job, case.circuit.elements
    groups: dict[str, list[str]] = {
        "A conductor": [],
        "Something in the equipment": [],
        "Two things": [],
        "A setting": [],
    }
    for each in names:
        if len(each) > 1:
            group = "Two things"
        elif each[0] in job.landings:
            group = "A conductor"
        else:
            group = "Something in the equipment" if each[0] in elements else "A setting"
        groups[group].append(" ".join(each))
    return {group: rows for group, rows in groups.items() if rows}


@router.get("/jobs/{job_id}/practice")
def practice(request: Request, who: VisitDep, job_id: str, ended: Count = 0, hint: bool = False) -> Response:
    """Show the exercise that is going on, or how one went; ``hint`` tells what callpath would test next."""
    return _page(request, who, job_id, [], ended, hint=hint)


def _page(
    request: Request,
    who: Visit,
    job_id: str,
    problems: list[str],
    ended: int = 0,
    *,
    hint: bool = False,
    sent: dict[str, str] | None = None,
) -> Response:
    facts = job_facts(who, job_id)
    with who.store.reading() as session:
        hunt = open_hunt(session, facts["record"], "practice", who.person_id)
        if hunt is None and ended:
            over = session.get(Hunt, ended)
            if over is not None and over.job_id == job_id and over.person_id == who.person_id:
                hunt = over
        text = history.revision(session, facts["record"], hunt.version).text if hunt else facts["head"].text
    found = proved(text)
    with found.asking:
        exercise = best = hinted = None
        given = sent if sent and sent.get("do") == "test" else {}
        if hunt is not None:
            exercise = _exercise(found, hunt)
            # Tests come one after another: the next is most often as the last, with one lead elsewhere.
            steps = exercise.path.steps
            given = given or as_fields(exercise.case, steps[-1].seen.test if steps else exercise.complaint.test)
            best = exercise.best() if hunt.ended_at is not None else None
            if hint and best is None:
                hinted = exercise.case.answer(exercise.seen, exercise.path.at)
        case = found.case if hunt is None else _case(found, hunt)
        told = asking_facts(found, case)
        complained = amiss(case, exercise.complaint) if exercise else None
        named = _groups(case, culprits(case)) if exercise and best is None else {}
    return page(
        request,
        "practice.html",
        status=422 if problems else 200,
        hunt=hunt,
        exercise=exercise,
        complained=complained,
        best=best,
        alike=ALIKE,
        culprits=named,
        hinted=hinted,
        given=given,
        asked=sent if sent and sent.get("do") == "hide" else {},
        version=hunt.version if hunt else facts["head"].number,
        problems=problems,
        **told,
        **facts,
    )


@router.post("/jobs/{job_id}/practice")
def step(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Hide a fault, make a test, name what is at fault, or give up."""
    try:
        ended = _step(who, job_id, form)
    except CallpathError as error:
        with who.store.reading() as session:
            who.job(session, job_id)
        return _page(request, who, job_id, problems_of(error), sent=dict(form.starting("")))
    return back(f"/jobs/{job_id}/practice", ended=str(ended) if ended else "")


def _step(who: Visit, job_id: str, form: FormDep) -> int:
    """Do what a form asks for; returns the number of the exercise where that ended it."""
    do = form.word("do")
    with who.store.reading() as session:
        job = who.job(session, job_id)
        hunt = open_hunt(session, job, "practice", who.person_id)
        found = proved(history.revision(session, job, hunt.version if hunt else job.head).text)
        assumed = assumptions(session, job)
    named = " ".join(form.words("named")).strip()
    if do == "hide":
        if not form.word("seed").isdecimal():
            raise CallpathError(
                "the number of the exercise is a whole number, such as 7: the same number hides the same fault"
            )
        seed, faults, alike = form.number("seed"), form.number("faults"), form.word("alike")
        if faults not in (1, 2) or alike not in ALIKE:
            raise CallpathError("one or two faults, and little, some or much that looks like them")
        with found.asking:
            hide(found.case_of(assumed), seed, faults=faults, alike=alike)
        with who.store.writing() as session:
            job = who.job(session, job_id)
            if open_hunt(session, job, "practice", who.person_id) is None:
                begin_hunt(
                    session, job, "practice", who.person_id, seed=seed, faults=faults, alike=alike, assumed=assumed
                )
        return 0
    if hunt is None:
        raise CallpathError("nothing is hidden; begin first")
    with found.asking:
        exercise = _exercise(found, hunt)
        if do == "test":
            check = made_up(exercise.case, form, unanswered=True).test
            exercise.refuse(check)
            exercise.make(check)
        elif do == "mend":
            exercise.names(named)
        elif do != "stop":
            raise CallpathError("this form asks for something that callpath does not do; load the page again")
        in_vain = do == "mend" and not exercise.path.found
        best = exercise.best() if do != "test" and not in_vain else None
    with who.store.writing() as session:
        again = open_hunt(session, who.job(session, job_id), "practice", who.person_id)
        if again is None or again.id != hunt.id:
            raise CallpathError("this exercise has ended on another device")
        keep(again, [item.seen for item in exercise.path.steps], was=hunt.seen)
        again.wrong = exercise.path.wrong
        if best is not None:
            _score(again, exercise, best)
    if in_vain:
        minutes = exercise.case.minutes.wrong_repair
        raise CallpathError(f"mending {named} does not mend it, or not all of it; it took {minutes:g} min")
    return 0 if best is None else hunt.id


def _score(hunt: Hunt, exercise: Exercise, best: Path) -> None:
    """Write down how an exercise went, and end it."""
    hunt.found, hunt.tests, hunt.minutes = exercise.path.found, len(exercise.path.steps), exercise.path.minutes
    hunt.best_tests, hunt.best_minutes = len(best.steps), best.minutes
    end_hunt(hunt)


@router.get("/scores")
def score_list(request: Request, who: VisitDep) -> Response:
    """Show how practice went: who leads sees everybody's."""
    with who.store.reading() as session:
        rows = [
            (hunt, hunt.job.title)
            for hunt in scores(session, None if who.role == "lead" and who.team else who.person_id)
        ]
    return page(request, "scores.html", visit=who, rows=rows)
