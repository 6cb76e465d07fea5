"""The landing that comes out is the best of all, tried one by one, for some hundreds of small random jobs."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from callpath.job import Job, Landing
from callpath.landing.land import land
from tests.jobs import data, job_of
from tests.landing.brute import Brute, reached

HOW_MANY = 40

SHAPES: dict[str, Any] = {
    "heating only, two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b]}
        """),
    "heating only, three conductors, the common bonded": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler, at: cellar, settings: {bonded-common: true}}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b, c]}
        """),
    "a dry contact, two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler-tt, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b]}
        """),
    "an older fan control, two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall}
          fan:  {part: indoor/three-terminal-board, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b]}
        """),
    "electric heat, two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall, settings: {fan-with-heat: true}}
          air:  {part: indoor/air-handler, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b]}
        """),
    "a thermostat that wants a common, on two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall, settings: {power: common}}
          air:  {part: indoor/air-handler, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [a, b]}
        """),
    "a cable that begins and ends at one place": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler, at: hall}
        cables:
          wall: {between: [hall, hall], conductors: [a, b]}
        """),
    "cooling, power and common fixed": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall}
          air:  {part: indoor/furnace-board, at: cellar}
          cond: {part: outdoor/condenser, at: yard}
        cables:
          wall: {between: [hall, cellar], conductors: [red, a]}
          out:  {between: [cellar, yard], conductors: [white, b]}
        landings:
          wall.red:  [stat.R, air.R]
          out.white: [air.C, cond.C]
        """),
    "cooling, the blower from G alone, power and common fixed": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall}
          air:  {part: indoor/furnace-board, at: cellar, settings: {cooling-blower-from: G}}
          cond: {part: outdoor/condenser, at: yard}
        cables:
          wall: {between: [hall, cellar], conductors: [red, a]}
          out:  {between: [cellar, yard], conductors: [white, b]}
        landings:
          wall.red:  [stat.R, air.R]
          out.white: [air.C, cond.C]
        """),
}
COLOURS = ("red", "white", "yellow", "green", "blue", "orange", "brown")


def _coloured(shape: Any, rng: random.Random) -> tuple[Any, dict[str, str]]:
    """Return a job's data with random colours for the conductors that are free, and the colour of each by its first name."""
    cables, colour = {}, {}
    for cable, row in shape["cables"].items():
        fixed = [name for name in row["conductors"] if len(name) > 1]
        free = [name for name in row["conductors"] if len(name) == 1]
        chosen = rng.sample([other for other in COLOURS if other not in fixed], len(free))
        colour |= {f"{cable}.{name}": new for name, new in zip(free, chosen, strict=True)}
        cables[cable] = {**row, "conductors": [*fixed, *chosen]}
    return {**shape, "cables": cables}, colour


@pytest.mark.parametrize("name", SHAPES)
def test_nothing_is_better_than_what_comes_out(name: str) -> None:
    """Colours, the calls wanted and what was landed before at random; the circuits are proved once for all of them."""
    rng = random.Random(name)
    shape = SHAPES[name]
    brute = Brute(job_of(shape))
    stat = brute.job.equipment["stat"]
    able = [call for call in ("fan", "cool", "heat") if call in stat.part.calls and _can(brute.job, call)]
    everything = list(brute.landings())
    for _ in range(HOW_MANY):
        chosen, colour = _coloured(shape, rng)
        serves = rng.sample(able, rng.randint(1, len(able)))
        job = job_of(chosen, serves=serves)
        before: dict[str, Landing] = {}
        if "landings" not in shape and rng.random() < 0.5:
            before = dict(zip(brute.free, rng.choice(everything), strict=True))
            named = {f"{name.partition('.')[0]}.{colour[name]}": ends for name, ends in before.items()}
            job = replace(job, landings={**job.landings, **named})
        found = land(job, free=list(job.cables) if before else (), most_added=0, ways=False)
        best = brute.best(colour, serves, before)
        assert best is not None
        assert found.optimal
        assert reached(found.objective, serves, found.serves) == best, (serves, before, dict(found.job.landings))


@pytest.mark.parametrize("name", SHAPES)
def test_nothing_is_better_where_one_conductor_has_been_begun(name: str) -> None:
    """One end at random is landed already and stays; colours are the beginner's then, and are not compared."""
    rng = random.Random(f"begun {name}")
    shape = SHAPES[name]
    bare = Brute(job_of(shape))
    stat = bare.job.equipment["stat"]
    able = [call for call in ("fan", "cool", "heat") if call in stat.part.calls and _can(bare.job, call)]
    for _ in range(3):
        chosen, colour = _coloured(shape, rng)
        serves = rng.sample(able, rng.randint(1, len(able)))
        begun, end = rng.choice(bare.free), rng.randint(0, 1)
        at = rng.choice(bare.at[bare.job.cable_of(begun).between[end]])
        ends: Landing = (at, None) if end == 0 else (None, at)
        job = job_of(chosen, serves=serves)
        named = f"{begun.partition('.')[0]}.{colour[begun]}"
        found = land(replace(job, landings={**job.landings, named: ends}), most_added=0, ways=False)
        brute = Brute(replace(bare.job, landings={**bare.job.landings, begun: ends}))
        best = brute.best(colour, serves, {})
        assert found.optimal
        assert found.job.landings[named][end] == at
        reach = reached(found.objective, serves, found.serves)
        compared = len(reach) - 3
        if best is None:
            assert not found.serves
        else:
            assert reach[:compared] == best[:compared], (serves, ends, dict(found.job.landings))


def _can(job: Job, call: str) -> bool:
    """Tell whether some equipment could serve a call."""
    kinds = {"fan": {"blower"}, "cool": {"compressor"}, "heat": {"heat", "aux-heat"}}[call]
    return any(kinds & set(device.part.functions) for device in job.equipment.values())
