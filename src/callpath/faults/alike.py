"""Hypotheses that need not be reckoned one by one: those that settle alike, and those that no meter tells apart.

Hypotheses that only move the place of the same break (a conductor open, or loose at either end) settle alike unless something
else touches the conductor between those places. What is only dead beyond the circuit changes nothing in it.
"""

from __future__ import annotations

import numpy as np

from callpath.circuit.solve import Ints
from callpath.faults.universe import Universe

__all__ = ["same_copper", "settles_alike"]


def same_copper(universe: Universe) -> Ints:
    """Return for every hypothesis one that no meter tells from it: without what is dead beyond the circuit."""
    felt = np.append(np.array([fault.kind != "idle" for fault in universe.faults], bool), False)
    one, two = (np.where(felt[which], which, -1) for which in (universe.one, universe.two))
    found: Ints = _rows(universe)[one, two]
    return found


def settles_alike(universe: Universe) -> Ints:
    """Return for every hypothesis one that settles to the same state."""
    faults = universe.faults
    breaks = {f.where[0]: i for i, f in enumerate(faults) if f.kind == "open"}
    same = np.arange(len(faults) + 1)
    for i, fault in enumerate(faults):
        if fault.kind in ("loose", "tripped"):
            same[i] = breaks.get(fault.where[0], i)
        elif fault.kind == "idle":
            same[i] = -1
    same[-1] = -1
    # What touches the conductor between its landings makes it matter where it is broken.
    one, two = universe.one, universe.two
    touches = np.zeros((len(faults) + 1, len(faults) + 1), bool)
    for i, fault in enumerate(faults):
        if fault.kind == "loose":
            for j, other in enumerate(faults):
                if other.kind in ("short", "swapped") and fault.where[0] in other.where:
                    touches[i, j] = touches[j, i] = True
    alike: Ints = np.where(touches[one, two], -1, _rows(universe)[same[one], same[two]])
    return np.where(alike < 0, np.arange(len(universe)), alike)


def _rows(universe: Universe) -> Ints:
    """Return the number of the hypothesis that holds two faults, (faults + 1, faults + 1); −1 where there is no such."""
    count = len(universe.faults) + 1
    row = np.full((count, count), -1, np.intp)
    row[universe.one, universe.two] = row[universe.two, universe.one] = np.arange(len(universe))
    return row
