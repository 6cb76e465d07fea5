"""The way that current takes, told terminal by terminal and conductor by conductor.

Currents of one state that share a phase are a flow: what enters a node leaves it. Following the largest share from node
to node therefore always arrives, and needs no list of what may be connected to what.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from callpath.circuit.network import EARTH
from callpath.circuit.snapshot import Snapshot

__all__ = ["loop", "named", "through"]

_STRAY = ("leak", "capacitance", "probe")


def loop(state: Snapshot, source: int) -> tuple[str, ...]:
    """Return the way of the largest current from a source's hot side back to its other side.

    Parameters
    ----------
    state : Snapshot
        A solved state in which the source delivers current.
    source : int
        Index of the source in the network.
    """
    branch = state.circuit.network.sources[source].branch
    steps = _Walk(state, branch, -state.amps[branch])
    here = state.circuit.network.branches[branch]
    return named(state, steps.follow(here.a, stop=here.b, forward=True))


def through(state: Snapshot, branch: int) -> tuple[str, ...]:
    """Return the whole loop of the current through one branch: from its source, through it, and back to a source."""
    element = state.circuit.network.branches[branch]
    amps = state.amps[branch]
    if amps == 0:
        return ()
    steps = _Walk(state, branch, amps)
    up = steps.follow(element.a, stop=None, forward=False)
    down = steps.follow(element.b, stop=None, forward=True)
    return named(state, [*reversed(up), *down])


def named(state: Snapshot, steps: Iterable[tuple[str, int]]) -> tuple[str, ...]:
    """Turn steps, ``("node", i)`` and ``("branch", i)``, into names of terminals, splices and conductors, each once in a row."""
    network = state.circuit.network
    job = state.circuit.job
    names: list[str] = []
    for kind, index in steps:
        if kind == "branch":
            branch = network.branches[index]
            # Where insulation has failed the current leaves one conductor for the other: both are on its way.
            touching = branch.name.partition(":")[2].split("+") if branch.kind == "short" else [branch.name]
            found = [name for name in touching if name in job.landings]
        else:
            name = network.nodes[index] if index != EARTH else ""
            found = [name] if name in job.splices or name.partition(".")[0] in job.equipment else []
        names += [name for name in found if names[-1:] != [name]]
    return tuple(names)


class _Walk:
    def __init__(self, state: Snapshot, start: int, phase: complex) -> None:
        network = state.circuit.network
        turn = np.conj(phase) / abs(phase) if phase else 1.0
        flow = np.real(state.amps * turn)
        self.start = start
        self.sources = {source.branch for source in network.sources}
        self.at: dict[int, list[tuple[float, int, int]]] = {}
        for i, branch in enumerate(network.branches):
            if branch.kind in _STRAY or i == start or flow[i] == 0:
                continue
            one, two = (branch.a, branch.b) if flow[i] > 0 else (branch.b, branch.a)
            size = abs(float(flow[i]))
            self.at.setdefault(one, []).append((size, i, two))
            self.at.setdefault(two, []).append((-size, i, one))

    def follow(self, node: int, *, stop: int | None, forward: bool) -> list[tuple[str, int]]:
        """Follow the largest share with the current (or against it) until ``stop``, or a source where there is none."""
        steps: list[tuple[str, int]] = [("node", node)]
        seen = {node}
        sign = 1 if forward else -1
        while node != stop:
            ways = sorted(
                (
                    (size * sign, -i, i, to)
                    for size, i, to in self.at.get(node, ())
                    if size * sign > 0 and to not in seen
                ),
                reverse=True,
            )
            if not ways or (stop is None and ways[0][2] in self.sources):
                break
            node = ways[0][3]
            seen.add(node)
            steps += [("branch", ways[0][2]), ("node", node)]
        return steps
