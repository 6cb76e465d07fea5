"""How fast landing and mending are, how often the answer is proved the best, and how that compares with trying everything."""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from benchmarks.rows import ROOT, Row, process_seconds, row
from callpath.job import Job, load_job, read_job
from callpath.job.model import Landing
from callpath.job.write import job_data, job_text
from callpath.landing.land import land
from callpath.landing.mend import mend
from callpath.landing.moves import Move, all_moves, moved
from callpath.parts.makeup import makeups
from callpath.proof.prove import prove
from tests.jobs import job_of
from tests.landing.brute import Brute
from tests.landing.test_brute import SHAPES

RANDOM_JOBS = 100
MENDS = 20

PUMP = """
callpath: 1
equipment:
  stat: {part: thermostat/heat-pump, at: parlour}
  air:  {part: indoor/air-handler, at: cupboard}
  pump: {part: outdoor/heat-pump, at: orchard}
cables:
  wall:    {between: [parlour, cupboard], conductors: [white, red, green, blue, yellow, brown, orange, black]}
  outside: {between: [cupboard, orchard], conductors: [white, red, green, blue, yellow, brown, orange, black]}
"""


def mistaken(job: Job, rng: random.Random, count: int) -> Job:
    """Return a job after some random moves that make it wrong."""
    moves = all_moves(job, metal=False)
    while True:
        chosen: list[Move] = []
        while len(chosen) < count:
            move = rng.choice(moves)
            if all(move.thing != other.thing for other in chosen):
                chosen.append(move)
        wrong = moved(job, chosen)
        if prove(wrong).verdict != "clean":
            return wrong


def random_job(rng: random.Random) -> Job:
    """Return a job of one thermostat, an indoor unit, perhaps an outdoor unit, and cables as they come."""
    stat = rng.choice(["thermostat/single-supply", "thermostat/split-supply", "thermostat/heat-pump"])
    pump = stat == "thermostat/heat-pump"
    indoor = rng.choice(
        ["indoor/air-handler"] if pump else ["indoor/furnace-board", "indoor/air-handler", "indoor/boiler"]
    )
    outdoor = "outdoor/heat-pump" if pump else rng.choice(["", "outdoor/condenser"])
    wall = makeups()[rng.choice([n for n in makeups() if n <= 8])]
    power = rng.choice(["battery", "common"])
    lines = [
        "callpath: 1",
        "equipment:",
        f"  stat: {{part: {stat}, at: hall, settings: {{power: {power}}}}}",
        f"  unit: {{part: {indoor}, at: cellar}}",
    ]
    cables = ["cables:", f"  wall: {{between: [hall, cellar], conductors: [{', '.join(wall)}]}}"]
    if outdoor:
        outside = makeups()[rng.choice([2, 3, 5, 8])]
        lines.append(f"  out:  {{part: {outdoor}, at: yard}}")
        cables.append(f"  yard: {{between: [cellar, yard], conductors: [{', '.join(outside)}]}}")
    return read_job("\n".join([*lines, *cables]))


def landing() -> list[Row]:
    """Return the rows of landing and mending."""
    callpath = str(Path(sys.executable).parent / "callpath")
    bare = process_seconds(sys.executable, "-c", "pass")
    found: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        pump = Path(folder) / "pump.job.yaml"
        pump.write_text(PUMP, encoding="utf-8")
        seconds = process_seconds(callpath, "land", str(pump), "--json")
        found.append(
            row("land, heat pump on 8 conductors, whole process", seconds, "s", "python -c pass", seconds / bare)
        )
        # The E lead makes a crowded terminal, which would be one mistake more.
        terrace = load_job(ROOT / "benchmarks/jobs/terrace.job.yaml")
        terrace = replace(terrace, landings={**terrace.landings, "wall-a.brown": (None, None)})
        rng = random.Random(40)
        wrong = Path(folder) / "terrace.job.yaml"
        wrong.write_text(job_text(job_data(mistaken(terrace, rng, 3))), encoding="utf-8")
        seconds = process_seconds(callpath, "mend", str(wrong), "--json")
        found.append(row("mend, 3 mistakes at 40 nodes, whole process", seconds, "s", "python -c pass", seconds / bare))
        for name, what in (("bathhouse-three-zones", "tank and two zones"), ("granary-air-zones", "three air zones")):
            job = load_job(ROOT / f"examples/{name}.job.yaml")
            nothing: dict[str, Landing] = dict.fromkeys(job.landings, (None, None))
            file = Path(folder) / f"{name}.job.yaml"
            file.write_text(job_text(job_data(replace(job, landings=nothing, jumpers=()))), encoding="utf-8")
            seconds = process_seconds(callpath, "land", str(file), "--json")
            found.append(
                row(f"land, {what} on one panel, whole process", seconds, "s", "python -c pass", seconds / bare)
            )
    times, fewest = [], 0
    for _ in range(MENDS):
        job = mistaken(terrace, rng, 3)
        start = time.perf_counter()
        answer = mend(job)
        times.append(time.perf_counter() - start)
        fewest += answer.fewest and answer.verdict == "clean" and len(answer.moves) <= 3
    found.append(
        row(
            f"mend, 3 mistakes at 40 nodes, slowest of {MENDS}",
            max(times),
            "s",
            "the median",
            max(times) / statistics.median(times),
        )
    )
    found.append(row("mends proved fewest, clean, no more moves than mistakes", 100 * fewest / MENDS, "%"))
    rng = random.Random(100)
    optimal = sum(land(random_job(rng), ways=False).optimal for _ in range(RANDOM_JOBS))
    found.append(
        row(f"random jobs landed with proof of optimality, of {RANDOM_JOBS}", 100 * optimal / RANDOM_JOBS, "%")
    )
    return [*found, against_brute_force()]


def against_brute_force() -> Row:
    """Return how long landing a small job takes beside proving every landing of it."""
    job = job_of(SHAPES["cooling, power and common fixed"])
    start = time.perf_counter()
    land(replace(job), ways=False)
    ours = time.perf_counter() - start
    brute = Brute(job)
    start = time.perf_counter()
    for ends in brute.landings():
        brute.circuit(ends)
    theirs = time.perf_counter() - start
    return row("land, a small job", 1000 * ours, "ms", "proving every landing", theirs / ours)
