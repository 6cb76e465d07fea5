"""Readings that have been reckoned, kept: what a hypothesis shows does not change with what was seen."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Ints

__all__ = ["Kept"]

Shown = NDArray[Any]


class Kept:
    """What hypotheses show in the readings asked about so far, each reckoned once."""

    def __init__(self) -> None:
        self._of: dict[Hashable, tuple[Ints, Shown]] = {}

    def of(self, reading: Hashable, rows: Ints, reckon: Callable[[Ints], Shown]) -> Shown:
        """Return what some hypotheses show.

        Parameters
        ----------
        reading : hashable
            What is read, and where.
        rows : (n,) int
            The hypotheses.
        reckon : callable
            Reckons it for hypotheses that have not been asked about, rising; returns one row for each.

        Returns
        -------
        (n, ...) array
        """
        known, shown = self._of.get(reading, (rows[:0], None))
        missing = np.setdiff1d(rows, known)
        if len(missing) or shown is None:
            fresh = reckon(missing)
            together = np.concatenate([known, missing])
            order = np.argsort(together, kind="stable")
            known = together[order]
            shown = fresh if shown is None else np.concatenate([shown, fresh])[order]
            self._of[reading] = known, shown
        return shown[np.searchsorted(known, rows)]
