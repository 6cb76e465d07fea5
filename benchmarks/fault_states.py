"""The states that the benchmarks settle: every single and double fault, in every call, with every setting of field contacts."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.build import Circuit
from callpath.circuit.network import Branch, Network
from callpath.circuit.settle import States
from callpath.circuit.solve import Changes

BAD_OHMS = (2.0, 5.0, 20.0, 100.0, 500.0)
"""Series resistances of a bad connection [Ω]."""
SHORT_OHMS = 0.05
STUCK_OHMS = 0.03


@dataclass(frozen=True)
class FaultCase:
    """One fault: a changed branch, or a dead source."""

    branch: int
    series_ohms: float = math.nan
    siemens: complex = 0j
    source: int = -1


def with_shorts(circuit: Circuit) -> Network:
    """Return the network with an open place between every two conductors of a cable, at its first end, for a short to close."""
    network = circuit.network
    places = [
        Branch(f"short:{one}+{two}", "short", ends[one], ends[two], complex(math.inf))
        for cable in circuit.job.cables.values()
        for ends in (
            {f"{cable.id}.{c}": network.branches[network.index[f"{cable.id}.{c}"]].a for c in cable.conductors},
        )
        for one, two in itertools.combinations(ends, 2)
        if ends[one] != ends[two]
    ]
    return replace(network, branches=(*network.branches, *places))


def fault_cases(network: Network) -> list[FaultCase]:
    """Return every fault that the benchmarks know of."""
    cases = []
    for i, branch in enumerate(network.branches):
        match branch.kind:
            case "wire":
                cases += [FaultCase(i, ohms) for ohms in (math.inf, *BAD_OHMS)]
            case "short":
                cases.append(FaultCase(i, siemens=complex(1 / SHORT_OHMS)))
            case "coil" | "fuse":
                cases.append(FaultCase(i, math.inf))
            case "contact":
                cases += [FaultCase(i, math.inf), FaultCase(i, siemens=complex(1 / STUCK_OHMS))]
    cases += [FaultCase(-1, source=s) for s in range(len(network.sources))]
    return cases


def fault_states(circuit: Circuit, network: Network, count: int, seed: int = 1) -> States:
    """Return ``count`` states: all there are when they are no more, else an even random choice of them.

    Parameters
    ----------
    network : Network
        The circuit's network with its places for shorts.
    """
    cases = fault_cases(network)
    pairs = [(i, i) for i in range(len(cases))]
    pairs += [
        (i, j)
        for i, j in itertools.combinations(range(len(cases)), 2)
        if cases[i].branch != cases[j].branch or cases[i].source != cases[j].source
    ]
    rows = _given_rows(circuit)
    total = len(pairs) * len(rows)
    chosen = np.arange(total) if total <= count else np.sort(np.random.default_rng(seed).choice(total, count, False))
    two = np.array(pairs, np.intp)[chosen // len(rows)]
    branch = np.array([case.branch for case in cases], np.intp)[two]
    branch[two[:, 0] == two[:, 1], 1] = -1
    live = np.ones((len(chosen), len(network.sources)))
    source = np.array([case.source for case in cases])[two]
    for column in (0, 1):
        dead = np.flatnonzero(source[:, column] >= 0)
        live[dead, source[dead, column]] = 0.0
    series = np.array([case.series_ohms for case in cases])[two]
    siemens = np.array([case.siemens for case in cases], complex)[two]
    return States(rows[chosen % len(rows)], live, Changes(branch, series, siemens))


def _given_rows(circuit: Circuit) -> np.ndarray:
    contacts = [i for i, name in enumerate(circuit.network.given) if name in circuit.field_contacts]
    rows = []
    for call in calls_of_job(circuit):
        for flips in itertools.product((False, True), repeat=len(contacts)):
            row = given_for(circuit, call)
            row[contacts] ^= np.array(flips, bool)
            rows.append(row)
    return np.array(rows)
