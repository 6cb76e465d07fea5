"""Which equipment a thermostat's output reaches, as landed: along conductors, splices, jumpers, and through what it switches."""

from __future__ import annotations

from functools import cached_property

import networkx as nx

from callpath.circuit.build import Circuit, end_node
from callpath.job.model import Equipment
from callpath.parts.model import fitted

__all__ = ["Joins"]

_SUPPLY = {"power", "common", "metal"}


class Joins:
    """What is joined to what by copper alone, whatever the contacts do.

    Broken conductors count as joined: what a thermostat is meant to reach does not change when a wire breaks.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.job = circuit.job

    @cached_property
    def graph(self) -> nx.Graph[str]:
        """Terminals, splices and capped ends, joined by conductors (edge data ``name``) and jumpers."""
        graph: nx.Graph[str] = nx.Graph()
        for equipment in self.job.equipment.values():
            graph.add_nodes_from(f"{equipment.id}.{letters}" for letters in equipment.part.terminals)
        for name, landing in self.job.landings.items():
            graph.add_edge(end_node(name, 0, landing), end_node(name, 1, landing), name=name)
        for one, two in self.job.jumpers:
            graph.add_edge(one, two, name="")
        return graph

    @cached_property
    def _net_of(self) -> dict[str, frozenset[str]]:
        return {node: frozenset(net) for net in nx.connected_components(self.graph) for node in net}

    def net(self, terminal: str) -> frozenset[str]:
        """Return every terminal, splice and capped end joined to a terminal, itself included."""
        return self._net_of[terminal]

    def terminals(self, names: frozenset[str]) -> list[tuple[Equipment, str, str]]:
        """Return the terminals among some names: equipment, letters, whole name; sorted."""
        found = []
        for name in sorted(names):
            if name.partition(".")[0] in self.job.equipment:
                equipment, letters = self.job.terminal(name)
                found.append((equipment, letters, name))
        return found

    def reached(self, output: str) -> set[str]:
        """Return the ids of equipment that an output terminal of a thermostat reaches.

        Accessories are passed through: a contact in series to its other side, a coil or motor to the contacts that follow it.
        Terminals that only supply (power, common, metal) do not count as reached, and nothing is followed from them.
        """
        start = output.partition(".")[0]
        todo, seen, found = [output], set(), set()
        while todo:
            net = self.net(todo.pop())
            if net in seen:
                continue
            seen.add(net)
            terminals = self.terminals(net)
            supplies = any(
                set(equipment.part.terminals[letters].means) <= _SUPPLY and equipment.id != start
                for equipment, letters, _ in terminals
            )
            for equipment, letters, _ in terminals:
                if equipment.id == start or set(equipment.part.terminals[letters].means) <= _SUPPLY:
                    continue
                found.add(equipment.id)
                if equipment.part.role == "accessory" and not supplies:
                    todo += self._beyond(equipment, letters)
        return found

    def _beyond(self, equipment: Equipment, letters: str) -> list[str]:
        ways: list[str] = []
        own = {n: e for n, e in equipment.part.elements.items() if fitted(e.when, equipment.settings)}
        for name, element in own.items():
            if letters not in element.between:
                continue
            if element.kind == "contact":
                ways += [point for point in element.between if point != letters]
            else:
                ways += [
                    point
                    for other in own.values()
                    if other.closed_when is not None and name in other.closed_when.elements()
                    for point in other.between
                ]
        return [f"{equipment.id}.{point}" for point in ways if point in equipment.part.terminals]
