"""The plain alternative: every state's matrix built and solved whole, in numpy's batched stacks, doing the same settling."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.circuit.network import EARTH, Network
from callpath.circuit.solve import Bools, Changes, Complex, Engine, Ints

_CHUNK = 512


class DenseEngine(Engine):
    """An engine that ``settle`` can use, with ``numpy.linalg.solve`` on stacks of matrices in place of updates."""

    def __init__(self, network: Network) -> None:
        super().__init__(network)
        self.ends = [(branch.a, branch.b) for branch in network.branches]

    def amps(self, rows: Bools, live: np.ndarray, changes: Changes, watched: Ints) -> Iterator[tuple[Ints, Complex]]:
        """Yield states, some at a time, and the current through each watched branch [A]."""
        incidence = self.network.incidence[watched]
        for start in range(0, len(rows), _CHUNK):
            some = np.arange(start, min(start + _CHUNK, len(rows)))
            siemens = self._siemens(rows[some], changes.take(some))
            emf = np.zeros((len(some), len(self.ends)), complex)
            emf[:, self.source_branch] = live[some] * self.emf
            potentials = self._potentials(siemens, emf)
            yield some, siemens[:, watched] * (potentials @ incidence.T - emf[:, watched])

    def _siemens(self, rows: Bools, changes: Changes) -> Complex:
        siemens = self.siemens_of(rows)
        for j in range(changes.branch.shape[1]):
            one = Changes(changes.branch[:, j, None], changes.series_ohms[:, j, None], changes.siemens[:, j, None])
            listed = np.flatnonzero(one.branch[:, 0] >= 0)
            at = one.branch[listed, 0]
            siemens[listed, at] = one.take(listed).admittance(siemens[listed, at][:, None])[:, 0]
        return siemens

    def _potentials(self, siemens: Complex, emf: Complex) -> Complex:
        n = len(self.network.nodes)
        matrix = np.zeros((n, n, len(siemens)), complex)
        right = np.zeros((n, len(siemens)), complex)
        for i, (a, b) in enumerate(self.ends):
            y = siemens[:, i]
            for here, there in ((a, b), (b, a)):
                if here != EARTH:
                    matrix[here, here] += y
                    if there != EARTH:
                        matrix[here, there] -= y
        for source in self.source_branch:
            driven = siemens[:, source] * emf[:, source]
            for here, sign in zip(self.ends[source], (1, -1), strict=True):
                if here != EARTH:
                    right[here] += sign * driven
        stack = np.ascontiguousarray(matrix.transpose(2, 0, 1))
        solved: Complex = np.linalg.solve(stack, right.T[:, :, None])[:, :, 0]
        return solved
