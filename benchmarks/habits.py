"""The habits of the trade in choosing the next test, to compare the chooser with; written without any code of it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from callpath.faults.question import Problem

Pick = Callable[[Problem, int, np.ndarray], int | None]


def labels(problem: Problem) -> np.ndarray:
    """Return the repair to aim for under each hypothesis: the likeliest among those that no test tells apart from it."""
    found = problem.repair.copy()
    rows: dict[bytes, list[int]] = {}
    for h in range(len(problem.prior)):
        rows.setdefault(problem.outcome[:, h].tobytes(), []).append(h)
    for same in rows.values():
        mass: dict[int, float] = {}
        for h in same:
            mass[int(problem.repair[h])] = mass.get(int(problem.repair[h]), 0.0) + problem.prior[h]
        most = max(mass.values())
        for h in same:
            found[h] = min(r for r, m in mass.items() if m == most)
    return found


def expected(problem: Problem, at: int, pick: Pick, sure: float = 1.0) -> float:
    """Return the minutes on average until the repair is so sure, over every hypothesis, when tests are picked by a policy."""
    label = labels(problem)

    def walk(weights: np.ndarray, where: int) -> float:
        live = np.flatnonzero(weights > 0)
        by_repair = np.bincount(label[live], weights[live])
        if np.count_nonzero(by_repair) < 2 or (sure < 1 and by_repair.max() >= sure * weights.sum()):
            return 0.0
        test = pick(problem, where, weights)
        assert test is not None, "stopped with the repair unknown"
        row = problem.outcome[test]
        outcomes = np.unique(row[live])
        assert len(outcomes) > 1, "a test that tells nothing"
        cost = weights.sum() * problem.minutes[where, test]
        return float(cost + sum(walk(np.where(row == o, weights, 0.0), int(problem.place[test])) for o in outcomes))

    return walk(problem.prior, at) / float(problem.prior.sum())


def outcome_masses(problem: Problem, mass: np.ndarray) -> np.ndarray:
    """Return the weight of every outcome of every test [tests × outcomes]."""
    return np.stack([((problem.outcome == o) * mass).sum(axis=1) for o in range(problem.outcomes)], axis=1)


def _least(problem: Problem, at: int, worse: np.ndarray, mass: np.ndarray) -> int:
    """Return the dividing test that is least bad, the cheapest of several alike."""
    divides = (outcome_masses(problem, (mass > 0).astype(float)) > 0).sum(axis=1) > 1
    return int(np.lexsort((problem.minutes[at], np.round(np.where(divides, worse, np.inf), 9)))[0])


def half_split_by_prior(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Pick the test whose likeliest outcome is nearest to half."""
    return _least(problem, at, outcome_masses(problem, mass).max(axis=1) / mass.sum(), mass)


def half_split_by_count(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Pick the test that leaves the most even numbers of suspects, whatever their probability."""
    return _least(problem, at, outcome_masses(problem, (mass > 0).astype(float)).max(axis=1), mass)


def _bits(masses: np.ndarray) -> np.ndarray:
    share = masses / masses.sum(axis=-1, keepdims=True)
    return -(share * np.log2(share + 1e-300)).sum(axis=-1)


def information(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Pick the test that tells most about the fault, whatever it takes."""
    return _least(problem, at, -_bits(outcome_masses(problem, mass)), mass)


def information_per_minute(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Pick the test that tells most about the fault in each minute."""
    return _least(problem, at, -_bits(outcome_masses(problem, mass)) / problem.minutes[at], mass)


def repair_per_minute(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Pick the test that tells most about the repair in each minute: one step of the chooser's own measure."""
    label = labels(problem)
    told = _bits(outcome_masses(problem, mass))
    for r in np.unique(label[mass > 0]):
        own = np.where(label == r, mass, 0.0)
        told = told - own.sum() / mass.sum() * _bits(outcome_masses(problem, own))
    return _least(problem, at, -(told + 1e-9) / problem.minutes[at], mass)


def probability_over_cost(problem: Problem, at: int, mass: np.ndarray) -> int:
    """Go for the likeliest suspect that is cheap to check: the test that best singles out one repair per minute."""
    label = labels(problem)
    best = np.zeros(len(problem.outcome))
    for r in np.unique(label[mass > 0]):
        own, other = np.where(label == r, mass, 0.0), np.where(label != r, mass, 0.0)
        mine, theirs = outcome_masses(problem, own), outcome_masses(problem, other)
        best = np.maximum(best, (mine - theirs).max(axis=1))
    return _least(problem, at, -np.maximum(best, 1e-9) / problem.minutes[at], mass)


HABITS: dict[str, Pick] = {
    "half-split by prior": half_split_by_prior,
    "half-split by count": half_split_by_count,
    "probability over cost": probability_over_cost,
    "information, one step": information,
    "information per minute, one step": information_per_minute,
    "information about the repair per minute, one step": repair_per_minute,
}
