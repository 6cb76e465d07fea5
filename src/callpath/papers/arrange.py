"""What stands beside and above what in a diagram: columns of locations, blocks in them, terminals on them.

A job is laid out in columns, thermostats on the left, outdoor units on the right. A conductor between neighbouring columns runs
in the channel between them, one between terminals of one column in a channel beside it; one that goes further passes the
columns between in rows of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import end_node
from callpath.job.model import Job

__all__ = ["GAP", "HEAD", "Arrangement", "Group", "Row", "Run", "Stack", "arrange", "heights", "tops"]

HEAD = {"equipment": 2, "splice": 0, "capped": 0, "pass": 0}
"""Rows that a block's head takes, by its kind."""
GAP = 1
"""Rows between blocks, above a location's first block (for its name), below its last, and between locations."""


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
    """Columns of groups and the runs between their rows; ``ways`` holds the runs of every line from end to end.

    ``known`` is how high rows stood in an earlier drawing, where there is one.
    """

    columns: list[list[Group]]
    runs: list[Run]
    ways: dict[str, list[int]]
    known: dict[str, float] = field(default_factory=dict)

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
