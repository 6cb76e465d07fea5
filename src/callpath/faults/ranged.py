"""A bad connection has any resistance: every value that is looked for stands for a range of them.

The ranges meet half way between the values, on a logarithmic scale. What a reading moves by over a range is told from the
readings at its neighbours; anything in between is alike likely.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Ints
from callpath.job.model import Fault

__all__ = ["Ranges", "ranges_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Ranges:
    """The hypotheses that stand for a range of resistances, each a bad connection alone.

    Parameters
    ----------
    row : (n,) int
        The hypotheses, rising.
    lower, upper : (n,) int
        Hypotheses of the same connection at the next values below and above; where there is none, the hypothesis itself.
    """

    row: Ints
    lower: Ints
    upper: Ints

    def beside(self, rows: Ints) -> Ints:
        """Return some hypotheses and the neighbours that tell how far theirs reach, rising."""
        mine = np.isin(self.row, rows)
        return np.unique(np.concatenate([rows, self.lower[mine], self.upper[mine]]))

    def reach(self, rows: Ints, shown: Floats, *, ohms: bool) -> tuple[Floats, Floats]:
        """Return the least and the most that a reading shows over the range of each hypothesis.

        Parameters
        ----------
        rows : (m,) int
            Hypotheses, rising, the neighbours of those that are ranges among them where theirs are wanted.
        shown : (m,) float
            What each shows at its own resistance.
        ohms : bool
            Whether the reading is of ohms, whose half way to a neighbour is on the scale of the ranges; else it is the mean.
        """
        asked = np.isin(self.row, rows) & np.isin(self.lower, rows) & np.isin(self.upper, rows)
        at, *sides = (np.searchsorted(rows, which[asked]) for which in (self.row, self.lower, self.upper))
        own = shown[at]
        with np.errstate(invalid="ignore", divide="ignore"):
            edges = [np.sqrt(own * shown[side]) if ohms else (own + shown[side]) / 2 for side in sides]
            # At the ends of the ranges it is as far outwards as inwards.
            for side, edge, other in zip(sides, edges, edges[::-1], strict=True):
                end = side == at
                edge[end] = own[end] ** 2 / other[end] if ohms else 2 * own[end] - other[end]
        low, high = shown.copy(), shown.copy()
        fits = np.isfinite(edges[0]) & np.isfinite(edges[1])
        low[at[fits]] = np.maximum(np.minimum(*edges)[fits], 0.0)
        high[at[fits]] = np.maximum(*edges)[fits]
        return low, high


def ranges_of(faults: Sequence[Fault]) -> Ranges:
    """Return the ranges among single faults, whose hypotheses are numbered from 1."""
    of: dict[tuple[str, ...], list[tuple[float, int]]] = {}
    for number, fault in enumerate(faults):
        if fault.kind == "high-resistance" and fault.ohms:
            of.setdefault(fault.where, []).append((fault.ohms, number + 1))
    found = []
    for values in of.values():
        rows = [row for _, row in sorted(values)]
        if len(rows) > 1:
            found += [(row, rows[max(k - 1, 0)], rows[min(k + 1, len(rows) - 1)]) for k, row in enumerate(rows)]
    found.sort()
    row, lower, upper = (np.array([item[i] for item in found], np.intp) for i in range(3))
    return Ranges(row, lower, upper)
