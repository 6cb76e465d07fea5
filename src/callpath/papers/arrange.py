"""What stands beside and above what in a diagram: columns of locations, blocks in them, terminals on them; few lines cross.

A job is laid out in columns, thermostats on the left, outdoor units on the right. A conductor between neighbouring columns runs
in the channel between them, one between terminals of one column in a channel beside it; one that goes further passes the
columns between in rows of their own. An order is improved step by step: neighbours change places, a loop changes sides, and what
does not make fewer crossings or shorter lines is taken back.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import end_node
from callpath.job.model import Job

__all__ = ["GAP", "HEAD", "Arrangement", "Group", "Row", "Run", "Stack", "arrange", "arranged", "heights", "tops"]

HEAD = {"equipment": 2, "splice": 0, "capped": 0, "pass": 0}
"""Rows that a block's head takes, by its kind."""
GAP = 1
"""Rows between blocks, above a location's first block (for its name), below its last, and between locations."""
_CROSSING = 1000.0
_OUT_OF_ORDER = 0.1
_MOST_TRIALS = 1200
# Large jobs get fewer trials, each of which takes longer.
_TRIALS_BY_LINES = 60_000
_BEGINNINGS = 6


@dataclass(eq=False)
class Row:
    """One row of a block, on which ends of conductors sit: ``name`` is the terminal, splice or capped end."""

    name: str
    text: str
    column: int = 0
    ends: tuple[list[tuple[int, int]], list[tuple[int, int]]] = field(default_factory=lambda: ([], []))

    @property
    def height(self) -> int:
        """How many lines come to one side of it, one at least."""
        return max(1, len(self.ends[0]), len(self.ends[1]))


@dataclass(eq=False)
class Stack:
    """A block: its rows from top to bottom, in which order its part names them, and how many rows its ``inside`` takes below."""

    id: str
    kind: str
    rows: list[Row]
    listed: list[Row] = field(default_factory=list)
    inside: int = 0


@dataclass(eq=False)
class Group:
    """A location with its blocks; without a name, a row in which lines pass a column."""

    location: str | None
    stacks: list[Stack]


@dataclass(eq=False)
class Run:
    """A line's way through one channel, from row to row; ``sides`` tell which edge of each row it comes to: 0 left, 1 right."""

    line: str
    rows: tuple[Row, Row]
    sides: tuple[int, int]

    @property
    def channel(self) -> int:
        """Which channel it runs in; channel 0 is left of column 0."""
        return self.rows[0].column + self.sides[0]

    @property
    def loops(self) -> bool:
        """Whether it begins and ends in one column."""
        return self.rows[0].column == self.rows[1].column


@dataclass(eq=False)
class Arrangement:
    """Columns of groups and the runs between their rows; ``ways`` holds the runs of every line from end to end."""

    columns: list[list[Group]]
    runs: list[Run]
    ways: dict[str, list[int]]

    def rows(self, column: int) -> Iterator[Row]:
        """Yield the rows of a column from top to bottom."""
        for group in self.columns[column]:
            for stack in group.stacks:
                yield from stack.rows


# ---- what there is to arrange ---------------------------------------------------------------------------------------


def arrange(job: Job, columns: int, inside: Mapping[str, int] | None = None) -> Arrangement:
    """Return a job's blocks and lines in the order in which the job names them."""
    stacks = _stacks(job)
    places = [place for place in dict.fromkeys(stacks) if stacks[place]]
    wanted = {place: _column(job, place, columns) for place in places}
    used = sorted(set(wanted.values()))
    arrangement = Arrangement([[] for _ in used], [], {})
    at: dict[str, Row] = {}
    for place in places:
        column = used.index(wanted[place])
        arrangement.columns[column].append(Group(place, stacks[place]))
        for stack in stacks[place]:
            stack.listed = list(stack.rows)
            stack.inside = (inside or {}).get(stack.id, 0) if stack.kind == "equipment" else 0
            for row in stack.rows:
                row.column = column
                at[row.name] = row
    for name, landing in job.landings.items():
        _connect(arrangement, name, at[end_node(name, 0, landing)], at[end_node(name, 1, landing)])
    for one, two in job.jumpers:
        _connect(arrangement, f"jumper:{one}+{two}", at[one], at[two])
    for i, run in enumerate(arrangement.runs):
        for end in (0, 1):
            run.rows[end].ends[run.sides[end]].append((i, end))
    return arrangement


def _stacks(job: Job) -> dict[str, list[Stack]]:
    places: dict[str, list[Stack]] = {}
    for device in job.equipment.values():
        rows = [Row(f"{device.id}.{letters}", letters) for letters in device.part.terminals]
        places.setdefault(device.at, []).append(Stack(device.id, "equipment", rows))
    for splice, place in job.splices.items():
        places.setdefault(place, []).append(Stack(splice, "splice", [Row(splice, f"splice {splice}")]))
    capped: dict[str, list[Row]] = {}
    for name, landing in job.landings.items():
        for end in (0, 1):
            if landing[end] is None:
                capped.setdefault(job.cable_of(name).between[end], []).append(
                    Row(end_node(name, end, landing), "capped")
                )
    for place, rows in capped.items():
        places.setdefault(place, []).append(Stack("", "capped", rows))
    return places


def _column(job: Job, place: str, columns: int) -> int:
    """Return the column of a location: thermostats on the left, outdoor units on the right, all else between."""
    roles = {device.part.role for device in job.equipment.values() if device.at == place}
    column = 0 if roles == {"thermostat"} else 2 if "outdoor" in roles and "indoor" not in roles else 1
    return min(column, columns - 1)


def _connect(arrangement: Arrangement, line: str, one: Row, two: Row) -> None:
    """Add a line from row to row; it passes the columns between the two in rows of its own."""
    runs: list[Run] = []
    last = len(arrangement.columns) - 1
    if one.column == two.column:
        side = 0 if one.column == last and last > 0 else 1
        runs.append(Run(line, (one, two), (side, side)))
    step = 1 if one.column < two.column else -1
    here = one
    for column in range(one.column + step, two.column + step, step) if one.column != two.column else ():
        there = two
        if column != two.column:
            there = Row(f"{line}|{column}", "", column)
            arrangement.columns[column].append(Group(None, [Stack(line, "pass", [there], [there])]))
        runs.append(Run(line, (here, there), (1, 0) if step > 0 else (0, 1)))
        here = there
    arrangement.ways[line] = list(range(len(arrangement.runs), len(arrangement.runs) + len(runs)))
    arrangement.runs += runs


# ---- heights -----------------------------------------------------------------------------------------------------


def tops(groups: Sequence[Group]) -> tuple[dict[Row, int], int]:
    """Return the top of every row of a column, counted in rows and packed as closely as may be, and the column's height."""
    top: dict[Row, int] = {}
    y = 0
    for group in groups:
        y += GAP if group.location is not None else 0
        for stack in group.stacks:
            y += HEAD[stack.kind]
            for row in stack.rows:
                top[row] = y
                y += row.height
            y += stack.inside + GAP
        y += GAP if group.location is not None else 0
    return top, y


def heights(arrangement: Arrangement, top: dict[Row, float]) -> NDArray[np.float64]:
    """Return the height of both pins of every run, shape (runs, 2), from the tops of their rows.

    Several lines at one side of a row are sorted so that they do not cross before they part: those that loop up, the nearest
    first, those that cross the channel, those that loop down, the furthest first.
    """
    runs = arrangement.runs
    found = [[0.0, 0.0] for _ in runs]
    for row, y in top.items():
        left, right = row.ends
        if not left and not right:
            continue
        tall = max(1, len(left), len(right))
        for ends in row.ends:
            count = len(ends)
            if count > 1:
                ends = sorted(ends, key=lambda end: _rank(runs[end[0]], end, top))
            first = y + (tall - count) // 2 + 0.5
            for k, (i, end) in enumerate(ends):
                found[i][end] = first + k
    return np.array(found).reshape(-1, 2)


def _rank(run: Run, end: tuple[int, int], top: dict[Row, float]) -> tuple[int, float, int]:
    other = run.rows[1 - end[1]]
    there = top[other]
    if not run.loops:
        return 1, there, end[0]
    return (0 if there < top[run.rows[end[1]]] else 2), -there, end[0]


# ---- a better order -------------------------------------------------------------------------------------------------


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
    """Return what an order costs: crossings, then how far lines run up and down, then terminals out of their part's order."""
    pins = heights(arrangement, _all_tops(arrangement))
    moved = sum(
        abs(stack.listed.index(row) - k)
        for groups in arrangement.columns
        for group in groups
        for stack in group.stacks
        if stack.rows != stack.listed
        for k, row in enumerate(stack.rows)
    )
    return (
        _CROSSING * _crossings(arrangement, pins) + float(np.abs(pins[:, 0] - pins[:, 1]).sum()) + _OUT_OF_ORDER * moved
    )


def arranged(job: Job, columns: int, inside: Mapping[str, int] | None = None) -> Arrangement:
    """Return a job's blocks and lines in an order with few crossings, the best of a few beginnings.

    ``inside`` says how many rows of room each piece of equipment needs below its strip.
    The first beginning is the job's own order, the others are shuffled, by chance that is the same every time.
    """
    chance = random.Random(1)
    best: tuple[float, Arrangement] | None = None
    trials = 0
    most = min(_MOST_TRIALS, _TRIALS_BY_LINES // max(1, len(job.landings)))
    for beginning in range(_BEGINNINGS):
        arrangement = arrange(job, columns, inside or {})
        if beginning:
            _shuffle(arrangement, chance)
        cost, tried = _improve(arrangement, most - trials)
        trials += tried
        if best is None or cost < best[0] - 1e-9:
            best = cost, arrangement
        if trials >= most or best[0] < _CROSSING:
            break
    assert best is not None
    return best[1]


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
