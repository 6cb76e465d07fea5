"""Choosing where every conductor lands: the best landing, a common beside it, and ways out where something stays unserved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from callpath.calls.closing import thermostats
from callpath.errors import QuestionError, nearest
from callpath.job.model import Job
from callpath.landing.best import Best
from callpath.landing.common import with_common
from callpath.landing.landed import Landed
from callpath.landing.several import best_of_several
from callpath.landing.ways import ways_out

__all__ = ["land"]


def land(job: Job, *, free: Sequence[str] = (), most_added: int | None = None, ways: bool = True) -> Landed:
    """Choose where the conductors of a job land that are not landed yet.

    Parameters
    ----------
    job : Job
        The job; an end that is landed stays where it is, and a conductor landed at one end is taken before others where its
        other end can be landed.
    free : sequence of str
        Cables whose conductors are taken off first and landed anew.
    most_added : int, optional
        At most so many new splices and jumpers.
    ways : bool
        Whether ways out are looked for where some call cannot be served, or only with something weak, and a common is landed
        for a thermostat on cells where a conductor is to spare.

    Raises
    ------
    QuestionError
        A cable that the job does not have.
    """
    for cable in free:
        if cable not in job.cables:
            raise QuestionError(f"the job has no cable '{cable}'; {nearest(cable, job.cables)}")
    found = Best(job, free, most_added)

    def land_part(part: Job) -> Job:
        return land(part, most_added=most_added, ways=False).job

    best = found.best() if len(thermostats(job)) < 2 else best_of_several(found, land_part)
    if not ways:
        return best
    best = with_common(best)
    if not best.unserved and best.proof.verdict == "clean":
        return best
    out = ways_out(found.fixed, best, lambda changed: land(changed, most_added=most_added, ways=False))
    return replace(best, ways_out=out)
