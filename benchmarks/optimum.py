"""The fewest minutes to the right repair, by trying everything: what the chooser is measured against, without any code of it."""

from __future__ import annotations

from functools import cache

import numpy as np

from benchmarks.habits import labels
from callpath.faults.question import Problem


def optimum(problem: Problem, at: int, most_states: int = 3_000_000) -> float | None:
    """Return the fewest minutes on average to the right repair, by trying everything; None where that is too much."""
    label, count = labels(problem), len(problem.prior)
    prior = problem.prior.tolist()
    tests = []
    for t, row in enumerate(problem.outcome):
        parts = tuple(sum(1 << h for h in range(count) if row[h] == o) for o in np.unique(row))
        tests.append((parts, int(problem.place[t]), problem.minutes[:, t].tolist()))
    same = [sum(1 << h for h in range(count) if label[h] == r) for r in np.unique(label)]
    states = 0

    @cache
    def mass(live: int) -> float:
        return sum(prior[h] for h in range(count) if live >> h & 1)

    @cache
    def left(live: int) -> tuple[tuple[float, int, tuple[int, ...]], ...]:
        found = []
        for t, (parts, place, _) in enumerate(tests):
            inside = tuple(part for p in parts if (part := live & p))
            if len(inside) > 1:
                found.append((t, place, inside))
        return tuple(found)  # type: ignore[return-value]

    @cache
    def best(live: int, where: int) -> float:
        nonlocal states
        if any(live & ~group == 0 for group in same):
            return 0.0
        states += 1
        if states > most_states:
            raise MemoryError
        whole = mass(live)
        least = float("inf")
        for t, place, inside in left(live):
            cost = whole * tests[t][2][where]
            for part in inside:
                if cost >= least:
                    break
                cost += best(part, place)
            least = min(least, cost)
        return least

    try:
        return best((1 << count) - 1, at) / mass((1 << count) - 1)
    except MemoryError:
        return None
