"""How high every row stands, so that most lines run straight, and which lane each of the others takes."""

from __future__ import annotations

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from callpath.papers.arrange import Arrangement, Row, Stack, heights, tops
from callpath.papers.channel import Lanes, Run, lanes

__all__ = ["aligned", "drawn_lanes"]


def aligned(arrangement: Arrangement) -> dict[Row, float]:
    """Return the top of every row: packed, then moved down where that makes lines straight, no column taller than the tallest."""
    packed: dict[Row, int] = {}
    tall = []
    for groups in arrangement.columns:
        top, height = tops(groups)
        packed |= top
        tall.append(height)
    pins = heights(arrangement, dict(packed))
    first = tall.index(max(tall))
    done: dict[Row, float] = {row: float(packed[row]) for row in arrangement.rows(first)}
    for column in sorted(range(len(tall)), key=lambda column: (abs(column - first), column)):
        if column == first:
            continue
        slack, moved = max(tall) - tall[column], 0
        for group in arrangement.columns[column]:
            for stack in group.stacks:
                wish = _wish(arrangement, stack, packed, pins, done, moved)
                step = min(max(wish, 0), slack)
                slack, moved = slack - step, moved + step
                done |= {row: float(packed[row] + moved) for row in stack.rows}
    return done


def _wish(
    arrangement: Arrangement,
    stack: Stack,
    packed: dict[Row, int],
    pins: NDArray[np.float64],
    done: dict[Row, float],
    moved: int,
) -> int:
    """Return how far a block would have to go down for most of its lines to be straight."""
    steps: list[int] = []
    for row in stack.rows:
        for side in row.ends:
            for i, end in side:
                run = arrangement.runs[i]
                other = run.rows[1 - end]
                if not run.loops and other in done:
                    there = pins[i, 1 - end] - packed[other] + done[other]
                    steps.append(round(float(there - pins[i, end])) - moved)
    if not steps:
        return 0
    common = Counter(steps)
    return min(common, key=lambda step: (-common[step], abs(step), step))


def drawn_lanes(arrangement: Arrangement, pins: NDArray[np.float64]) -> dict[int, tuple[Lanes, list[int]]]:
    """Return the lanes of every channel, and which of the arrangement's runs take them."""
    by: dict[int, list[int]] = {channel: [] for channel in range(len(arrangement.columns) + 1)}
    for i, run in enumerate(arrangement.runs):
        by[run.channel].append(i)
    return {channel: (lanes([_run(arrangement, pins, i) for i in chosen]), chosen) for channel, chosen in by.items()}


def _run(arrangement: Arrangement, pins: NDArray[np.float64], i: int) -> Run:
    sides = arrangement.runs[i].sides
    # What comes to the right edge of a row comes from the channel's left.
    left = tuple(float(pins[i, end]) for end in (0, 1) if sides[end] == 1)
    right = tuple(float(pins[i, end]) for end in (0, 1) if sides[end] == 0)
    return Run(left, right)
