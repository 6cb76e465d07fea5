"""Splices and jumpers too are the best there are: every landing tried, with every splice and every jumper."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest

from callpath.job import Job, Landing
from callpath.landing.land import land
from callpath.proof.prove import prove
from tests.jobs import data, job_of
from tests.landing.brute import judge

Score = tuple[int, ...]

ONE_CONDUCTOR = data("""
    callpath: 1
    equipment:
      stat: {part: thermostat/heat-only, at: hall}
      hot:  {part: indoor/boiler, at: hall}
    cables:
      wall: {between: [hall, hall], conductors: [red]}
    """)
TWO_CABLES = data("""
    callpath: 1
    equipment:
      stat: {part: thermostat/heat-only, at: hall}
      hot:  {part: indoor/boiler-tt, at: cellar}
    cables:
      up:   {between: [hall, stairs], conductors: [red, white]}
      down: {between: [stairs, cellar], conductors: [red, white]}
    splices: {one: stairs}
    """)


def with_jumpers(job: Job) -> Iterator[Job]:
    """Yield the job with its one conductor everywhere and up to two jumpers everywhere."""
    terminals = ["stat.R", "stat.W", "hot.R", "hot.W", "hot.C"]
    pairs = list(itertools.combinations(terminals, 2))
    for ends in (None, *pairs):
        for size in range(3):
            for jumpers in itertools.combinations(pairs, size):
                yield replace(job, landings={"wall.red": ends or (None, None)}, jumpers=jumpers)


def with_splices(job: Job) -> Iterator[Job]:
    """Yield the job with every end of its four conductors on a terminal or on one of two splices; colours as they come."""
    up = [(a, s) for a in ("stat.R", "stat.W") for s in ("one", "two")]
    down = [(s, b) for s in ("one", "two") for b in ("hot.T1", "hot.T2")]
    for a, b in itertools.combinations_with_replacement([(None, None), *up], 2):
        for c, d in itertools.combinations_with_replacement([(None, None), *down], 2):
            landings: dict[str, Landing] = {"up.red": a, "up.white": b, "down.red": c, "down.white": d}
            used = {end for ends in landings.values() for end in ends}
            splices = {name: "stairs" for name in ("one", "two") if name in used}
            yield replace(job, landings=landings, splices=splices)


def score(job: Job) -> Score | None:
    """Return what a job is worth: calls unserved, weak findings, functions, conductors and jumpers, splices and jumpers."""
    judged = judge(prove(job))
    if not judged.sound:
        return None
    landed = sum(ends != (None, None) for ends in job.landings.values())
    served = "heat" not in judged.dead
    return (
        int(not served),
        judged.weak,
        -judged.functions["heat"] * served,
        landed + len(job.jumpers),
        len(job.splices) + len(job.jumpers),
    )


@pytest.mark.parametrize(
    ("shape", "everything"), [(ONE_CONDUCTOR, with_jumpers), (TWO_CABLES, with_splices)], ids=["jumpers", "splices"]
)
def test_nothing_is_better_with_other_splices_and_jumpers(shape: dict[str, object], everything: object) -> None:
    job = job_of(shape)
    assert callable(everything)
    best = min(found for other in everything(job) if (found := score(other)) is not None)
    chosen = land(job)
    assert chosen.optimal
    assert score(chosen.job) == best
    assert best[0] == 0
