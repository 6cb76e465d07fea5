"""How far the posterior's probabilities can be believed: simulated cases with tolerances drawn.

Each draw of tolerances (components, mains voltage, stray capacitance) serves many hidden faults at once: the job's network
with its open places is drawn, and the engine settles the hidden faults in it. The meter's errors are drawn for every
reading. The belief knows only nominal values.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from callpath.faults.asked import Answer, Check
from callpath.faults.candidate import candidate_tests
from callpath.faults.posterior import Belief, Prediction, predict
from callpath.faults.predict import Shows
from callpath.faults.troubleshoot import Case
from callpath.faults.world import as_shown, drawn
from callpath.job import load_job
from callpath.parts.catalogue import tolerances

PER_DRAW = 200
TESTS = (2, 6)
BINS = 20


@dataclass(frozen=True)
class Calibration:
    """Expected calibration error, and how often the 90 % set held the truth; parts of 1."""

    cases: int
    error: float
    covered: float


def calibration(job: Path, cases: int, seed: int = 1) -> Calibration:
    """Return how well calibrated the belief is over some simulated cases."""
    case = Case(load_job(job))
    rng = np.random.default_rng(seed)
    universe, priors = case.universe, case.priors
    shows, every = case.shows([]), np.arange(len(universe))
    singles = [universe.faults_of(row)[0] for row in range(1, len(universe.faults) + 1)]
    asked = _spread_out(candidate_tests(case.circuit, case.calls, singles), rng)
    shows.ready_meter([check.between for check in asked if check.kind == "volts" and check.between])
    told = {check: predict(shows, check, every) for check in asked}
    share = universe.prior / universe.prior.sum()
    sure, right, covered = [], [], []
    for _ in range(cases // PER_DRAW):
        hidden = rng.choice(len(universe), PER_DRAW, p=share)
        shown = _shown(case, rng, asked, hidden)
        for k, row in enumerate(hidden.tolist()):
            belief = Belief.begin(universe.prior, 0.0)
            for i in rng.choice(len(asked), int(rng.integers(*TESTS)), replace=False).tolist():
                check = asked[i]
                answer = _answer(check, shown[check], k, rng, priors.misseen, priors.misread)
                belief = belief.updated(told[check].index, told[check].likelihood(answer, priors), 0.0)
            probability = belief.probability
            top = int(probability.argmax())
            # All that are exactly as likely stand or fall together.
            alike = np.abs(probability - probability[top]) < 1e-12
            sure.append(float(probability[alike].sum()))
            right.append(bool(alike[row]))
            covered.append(_covered(probability, row, rng))
    return Calibration(len(sure), _error(np.array(sure), np.array(right)), float(np.mean(covered)))


def _spread_out(tests: list[Check], rng: np.random.Generator) -> list[Check]:
    """Return some tests of every kind."""
    found: list[Check] = []
    for kind, most in (("running", 8), ("volts", 16), ("amps", 4), ("ohms", 12)):
        some = [check for check in tests if check.kind == kind]
        found += [some[i] for i in rng.permutation(len(some))[:most]]
    return found


def _shown(case: Case, rng: np.random.Generator, asked: list[Check], hidden: np.ndarray) -> dict[Check, Prediction]:
    """Return what hidden faults show in one draw of tolerances."""
    limits = tolerances()["supply-volts"]
    places = case.shows([]).places
    circuit = replace(places.circuit, network=drawn(places.circuit.network, rng))
    world = Shows(
        replace(places, circuit=circuit),
        case.universe,
        supply=float(rng.uniform(limits.low, limits.high) / limits.nominal),
    )
    world.ready_meter([check.between for check in asked if check.kind == "volts" and check.between])
    return {check: predict(world, check, hidden) for check in asked}


def _answer(
    check: Check, shown: Prediction, k: int, rng: np.random.Generator, misseen: float, misread: float
) -> Answer:
    which = shown.index[k]
    if check.kind == "running":
        runs = shown.runs[which] ^ (rng.random(len(check.functions)) < misseen)
        return Answer(dict(zip(check.functions, runs.tolist(), strict=True)))
    value = float(shown.shown[which])
    if rng.random() < misread:
        scale = {"volts": 30.0, "amps": 2.0, "ohms": 100.0}[check.kind]
        return Answer({}, round(float(rng.exponential(scale)), 1))
    return Answer({}, as_shown(check.kind, value, rng))


def _covered(probability: np.ndarray, row: int, rng: np.random.Generator) -> bool:
    """Tell whether the set of likeliest hypotheses that holds exactly 90 % holds the truth; the last one is drawn for."""
    order = np.lexsort((rng.random(len(probability)), -probability))
    mass = np.cumsum(probability[order])
    last = int(np.searchsorted(mass, 0.9))
    before = mass[last - 1] if last else 0.0
    inside = set(order[:last].tolist())
    if row in inside:
        return True
    return bool(row == order[last] and rng.random() < (0.9 - before) / probability[row])


def _error(sure: np.ndarray, right: np.ndarray) -> float:
    """Return the expected calibration error: how far being right is from being sure, over bins of equal width."""
    which = np.minimum((sure * BINS).astype(int), BINS - 1)
    off = [
        abs(float(sure[which == b].mean() - right[which == b].mean())) * (which == b).mean() for b in np.unique(which)
    ]
    return float(sum(off))


__all__ = ["Calibration", "calibration"]
