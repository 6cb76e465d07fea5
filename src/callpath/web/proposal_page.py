"""Letting callpath propose: a landing, or the smallest repair, taken over whole or step by step."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

from fastapi import APIRouter, Request
from starlette.responses import Response

from callpath.errors import CallpathError
from callpath.job.model import Job
from callpath.job.read import known_job
from callpath.job.rewrite import with_changes
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.proof.prove import Proof
from callpath.web.build_page import EDITS, job_facts
from callpath.web.render import page
from callpath.web.visit import Form, VisitDep

__all__ = ["Step", "router", "steps_between"]

router = APIRouter()


@dataclass(frozen=True)
class Step:
    """One difference between a job as it is and as it is proposed: ``said`` in words, ``why``, and ``words`` for the form."""

    words: tuple[str, ...]
    said: str
    why: str = ""

    @property
    def value(self) -> str:
        """Return how a form carries it."""
        return json.dumps(self.words)


@dataclass(frozen=True)
class Proposal:
    """What callpath would have: the steps to it, its proof, and what to know about it."""

    steps: list[Step]
    proof: Proof
    notes: list[str]


@router.get("/jobs/{job_id}/propose")
def propose(request: Request, who: VisitDep, job_id: str, how: str = "land", free: str = "") -> Response:
    """Work out a landing, in which conductors of the cable ``free`` are taken off first, or how to ``mend``."""
    facts = job_facts(who, job_id)
    problems: list[str] = []
    proposal = None
    try:
        proposal = _repair(facts["job"]) if how == "mend" else _landing(facts["job"], free)
    except CallpathError as error:
        problems = [str(error)]
    return page(
        request,
        "propose.html",
        status=422 if problems else 200,
        proposal=proposal,
        how="mend" if how == "mend" else "land",
        free=free,
        problems=problems,
        **facts,
    )


def _landing(job: Job, free: str) -> Proposal:
    found = land(job, free=[free] if free else [])
    notes = [f"not {call}: {why}" for call, why in found.unserved.items()]
    notes += [*found.cautions, *found.departures]
    if not found.optimal:
        notes.append("better landings were not ruled out: too many ways to try")
    return Proposal(list(steps_between(job, found.job, found.choices)), found.proof, notes)


def _repair(job: Job) -> Proposal:
    found = mend(job)
    whys = {move.what: cure for move, cure in zip(found.moves, found.cures, strict=True)}
    notes = [f"broken, and not to be wired round: {thing}" for thing in found.broken]
    notes += [f"not {call}: {why}" for call, why in found.unserved.items()]
    if not found.fewest and found.moves:
        notes.append(f"repairs of fewer moves than these were ruled out only up to {found.ruled_out}")
    return Proposal(list(steps_between(job, found.job, whys)), found.proof, notes)


def steps_between(before: Job, after: Job, whys: dict[str, str]) -> Iterator[Step]:
    """Yield what must be done to come from one job to another; ``whys`` gives reasons by conductor."""
    for splice, at in after.splices.items():
        if splice not in before.splices:
            yield Step(("splice", splice, at), f"put a splice {splice} in at {at}")
    for conductor, ends in after.landings.items():
        if ends != before.landings.get(conductor):
            words = ("land", conductor, ends[0] or "", ends[1] or "")
            said = f"land {conductor} on {ends[0] or 'nothing'} and {ends[1] or 'nothing'}"
            yield Step(words, said, whys.get(conductor, ""))
    for place, fault in enumerate(before.faults):
        if fault not in after.faults:
            yield Step(("cured", str(place)), f"it is right then: no {fault.kind} {' and '.join(fault.where)} any more")
    had, has = ({frozenset(pair) for pair in job.jumpers} for job in (before, after))
    for pair in after.jumpers:
        if frozenset(pair) not in had:
            why = whys.get(pair[0]) or whys.get(pair[1], "")
            yield Step(("jumper", *pair), f"put a jumper in from {pair[0]} to {pair[1]}", why)
    for pair in before.jumpers:
        if frozenset(pair) not in has:
            yield Step(("unjumper", *pair), f"take the jumper from {pair[0]} to {pair[1]} out")
    for splice in before.splices:
        if splice not in after.splices:
            yield Step(("unsplice", splice), f"take the splice {splice} out")
    for device in after.equipment.values():
        old = before.equipment[device.id].settings
        for key, value in device.settings.items():
            if value != old.get(key):
                why = whys.get(f"{device.id}.{key}", "")
                yield Step(("set", device.id, key, json.dumps(value)), f"set {device.id} {key} to {value}", why)
    if after.serves != before.serves and after.serves is not None:
        yield Step(("serve", *after.serves), f"serve {', '.join(after.serves) or 'nothing'}")


def _do_steps(text: str, form: Form) -> tuple[str, str]:
    """Take over the steps that a form names."""
    job = known_job(text)
    landings, splices, jumpers = dict(job.landings), dict(job.splices), list(job.jumpers)
    settings: dict[str, dict[str, bool | int | float | str | None]] = {}
    serves: list[str] | None = None
    cured: list[int] = []
    chosen = form.words("step")
    for value in chosen:
        match _words(value):
            case ["land", conductor, one, other]:
                landings[conductor] = (one or None, other or None)
            case ["splice", name, at]:
                splices[name] = at
            case ["unsplice", name]:
                splices.pop(name, None)
            case ["jumper", one, other]:
                jumpers.append((one, other))
            case ["unjumper", one, other]:
                jumpers = [pair for pair in jumpers if set(pair) != {one, other}]
            case ["set", device, key, word]:
                settings.setdefault(device, {})[key] = _setting(word)
            case ["cured", place] if place.isdecimal() and int(place) < len(job.faults):
                cured.append(int(place))
            case ["serve", *calls]:
                serves = calls
            case _:
                raise CallpathError("this form asks for a step that callpath does not know; load the page again")
    if unknown := landings.keys() - job.landings.keys():
        raise CallpathError(f"this job has no conductor {', '.join(sorted(unknown))} any more; look again")
    changed = {name: ends for name, ends in landings.items() if ends != job.landings[name]}
    new = with_changes(
        text,
        landings=changed,
        splices=splices if splices != dict(job.splices) else None,
        jumpers=jumpers if jumpers != list(job.jumpers) else None,
        serves=serves,
        settings=settings or None,
        mended=cured,
    )
    return new, f"took over {len(chosen)} proposed step{'' if len(chosen) == 1 else 's'}"


def _setting(word: str) -> bool | int | float | str | None:
    try:
        value = json.loads(word)
    except (ValueError, RecursionError):
        value = [word]
    if isinstance(value, (dict, list)):
        raise CallpathError("this form asks for a setting that callpath does not know; load the page again")
    return cast("bool | int | float | str | None", value)


def _words(value: str) -> list[str]:
    try:
        words = json.loads(value)
    except (ValueError, RecursionError):
        words = None
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise CallpathError("this form asks for a step that callpath does not know; load the page again")
    return words


EDITS["steps"] = _do_steps
