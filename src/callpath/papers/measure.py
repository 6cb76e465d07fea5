"""The measures of a diagram: how tall its rows are and how large its letters; for the eye on paper, or for a thumb on glass."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

__all__ = ["MARGIN", "PAPER_MEASURE", "THUMB", "Measure"]

MARGIN = 8.0


@dataclass(frozen=True)
class Measure:
    """Lengths of a diagram [pt].

    Attributes
    ----------
    row : float
        The least height of a terminal's row.
    line : float
        The least distance between two lines that come to one row.
    gap : float
        The height of what stands between rows, counted in rows: heads of blocks, room around them.
    text, letters, name : float
        Sizes of the smallest text, of terminals' letters and of equipment's names.
    lane : float
        The distance between two lines side by side.
    widest : float
        How wide a block may become.
    role : bool
        Whether the name of a part is written with its role.
    """

    row: float
    line: float
    gap: float
    text: float
    letters: float
    name: float
    lane: float
    widest: float
    role: bool

    def heights(self, rows: Iterable[tuple[float, int]]) -> Callable[[float], float]:
        """Return where a height stands that is counted in rows from the top.

        Parameters
        ----------
        rows : iterable of (float, int)
            The top of every terminal's row, and how many lines come to it, which is its height, both counted in rows.
        """
        if self.row == self.line == self.gap:
            return lambda units: MARGIN + units * self.row
        tall = {top + k: max(self.line, self.row / count) for top, count in rows for k in range(count)}
        last = int(max(tall, default=0.0)) + 1
        # A column that was moved by half a row has its rows between whole ones; in one column none was.
        cells = [tall.get(float(unit), self.gap) for unit in range(last)]
        knots = np.cumsum([MARGIN, *cells])

        def height(units: float) -> float:
            if units <= last:
                return float(np.interp(units, range(last + 1), knots))
            return float(knots[-1] + (units - last) * self.gap)

        return height


PAPER_MEASURE = Measure(
    row=12.0, line=12.0, gap=12.0, text=7.5, letters=8.5, name=9.5, lane=9.0, widest=150.0, role=True
)
"""For paper, and for a wide screen."""
THUMB = Measure(row=30.0, line=17.0, gap=14.0, text=10.0, letters=13.0, name=12.0, lane=16.0, widest=120.0, role=False)
"""For one column on a telephone, where 30 pt are 40 pixels."""
