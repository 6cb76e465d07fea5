"""Every version of a job that was ever saved, what is different between two, and taking one again."""

from __future__ import annotations

import difflib
from typing import Any

from fastapi import APIRouter, Request
from sqlalchemy import select
from starlette.responses import Response

from callpath.job.model import Job
from callpath.records import history
from callpath.records.schema import Revision
from callpath.web.build_page import job_facts
from callpath.web.proved import proved
from callpath.web.render import back, page
from callpath.web.visit import FormDep, VisitDep

__all__ = ["differences", "router"]

router = APIRouter()


@router.get("/jobs/{job_id}/versions")
def versions(request: Request, who: VisitDep, job_id: str, older: int = 0, newer: int = 0) -> Response:
    """List the versions; with two of them, what is different."""
    facts = job_facts(who, job_id)
    record = facts["record"]
    with who.store.reading() as session:
        query = select(Revision).where(Revision.job_id == record.id).order_by(Revision.number.desc())
        rows = [(revision, revision.person.name) for revision in session.scalars(query)]
        compared: dict[str, Any] | None = None
        if older and newer:
            one, two = (history.revision(session, record, number).text for number in (older, newer))
            lines = difflib.unified_diff(one.splitlines(), two.splitlines(), "", "", lineterm="", n=2)
            compared = {
                "older": older,
                "newer": newer,
                "changes": differences(proved(one).job, proved(two).job),
                "lines": [line for line in lines if not line.startswith(("---", "+++"))],
            }
    return page(request, "versions.html", rows=rows, compared=compared, **facts)


@router.post("/jobs/{job_id}/take")
def take(request: Request, who: VisitDep, form: FormDep, job_id: str) -> Response:
    """Make an earlier version, or one kept aside, the one that counts."""
    with who.store.writing() as session:
        record = who.job(session, job_id, edit=True)
        history.take(session, record.id, form.number("number"), form.number("seen"), who.person_id)
    return back(f"/jobs/{job_id}")


def differences(before: Job, after: Job) -> list[tuple[str, str, str]]:
    """Return what is different between two jobs: a thing, how it was, how it is; empty where it was not or is not."""
    one, two = _sayings(before), _sayings(after)
    return [(name, one.get(name, ""), two.get(name, "")) for name in {**one, **two} if one.get(name) != two.get(name)]


def _sayings(job: Job) -> dict[str, str]:
    said = {"title": job.title, "note": job.note}
    for device in job.equipment.values():
        said[device.id] = f"{device.part.part} at {device.at}"
        said |= {f"{device.id} {key}": str(value) for key, value in device.settings.items()}
    for cable in job.cables.values():
        one, other = cable.between
        said[cable.id] = f"{one} to {other}, {cable.length_ft:g} ft of {cable.awg} AWG: {' '.join(cable.conductors)}"
    for conductor, ends in job.landings.items():
        said[conductor] = " – ".join(end or "capped" for end in ends)
    said |= {f"splice {name}": at for name, at in job.splices.items()}
    said |= {"jumper " + " – ".join(sorted(pair)): "in" for pair in job.jumpers}
    said["serves"] = "all that it can" if job.serves is None else ", ".join(job.serves) or "nothing"
    said |= {f"contact {name}": "closed" if closed else "open" for name, closed in job.contacts.items()}
    said |= {f"fault {fault.kind} {' '.join(fault.where)}": "planted" for fault in job.faults}
    return said
