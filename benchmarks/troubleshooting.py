"""How fast every fault of a job is settled, believed and tested for, and how well hidden faults are found."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

import numpy as np

from benchmarks.dense import DenseEngine
from callpath.circuit.settle import States, settle
from callpath.errors import QuestionError
from callpath.faults.asked import Answer, Check, Seen, Setup
from callpath.faults.posterior import Belief, predict
from callpath.faults.practice import complaint_of
from callpath.faults.predict import Shows
from callpath.faults.troubleshoot import Case
from callpath.faults.universe import repair_of
from callpath.faults.world import World
from callpath.job import load_job

DENSE_STATES = 1_000
MOST_TESTS = 40


@dataclass(frozen=True)
class Hunts:
    """How some hidden faults were looked for: found (a part of 1), minutes and tests on average."""

    found: float
    minutes: float
    tests: float


def settled_everywhere(job: Path) -> tuple[int, int, float, float]:
    """Return hypotheses, states, the time of settling all of them on every call [s], and a dense solver's time for as many."""
    case = Case(load_job(job))
    rows = np.arange(len(case.universe))
    best = float("inf")
    for _ in range(2):
        shows = Shows(case.shows([]).places, case.universe)
        start = time.perf_counter()
        for call in shows.calls:
            shows.settled(Setup(call), rows)
        best = min(best, time.perf_counter() - start)
    some = np.linspace(0, len(rows) - 1, DENSE_STATES).astype(np.intp)
    narrow = some[shows.table.width[case.universe.one[some]] + shows.table.width[case.universe.two[some]] <= 2]
    states: States = shows.states(Setup("cool"), narrow)
    start = time.perf_counter()
    settle(DenseEngine(shows.network), states)
    count = len(rows) * len(shows.calls)
    return len(rows), count, best, (time.perf_counter() - start) / len(narrow) * count


def update_seconds(hypotheses: int = 20_000) -> float:
    """Return the median time of one update of a belief in so many hypotheses [s]."""
    rng = np.random.default_rng(1)
    belief = Belief.begin(rng.dirichlet(np.ones(hypotheses)) * 0.97, 0.03)
    index, likelihood = rng.integers(0, 400, hypotheses), rng.random((400, belief.weights.shape[1]))
    times = []
    for _ in range(50):
        start = time.perf_counter()
        belief.updated(index, likelihood, 0.1)
        times.append(time.perf_counter() - start)
    return median(times)


def next_test_seconds(job: Path, hypotheses: int = 20_000) -> tuple[int, float]:
    """Return how many hypotheses a job has and the median time from one more answer to the next test [s], the first apart."""
    case = Case(load_job(job))
    functions = tuple(case.circuit.functions)
    seen = [Seen(Check("running", "cool", functions), Answer(dict.fromkeys(functions, False)))]
    world = World(case.job, case.universe.faults_of(1), np.random.default_rng(0))
    times = []
    for _ in range(6):
        start = time.perf_counter()
        answer = case.answer(seen)
        times.append(time.perf_counter() - start)
        if answer.next is None:
            break
        seen.append(Seen(answer.next.test, world.answer(answer.next.test)))
    return len(case.universe), median(times[1:])


def hunts(job: Path, count: int, *, tilt: float = 1.0, wrong: str = "", seed: int = 1) -> Hunts:
    """Hide single faults and look for them as ``troubleshoot`` says.

    Parameters
    ----------
    tilt : float
        The priors believed are off by this factor, up or down at random for each kind of fault.
    wrong : str
        ``volts`` or ``running``: the first such answer is taken down wrong.
    """
    rng = np.random.default_rng(seed)
    case = Case(load_job(job))
    priors = case.priors
    tilted = {kind: weight * tilt ** rng.choice([-1.0, 1.0]) for kind, weight in priors.weights.items()}
    believed = Case(case.job, replace(priors, weights=tilted))
    singles = np.flatnonzero((case.universe.one >= 0) & (case.universe.two < 0))
    share = case.universe.prior[singles] / case.universe.prior[singles].sum()
    found, minutes, tests = [], [], []
    while len(found) < count:
        faults = case.universe.faults_of(int(rng.choice(singles, p=share)))
        try:
            complaint = complaint_of(case, faults)
        except QuestionError:
            continue
        right, took, made = _hunt(believed, World(case.job, faults, rng), complaint, wrong)
        found.append(right)
        minutes.append(took)
        tests.append(made)
    return Hunts(float(np.mean(found)), float(np.mean(minutes)), float(np.mean(tests)))


def _hunt(case: Case, world: World, complaint: Seen, wrong: str) -> tuple[bool, float, int]:
    seen, at, minutes = [complaint], case.locations[0], 0.0
    answer = case.answer(seen, at)
    while answer.next is not None and len(seen) <= MOST_TESTS:
        given = world.answer(answer.next.test)
        if wrong == answer.next.test.kind:
            wrong = ""
            flipped = {name: not on for name, on in given.running.items()}
            given = Answer(flipped, 0.0 if given.value > 10 else 26.0)
        seen.append(Seen(answer.next.test, given))
        at, minutes = answer.next.at, minutes + answer.next.minutes
        answer = case.answer(seen, at)
    hidden = {repair_of(fault) for fault in world.faults}
    top = answer.suspects[0]
    alike = [suspect.faults for suspect in answer.suspects if suspect.group == top.group]
    return any({repair_of(fault) for fault in held} == hidden for held in alike), minutes, len(seen) - 1


def predicted_seconds(job: Path) -> float:
    """Return the time that one voltage takes to be predicted under every hypothesis of a job, settled before [s]."""
    case = Case(load_job(job))
    shows, rows = case.shows([]), np.arange(len(case.universe))
    check = Check("volts", "cool", between=("board.Y", "board.C"))
    predict(shows, check, rows)
    start = time.perf_counter()
    predict(shows, check, rows)
    return time.perf_counter() - start
