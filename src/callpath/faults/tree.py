"""The whole search written down beforehand: test, outcomes, what to test then, down to the repair; for paper."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from callpath.faults.choice import WORK, Choice, chance, next_test, standing
from callpath.faults.question import Floats, Problem

__all__ = ["Branch", "Node", "build_tree"]


@dataclass
class Node:
    """A point of the search: a test to make, or an end.

    Parameters
    ----------
    probability : float
        That the search comes here.
    at : int
        Where the technician then stands.
    hypotheses : tuple of int
        What is left, the likeliest first.
    repairs : tuple of int
        What these call for, the likeliest first. At an end the first is the repair to make; others are there where
        no test can tell.
    choice : Choice or None
        The test to make; None at an end.
    branches : list of Branch
        What each outcome leads to, the likeliest first.
    cut : bool
        The tree stops here for its size, though a test could tell more.
    """

    probability: float
    at: int
    hypotheses: tuple[int, ...]
    repairs: tuple[int, ...]
    choice: Choice | None = None
    branches: list[Branch] = field(default_factory=list)
    cut: bool = False

    @property
    def minutes(self) -> float:
        """What the tests from here on take on average, as far as the tree goes [min]."""
        if self.choice is None or not self.branches:
            return 0.0
        after = sum(branch.node.probability * branch.node.minutes for branch in self.branches)
        return self.choice.minutes + after / self.probability

    def as_json(self) -> dict[str, Any]:
        """Return the tree as plain data; ``then`` holds what follows an outcome."""
        told: dict[str, Any] = {
            "probability": self.probability,
            "hypotheses": list(self.hypotheses),
            "repairs": list(self.repairs),
        }
        if self.cut:
            told["cut"] = True
        if self.choice is not None:
            told |= {"test": self.choice.test, "minutes": self.choice.minutes, "bits": self.choice.bits}
            told["outcomes"] = [{"outcome": branch.outcome, "then": branch.node.as_json()} for branch in self.branches]
        return told


@dataclass(frozen=True)
class Branch:
    """One outcome of a test and what follows it."""

    outcome: int
    node: Node


def build_tree(
    problem: Problem,
    at: int,
    weights: Floats | None = None,
    *,
    sure: float = 1.0,
    work: int = WORK // 10,
    deepest: int = 12,
    most_tests: int = 100,
) -> Node:
    """Return the search from a starting place as a tree, grown where it is likeliest to be needed.

    Parameters
    ----------
    problem : Problem
    at : int
        Where the technician stands at first.
    weights : ndarray [hypotheses], optional
        How likely each hypothesis is; default the prior.
    sure, work
        As for ``next_test``, at every test of the tree.
    deepest : int
        Most tests one after another.
    most_tests : int
        Most tests in the whole tree.
    """
    first = problem.prior if weights is None else weights
    total = float(first.sum())
    left, repairs = standing(problem, first)
    root = Node(1.0, at, left, repairs)
    # The likeliest node first; the counter settles ties and keeps nodes from being compared.
    queue: list[tuple[float, int, Node, Floats, tuple[int, ...]]] = [(-1.0, 0, root, first, ())]
    count = tests = 0
    while queue:
        _, _, node, now, made = heapq.heappop(queue)
        # Whether a test is wanted at all is told by the least work; only then is there something to cut.
        room = len(made) < deepest and tests < most_tests
        choice = next_test(problem, node.at, now, made=made, sure=sure, work=work if room else 0)
        if choice is None:
            continue
        if not room:
            node.cut = True
            continue
        node.choice = choice
        tests += 1
        for leaf in choice.leaves:
            then = now * chance(problem, choice.test, leaf.outcome)
            share = float(then.sum()) / total
            after = Node(share, int(problem.place[choice.test]), leaf.hypotheses, leaf.repairs)
            node.branches.append(Branch(leaf.outcome, after))
            count += 1
            heapq.heappush(queue, (-share, count, after, np.asarray(then), (*made, choice.test)))
    return root
