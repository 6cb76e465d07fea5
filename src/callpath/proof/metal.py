"""The hot side of a source on metal: harmless until the first link from its common to metal, which then is a dead short."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from callpath.circuit.build import build
from callpath.circuit.copper import COPPER, Copper, reached
from callpath.circuit.network import EARTH
from callpath.circuit.path import named
from callpath.circuit.snapshot import snapshot
from callpath.circuit.solve import Bools
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["hot_on_metal"]


def hot_on_metal(examined: Examined) -> Iterator[Finding]:
    """A source whose hot side is joined to a chassis, its other side not, in any state.

    Notes
    -----
    Nothing flows, for a secondary floats. Whether one link from its return to metal would be a short is not judged by that:
    the state is settled once more with the link in it.
    """
    circuit = examined.circuit
    network = circuit.network
    joins = np.array([branch.kind in COPPER for branch in network.branches])
    rows, whose = examined.rows
    # Most jobs have nothing but a common on metal, whatever closes.
    ever = (circuit.engine.siemens_of(rows) != 0).any(axis=0) & joins
    on_metal = reached(network, ever, [EARTH])
    if not any(on_metal[network.branches[source.branch].a] for source in network.sources):
        return
    _, first, same = np.unique(np.packbits(rows, axis=1), axis=0, return_index=True, return_inverse=True)
    closed = (circuit.engine.siemens_of(rows[first]) != 0) & joins
    metal = np.array([reached(network, row, [EARTH]) for row in closed])
    for number, source in enumerate(network.sources):
        hot, back = network.branches[source.branch].a, network.branches[source.branch].b
        found = metal[:, hot] & ~metal[:, back]
        if source.emf_volts == 0 or not found.any():
            continue
        shows = whose[found[same.ravel()]]
        row = int(np.flatnonzero(found)[0])
        yield from _told(examined, number, closed[row], int(whose[first[row]]), examined.calls_of(shows))


def _told(examined: Examined, number: int, closed: Bools, state: int, calls: tuple[str, ...]) -> Iterator[Finding]:
    circuit, job = examined.circuit, examined.circuit.job
    network = circuit.network
    source, name = network.branches[network.sources[number].branch], circuit.source_names[number]
    copper = Copper(network, lambda i, branch: 1.0 if closed[i] else None)
    way = copper.way(source.a, EARTH)
    returns = _terminals(examined, closed, source.b, name.partition(".")[0])
    plates = [f"{device.id}.chassis" for device in job.equipment.values() if "chassis" in device.part.terminals]
    if way is None or not returns or not plates:
        return
    linked = build(replace(job, jumpers=(*job.jumpers, (returns[0], plates[0]))))
    opened = snapshot(linked, examined.settled.bits[state, len(network.bits) :]).opened
    if not opened:
        return
    nodes = way[1]
    steps: list[tuple[str, int]] = [("node", nodes[0])]
    for one, two in itertools.pairwise(nodes):
        steps += [("branch", copper.branch(one, two)), ("node", two)]
    path = named(examined.snapshot(state), steps)
    burns = opened[0] in circuit.source_names
    yield Finding(
        "hot-on-metal",
        "weak",
        calls,
        (name, path[-1]),
        path,
        f"the hot side of {name} is on metal at {path[-1]}; nothing flows while its common floats, but the metal is live "
        f"against it, and the first link from {returns[0]} to metal is a dead short: {opened[0]} {'burns' if burns else 'opens'}",
        "power off and take the joint on this path off the metal; only a common belongs on a chassis",
    )


def _terminals(examined: Examined, closed: Bools, node: int, owner: str) -> list[str]:
    """Return the terminals that copper joins to a node, those of one piece of equipment first."""
    there = reached(examined.circuit.network, closed, [node])
    names = [
        f"{device.id}.{letters}"
        for device in examined.circuit.job.equipment.values()
        for letters in device.part.terminals
        if there[examined.circuit.network.node_of[f"{device.id}.{letters}"]]
    ]
    return sorted(names, key=lambda name: name.partition(".")[0] != owner)
