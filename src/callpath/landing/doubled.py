"""Two conductors in parallel where one loses too much: half the ohms for a spare that lies in the cable anyway.

Where a terminal has no room for one more, the pair is twisted together in a splice with a short piece on to the terminal.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from callpath.job.model import Cable, Job
from callpath.proof.prove import prove

__all__ = ["doubled"]

_MOST_TRIED = 40


def doubled(job: Job, cable: Cable) -> tuple[Job, str] | None:
    """Return a job with as few spares of a cable as will do landed beside others of its conductors, and in words which where.

    None where no spare helps: where all are used, or where the proof still finds something worse than a note.
    """
    broken = {where for fault in job.faults for where in fault.where}
    own = [name for name in (f"{cable.id}.{colour}" for colour in cable.conductors) if name not in broken]
    spares = [name for name in own if job.landings[name] == (None, None)]
    used = [name for name in own if None not in job.landings[name]]
    for chosen in itertools.islice(_ways(used, len(spares)), _MOST_TRIED):
        pairs = list(zip(spares, chosen, strict=False))
        beside = _beside(job, cable, pairs)
        if prove(beside).verdict == "clean":
            return beside, "; ".join(_said(beside, spare, name) for spare, name in pairs)
    return None


def _ways(used: Sequence[str], most: int) -> Iterator[tuple[str, ...]]:
    """Yield which conductors are doubled, the fewest first."""
    for count in range(1, min(most, len(used)) + 1):
        yield from itertools.combinations(used, count)


def _said(job: Job, spare: str, name: str) -> str:
    pigtails = [
        f"{other} leads on from {end} to {next(far for far in ends if far != end)}"
        for end in job.landings[spare]
        if end in job.splices
        for other, ends in job.landings.items()
        if end in ends and other not in (spare, name)
    ]
    ends = " and ".join(str(end) for end in job.landings[spare])
    return "; ".join((f"{spare} beside {name}, on {ends}", *pigtails))


def _beside(job: Job, cable: Cable, pairs: Sequence[tuple[str, str]]) -> Job:
    """Return a job with spares landed beside other conductors."""
    for spare, name in pairs:
        ends: list[str | None] = []
        for end, at in zip(job.landings[name], cable.between, strict=True):
            if end is not None and _full(job, end):
                job, end = _twisted(job, name, end, at)
            ends.append(end)
        job = replace(job, landings={**job.landings, spare: (ends[0], ends[1])})
    return job


def _full(job: Job, end: str) -> bool:
    if end in job.splices:
        return False
    device, letters = job.terminal(end)
    return sum(end in ends for ends in job.landings.values()) >= device.part.terminals[letters].takes


def _twisted(job: Job, name: str, end: str, at: str) -> tuple[Job, str]:
    """Return a job in which a conductor comes to its terminal by a splice and a short piece, and the splice."""
    taken = {*job.equipment, *job.cables, *job.splices}
    splice = next(new for i in itertools.count(1) if (new := f"pair-{i}") not in taken)
    piece = next(new for i in itertools.count(1) if (new := f"piece-{i}") not in taken)
    ends = job.landings[name]
    landings = {
        **job.landings,
        name: (splice if ends[0] == end else ends[0], splice if ends[1] == end else ends[1]),
        f"{piece}.yellow": (splice, end),
    }
    cables = {**job.cables, piece: Cable(piece, (at, at), ("yellow",), length_ft=1.0)}
    return replace(job, landings=landings, cables=cables, splices={**job.splices, splice: at}), splice
