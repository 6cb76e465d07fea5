"""Which equipment a thermostat's output reaches, as landed: along conductors, splices, jumpers, and through what it switches."""

from __future__ import annotations

from functools import cached_property

from callpath.circuit.build import Circuit, end_node
from callpath.circuit.copper import Copper
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
        self._touched: dict[str, frozenset[str]] = {}

    @cached_property
    def _joints(self) -> dict[str, list[tuple[str, str]]]:
        """Per terminal, splice and capped end: what each conductor or jumper there leads to, and the conductor's name."""
        joints: dict[str, list[tuple[str, str]]] = {
            f"{equipment.id}.{letters}": []
            for equipment in self.job.equipment.values()
            for letters in equipment.part.terminals
        }
        pairs = [(end_node(n, 0, landing), end_node(n, 1, landing), n) for n, landing in self.job.landings.items()]
        for one, two, name in [*pairs, *((one, two, "") for one, two in self.job.jumpers)]:
            joints.setdefault(one, []).append((two, name))
            joints.setdefault(two, []).append((one, name))
        return joints

    @cached_property
    def _net_of(self) -> dict[str, frozenset[str]]:
        copper = Copper(self.circuit.network, lambda _, branch: 1.0 if branch.kind in ("wire", "jumper") else None)
        nets: dict[int, set[str]] = {}
        place = self.circuit.network.node_of
        for name, node in place.items():
            nets.setdefault(copper.piece_of[node], set()).add(name)
        return {name: frozenset(net) for net in nets.values() for name in net}

    def leads(self, point: str) -> list[tuple[str, str]]:
        """Return where the conductors and jumpers at a point lead, each with its conductor's name (empty for a jumper)."""
        return self._joints.get(point, [])

    def conductors_at(self, point: str) -> list[str]:
        """Return the conductors landed at a point."""
        return [name for _, name in self.leads(point) if name]

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
        """Return the ids of equipment that an output terminal of a thermostat reaches."""
        return {name.partition(".")[0] for name in self.touched(output)}

    def touched(self, output: str) -> frozenset[str]:
        """Return the terminals of equipment that an output terminal of a thermostat reaches.

        Accessories are passed through: a contact in series to its other side, a coil or motor to the contacts that it closes.
        Terminals that only supply (power, common, metal) do not count as reached where a source's own terminal is joined to
        them, and nothing is followed from there; elsewhere they are the other end of a load, which has no polarity.
        """
        if output in self._touched:
            return self._touched[output]
        start = output.partition(".")[0]
        todo, seen, found = [output], set(), set[str]()
        while todo:
            net = self.net(todo.pop())
            if net in seen:
                continue
            seen.add(net)
            terminals = [terminal for terminal in self.terminals(net) if terminal[0].id != start]
            supplies = any(
                _only_supplies(equipment, letters) and _has_source(equipment) for equipment, letters, _ in terminals
            )
            for equipment, letters, _ in terminals:
                if _only_supplies(equipment, letters) and (
                    supplies or equipment.part.calls or "metal" in equipment.part.terminals[letters].means
                ):
                    continue
                if not self._only_contacts(equipment, letters):
                    found.add(f"{equipment.id}.{letters}")
                if equipment.part.role == "accessory" and not supplies:
                    todo += self._beyond(equipment, letters)
        self._touched[output] = frozenset(found)
        return self._touched[output]

    def _only_contacts(self, equipment: Equipment, letters: str) -> bool:
        """Tell whether a terminal of an accessory leads to contacts alone: who comes to an end switch does not move the valve."""
        touching = [element for element in equipment.part.elements.values() if letters in element.between]
        return equipment.part.role == "accessory" and all(element.kind == "contact" for element in touching)

    def _beyond(self, equipment: Equipment, letters: str) -> list[str]:
        ways: list[str] = []
        own = {n: e for n, e in equipment.part.elements.items() if fitted(e.when, equipment.settings)}
        for name, element in own.items():
            if letters not in element.between:
                continue
            if element.kind in ("contact", "link"):
                ways += [point for point in element.between if point != letters]
            else:
                ways += [
                    point
                    for other in own.values()
                    if other.closed_when is not None and name in other.closed_when.makers()
                    for point in other.between
                ]
        return [f"{equipment.id}.{point}" for point in ways if point in equipment.part.terminals]


def _only_supplies(equipment: Equipment, letters: str) -> bool:
    return set(equipment.part.terminals[letters].means) <= _SUPPLY


def _has_source(equipment: Equipment) -> bool:
    return any(element.kind == "source" for element in equipment.part.elements.values())
