"""Which test to make next: the one that begins the cheapest plan found that ends with knowing the repair.

The greedy choice, most information about the repair per minute, can cost 1.5 times the optimum, because it neither sees that a
walk pays for several tests nor that a dull test may open the way to a telling one. Here the most promising tests are compared by
what the whole search would cost after each (``plan``).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from callpath.faults.plan import Suspects, entropy, plan
from callpath.faults.question import Floats, Integers, Problem, alike

__all__ = ["WORK", "Choice", "Leaf", "Problem", "chance", "leaves_of", "next_test", "settled", "standing"]

# Numbers that one choice may touch; about 0.1 s on a common machine.
WORK = 16_000_000
# What overlapping readings leave below this share is as good as ruled out; certain outcomes rule out wholly.
_RULED_OUT = 1e-6
# Less than this of a bit is rounding.
_TELLS_NOTHING = 1e-9
# The look-ahead sees so many suspects: the likeliest, and a fair sample of the others.
_SEEN = 128
# A reading known only by its probabilities stands for so many jobs, each with its own tolerances drawn.
_DRAWN = 4


@dataclass(frozen=True)
class Leaf:
    """What one outcome of a test would leave."""

    outcome: int
    probability: float
    hypotheses: tuple[int, ...]
    repairs: tuple[int, ...]
    """The likeliest first."""


@dataclass(frozen=True, eq=False)
class Choice:
    """The test to make next.

    Parameters
    ----------
    test : int
    minutes : float
        What it takes from where the technician stands [min].
    bits : float
        What it tells about the repair on average [bit].
    minutes_remaining : float
        What this test and all that follow it take on average [min], by the best plan found.
    instead : int or None
        The best other test to begin with, and in ``minutes_instead`` what the search that begins with it takes [min].
    optimal : bool
        Whether no plan could take less.
    """

    problem: Problem
    weights: Floats
    test: int
    minutes: float
    bits: float
    minutes_remaining: float
    instead: int | None
    minutes_instead: float
    optimal: bool

    @cached_property
    def leaves(self) -> tuple[Leaf, ...]:
        """What each outcome would leave, the likeliest outcome first."""
        return leaves_of(self.problem, self.test, self.weights)


def chance(problem: Problem, test: int, outcome: int) -> Floats:
    """Return the probability of an outcome under every hypothesis."""
    if problem.likelihood is not None:
        return np.asarray(problem.likelihood[test, outcome])
    return np.asarray(problem.outcome[test] == outcome, dtype=np.float64)


def standing(problem: Problem, weights: Floats) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return which hypotheses are left and which repairs these call for, the likeliest first."""
    live = np.flatnonzero(weights > _floor(problem, weights))
    by_repair = np.bincount(problem.repair[live], weights[live])
    repairs = [int(r) for r in np.argsort(-by_repair, kind="stable") if by_repair[r] > 0]
    live = live[np.argsort(-weights[live], kind="stable")]
    return tuple(live.tolist()), tuple(repairs)


def leaves_of(problem: Problem, test: int, weights: Floats) -> tuple[Leaf, ...]:
    """Return what each outcome of a test would leave, the likeliest outcome first."""
    found = []
    for outcome in range(problem.outcomes):
        left = weights * chance(problem, test, outcome)
        if left.sum() > _floor(problem, weights):
            found.append(Leaf(outcome, float(left.sum() / weights.sum()), *standing(problem, left)))
    return tuple(sorted(found, key=lambda leaf: -leaf.probability))


def _floor(problem: Problem, weights: Floats) -> float:
    return 0.0 if problem.likelihood is None else _RULED_OUT * float(weights.sum())


@dataclass(frozen=True, eq=False)
class _Groups:
    """Live hypotheses that answer every test alike, as one; its repair is the likeliest of theirs, in rising order."""

    mass: Floats
    repair: Integers
    example: Integers
    """One hypothesis of each group, to look its outcomes up by."""


def _groups(problem: Problem, weights: Floats, free: Integers | None = None) -> _Groups:
    kind, group, repair = problem.kinds
    by_kind = np.bincount(kind, np.where(weights > _floor(problem, weights), weights, 0.0), len(group))
    example = problem.examples
    if free is not None and len(free) < len(problem.place):
        # Groups that only tests out of reach tell apart are one.
        live = np.unique(group[by_kind > 0])
        joined = np.zeros(len(example), dtype=np.intp)
        joined[live], first = alike(problem, free, example[live])
        group, example = joined[group], example[live[first]]
        order = np.lexsort((repair, np.where(by_kind > 0, group, -1)))[np.count_nonzero(by_kind <= 0) :]
        by_kind, group, repair = by_kind[order], group[order], repair[order]
        # Kinds of one group and one repair may now be several.
        starts = np.flatnonzero((np.diff(group, prepend=-1) != 0) | (np.diff(repair, prepend=-1) != 0))
        by_kind, group, repair = np.add.reduceat(by_kind, starts), group[starts], repair[starts]
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    mass = np.add.reduceat(by_kind, starts)
    best = np.maximum.reduceat(by_kind, starts)
    # The first kind of each group that is as heavy as its heaviest.
    heaviest = np.flatnonzero(by_kind == best[group])
    label = repair[heaviest[np.flatnonzero(np.diff(group[heaviest], prepend=-1))]]
    live = np.flatnonzero(mass > 0)
    live = live[np.argsort(label[live], kind="stable")]
    return _Groups(mass[live] / mass.sum(), label[live], example[live])


def settled(problem: Problem, weights: Floats, sure: float = 1.0) -> bool:
    """Return whether no test could change the repair, or with at least the probability ``sure`` none would."""
    return _settled(_groups(problem, weights), sure)


def _settled(groups: _Groups, sure: float) -> bool:
    if len(groups.mass) < 2 or groups.repair[0] == groups.repair[-1]:
        return True
    return sure < 1 and bool(np.bincount(groups.repair, groups.mass).max() >= sure)


def next_test(
    problem: Problem,
    at: int,
    weights: Floats,
    *,
    made: Collection[int] = (),
    sure: float = 1.0,
    work: int = WORK,
) -> Choice | None:
    """Return the test worth making next, or None when no further test would change the repair.

    Parameters
    ----------
    problem : Problem
    at : int
        Where the technician stands.
    weights : ndarray [hypotheses]
        How likely each hypothesis is by now, to any scale; 0 where ruled out.
    made : collection of int
        Tests already made, which tell nothing new however their readings overlap, and tests that cannot be made.
    sure : float
        Stop also when, with at least this probability, no test would change the repair; at 1, only when none could.
    work : int
        Bound on the look-ahead, in numbers touched, so that the answer depends on no clock.

    Notes
    -----
    Hypotheses that answer every test alike cannot be told apart; together they call for their likeliest repair. A test could
    change the repair exactly when live hypotheses that some test tells apart call for different ones.
    """
    free = np.setdiff1d(np.arange(len(problem.place)), np.fromiter(made, dtype=np.intp, count=len(made)))
    groups = _groups(problem, weights, free)
    if _settled(groups, sure):
        return None
    seen, mass = _seen(groups, _SEEN if problem.likelihood is None else _SEEN // _DRAWN)
    whole = len(seen) == len(groups.mass) and problem.likelihood is None
    asked = _asked(problem, groups, seen, mass, free, at, sure)
    if asked is None:
        return None if whole else _greedy(problem, groups, weights, free, at)
    found = plan(asked.suspects, asked.at, work)
    test = int(asked.tests[found.test])
    bits, minutes = _bits(problem, groups, test), float(problem.minutes[at, test])
    instead = None if found.instead is None else int(asked.tests[found.instead])
    optimal = found.optimal and whole
    return Choice(problem, weights, test, minutes, bits, found.minutes, instead, found.minutes_instead, optimal)


def _greedy(problem: Problem, groups: _Groups, weights: Floats, free: Integers, at: int) -> Choice | None:
    """Return the test that tells most per minute, for what is too doubtful to be drawn apart; None where none tells anything."""
    bits = np.array([_bits(problem, groups, test) for test in free.tolist()])
    if not (bits > _TELLS_NOTHING).any():
        return None
    best = int(np.argmax(bits / problem.minutes[at, free]))
    minutes = float(problem.minutes[at, free[best]])
    return Choice(problem, weights, int(free[best]), minutes, float(bits[best]), minutes, None, np.inf, False)


def _bits(problem: Problem, groups: _Groups, test: int) -> float:
    """Return the mutual information of a test's outcome and the repair [bit]."""
    chances = np.stack([chance(problem, test, outcome)[groups.example] for outcome in range(problem.outcomes)])
    starts = np.flatnonzero(np.diff(groups.repair, prepend=-1))
    joint = np.add.reduceat(chances * groups.mass, starts, axis=1)
    parts = entropy(joint.sum(axis=0)).sum() + entropy(joint.sum(axis=1)).sum() - entropy(joint).sum()
    return float(max(parts, 0.0))


def _seen(groups: _Groups, most: int) -> tuple[Integers, Floats]:
    """Return the groups that the look-ahead sees, in order of repair, and the share that each stands for.

    The heavier half are the likeliest; the lighter half stand for all others, picked at even steps of probability.
    """
    count = len(groups.mass)
    if count <= most:
        return np.arange(count), groups.mass
    order = np.argsort(-groups.mass, kind="stable")
    heavy, light = order[: most // 2], np.sort(order[most // 2 :])
    if (groups.repair[heavy] == groups.repair[heavy[0]]).all():
        # Nothing to tell apart among the likeliest: see the likeliest that call for another repair as well.
        other = order[groups.repair[order] != groups.repair[heavy[0]]][: most // 4]
        heavy = np.concatenate([heavy[: most // 2 - len(other)], other])
        light = np.setdiff1d(np.arange(count), heavy)
    share = np.zeros(count)
    share[heavy] = groups.mass[heavy]
    rest = np.cumsum(groups.mass[light])
    steps = (np.arange(most - len(heavy)) + 0.5) / (most - len(heavy)) * rest[-1]
    np.add.at(share, light[np.minimum(np.searchsorted(rest, steps), len(light) - 1)], rest[-1] / len(steps))
    seen = np.flatnonzero(share)
    return seen, share[seen]


@dataclass(frozen=True, eq=False)
class _Asked:
    """The question put to the planner: suspects, which tests of the problem its tests are, where the technician stands."""

    suspects: Suspects
    tests: Integers
    at: int


def _asked(
    problem: Problem, groups: _Groups, seen: Integers, mass: Floats, free: Integers, at: int, sure: float
) -> _Asked | None:
    """Put the question with equal suspects joined and tests left out that another does as well; None if none divides."""
    repair = groups.repair[seen]
    if problem.likelihood is None:
        outcome = problem.outcome[free][:, groups.example[seen]]
    else:
        outcome = _drawn(problem.likelihood[free][:, :, groups.example[seen]])
        mass, repair = np.repeat(mass / _DRAWN, _DRAWN), np.repeat(repair, _DRAWN)
        outcome, repair, mass = _joined(outcome, np.unique(repair, return_inverse=True)[1], mass)
    tests = _needed(outcome, problem.minutes[:, free], problem.place[free])
    if not len(tests) or repair[0] == repair[-1]:
        return None
    places, stand = np.unique(np.append(problem.place[free[tests]], at), return_inverse=True)
    minutes = problem.minutes[np.ix_(places, free[tests])]
    return _Asked(
        Suspects(mass, repair, _renumbered(outcome[tests]), minutes, stand[:-1], sure), free[tests], int(stand[-1])
    )


def _renumbered(outcome: Integers) -> Integers:
    """Return outcomes numbered in the order in which suspects show them: the same division reads the same."""
    renumbered = np.empty_like(outcome)
    for row, shown in zip(renumbered, outcome, strict=True):
        _, first, back = np.unique(shown, return_index=True, return_inverse=True)
        row[:] = np.argsort(np.argsort(first))[back]
    return renumbered


def _needed(outcome: Integers, minutes: Floats, place: Integers) -> Integers:
    """Return the tests that divide the suspects, without those that another does as well for no more from anywhere."""
    dividing = np.flatnonzero((outcome != outcome[:, :1]).any(axis=1))
    best: dict[bytes, list[int]] = {}
    for test, row in zip(dividing.tolist(), _renumbered(outcome[dividing]), strict=True):
        rivals = best.setdefault(row.tobytes() + bytes([0]) + str(place[test]).encode(), [])
        if any((minutes[:, rival] <= minutes[:, test]).all() for rival in rivals):
            continue
        rivals[:] = [rival for rival in rivals if not (minutes[:, test] <= minutes[:, rival]).all()] + [test]
    return np.array(sorted(test for rivals in best.values() for test in rivals), dtype=np.intp)


def _drawn(likelihood: Floats) -> Integers:
    """Return certain outcomes drawn from their probabilities [tests × (hypotheses × draws)].

    A draw is a job with its tolerances: it shows one outcome of every test. The same draws serve every hypothesis, so that
    hypotheses of nearly equal likelihood also draw equally.
    """
    tests, outcomes, hypotheses = likelihood.shape
    levels = (np.random.default_rng(1).permuted(np.tile(np.arange(_DRAWN), (tests, 1)), axis=1) + 0.5) / _DRAWN
    shown = (np.cumsum(likelihood, axis=1)[:, :, :, None] < levels[:, None, None, :]).sum(axis=1)
    return np.asarray(np.minimum(shown, outcomes - 1).reshape(tests, hypotheses * _DRAWN), dtype=np.intp)


def _joined(outcome: Integers, repair: Integers, mass: Floats) -> tuple[Integers, Integers, Floats]:
    """Return suspects of equal outcomes as one with its likeliest repair: outcomes, repairs in rising order, shares."""
    columns, column = np.unique(outcome, axis=1, return_inverse=True)
    share = np.zeros((columns.shape[1], int(repair.max()) + 1))
    np.add.at(share, (column.ravel(), repair), mass)
    best = share.argmax(axis=1)
    order = np.argsort(best, kind="stable")
    return columns[:, order], best[order], share.sum(axis=1)[order]
