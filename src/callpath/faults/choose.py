"""The choice of the next test, in the words of a job: what each test costs from where the technician stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import Circuit
from callpath.circuit.solve import Ints
from callpath.faults.asked import Check
from callpath.faults.candidate import Outcomes, places_of_check
from callpath.faults.choice import Choice, Problem, next_test
from callpath.faults.cost import Kind, Minutes, Work, priced

__all__ = ["SURE", "choose", "information", "minutes_of", "promising", "work_of"]

Floats = NDArray[np.float64]

# It is enough to be so sure of the repair among the suspects that are looked at. What keeps the rest alive are mostly second
# faults that nothing has shown yet; to test for each of those would take longer than to mend the first and look again.
SURE = 0.9


def work_of(circuit: Circuit, check: Check) -> Work:
    """Return what there is to do for a test."""
    kinds: dict[str, Kind] = {"running": "running", "volts": "volts", "amps": "amps", "ohms": "ohms"}
    places = places_of_check(circuit, check)
    return Work(kinds[check.kind], places, len(check.lifted), check.jumped is not None, check.low_z)


def minutes_of(circuit: Circuit, minutes: Minutes, check: Check, at: str) -> float:
    """Return what a test takes from a location [min]."""
    return minutes.of(work_of(circuit, check), at)


def information(of: Ints, repairs: Ints, weights: Floats) -> float:
    """Return how much an outcome tells about the repair on average [bit]."""
    count = int(repairs.max(initial=0)) + 1
    joint = np.bincount(of * count + repairs, weights) / weights.sum()
    shares, whole = np.bincount(of, weights) / weights.sum(), np.bincount(repairs, weights) / weights.sum()
    return max(0.0, _entropy(shares) + _entropy(whole) - _entropy(joint))


def _entropy(shares: Floats) -> float:
    some = shares[shares > 0]
    return float(-(some * np.log2(some)).sum())


def promising(
    circuit: Circuit, minutes: Minutes, outcomes: Sequence[Outcomes], repairs: Ints, weights: Floats, at: str, most: int
) -> list[Check]:
    """Return the tests that tell most, and those that tell most per minute."""
    told = np.array([information(found.of, repairs, weights) for found in outcomes])
    taken = np.array([minutes_of(circuit, minutes, found.test, at) for found in outcomes])
    best = dict.fromkeys(np.argsort(-told, kind="stable")[: most // 2].tolist())
    best |= dict.fromkeys(np.argsort(-told / taken, kind="stable")[: most - len(best)].tolist())
    return [outcomes[i].test for i in sorted(best)]


def choose(
    circuit: Circuit,
    minutes: Minutes,
    outcomes: Sequence[Outcomes],
    repairs: Ints,
    weights: Floats,
    at: str,
    locations: Sequence[str],
    sure: float = SURE,
) -> Choice | None:
    """Return the test that begins the cheapest plan to know the repair; None where none would change it.

    Parameters
    ----------
    circuit : Circuit
    minutes : Minutes
        The cost model.
    outcomes : sequence of Outcomes
        The tests and what each shows under every suspect.
    repairs : (suspects,) int
    weights : (suspects,) float
    at : str
        Where the technician stands.
    locations : sequence of str
    sure : float
        It is enough to be so sure of the repair.
    """
    if not outcomes:
        return None
    table, place = priced(minutes, [work_of(circuit, found.test) for found in outcomes], locations)
    repairs = np.unique(repairs, return_inverse=True)[1].astype(np.intp).ravel()
    shares = weights / weights.sum()
    problem = Problem(shares, repairs, np.stack([found.of for found in outcomes]), table, place)
    return next_test(problem, list(locations).index(at), shares, sure=sure)
