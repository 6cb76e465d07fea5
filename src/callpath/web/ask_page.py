"""Asking the circuit: what runs on a call, what a meter shows, and which way the current takes."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from callpath.calls.closing import callers_of, calls_of_job, thermostats
from callpath.calls.need import Needs
from callpath.calls.reading import amps_in, asked_for, ohms_between, points_at, volts_between, volts_table
from callpath.circuit.meter import Reading
from callpath.circuit.path import loop
from callpath.circuit.snapshot import snapshot
from callpath.errors import CallpathError
from callpath.faults.universe import single_faults
from callpath.faults.words import lead_words, point_words
from callpath.job.model import Job
from callpath.job.write import job_data, job_text
from callpath.proof.prove import CallResult, call_result
from callpath.web.build_page import job_facts
from callpath.web.proved import Proved, proved
from callpath.web.render import page, problems_of
from callpath.web.visit import VisitDep

__all__ = ["Caller", "call_asked", "callers", "router", "still_calling"]

router = APIRouter()
_FAULT = re.compile(r"^faults\[\d+\]\.?\S* ")


@dataclass(frozen=True)
class Answer:
    """What a meter shows, in words and in numbers."""

    question: str
    value: str
    low: str
    high: str
    ghost: bool = False


def _answer(question: str, reading: Reading, unit: str) -> Answer:
    if math.isinf(reading.value):
        return Answer(question, "OL", "", "")
    return Answer(
        question, f"{reading.value:.2f} {unit}", f"{reading.low:.2f}", f"{reading.high:.2f} {unit}", reading.ghost
    )


def call_asked(found: Proved, call: str) -> tuple[str, tuple[str, ...]]:
    """Return the call that is asked about, the first that the job serves without one, and all calls."""
    calls = calls_of_job(found.circuit)
    usual = next((name for name in found.proof.serves if name in calls), calls[-1])
    return call or usual, calls


@dataclass(frozen=True)
class Caller:
    """Somebody who can make a call, to be chosen with one tap: ``by`` is who makes it after that."""

    words: str
    by: tuple[str, ...]
    chosen: bool


def callers(job: Job, call: str, by: Collection[str]) -> list[Caller]:
    """Return who can be chosen to make a call; nobody where only one can, or the call is made by not calling."""
    able = callers_of(job, call)
    if len(able) < 2 or call == "off":
        return []
    found = [Caller("all who can", (), not by)]
    for name in able:
        after = tuple(other for other in able if (other in by) != (other == name))
        found.append(Caller(name, after if len(after) < len(able) else (), name in by))
    return found


def still_calling(job: Job, call: str, by: Collection[str]) -> tuple[str, ...]:
    """Return who makes a call that was changed to: a thermostat that cannot make it does not."""
    silent = {stat.id for stat in thermostats(job)}.difference(callers_of(job, call) if call != "off" else ())
    return tuple(name for name in by if name not in silent)


PLANTABLE = {
    "open": "Open",
    "high-resistance": "A bad connection",
    "loose": "Loose at one end",
    "short": "Touching",
    "swapped": "Exchanged",
    "dead": "Dead",
    "stuck": "Welded closed",
    "tripped": "Tripped",
    "missing": "A jumper missing",
    "extra": "A jumper too many",
    "shorted": "A winding or heater shorted",
    "burned": "A coil half burned",
}
"""Faults that can be planted, by the words of a job file."""

_OF_TWO = ("short", "swapped", "missing", "extra", "loose")


def _plantable(found: Proved) -> dict[str, dict[str, str]]:
    """Return what can be planted in a job, by kind: what an address says for each, and its words."""
    lists: dict[str, dict[str, str]] = {kind: {} for kind in PLANTABLE}
    for weighed in single_faults(found.case.circuit, found.case.priors):
        fault = weighed.fault
        kind = "dead" if fault.kind == "idle" else fault.kind
        if kind in lists:
            words = " at " if kind == "loose" else " and "
            lists[kind].setdefault(f"{kind} {' '.join(fault.where)}", words.join(fault.where))
    return {PLANTABLE[kind]: rows for kind, rows in lists.items() if rows}


def _planted(found: Proved, kind: str, where: str) -> Proved:
    """Return a job with one more fault in it, read as if the file had it, so that every mistake is told alike."""
    names = [word for word in where.replace(",", " ").split() if word != "and"]
    if kind not in PLANTABLE:
        raise CallpathError(f"no fault is called '{kind[:40]}'; choose one from the list")
    wanted = 2 if kind in _OF_TWO else 1
    if len(names) != wanted:
        told = "two things" if wanted == 2 else "one thing"
        raise CallpathError(f"'{kind}' is about {told}, not {len(names) or 'none'}; choose one from the list")
    data = job_data(found.job)
    data["faults"] = [*data.get("faults", []), {kind: names[0] if wanted == 1 else names}]
    return proved(job_text(data))


@router.get("/jobs/{job_id}/ask")
def ask(
    request: Request,
    who: VisitDep,
    job_id: str,
    call: str = "",
    by: Annotated[list[str] | None, Query(max_length=20)] = None,
    red: str = "",
    black: str = "",
    meter: str = "volts",
    clamp: str = "",
    lift: str = "",
    plant: str = "",
    where: str = "",
    fault: str = "",
) -> Response:
    """Show one call: what runs, the loops that carry current, and a meter; with a fault planted, to see what it would do."""
    facts = job_facts(who, job_id)
    found: Proved = facts["proved"]
    own = found
    problems: list[str] = []
    plant, where = fault.split(maxsplit=1) if len(fault.split()) > 1 else (plant, where)
    refused = False
    if plant:
        try:
            found = _planted(found, plant, where)
            facts |= {"proved": found, "job": found.job, "proof": found.proof}
        except CallpathError as error:
            problems = [_FAULT.sub("", problem.split(": ", 1)[-1]) for problem in problems_of(error)]
            refused, plant, where = True, "", ""
    answers: list[Answer] = []
    loops: list[tuple[str, tuple[str, ...]]] = []
    rows = []
    result: CallResult | None = None
    with found.asking:
        circuit = found.circuit
        call, calls = call_asked(found, call)
        who_calls = still_calling(circuit.job, call, by or ())
        on = f"on '{call}'" + (f" by {', '.join(who_calls)}" if who_calls else "")
        with_fault = f", with {plant} {where} planted" if plant else ""
        try:
            state = snapshot(circuit, asked_for(circuit, call, who_calls))
            result = call_result(Needs(circuit), call, state, who_calls or None)
            loops = [(name, loop(state, index)) for index, name in enumerate(circuit.source_names)]
            rows = volts_table(circuit, call, by=who_calls)
            between = " to ".join(point_words(point, found.job) for point in (red, black))
            if red and black and meter == "ohms":
                reading = ohms_between(circuit, red, black, call=call, lifted=[lift] if lift else [], by=who_calls)
                gone = f", {lead_words(lift, found.job)} lifted" if lift else ""
                answers.append(_answer(f"{between}, every source off{gone}{with_fault}", reading, "Ω"))
            elif red and black:
                reading = volts_between(circuit, call, red, black, low_z=meter == "low-z", by=who_calls)
                answers.append(_answer(f"{between} {on}{with_fault}", reading, "V"))
            if clamp:
                answers.append(
                    _answer(f"around {clamp} {on}{with_fault}", amps_in(circuit, call, clamp, by=who_calls), "A")
                )
        except CallpathError as error:
            problems = [*problems, str(error)]
    if refused:
        # What the circuit shows without the fault that was meant is no answer.
        answers, loops, rows, result = [], [], [], None
    return page(
        request,
        "ask.html",
        status=422 if problems else 200,
        call=call,
        calls=calls,
        by=who_calls,
        callers=callers(found.job, call, who_calls),
        result=result,
        refused=refused,
        loops=[(name, path) for name, path in loops if path],
        rows=rows,
        answers=answers,
        problems=problems,
        asked={
            "red": red,
            "black": black,
            "meter": meter,
            "clamp": clamp,
            "lift": lift,
            "plant": plant,
            "where": where,
        },
        plantable=_plantable(own),
        points=points_at(found.circuit),
        point_words=partial(point_words, job=found.job),
        **facts,
    )
