"""A bad connection has any resistance: every value that is looked for stands for a range of them.

The ranges meet half way between the values, on a logarithmic scale, and every resistance in one is alike likely on that scale.
What a reading moves by over a range is told from its neighbours, and counts to the reading's spread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Ints
from callpath.job.model import Fault

__all__ = ["Ranges", "ranges_of"]

Floats = NDArray[np.float64]

# Standard deviation of what is even within limits, as a part of their distance.
_EVEN = 1 / math.sqrt(12)


@dataclass(frozen=True)
class Ranges:
    """The hypotheses that stand for a range of resistances, each a bad connection alone.

    Parameters
    ----------
    row : (n,) int
        The hypotheses, rising.
    lower, upper : (n,) int
        Hypotheses of the same connection at the next values below and above; where there is none, the hypothesis itself.
    part : (n,) float
        Standard deviation within the range as a part of what lies between those two.
    """

    row: Ints
    lower: Ints
    upper: Ints
    part: Floats

    def beside(self, rows: Ints) -> Ints:
        """Return some hypotheses and the neighbours that tell how far theirs reach, rising."""
        mine = np.isin(self.row, rows)
        return np.unique(np.concatenate([rows, self.lower[mine], self.upper[mine]]))

    def widened(self, rows: Ints, shown: Floats, spread: Floats) -> Floats:
        """Return the standard deviations of a reading with what the ranges add.

        Parameters
        ----------
        rows : (m,) int
            Hypotheses, rising, the neighbours of those that are ranges among them where theirs are wanted.
        shown, spread : (m,) float
            What each shows, and the standard deviation without its range.
        """
        asked = np.isin(self.row, rows) & np.isin(self.lower, rows) & np.isin(self.upper, rows)
        at, low, high = (np.searchsorted(rows, which[asked]) for which in (self.row, self.lower, self.upper))
        with np.errstate(invalid="ignore"):
            moved = np.nan_to_num(np.abs(shown[high] - shown[low]), nan=0.0, posinf=0.0)
        wide = spread.copy()
        wide[at] = np.hypot(spread[at], moved * self.part[asked])
        return wide


def ranges_of(faults: Sequence[Fault]) -> Ranges:
    """Return the ranges among single faults, whose hypotheses are numbered from 1."""
    of: dict[tuple[str, ...], list[tuple[float, int]]] = {}
    for number, fault in enumerate(faults):
        if fault.kind == "high-resistance" and fault.ohms:
            of.setdefault(fault.where, []).append((fault.ohms, number + 1))
    found = []
    for values in of.values():
        values.sort()
        logs = [math.log(ohms) for ohms, _ in values]
        for k, (_, hypothesis) in enumerate(values):
            low, high = max(k - 1, 0), min(k + 1, len(values) - 1)
            if low < high:
                # Inside, half of the way to either side; at the ends as far outwards as inwards.
                wide = (logs[high] - logs[low]) / (high - low)
                found.append((hypothesis, values[low][1], values[high][1], _EVEN * wide / (logs[high] - logs[low])))
    found.sort()
    row, lower, upper = (np.array([item[i] for item in found], np.intp) for i in range(3))
    return Ranges(row, lower, upper, np.array([item[3] for item in found]))
