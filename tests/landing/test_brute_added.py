"""Splices and jumpers too are the best there are: every landing tried, with every splice and every jumper, those between
terminals of unlike meaning among them.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest

from callpath.job import Job, Landing
from callpath.landing.land import land
from callpath.proof.prove import prove
from tests.jobs import data, job_of
from tests.landing.brute import Brute, judge

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


# An electric heater whose blower runs from G alone: heating takes W and G at once.
WARM = data("""
    callpath: 1
    equipment:
      stat: {part: thermostat/heat-only, at: hall}
      air:  {part: indoor/air-handler, at: cellar, settings: {heat-runs-blower: false}}
    cables:
      wall: {between: [hall, cellar], conductors: [red, white]}
    """)
# A board whose blower runs from G alone in cooling, and one conductor for it: it goes to Y, and a jumper leads on to G.
COOL = data("""
    callpath: 1
    equipment:
      stat: {part: thermostat/single-supply, at: hall}
      air:  {part: indoor/furnace-board, at: cellar, settings: {cooling-blower-from: G}}
      cond: {part: outdoor/condenser, at: yard}
    cables:
      wall: {between: [hall, cellar], conductors: [red, white]}
      out:  {between: [cellar, yard], conductors: [white, red]}
    landings:
      wall.red:  [stat.R, air.R]
      out.white: [air.C, cond.C]
    serves: [cool]
    """)


@pytest.mark.parametrize(
    ("shape", "call", "touched", "jumper"),
    [
        (WARM, "heat", {"stat.R", "stat.W", "air.W", "air.G"}, ("air.G", "air.W")),
        (COOL, "cool", {"air.G", "cond.Y"}, ("air.G", "air.Y")),
    ],
    ids=["heat", "cool"],
)
def test_a_jumper_between_unlike_terminals_is_the_best(
    shape: dict[str, object], call: str, touched: set[str], jumper: tuple[str, str]
) -> None:
    """No wiring of fewer unlike pairs, or as many and fewer joints, serves the call as well.

    ``touched`` are terminals of loads and contacts that the call needs: where nothing touches one, no current flows there.
    """
    job = job_of(shape)
    brute = Brute(job)
    chosen = land(job)
    worth = _worth(brute, chosen.job)
    judged = judge(prove(chosen.job))
    assert chosen.optimal
    assert chosen.serves == (call,)
    assert chosen.job.jumpers == (jumper,)
    assert (judged.sound, judged.dead, judged.weak) == (True, frozenset(), 0)
    assert chosen.objective["unlike_pairs"] == worth[0]
    tried = 0
    for ends in brute.landings():
        if any(end and end.endswith(".chassis") for pair in ends for end in pair):
            continue
        landed = replace(job, landings={**job.landings, **dict(zip(brute.free, ends, strict=True))})
        for jumpers in ((), *((pair,) for pair in _pairs(brute))):
            other = replace(landed, jumpers=jumpers)
            wires = [end for pair in (*other.landings.values(), *jumpers) for end in pair]
            if not touched <= set(wires) or _worth(brute, other) >= worth:
                continue
            tried += 1
            seen = judge(prove(other))
            assert not seen.sound or seen.dead or seen.weak, other
    assert tried > 5


def _pairs(brute: Brute) -> list[tuple[str, str]]:
    """Return every two terminals that a jumper could join, metal left out."""
    plain = [[name for name in names if not name.endswith(".chassis")] for names in brute.at.values()]
    return [pair for names in plain for pair in itertools.combinations(names, 2)]


def _worth(brute: Brute, job: Job) -> Score:
    """Return what a wiring shows by itself: unlike pairs, conductors and jumpers, jumpers."""
    nets = brute.nets(job)
    unlike = sum(brute.unlike(a, b) for net in nets for a, b in itertools.combinations(sorted(net), 2))
    landed = sum(ends != (None, None) for ends in job.landings.values())
    return unlike, landed + len(job.jumpers), len(job.jumpers)
