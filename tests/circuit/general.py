"""Two general solvers that share nothing with the engine: elimination in extended precision, and a sparse tableau."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import spsolve

from callpath.circuit.network import EARTH, Network
from callpath.circuit.solve import Changes, Complex


def impedances(network: Network, bits: np.ndarray, changes: Changes, state: int) -> list[complex]:
    """Return every branch's impedance [Ω] in one state, infinite where open, told from the words alone."""
    ohms = []
    for branch in network.branches:
        driven = branch.drive is not None and bool(branch.drive(bits[state : state + 1])[0])
        own = branch.driven_ohms if driven and branch.driven_ohms is not None else branch.ohms
        ohms.append(complex(own) + branch.added_ohms)
    for branch, series, siemens in zip(
        changes.branch[state], changes.series_ohms[state], changes.siemens[state], strict=True
    ):
        if branch >= 0:
            if np.isnan(series):
                ohms[branch] = 1 / siemens if siemens else complex(np.inf)
            else:
                ohms[branch] += series
    return ohms


def emfs(network: Network, live: np.ndarray) -> Complex:
    """Return every branch's EMF [V]."""
    emf = np.zeros(len(network.branches), complex)
    for source, share in zip(network.sources, live, strict=True):
        emf[source.branch] = share * source.emf_volts
    return emf


def eliminated(network: Network, ohms: list[complex], emf: Complex) -> Complex:
    """Return the node potentials by Gaussian elimination with partial pivoting in 64-bit-mantissa arithmetic."""
    n = len(network.nodes)
    matrix = np.zeros((n, n + 1), np.clongdouble)
    for branch, z, volts in zip(network.branches, ohms, emf, strict=True):
        if np.isfinite(z):
            y = 1 / np.clongdouble(z)
            for here, there, sign in ((branch.a, branch.b, 1), (branch.b, branch.a, -1)):
                if here != EARTH:
                    matrix[here, here] += y
                    matrix[here, n] += sign * y * np.clongdouble(volts)
                    if there != EARTH:
                        matrix[here, there] -= y
    for k in range(n):
        pivot = k + int(np.abs(matrix[k:, k]).argmax())
        matrix[[k, pivot]] = matrix[[pivot, k]]
        matrix[k] /= matrix[k, k]
        others = np.arange(n) != k
        matrix[others] -= matrix[others, k, None] * matrix[k]
    return matrix[:, n].astype(complex)


def tableau(network: Network, ohms: list[complex], emf: Complex) -> Complex:
    """Return the node potentials from the sparse tableau of all currents and all potentials, by SciPy's SuperLU.

    Notes
    -----
    V_a − V_b − Z I = E for every closed branch, and ΣI = 0 at every node: nothing is added up before it is solved, so that
    leakage keeps its digits beside contacts.
    """
    closed = [i for i, z in enumerate(ohms) if np.isfinite(z)]
    n = len(network.nodes)
    rows, columns, values = [], [], []
    right = np.zeros(n + len(closed), complex)
    for k, i in enumerate(closed):
        branch, current = network.branches[i], n + k
        right[current] = emf[i]
        entries = [(current, current, -ohms[i])]
        for node, sign in ((branch.a, 1), (branch.b, -1)):
            if node != EARTH:
                entries += [(current, node, sign), (node, current, sign)]
        for row, column, value in entries:
            rows.append(row)
            columns.append(column)
            values.append(value)
    size = n + len(closed)
    matrix = csc_matrix((np.array(values, complex), (rows, columns)), shape=(size, size))
    return np.asarray(spsolve(matrix, right))[:n]
