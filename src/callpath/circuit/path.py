"""The way that current takes, told terminal by terminal and conductor by conductor.

Currents that one source drives and that share a phase are a flow: what enters a node leaves it, and all of it comes from that
source. Following the largest share from node to node therefore always arrives, and needs no list of what may be connected
to what. Where several sources drive a state, each has a flow of its own.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from callpath.circuit.network import EARTH
from callpath.circuit.snapshot import Snapshot

__all__ = ["branches", "loop", "named", "through", "to_and_back"]

_Steps = list[tuple[str, int]]
_STRAY = ("leak", "capacitance", "probe")
_ALIKE = 1e-6


def loop(state: Snapshot, source: int) -> tuple[str, ...]:
    """Return the way of the largest current from a source's hot side back to its other side.

    Parameters
    ----------
    state : Snapshot
        A solved state in which the source delivers current.
    source : int
        Index of the source in the network.
    """
    here = state.circuit.network.branches[state.circuit.network.sources[source].branch]
    walk = _Walk(state, source, state.circuit.network.sources[source].branch, -1)
    return named(state, walk.follow(here.a, here.b, forward=True))


def through(state: Snapshot, branch: int) -> tuple[str, ...]:
    """Return the whole loop of the current through one branch: from its source's hot side, through it, and back to that source.

    Where several sources drive it, the loop is that of the one which drives most of it; it may pass through the others.
    """
    to, back = _both_ways(state, branch)
    return named(state, [*to, ("branch", branch), *back] if back else to)


def to_and_back(state: Snapshot, branch: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the same loop in two: the way from the source to the branch, and the way on from it; the second may be empty."""
    to, back = _both_ways(state, branch)
    return named(state, to), named(state, back)


def branches(state: Snapshot, branch: int) -> tuple[int, ...]:
    """Return the branches of the same loop in order, from the source's hot side back to its other side, ``branch`` among them."""
    to, back = _both_ways(state, branch)
    return tuple(index for kind, index in [*to, ("branch", branch), *back] if kind == "branch") if back else ()


def _both_ways(state: Snapshot, branch: int) -> tuple[_Steps, _Steps]:
    """Return the steps from a source's hot side to a branch, and from there back to its other side."""
    network = state.circuit.network
    if state.amps[branch] == 0 or not network.sources:
        return [], []
    shares = np.abs(state.shares[:, branch])
    # Two that drive about alike are told by the first of them.
    source = int((shares > 0.9 * shares.max()).argmax())
    feeding, element = network.branches[network.sources[source].branch], network.branches[branch]
    if feeding is element:
        return _Walk(state, source, branch, -1).follow(element.a, element.b, forward=True), []
    walk = _Walk(state, source, branch, 1)
    for hot, back in ((feeding.a, feeding.b), (feeding.b, feeding.a)):
        up = walk.follow(element.a, hot, forward=False)
        if up[-1][1] == hot:
            down = walk.follow(element.b, back, forward=True)
            # A branch may be drawn against the current that its source sends.
            return (up[::-1], down) if hot == feeding.a else (down[::-1], up)
    return [], []


def named(state: Snapshot, steps: Iterable[tuple[str, int]]) -> tuple[str, ...]:
    """Turn steps, ``("node", i)`` and ``("branch", i)``, into names of terminals, splices and conductors, each once in a row."""
    network = state.circuit.network
    job = state.circuit.job
    names: list[str] = []
    at = EARTH
    for kind, index in steps:
        if kind == "branch":
            branch = network.branches[index]
            found = [branch.name] if branch.name in job.landings else []
            if branch.kind == "short":
                # Where insulation has failed the current leaves one conductor for the other: both are on its way.
                touching = branch.name.partition(":")[2].split("+")
                found = [name for name in touching if name in job.landings][:: 1 if at == branch.a else -1]
        else:
            at = index
            name = network.nodes[index] if index != EARTH else ""
            found = [name] if name in job.splices or name.partition(".")[0] in job.equipment else []
        for name in found:
            if names[-2:-1] == [name] and name in job.landings:
                # It left the conductor on the way to that end, not at it.
                names.pop()
            if names[-1:] != [name]:
                names.append(name)
    return tuple(names)


class _Walk:
    """The flow of one source, in the phase of the current through one branch; that branch and the source itself are left out."""

    def __init__(self, state: Snapshot, source: int, start: int, sign: int) -> None:
        network = state.circuit.network
        amps = state.shares[source]
        flow = np.real(amps * np.conj(sign * amps[start]))
        self.names = [branch.name for branch in network.branches]
        self.at: dict[int, list[tuple[float, int, int]]] = {}
        for i, branch in enumerate(network.branches):
            if branch.kind in _STRAY or i in (start, network.sources[source].branch) or flow[i] == 0:
                continue
            one, two = (branch.a, branch.b) if flow[i] > 0 else (branch.b, branch.a)
            size = abs(float(flow[i]))
            self.at.setdefault(one, []).append((size, i, two))
            self.at.setdefault(two, []).append((-size, i, one))

    def follow(self, node: int, stop: int, *, forward: bool) -> _Steps:
        """Follow the largest share with the current (or against it) until ``stop``, or as far as it goes."""
        steps: _Steps = [("node", node)]
        seen = {node}
        sign = 1 if forward else -1
        while node != stop:
            ways = [(size * sign, i, to) for size, i, to in self.at.get(node, ()) if to not in seen]
            most = max((share for share, _, _ in ways), default=0.0)
            if most <= 0:
                break
            # Of ways that share alike the name decides, not rounding.
            _, branch, to = min((self.names[i], i, to) for share, i, to in ways if share > most * (1 - _ALIKE))
            node = to
            seen.add(node)
            steps += [("branch", branch), ("node", node)]
        return steps
