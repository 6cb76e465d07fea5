"""The lanes between two columns of terminals: which line goes down which lane, so that few cross and none lies on another.

Every line comes into the channel level from a pin at its left or right side, runs up or down in a lane of its own and leaves
level at its other pin. How often two lines cross depends only on which of them has its lane further left, so that the best order
of lanes is a linear ordering of a matrix of pairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Lanes", "Run", "lanes"]

_NEVER = 10_000


@dataclass(frozen=True)
class Run:
    """A line's way through a channel: the heights of its pins on the left and on the right, two in all."""

    left: tuple[float, ...]
    right: tuple[float, ...]

    @property
    def span(self) -> tuple[float, float]:
        """Its highest and its lowest point."""
        heights = (*self.left, *self.right)
        return min(heights), max(heights)

    @property
    def straight(self) -> bool:
        """Whether it needs no lane."""
        return len(self.left) == 1 and self.left == self.right


@dataclass(frozen=True)
class Lanes:
    """The lane of every run, from 0 at the left (None where it goes straight); how many there are; how often lines cross.

    ``sound`` is false where two lines would lie on one another whatever their order.
    """

    lane: tuple[int | None, ...]
    count: int
    crossings: int
    sound: bool


def _cost(a: Run, b: Run) -> int:
    """Return how often two runs cross with the lane of ``a`` left of that of ``b``."""
    (a_top, a_bottom), (b_top, b_bottom) = a.span, b.span
    if set(a.right) & set(b.left):
        return _NEVER
    return sum(b_top < y < b_bottom for y in a.right) + sum(a_top < y < a_bottom for y in b.left)


def lanes(runs: Sequence[Run]) -> Lanes:
    """Order the runs of one channel into lanes."""
    bent = [i for i, run in enumerate(runs) if not run.straight]
    fixed = sum(
        top < run.left[0] < bottom for run in runs if run.straight for top, bottom in (runs[i].span for i in bent)
    )
    cost = [[_cost(runs[a], runs[b]) if a != b else 0 for b in bent] for a in bent]
    order = _ordered(cost, [runs[i] for i in bent])
    total = sum(cost[a][b] for i, a in enumerate(order) for b in order[i + 1 :])
    lane = _packed(order, cost, [runs[i] for i in bent])
    found: list[int | None] = [None] * len(runs)
    for k, i in enumerate(bent):
        found[i] = lane[k]
    return Lanes(tuple(found), max(lane, default=-1) + 1, fixed + total, total < _NEVER)


def _ordered(cost: list[list[int]], runs: list[Run]) -> list[int]:
    """Return an order of small total cost: a first guess, then every run moved to its best place until none improves."""
    count = len(cost)
    # Loops that begin and end at one side stay near it; the others by what they would rather have on their right.
    order = sorted(
        range(count), key=lambda i: (len(runs[i].right), sum(cost[i][j] - cost[j][i] for j in range(count)), i)
    )
    moved = True
    while moved:
        moved = False
        for item in order:
            at = order.index(item)
            rest = order[:at] + order[at + 1 :]
            costs = [sum(cost[item][other] for other in rest)]
            for other in rest:
                costs.append(costs[-1] + cost[other][item] - cost[item][other])
            best = costs.index(min(costs))
            if costs[best] < costs[at]:
                order = [*rest[:best], item, *rest[best:]]
                moved = True
    return order


def _packed(order: list[int], cost: list[list[int]], runs: list[Run]) -> list[int]:
    """Return the lane of each: runs that do not pass each other share one; loops of the right side keep to the right."""
    lane = [0] * len(order)
    for k, b in enumerate(order):
        lane[b] = max((lane[a] + 1 for a in order[:k] if _meet(runs[a], runs[b])), default=0)
    last = max(lane, default=0)
    for k in range(len(order) - 1, -1, -1):
        a = order[k]
        if not runs[a].left:
            lane[a] = min((lane[b] - 1 for b in order[k + 1 :] if _meet(runs[a], runs[b])), default=last)
    return lane


def _meet(a: Run, b: Run) -> bool:
    (a_top, a_bottom), (b_top, b_bottom) = a.span, b.span
    return a_top <= b_bottom + 0.5 and b_top <= a_bottom + 0.5
