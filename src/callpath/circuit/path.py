"""The way that current takes, told terminal by terminal and conductor by conductor.

Currents of one state that share a phase are a flow: what enters a node leaves it. Following the largest share from node
to node therefore always arrives, and needs no list of what may be connected to what.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from callpath.circuit.network import EARTH
from callpath.circuit.snapshot import Snapshot

__all__ = ["feeding", "loop", "named", "through"]

_Steps = list[tuple[str, int]]
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
    return named(state, steps.follow(here.a, stop=here.b, forward=True)[0])


def through(state: Snapshot, branch: int) -> tuple[str, ...]:
    """Return the whole loop of the current through one branch: from its source's hot side, through it, and back to that source.

    Where several sources drive the loop it passes all of them.
    """
    to, back = _both_ways(state, branch)
    return named(state, [*to, *back])


def feeding(state: Snapshot, branch: int) -> tuple[str, ...]:
    """Return the way of the current from its source's hot side as far as one branch."""
    return named(state, _both_ways(state, branch)[0])


def _both_ways(state: Snapshot, branch: int) -> tuple[_Steps, _Steps]:
    """Return the steps from a source's hot side to a branch, and from there back to its other side."""
    if state.amps[branch] == 0:
        return [], []
    network = state.circuit.network
    walk = _Walk(state, branch, state.amps[branch])
    up, source = walk.follow(network.branches[branch].a, stop=None, forward=False)
    down, _ = walk.follow(network.branches[branch].b, stop=None, forward=True, last=source)
    if source >= 0 and up[-1][1] != network.branches[source].a:
        # The branch is drawn against the current that its source sends.
        return down[::-1], up
    return up[::-1], down


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

    def follow(self, node: int, *, stop: int | None, forward: bool, last: int = -1) -> tuple[_Steps, int]:
        """Follow the largest share with the current (or against it) until ``stop``, or a source where there is none.

        Returns the steps and the branch of the source that ended them, −1 where none did. ``last`` is the branch of the source
        that may end them; any source where it is −1.
        """
        steps: _Steps = [("node", node)]
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
            if not ways:
                break
            branch, to = ways[0][2:]
            if stop is None and (branch == last or (last == -1 and branch in self.sources)):
                return steps, branch
            node = to
            seen.add(node)
            steps += [("branch", branch), ("node", node)]
        return steps, -1
