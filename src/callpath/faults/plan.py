"""Look-ahead over what may become of a set of suspects: a graph of sets and tests, widened until the work is spent.

A *set* is what may be left of the suspects after some outcomes. A test divides it into smaller ones and costs minutes that
depend on where the technician stands. The fewest minutes that are still to be spent follow from the smallest sets upward
(dynamic programming). All tests at all sets give the optimum; that is done where it fits into the work allowed. Otherwise each
set gets only its few most promising tests by information per minute, and small sets all of theirs; what results is the
cost of a plan that really exists, so it is never below the optimum, and it falls as the graph is widened.

Work is counted in numbers touched, not in seconds: the same question has the same answer on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.faults.question import Floats, Integers
from callpath.progress import step

__all__ = ["Plan", "Suspects", "entropy", "information", "plan"]

Masks = NDArray[np.uint64]

# Each step of the ladder: sets up to this size get every test, larger ones this many.
LADDER = ((4, 1), (6, 2), (8, 3), (9, 5), (10, 8), (12, 12), (10_000, 10_000))
# The root is where the choice is made: it gets this many times as many tests as other sets.
ROOT = 4
# Finding a set among those known takes as long as so many numbers touched; scoring takes this many for each outcome.
_ENTERING = 16
_SCORING = 5
_CHUNK = 4_000_000


@dataclass(frozen=True, eq=False)
class Suspects:
    """A few suspects, all different under the tests, and the tests.

    Parameters
    ----------
    mass : ndarray [suspects]
        Probability; sums to 1.
    repair : ndarray of int [suspects]
        In rising order: suspects of one repair stand together.
    outcome : ndarray of int [tests, suspects]
        Outcomes counted from 0.
    minutes : ndarray [places, tests]
    place : ndarray of int [tests]
    sure : float
        The search ends where the suspects of one repair have at least this share.
    """

    mass: Floats
    repair: Integers
    outcome: Integers
    minutes: Floats
    place: Integers
    sure: float = 1.0


@dataclass(frozen=True)
class Plan:
    """The first test of the best plan found, what the plan costs, and the same of the best plan that begins otherwise."""

    test: int
    minutes: float
    instead: int | None
    minutes_instead: float
    optimal: bool
    work: int


def entropy(mass: Floats) -> Floats:
    """Return −p log2 p [bit], 0 at 0."""
    return np.asarray(-mass * np.log2(mass + 1e-300))


def information(suspects: Suspects, live: NDArray[np.bool_]) -> Floats:
    """Return what each test tells about the repair in each set [bit, sets × tests].

    Parameters
    ----------
    suspects : Suspects
    live : ndarray of bool [sets, suspects]

    Notes
    -----
    I = H(outcome) + H(repair) − H(outcome, repair), the mutual information of outcome and repair. Sets of like size are worked on
    together with only their own suspects, because most sets are small.
    """
    tests, outcomes = len(suspects.outcome), int(suspects.outcome.max()) + 1
    shows = (suspects.outcome.T[:, :, None] == np.arange(outcomes)).reshape(len(suspects.mass), -1).astype(np.float64)
    told = np.empty((len(live), tests))
    size = live.sum(axis=1)
    low, high = 0, 4
    while low < size.max():
        some = np.flatnonzero((size > low) & (size <= high))
        for part in np.array_split(some, max(1, len(some) * high * shows.shape[1] // _CHUNK)):
            if len(part):
                told[part] = _told(suspects, live[part], min(high, live.shape[1]), shows)
        low, high = high, 2 * high
    return told


def _told(suspects: Suspects, live: NDArray[np.bool_], most: int, shows: Floats) -> Floats:
    whose = np.argsort(~live, axis=1, kind="stable")[:, :most]
    mass = suspects.mass[whose] * np.take_along_axis(live, whose, axis=1)
    mass /= mass.sum(axis=1, keepdims=True)
    # Live suspects come first, in order of repair: number each set's own repairs from 0.
    nth = np.cumsum(np.diff(suspects.repair[whose], axis=1, prepend=suspects.repair[whose[:, :1]]) > 0, axis=1)
    belongs = (nth[:, None, :] == np.arange(nth.max() + 1)[:, None]) * mass[:, None, :]
    joint = belongs @ shows[whose]
    by_outcome = entropy(joint.sum(axis=1)) - entropy(joint).sum(axis=1)
    bits = by_outcome.reshape(len(live), len(suspects.outcome), -1).sum(axis=2)
    return np.asarray(np.maximum(bits + entropy(belongs.sum(axis=2)).sum(axis=1)[:, None], 0.0))


def _roomy(array: NDArray[Any], rows: int, fill: object) -> NDArray[Any]:
    """Return the array with room for so many rows, doubled when it must grow, so that growing costs little in all."""
    if rows <= len(array):
        return array
    more = np.full((max(rows, 2 * len(array)) - len(array), *array.shape[1:]), fill, dtype=array.dtype)
    return np.concatenate([array, more])


class _Graph:
    """Sets of suspects met so far, the tests tried at each, and the sets these lead to. Set 0 is the empty one."""

    def __init__(self, suspects: Suspects) -> None:
        self.suspects = suspects
        count, tests = len(suspects.mass), len(suspects.outcome)
        self.words = -(-count // 64)
        self.outcomes = int(suspects.outcome.max()) + 1
        self.work = 0
        shows = suspects.outcome[:, None, :] == np.arange(self.outcomes)[:, None]
        self.part = self._pack(shows.reshape(-1, count)).reshape(tests, self.outcomes, self.words)
        # By set; arrays have room for more sets than there are.
        self.sets = 0
        self.mask = np.zeros((64, self.words), dtype=np.uint64)
        self.live = np.zeros((64, count), dtype=np.bool_)
        self.mass = np.zeros(64)
        self.size = np.zeros(64, dtype=np.intp)
        self.settled = np.zeros(64, dtype=np.bool_)
        self.told = np.zeros((64, tests))
        self.scored = np.zeros(64, dtype=np.bool_)
        self.edge = np.full((64, tests), -1, dtype=np.int32)
        # Keys of the sets in rising order, and whose each is.
        self.keys = np.zeros(0, dtype=np.uint64)
        self.whose = np.zeros(0, dtype=np.intp)
        # By edge: a set, a test tried there, and the sets that its outcomes leave.
        self.edges = 0
        self.edge_from = np.zeros(64, dtype=np.intp)
        self.edge_test = np.zeros(64, dtype=np.intp)
        self.edge_to = np.zeros((64, self.outcomes), dtype=np.intp)
        self._intern(np.zeros((1, self.words), dtype=np.uint64))
        self.root = int(self._intern(self._pack(np.ones((1, count), dtype=np.bool_)))[0])

    def _pack(self, live: NDArray[np.bool_]) -> Masks:
        packed = np.zeros((len(live), self.words * 8), dtype=np.uint8)
        bits = np.packbits(live, axis=1, bitorder="little")
        packed[:, : bits.shape[1]] = bits
        return packed.view(np.uint64)

    def _key(self, mask: Masks) -> Masks:
        """Return one number per set: the set itself where it fits, else 64 bits mixed from it."""
        key = mask[:, 0].copy()
        for word in range(1, self.words):
            key ^= key >> np.uint64(29)
            key = key * np.uint64(0x9E3779B97F4A7C15) + mask[:, word]
        return key

    def _intern(self, mask: Masks) -> Integers:
        """Return the number of each set, new ones entered."""
        keys, first, back = np.unique(self._key(mask), return_index=True, return_inverse=True)
        at = np.searchsorted(self.keys, keys)
        known = np.append(self.keys, keys[-1:])[at] == keys
        known &= at < len(self.keys)
        number = self.sets + np.cumsum(~known) - 1
        number[known] = self.whose[at[known]]
        if not known.all():
            self._enter(mask[first[~known]])
            self.keys = np.insert(self.keys, at[~known], keys[~known])
            self.whose = np.insert(self.whose, at[~known], number[~known])
        return np.asarray(number[back])

    def _enter(self, mask: Masks) -> None:
        repair, old = self.suspects.repair, self.sets
        self.sets += len(mask)
        for name, fill in {"mask": 0, "live": False, "mass": 0, "size": 0, "settled": False, "scored": False}.items():
            setattr(self, name, _roomy(getattr(self, name), self.sets, fill))
        self.told, self.edge = _roomy(self.told, self.sets, 0.0), _roomy(self.edge, self.sets, -1)
        live = np.unpackbits(mask.view(np.uint8), axis=1, bitorder="little")[:, : len(repair)].astype(np.bool_)
        new = slice(old, self.sets)
        self.mask[new], self.live[new] = mask, live
        self.mass[new], self.size[new] = live @ self.suspects.mass, live.sum(axis=1)
        highest, lowest = np.where(live, repair, -1).max(axis=1), np.where(live, repair, repair[-1] + 1).min(axis=1)
        self.settled[new] = highest <= lowest
        if self.suspects.sure < 1:
            by_repair = np.add.reduceat(live * self.suspects.mass, np.flatnonzero(np.diff(repair, prepend=-1)), axis=1)
            self.settled[new] |= by_repair.max(axis=1) >= self.suspects.sure * self.mass[new]
        self.work += live.size

    def _score(self, sets: Integers) -> None:
        sets = np.unique(sets)
        sets = sets[~self.scored[sets]]
        if len(sets):
            self.told[sets] = information(self.suspects, self.live[sets])
            self.scored[sets] = True
            self.work += _SCORING * int(self.size[sets].sum()) * len(self.part) * self.outcomes

    def _splits(self, sets: Integers) -> NDArray[np.bool_]:
        """Return which tests divide which sets [sets × tests]: no outcome holds the whole set."""
        mask = self.mask[sets]
        divided = np.ones((len(sets), len(self.part)), dtype=np.bool_)
        for outcome in range(self.outcomes):
            left_over = np.zeros_like(divided)
            for word in range(self.words):
                left_over |= (mask[:, word, None] & ~self.part[None, :, outcome, word]) != 0
            divided &= left_over
        self.work += divided.size * self.outcomes * self.words
        return divided

    def _chosen(self, sets: Integers, at: Integers, small: int, width: int) -> NDArray[np.bool_]:
        """Return the tests to try at each set from each place [sets × tests]."""
        chosen = self._splits(sets)
        large = np.flatnonzero(self.size[sets] > small)
        tests = chosen.shape[1]
        if not len(large) or width >= tests:
            return chosen
        self._score(sets[large])
        for root in (True, False):
            some = large[(sets[large] == self.root) == root]
            most = min(width * ROOT if root else width, tests)
            if not len(some) or most == tests:
                continue
            # What tells nothing of the repair yet may still divide the set: it comes after all that does.
            worth = (self.told[sets[some]] + 1e-9) / self.suspects.minutes[at[some]]
            worth[~chosen[some]] = -1.0
            best = np.argpartition(-worth, most - 1, axis=1)[:, :most]
            keep = np.zeros_like(chosen[some])
            np.put_along_axis(keep, best, True, axis=1)
            chosen[some] &= keep
        return chosen

    def widen(self, at: int, small: int, width: int, allowed: float) -> bool:
        """Try the chosen tests at every set that they lead to; return whether the work allowed was enough."""
        places = len(self.suspects.minutes)
        seen = np.zeros((len(self.mask), places), dtype=np.bool_)
        sets, where = np.array([self.root]), np.array([at])
        while len(sets):
            row, test = np.nonzero(self._chosen(sets, where, small, width))
            if self.work + _ENTERING * len(row) * self.outcomes * self.words > allowed:
                return False
            self._try(sets[row], test)
            to = self.edge_to[self.edge[sets[row], test]].ravel()
            after = np.repeat(self.suspects.place[test], self.outcomes)
            # A set that gets every test gets the same ones wherever the technician stands.
            after = np.where(self.size[to] <= small, 0, after)
            seen = _roomy(seen, len(self.mask), False)
            reached = np.zeros_like(seen)
            reached[to, after] = True
            sets, where = np.nonzero(reached & ~seen & ~self.settled[:, None])
            seen[sets, where] = True
        return True

    def _try(self, sets: Integers, test: Integers) -> None:
        """Enter the edges that are not there yet."""
        tests = len(self.part)
        pairs = np.sort((sets * tests + test)[self.edge[sets, test] < 0])
        pairs = pairs[np.diff(pairs, prepend=-1) > 0]
        sets, test = pairs // tests, pairs % tests
        children = (self.mask[sets][:, None, :] & self.part[test]).reshape(-1, self.words)
        self.work += children.size * _ENTERING
        if not len(sets):
            return
        to = self._intern(children).reshape(-1, self.outcomes)
        new = slice(self.edges, self.edges + len(sets))
        self.edges += len(sets)
        for name in ("edge_from", "edge_test", "edge_to"):
            setattr(self, name, _roomy(getattr(self, name), self.edges, 0))
        self.edge[sets, test] = np.arange(new.start, new.stop)
        self.edge_from[new], self.edge_test[new], self.edge_to[new] = sets, test, to

    def value(self) -> Floats:
        """Return the minutes still to be spent, times the probability of the set, from each place [sets × places]."""
        suspects = self.suspects
        left = np.where(self.settled[:, None], 0.0, np.inf) * np.ones(len(suspects.minutes))
        start = self.edge_from[: self.edges]
        order = np.lexsort((start, self.size[start]))
        start, test, to = start[order], self.edge_test[order], self.edge_to[order]
        sizes = self.size[start]
        bounds = np.flatnonzero(np.diff(sizes, prepend=-1, append=-1))
        for low, high in pairwise(bounds):
            part = slice(low, high)
            after = left[to[part], suspects.place[test[part]][:, None]].sum(axis=1)
            cost = self.mass[start[part]][:, None] * suspects.minutes.T[test[part]] + after[:, None]
            firsts = np.flatnonzero(np.diff(start[part], prepend=-1))
            left[start[part][firsts]] = np.minimum.reduceat(cost, firsts, axis=0)
        return left


def plan(suspects: Suspects, at: int, work: int) -> Plan:
    """Return the best first test found and what the plan that begins with it costs.

    Parameters
    ----------
    suspects : Suspects
        At least two of them with different repairs, told apart by some test.
    at : int
        Where the technician stands.
    work : int
        Numbers to touch; the first step of the ladder is done whatever it takes.
    """
    graph = _Graph(suspects)
    optimal = False
    for rung, (small, width) in enumerate(LADDER):
        step()
        if not graph.widen(at, small, width, work if rung else np.inf):
            break
        if small >= len(suspects.mass) or width >= len(suspects.outcome):
            optimal = True
            break
    left = graph.value()
    mine = np.flatnonzero(graph.edge[graph.root] >= 0)
    edges = graph.edge[graph.root, mine]
    after = left[graph.edge_to[edges], suspects.place[mine][:, None]].sum(axis=1)
    total = suspects.minutes[at, mine] + after
    # Of several as good, what is done soonest.
    first, *others = np.lexsort((suspects.minutes[at, mine], np.round(total, 9))).tolist()
    instead = next((other for other in others if np.isfinite(total[other])), None)
    return Plan(
        int(mine[first]),
        float(total[first]),
        None if instead is None else int(mine[instead]),
        float(np.inf if instead is None else total[instead]),
        optimal,
        graph.work,
    )
