"""The copper of a network as a graph: what is joined to what, and by which way.

Which branches count, and how hard each is to pass, is for the caller to say; loads and sources usually do not. Where two branches
join the same two nodes the easier one stands for both.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection
from functools import cached_property

import numpy as np
import rustworkx as rx
from numpy.typing import NDArray

from callpath.circuit.network import Branch, Network

__all__ = ["COPPER", "LOADS", "Copper", "Weigh", "reached"]

COPPER = ("wire", "jumper", "link", "fuse", "short", "contact", "earthing")
"""Kinds of branch that join without being a load or a source."""

LOADS = ("coil", "input", "load")
"""Kinds of branch that current works in."""

Weigh = Callable[[int, Branch], float | None]
"""From a branch's index and the branch to how hard it is to pass; None leaves it out."""


def reached(network: Network, passable: NDArray[np.bool_], begin: Collection[int]) -> NDArray[np.bool_]:
    """Return which nodes some others come to over branches that can be passed, shape (nodes + 1,), earth the last.

    Parameters
    ----------
    passable : (branches,) bool
        Which branches join their two nodes.
    begin : collection of int
        The nodes to begin from; EARTH is one.
    """
    one, two = np.array([(branch.a, branch.b) for branch in network.branches], np.intp).reshape(-1, 2)[passable].T
    # Earth, −1 in the network, is the last place of an array too.
    found = np.zeros(len(network.nodes) + 1, bool)
    found[list(begin)] = True
    count = 0
    while count != (count := int(found.sum())):
        found[two[found[one]]] = True
        found[one[found[two]]] = True
    return found


class Copper:
    """A graph over the nodes of a network, earth included."""

    def __init__(self, network: Network, weigh: Weigh) -> None:
        self._graph: rx.PyGraph[int, tuple[float, int]] = rx.PyGraph(multigraph=False)
        # The library counts nodes from 0; earth, −1 in the network, is its first.
        self._graph.add_nodes_from(range(-1, len(network.nodes)))
        easiest: dict[tuple[int, int], tuple[float, int]] = {}
        for i, branch in enumerate(network.branches):
            weight = weigh(i, branch)
            if weight is None or branch.a == branch.b:
                continue
            ends = (min(branch.a, branch.b), max(branch.a, branch.b))
            if ends not in easiest or weight < easiest[ends][0]:
                easiest[ends] = (weight, i)
        self._graph.add_edges_from([(a + 1, b + 1, edge) for (a, b), edge in easiest.items()])

    @cached_property
    def piece_of(self) -> dict[int, int]:
        """Which piece of joined copper each node belongs to."""
        pieces = rx.connected_components(self._graph)
        return {node - 1: i for i, piece in enumerate(pieces) for node in piece}

    def joined(self, one: int, two: int) -> bool:
        """Tell whether two nodes belong to one piece."""
        return self.piece_of[one] == self.piece_of[two]

    def branch(self, one: int, two: int) -> int:
        """Return the branch that stands for the copper between two neighbouring nodes."""
        return self._graph.get_edge_data(one + 1, two + 1)[1]

    def way(self, one: int, two: int, avoid: Collection[int] = ()) -> tuple[float, list[int]] | None:
        """Return the easiest way between two nodes, its cost and its nodes, past none of those to avoid; None where none is."""
        graph = self._graph
        shunned = [node + 1 for node in avoid if node not in (one, two)]
        if shunned:
            graph = graph.copy()
            graph.remove_nodes_from(shunned)
        paths = rx.dijkstra_shortest_paths(graph, one + 1, target=two + 1, weight_fn=lambda edge: edge[0])
        if one == two:
            return 0.0, [one]
        if two + 1 not in paths:
            return None
        nodes = [node - 1 for node in paths[two + 1]]
        cost = sum(self._graph.get_edge_data(a + 1, b + 1)[0] for a, b in itertools.pairwise(nodes))
        return cost, nodes

    def distances(self, one: int) -> dict[int, float]:
        """Return how hard every node that can be reached is to reach from one."""
        found = rx.dijkstra_shortest_path_lengths(self._graph, one + 1, edge_cost_fn=lambda edge: edge[0])
        return {node - 1: length for node, length in found.items()} | {one: 0.0}

    def ways(self, one: int) -> dict[int, list[int]]:
        """Return the easiest way from one node to every other that can be reached."""
        found = rx.dijkstra_shortest_paths(self._graph, one + 1, weight_fn=lambda edge: edge[0])
        return {node - 1: [step - 1 for step in steps] for node, steps in found.items()} | {one: [one]}
