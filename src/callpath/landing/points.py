"""The points of a job's equipment, what joins them inside, and what a plan joins besides: copper, as yes and no."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from callpath.calls.letters import disagree, foreign, traps
from callpath.circuit.copper import LOADS
from callpath.job.model import Equipment, Job
from callpath.parts.model import Condition, fitted

__all__ = ["Contact", "Load", "Plan", "Points", "Supply"]

Plan = tuple[int, ...]
"""For every terminal, in the order of ``Points.terminals``, the first terminal that it is joined to."""

_MOST_KEPT = 100_000


@dataclass(frozen=True, eq=False)
class Contact:
    """A contact between two points; ``condition`` is None for a field contact."""

    name: str
    points: tuple[int, int]
    equipment: Equipment
    condition: Condition | None
    closed: bool = False


@dataclass(frozen=True, eq=False)
class Load:
    """A coil, input or load between two points."""

    name: str
    points: tuple[int, int]
    equipment: Equipment
    element: str


@dataclass(frozen=True)
class Supply:
    """A source: its hot side and its return."""

    name: str
    points: tuple[int, int]


class Points:
    """The terminals and inner points of a job's equipment, numbered, and the elements between them."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.terminals = tuple(
            f"{device.id}.{letters}" for device in job.equipment.values() for letters in device.part.terminals
        )
        self.place = {name: i for i, name in enumerate(self.terminals)}
        self.means = [
            frozenset(device.part.terminals[letters].means) for device, letters in map(job.terminal, self.terminals)
        ]
        self.at = [job.terminal(name)[0].at for name in self.terminals]
        self.links: list[tuple[int, int]] = []
        self.contacts: list[Contact] = []
        self._field: dict[str, bool] = {}
        self.loads: list[Load] = []
        self.supplies: list[Supply] = []
        self._points = dict(self.place)
        for device in job.equipment.values():
            for name, element in device.part.elements.items():
                if not fitted(element.when, device.settings):
                    continue
                one, two = (self._point(device, point) for point in element.between)
                full = f"{device.id}.{name}"
                if element.kind in ("link", "fuse"):
                    self.links.append((one, two))
                elif element.kind == "contact":
                    closed = job.contacts.get(full, element.rest == "closed") if element.field else False
                    self.contacts.append(Contact(full, (one, two), device, element.closed_when, closed))
                    if element.field:
                        self._field[full] = closed
                elif element.kind == "source":
                    self.supplies.append(Supply(full, (one, two)))
                elif element.kind in LOADS:
                    self.loads.append(Load(full, (one, two), device, name))
        metal = [i for i, name in enumerate(self.terminals) if name.endswith(".chassis")]
        self.metal = frozenset(metal)
        self.links += [(metal[0], other) for other in metal[1:]]
        self.load = {load.name: load for load in self.loads}
        self._pieces: dict[Plan, list[int]] = {}

    def _point(self, device: Equipment, point: str) -> int:
        name = f"{device.id}.{point}" if point in device.part.terminals else f"{device.id}/{point}"
        return self._points.setdefault(name, len(self._points))

    @cached_property
    def bare(self) -> Plan:
        """Nothing joined."""
        return tuple(range(len(self.terminals)))

    @cached_property
    def wired(self) -> Plan:
        """What the conductors, splices and jumpers of the job join."""
        plan = self.bare
        first: dict[str, int] = {}
        ties: list[tuple[str, str]] = [(one, two) for one, two in self.job.landings.values() if one and two]
        ties += self.job.jumpers
        # Splices stand for whatever they come to join; two rounds would miss a chain, so go on until nothing changes.
        group = {name: name for tie in ties for name in tie}
        changed = True
        while changed:
            changed = False
            for one, two in ties:
                low = min(group[one], group[two])
                if group[one] != low or group[two] != low:
                    group[one] = group[two] = low
                    changed = True
        for name, root in group.items():
            if name in self.place:
                if root in first:
                    plan = self.joined(plan, first[root], self.place[name])
                else:
                    first[root] = self.place[name]
        return plan

    def joined(self, plan: Plan, one: int, two: int) -> Plan:
        """Return a plan with the nets of two terminals joined."""
        a, b = sorted((plan[one], plan[two]))
        return plan if a == b else tuple(a if net == b else net for net in plan)

    def nets(self, plan: Plan) -> list[list[int]]:
        """Return the nets of two terminals and more, each sorted."""
        found: dict[int, list[int]] = {}
        for terminal, net in enumerate(plan):
            found.setdefault(net, []).append(terminal)
        return [net for net in found.values() if len(net) > 1]

    def disagree(self, one: int, two: int) -> bool:
        """Tell whether two terminals mean different things; one that only passes current on agrees with all."""
        return disagree(self.means[one], self.means[two])

    @cached_property
    def apart(self) -> tuple[tuple[int, int], ...]:
        """Pairs of terminals that are never joined: equal letters of different meaning, and signals of different classes."""
        found = []
        for one, two in combinations(range(len(self.terminals)), 2):
            a, b = self.terminals[one], self.terminals[two]
            if traps(self.job, a, b) or foreign(self.job, a, b):
                found.append((one, two))
        return tuple(found)

    def misfits(self, plan: Plan) -> int:
        """Return how many pairs of joined terminals mean different things."""
        return sum(self.disagree(a, b) for net in self.nets(plan) for a, b in combinations(net, 2))

    @cached_property
    def between(self) -> list[tuple[int, int]]:
        """The loads that may not stand between two sources; a thermostat made for two may look at both."""
        return [load.points for load in self.loads if not load.equipment.part.calls]

    @cached_property
    def tied(self) -> frozenset[tuple[int, int]]:
        """Sides of supplies that copper joins whatever is landed; nothing can be done about those."""
        return self._sides_joined(self.pieces(self.bare))

    @cached_property
    def meeting_anyway(self) -> frozenset[tuple[int, int]]:
        """The same with the loads between them."""
        return self._sides_joined(self.meeting(self.pieces(self.bare)))

    def _sides_joined(self, piece: Sequence[int]) -> frozenset[tuple[int, int]]:
        sides = [point for supply in self.supplies for point in supply.points]
        return frozenset((a, b) for a, b in combinations(sides, 2) if piece[a] == piece[b])

    def meeting(self, piece: Sequence[int]) -> list[int]:
        """Return some pieces once more, those made one that a load joins."""
        parent = list(piece)
        _unite(parent, self.between)
        return [_root(parent, i) for i in range(len(parent))]

    def pieces(self, plan: Plan, closed: Collection[tuple[int, int]] = ()) -> list[int]:
        """Return for every point the piece of copper that it belongs to."""
        parent = list(self._copper(plan))
        _unite(parent, closed)
        return [_root(parent, i) for i in range(len(parent))]

    def _copper(self, plan: Plan) -> list[int]:
        """Return the pieces of a plan with every contact open; kept, for it is asked for again and again."""
        if plan not in self._pieces:
            if len(self._pieces) > _MOST_KEPT:
                self._pieces.clear()
            parent = list(range(len(self._points)))
            _unite(parent, [(terminal, net) for terminal, net in enumerate(plan) if net != terminal])
            _unite(parent, self.links)
            self._pieces[plan] = [_root(parent, i) for i in range(len(parent))]
        return self._pieces[plan]

    def shorted(self, piece: list[int]) -> bool:
        """Tell whether copper joins the two sides of a source."""
        return any(piece[supply.points[0]] == piece[supply.points[1]] for supply in self.supplies)


def _root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def _unite(parent: list[int], pairs: Collection[tuple[int, int]]) -> None:
    for one, two in pairs:
        parent[_root(parent, one)] = _root(parent, two)
