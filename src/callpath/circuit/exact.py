"""Nodal solutions in which leakage of 10⁻⁷ S keeps its digits beside contacts of 30 S.

A plain solution loses about as many digits as lie between the largest admittance and the smallest: eight of sixteen, so
that the potential of a floating point, or the current in a wire that ends nowhere, is known to few. Three habits keep them:

* potentials are a sum of two numbers, so that the microvolts across a contact that stands at 27 V are exact;
* what a node keeps is told from the currents of its branches, never from a sum of admittances times potentials;
* those currents are added as a coarse part, whose sum is exact, and a small rest.

What is left is the rounding of each branch's own current: the answer is exact for a network whose every admittance is off
by a few parts in 10¹⁶.

References
----------
N. J. Higham, "Accuracy and Stability of Numerical Algorithms", 2nd ed., SIAM 2002, chapters 4 (sums) and 12 (iterative
refinement) (from memory).
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.network import EARTH, Network
from callpath.errors import SolveError

__all__ = ["Complex", "Stamp"]

Complex = NDArray[np.complex128]

_MOST_STEPS = 12
# Each step gains about seven digits; after one that moves nothing by more than this, one more is enough.
_STILL = 1e-12


class Stamp:
    """The ends of a network's branches, ready to be solved for any admittances."""

    def __init__(self, network: Network) -> None:
        self.incidence = network.incidence
        self._into = np.ascontiguousarray(self.incidence.T)
        earth = len(network.nodes)
        self._a = np.array([earth if branch.a == EARTH else branch.a for branch in network.branches], np.intp)
        self._b = np.array([earth if branch.b == EARTH else branch.b for branch in network.branches], np.intp)

    def solve(
        self, siemens: Complex, emf: Complex, driven_amps: NDArray[np.float64] | float = 0.0
    ) -> tuple[Complex, Complex, Complex]:
        """Solve networks of one shape, each for several sets of sources.

        Parameters
        ----------
        siemens : (…, branches) complex
            Admittance of every branch [S].
        emf : (…, branches, sets) complex
            EMF in series with every branch, a positive [V].
        driven_amps : (nodes, sets) float, optional
            Current driven into every node from outside [A].

        Returns
        -------
        potentials : (…, nodes, sets)
            Against earth [V].
        volts, amps : (…, branches, sets)
            Across every branch, a against b [V], and through it, a to b [A]; right to the last digits even where both
            ends are far from earth.

        Raises
        ------
        SolveError
            The potentials do not come to rest.
        """
        y = siemens[..., None]
        inverse = np.linalg.inv(self._matrix(siemens))
        coarse = np.zeros((*siemens.shape[:-1], self._into.shape[0] + 1, emf.shape[-1]), complex)
        fine = np.zeros_like(coarse)
        rested = False
        for _ in range(_MOST_STEPS):
            far, rounding = _difference(coarse[..., self._a, :], coarse[..., self._b, :])
            near = fine[..., self._a, :] - fine[..., self._b, :] + rounding
            amps: Complex = y * ((far - emf) + near)
            if rested:
                return (coarse + fine)[..., :-1, :], far + near, amps
            over = self._lost(amps, driven_amps)
            step = inverse @ over
            moved, size = (np.abs(volts).max(axis=-2, initial=0.0) for volts in (step, coarse))
            rested = bool((moved <= _STILL * np.maximum(size, 1.0)).all())
            low = fine[..., :-1, :] - step
            total = coarse[..., :-1, :] + low
            fine[..., :-1, :] = low - (total - coarse[..., :-1, :])
            coarse[..., :-1, :] = total
        raise SolveError(f"a solution still moves by {float(moved.max()):.3g} V after {_MOST_STEPS} refinements")

    def _matrix(self, siemens: Complex) -> Complex:
        """Return the nodal admittance matrices [S], (…, nodes, nodes)."""
        nodes = self._into.shape[0]
        matrix = np.zeros((*siemens.shape[:-1], nodes * nodes), complex)
        order, sign, first, place = self._places
        matrix[..., place] = np.add.reduceat(siemens[..., order] * sign, first, axis=-1)
        return matrix.reshape(*siemens.shape[:-1], nodes, nodes)

    @cached_property
    def _places(self) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.intp], NDArray[np.intp]]:
        """Return which branch adds with which sign to the matrix, sorted by place, where each place begins, and the places."""
        nodes = self._into.shape[0]
        branch = np.tile(np.arange(len(self._a)), 4)
        row = np.concatenate([self._a, self._b, self._a, self._b])
        column = np.concatenate([self._a, self._b, self._b, self._a])
        sign = np.repeat([1.0, 1.0, -1.0, -1.0], len(self._a))
        inside = np.flatnonzero((row < nodes) & (column < nodes))
        place = (row * nodes + column)[inside]
        order = inside[np.argsort(place, kind="stable")]
        places, first = np.unique(np.sort(place), return_index=True)
        return branch[order], sign[order], first, places

    def _lost(self, amps: Complex, driven_amps: NDArray[np.float64] | float) -> Complex:
        """Return what every node loses through its branches beyond what is driven into it, the sum rounded only once."""
        parts = amps.view(float)
        largest = np.abs(parts).max(axis=(-2, -1), keepdims=True, initial=float(np.finfo(float).tiny))
        # Adding a large power of two and taking it away leaves multiples of one quantum that are few bits long.
        shift = 2.0 ** (np.ceil(np.log2(largest)) + 28)
        head = (parts + shift) - shift
        lost: Complex = ((self._into @ head).view(complex) - driven_amps) + (self._into @ (parts - head)).view(complex)
        return lost


def _difference(one: Complex, two: Complex) -> tuple[Complex, Complex]:
    """Return one − two as it is rounded, and what the rounding left out."""
    difference = one - two
    taken = difference - one
    return difference, (one - (difference - taken)) - (two + taken)
