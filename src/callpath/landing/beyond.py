"""Ways out of what no repair cures, those of a landing (ways.py): thicker cable, a spare in parallel, a relay, cells.

A repair moves what there is. Where a call then stays unserved or something weak, what the repair has landed stays where it is;
only where no way helps so may every conductor lie elsewhere.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from callpath.job.model import Job
from callpath.landing.land import land
from callpath.landing.ways import WayOut, ways_out

if TYPE_CHECKING:
    from callpath.landing.mended import Mended

__all__ = ["ways_beyond"]


def ways_beyond(job: Job, found: Mended, wanted: tuple[str, ...]) -> tuple[WayOut, ...]:
    """Return the ways out of what a repair leaves.

    Parameters
    ----------
    job : Job
        The job as found, what is broken left out.
    found : Mended
        The best repair.
    wanted : tuple of str
        The calls to serve.
    """
    mended = replace(found.job, faults=job.faults, contacts=job.contacts, serves=wanted)
    # What hangs at one end was given up; it lies free to be used.
    loose = {name: (None, None) if None in ends else ends for name, ends in mended.landings.items()}
    kept = {end for ends in loose.values() for end in ends}
    splices = {name: at for name, at in mended.splices.items() if name in kept}
    for start in (replace(mended, landings=loose, splices=splices), _bare(job, wanted)):
        best = land(start, ways=False)
        ways = ways_out(start, best, lambda changed: land(changed, ways=False))
        # Giving up what the repair gives up already is no way out of it.
        new = tuple(way for way in ways if _parts(way.job) != _parts(mended))
        if new:
            return new
    return ()


def _parts(job: Job) -> tuple[object, ...]:
    return job.landings, job.equipment, job.cables, set(map(frozenset, job.jumpers))


def _bare(job: Job, wanted: tuple[str, ...]) -> Job:
    return replace(job, landings=dict.fromkeys(job.landings, (None, None)), splices={}, jumpers=(), serves=wanted)
