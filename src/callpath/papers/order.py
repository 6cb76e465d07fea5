"""A better order of what stands in a diagram: few lines cross, and who knew an earlier drawing finds their way in this one.

An order is improved step by step: neighbours change places, a loop changes sides, and what does not make fewer crossings or
shorter lines is taken back. Where there is an earlier drawing, what stands in both keeps its order unless that costs many
crossings: whoever wires a job in its drawing looks for a terminal where it was.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from callpath.job.model import Job
from callpath.papers.arrange import Arrangement, Group, Row, Run, Stack, arrange, heights, tops
from callpath.papers.drawing import Diagram

__all__ = ["arranged"]

_CROSSING = 1000.0
_OUT_OF_ORDER = 0.1
# Two that change places in a drawing that somebody knows: as bad as so many crossings.
_UNSETTLED = 4 * _CROSSING
_MOST_TRIALS = 1200
# Large jobs get fewer trials, each of which takes longer.
_TRIALS_BY_LINES = 60_000
_BEGINNINGS = 6


def _crossings(arrangement: Arrangement, pins: NDArray[np.float64]) -> int:
    """Return how often lines must cross, whatever their lanes, with pins at these heights."""
    by: dict[int, tuple[list[int], list[int], list[int]]] = {}
    for i, run in enumerate(arrangement.runs):
        kind = 2 if not run.loops else run.sides[0]
        by.setdefault(run.channel, ([], [], []))[kind].append(i)
    total = 0
    for to_right, to_left, through in by.values():
        left, right = _through(arrangement, pins, through)
        total += _inverted(left, right)
        # A loop on the channel's left edge comes from the right edge of the column there.
        for loops, across in ((to_left, left), (to_right, right)):
            if loops:
                low, high = pins[loops].min(axis=1), pins[loops].max(axis=1)
                total += int(((low[:, None] < across) & (across < high[:, None])).sum())
                a, b = low[:, None], high[:, None]
                total += int(((a < low) & (low < b) & (b < high)).sum())
    return total


def _through(arrangement: Arrangement, pins: NDArray[np.float64], through: list[int]) -> NDArray[np.float64]:
    """Return the heights on the left and on the right of runs that cross a channel, shape (2, runs)."""
    sides = np.array([arrangement.runs[i].sides[0] == 1 for i in through], bool)
    chosen = pins[through].reshape(-1, 2)
    return np.stack([np.where(sides, chosen[:, 0], chosen[:, 1]), np.where(sides, chosen[:, 1], chosen[:, 0])])


def _inverted(left: NDArray[np.float64], right: NDArray[np.float64]) -> int:
    return int(((left[:, None] < left) & (right[:, None] > right)).sum())


def price(arrangement: Arrangement) -> float:
    """Return what an order costs: crossings, pairs out of a known order, lines up and down, terminals out of their part's."""
    pins = heights(arrangement, _all_tops(arrangement))
    moved = sum(
        abs(stack.listed.index(row) - k)
        for stack in _stacks(arrangement)
        if stack.rows != stack.listed
        for k, row in enumerate(stack.rows)
    )
    return (
        _CROSSING * _crossings(arrangement, pins)
        + _UNSETTLED * _unsettled(arrangement)
        + float(np.abs(pins[:, 0] - pins[:, 1]).sum())
        + _OUT_OF_ORDER * moved
    )


def _stacks(arrangement: Arrangement) -> Iterator[Stack]:
    for groups in arrangement.columns:
        for group in groups:
            yield from group.stacks


def arranged(
    job: Job, columns: int, inside: Mapping[str, int] | None = None, like: Diagram | None = None
) -> Arrangement:
    """Return a job's blocks and lines in an order with few crossings, the best of a few beginnings.

    ``inside`` says how many rows of room each piece of equipment needs below its strip. The first beginning is the job's own
    order, the others are shuffled, by chance that is the same every time. With an earlier drawing that this one should be
    ``like``, there is one beginning: the order of that one.
    """
    chance = random.Random(1)
    best: tuple[float, Arrangement] | None = None
    trials = 0
    most = min(_MOST_TRIALS, _TRIALS_BY_LINES // max(1, len(job.landings)))
    for beginning in range(1 if like else _BEGINNINGS):
        arrangement = arrange(job, columns, inside or {})
        if like:
            _settle(arrangement, like)
        elif beginning:
            _shuffle(arrangement, chance)
        cost, tried = _improve(arrangement, most - trials)
        trials += tried
        if best is None or cost < best[0] - 1e-9:
            best = cost, arrangement
        if trials >= most or best[0] < _CROSSING:
            break
    assert best is not None
    return best[1]


# ---- the order of an earlier drawing --------------------------------------------------------------------------------


def _settle(arrangement: Arrangement, like: Diagram) -> None:
    """Put everything into the order of an earlier drawing, what is new beside what it is joined to."""
    arrangement.known = {name: terminal.rect.y for name, terminal in like.terminals.items()}
    sides = {
        line.name: int(line.points[0][0] >= like.terminals[line.ends[0]].rect.right)
        for line in like.lines
        if line.points and line.ends[0] in like.terminals
    }
    for i, run in enumerate(arrangement.runs):
        if run.loops and len(arrangement.columns) > 1 and sides.get(run.line, run.sides[0]) != run.sides[0]:
            _flip(i, run)()
    for groups in arrangement.columns:
        for group in groups:
            for stack in group.stacks:
                stack.rows.sort(key=lambda row: _stood(arrangement, [row]))
            group.stacks.sort(key=lambda stack: _stood(arrangement, stack.rows))
        groups.sort(key=lambda group: _stood(arrangement, [row for stack in group.stacks for row in stack.rows]))


def _stood(arrangement: Arrangement, rows: Sequence[Row]) -> float:
    """Return how high some rows stood; where they are new, how high what they are joined to did."""
    known = arrangement.known
    stood = [known[row.name] for row in rows if row.name in known]
    if stood:
        return min(stood)
    others = [arrangement.runs[i].rows[1 - end].name for row in rows for side in row.ends for i, end in side]
    joined = [known[name] for name in others if name in known]
    return sum(joined) / len(joined) if joined else float("inf")


def _unsettled(arrangement: Arrangement) -> int:
    """Return how many pairs stand the other way round than in the earlier drawing."""
    known = arrangement.known
    if not known:
        return 0
    orders: list[list[float]] = []
    for groups in arrangement.columns:
        stood = []
        for group in groups:
            rows = [[known[row.name] for row in stack.rows if row.name in known] for stack in group.stacks]
            orders += rows
            stood.append([min(each) for each in rows if each])
        orders += stood
        orders.append([min(each) for each in stood if each])
    return sum(one > two for order in orders for one, two in combinations(order, 2))


# ---- step by step ---------------------------------------------------------------------------------------------------


def _shuffle(arrangement: Arrangement, chance: random.Random) -> None:
    for groups in arrangement.columns:
        chance.shuffle(groups)
        for group in groups:
            chance.shuffle(group.stacks)
            for stack in group.stacks:
                chance.shuffle(stack.rows)


def _improve(arrangement: Arrangement, most: int) -> tuple[float, int]:
    """Change an order for the better until nothing helps, or for so many trials; return its cost and how many it took."""
    best = price(arrangement)
    trials = 0
    improved = True
    while improved and trials < most:
        improved = False
        for do, undo in _moves(arrangement):
            do()
            now = price(arrangement)
            trials += 1
            if now < best - 1e-9:
                best, improved = now, True
            else:
                undo()
            if trials >= most:
                break
    return best, trials


_Move = tuple[Callable[[], None], Callable[[], None]]
_Item = TypeVar("_Item")


def _moves(arrangement: Arrangement) -> Iterator[_Move]:
    """Yield small changes, each with what takes it back; the order may have changed since the one before."""
    for groups in arrangement.columns:
        yield from _swaps(groups)
        for group in groups:
            yield from _swaps(group.stacks)
    for column in range(len(arrangement.columns)):
        yield from _followed(arrangement, column)
    for groups in arrangement.columns:
        for group in groups:
            for stack in group.stacks:
                yield from _orders(arrangement, stack)
                yield from _swaps(stack.rows)
    for i, run in enumerate(arrangement.runs):
        if run.loops and len(arrangement.columns) > 1:
            yield _flip(i, run), _flip(i, run)


def _swaps(items: list[_Item]) -> Iterator[_Move]:
    for k in range(len(items) - 1):

        def swap(k: int = k) -> None:
            items[k], items[k + 1] = items[k + 1], items[k]

        yield swap, swap


def _followed(arrangement: Arrangement, column: int) -> Iterator[_Move]:
    """Yield exchanges of two neighbouring locations after which the other columns fall in with the new order."""
    for k in range(len(arrangement.columns[column]) - 1):
        before = [list(groups) for groups in arrangement.columns]

        def swap(k: int = k) -> None:
            groups = arrangement.columns[column]
            groups[k], groups[k + 1] = groups[k + 1], groups[k]
            count = len(arrangement.columns)
            for other in sorted(range(count), key=lambda other: abs(other - column))[1:]:
                top = _all_tops(arrangement)
                towards = other + (1 if other < column else -1)
                arrangement.columns[other].sort(key=lambda group: _mean(arrangement, group.stacks, top, towards))

        def back(before: list[list[Group]] = before) -> None:
            for groups, kept in zip(arrangement.columns, before, strict=True):
                groups[:] = kept

        yield swap, back


def _orders(arrangement: Arrangement, stack: Stack) -> Iterator[_Move]:
    """Yield one move: every row of a block to where its lines come from."""
    before = list(stack.rows)
    top = _all_tops(arrangement)
    after = sorted(before, key=lambda row: _mean(arrangement, [Stack("", "", [row])], top))
    if after != before:

        def put(rows: list[Row]) -> Callable[[], None]:
            return lambda: stack.rows.__setitem__(slice(None), rows)

        yield put(after), put(before)


def _all_tops(arrangement: Arrangement) -> dict[Row, float]:
    top: dict[Row, float] = {}
    for groups in arrangement.columns:
        top.update(tops(groups)[0])
    return top


def _mean(
    arrangement: Arrangement, stacks: Sequence[Stack], top: dict[Row, float], towards: int | None = None
) -> float:
    """Return the mean height of what some blocks are joined to (in one column, where asked); below all where to nothing."""
    others = [
        top[other]
        for stack in stacks
        for row in stack.rows
        for side in row.ends
        for i, end in side
        for other in (arrangement.runs[i].rows[1 - end],)
        if other.column == towards or (towards is None and other not in stack.rows)
    ]
    return sum(others) / len(others) if others else float("inf")


def _flip(i: int, run: Run) -> Callable[[], None]:
    def flip() -> None:
        side = run.sides[0]
        for end in (0, 1):
            run.rows[end].ends[side].remove((i, end))
            run.rows[end].ends[1 - side].append((i, end))
        run.sides = (1 - side, 1 - side)

    return flip
