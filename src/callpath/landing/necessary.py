"""What any repair must contain: for everything that is wrong with a wiring, a set of moves one of which has to be made.

A wrong that copper makes (a short, something that runs and must not) lasts as long as the way that its current takes, so
some joint of that way has to go. What does not run has to be reached, so some new joint has to lead out of the piece of
copper that it hangs on. A contact on the way opens or closes only with what drives it, and the same is asked of that.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Collection, Iterator

from callpath.calls.closing import call_rules
from callpath.circuit.drive import called
from callpath.job.model import Equipment
from callpath.landing.asked import Ask, Asked
from callpath.landing.guard import Guards
from callpath.landing.logic import Load, Moment
from callpath.landing.mesh import Mesh, Wired
from callpath.landing.zones import Zones
from callpath.parts.model import Condition, fitted

__all__ = ["Necessary"]

_Joint = tuple[int, int, Condition | None, Equipment | None]
"""Where it leads, the moves that take it away, and for a contact its condition and whose it is."""


class Necessary:
    """What is wrong with one wiring, and what mending it takes at least.

    Parameters
    ----------
    zones : Zones
        The zones that stay apart.
    guards : Guards
        The safeties that go on stopping what they stop.
    """

    def __init__(
        self,
        mesh: Mesh,
        asked: Asked,
        made: Collection[int],
        zones: Zones,
        guards: Guards,
    ) -> None:
        self.mesh = mesh
        self.asked = asked
        self.logic = asked.logic
        self.made = made
        self.zones = zones
        self.guards = guards
        self.wired: Wired = mesh.wired(made)

    def right(self) -> bool:
        """Tell whether nothing is wrong that yes and no can tell."""
        return next(self._wrongs(closely=False), None) is None

    def sets(self) -> list[int]:
        """Return a set of moves for everything that is wrong; one of each has to be made."""
        return list(dict.fromkeys(self._wrongs(closely=True)))

    def _wrongs(self, *, closely: bool) -> Iterator[int]:
        """Yield a set for each wrong; zero instead where only whether there is one is asked."""
        yield from self._crowded()
        yield from self._disagreeing()
        for ask in self.asked.asks:
            energised, piece = self.logic.settle(self.wired.plan, ask.moment)
            look = _Look(self, ask.moment, energised, piece) if closely else None
            yield from self._joined(piece, look)
            yield from self._running(ask, energised, look)
            if ask.moment.call == "off":
                for stat, supply in self.asked.supplies:
                    if not self.logic.alive(stat, energised):
                        yield look.hold(supply, stat) if look else 0
        yield from self._staying(closely=closely)
        yield from self._zoned(closely=closely)
        yield from self._guarded(closely=closely)

    def _guarded(self, *, closely: bool) -> Iterator[int]:
        """Yield for every safety that current gets past what stops its work while it stands open."""
        for passed in self.guards.passed(self.logic, self.wired.plan, self.asked.asks):
            found = 0
            for moment, function, name in passed if closely else ():
                found |= self._look(moment, (name,)).stop(function)
            yield found

    def _staying(self, *, closely: bool) -> Iterator[int]:
        """Yield for everything that begins and that nothing takes back."""
        moments = [ask.moment for ask in self.asked.asks]
        for name, running in self.logic.staying(self.wired.plan, moments):
            device, undone = self.logic.returning[name]
            found = self._look(running).stop(name) if closely else 0
            for moment in moments if closely else ():
                found |= self._look(moment).hold(undone, device)
            yield found

    def _zoned(self, *, closely: bool) -> Iterator[int]:
        """Yield for every zone that nobody opens, every thermostat that opens none, and whatever two of them came to share."""
        zones = self.zones
        opened = zones.opened(self.logic, self.wired.plan) if zones.openings or zones.apart else {}
        for openings, stats in zones.idle(opened):
            moments = [moment for stat in stats for call in zones.calls if (moment := self._moment(call, stat))]
            found = 0
            for moment in moments if closely else ():
                found |= self._look(moment).start(openings)
            yield found
        for name, one, two in zones.joined(opened):
            yield self._look(one).stop(name) | self._look(two).stop(name) if closely else 0

    def _moment(self, call: str, stat: str) -> Moment | None:
        can = call in call_rules(self.logic.job.equipment[stat])
        return self.logic.moment(call, (stat,)) if can else None

    def _look(self, moment: Moment, opened: tuple[str, ...] = ()) -> _Look:
        return _Look(self, moment, *self.logic.settle(self.wired.plan, moment, opened), opened)

    def _joined(self, piece: list[int], look: _Look | None) -> Iterator[int]:
        supplies = self.logic.supplies
        for supply in supplies:
            hot, back = supply.points
            if piece[hot] == piece[back]:
                yield look.way(hot, back) if look else 0
        over = self.logic.meeting(piece) if len(supplies) > 1 else piece
        for one, other in itertools.combinations(supplies, 2):
            pairs = list(itertools.product(one.points, other.points))
            joined = [(a, b) for a, b in pairs if piece[a] == piece[b]]
            for a, b in joined:
                if (a, b) not in self.logic.tied:
                    yield look.way(a, b) if look else 0
            # Where copper joins them, a load between them adds nothing.
            met = [(a, b) for a, b in pairs if over[a] == over[b]]
            if met and not joined and self.logic.meeting_anyway.isdisjoint(pairs):
                yield look.way(*met[0], past_loads=True) if look else 0

    def _running(self, ask: Ask, energised: frozenset[str], look: _Look | None) -> Iterator[int]:
        running = self.logic.running(energised, ask.moment.states)
        for name in sorted(running - ask.allowed):
            yield look.stop(name) if look else 0
        for group in ask.groups:
            if not group & running:
                yield look.start(group) if look else 0

    def _crowded(self) -> Iterator[int]:
        """Yield for every terminal that holds more conductors than it takes."""
        mesh = self.mesh
        room = list(mesh.takes)
        full = []
        for conductor, at, _ in self.wired.edges:
            if at < mesh.terminals <= conductor:
                room[at] -= 1
                if room[at] == -1:
                    full.append(at)
        for crowded in full:
            taking = 0
            for conductor, at, moves in self.wired.edges:
                if at == crowded and conductor >= mesh.terminals:
                    taking |= moves
            yield taking

    def _disagreeing(self) -> Iterator[int]:
        """Yield for every conductor from a thermostat to an indoor terminal that means something else."""
        mesh, means = self.mesh, self.logic.means
        leads: dict[int, list[tuple[int, int]]] = {}
        for a, b, moves in self.wired.edges[len(mesh.fixed) :]:
            if a >= mesh.terminals:
                leads.setdefault(a, []).append((b, moves))
                leads.setdefault(b, []).append((a, moves))
        for start in mesh.commanding:
            for conductor, first in leads.get(start, ()):
                todo, seen = [(conductor, first)], {start, conductor}
                while todo:
                    here, moves = todo.pop()
                    for there, more in leads.get(here, ()):
                        if there in seen:
                            continue
                        seen.add(there)
                        if there >= mesh.terminals:
                            todo.append((there, moves | more))
                        elif there in mesh.indoor and not means[start] & means[there]:
                            yield moves | more


class _Look:
    """One moment of a wiring, looked at closely, perhaps with field contacts opened."""

    def __init__(
        self,
        necessary: Necessary,
        moment: Moment,
        energised: frozenset[str],
        piece: list[int],
        opened: tuple[str, ...] = (),
    ) -> None:
        self.mesh = necessary.mesh
        self.logic = necessary.logic
        self.wired = necessary.wired
        self.moment = moment
        self.opened = opened
        self.energised = energised
        self.piece = piece
        self.settings = self.mesh.settings
        self._busy: set[tuple[str, str]] = set()
        self._around: dict[bool, dict[int, list[_Joint]]] = {}
        self._crossing: dict[int, int] | None = None

    # -- what runs and must not, what must and does not --------------------------------------------------

    def stop(self, function: str) -> int:
        """Return the moves one of which it takes to stop a function."""
        device, runs = self._triggers(function)
        ways = [self.fail(condition, device) for condition in runs if self._true(condition, device)]
        return min(ways, key=int.bit_count, default=0) | self.settings

    def start(self, functions: Collection[str]) -> int:
        """Return the moves one of which it takes to start one of some functions."""
        found = self.settings
        for function in functions:
            device, runs = self._triggers(function)
            for condition in runs:
                found |= self.hold(condition, device)
        return found

    def _triggers(self, function: str) -> tuple[Equipment, list[Condition]]:
        id_, _, name = function.partition(".")
        device = self.logic.job.equipment[id_]
        triggers = device.part.functions[name].triggers
        return device, [trigger.runs_when for trigger in triggers if fitted(trigger.when, device.settings)]

    # -- conditions -------------------------------------------------------------------------------------

    def _true(self, condition: Condition, device: Equipment) -> bool:
        return self.logic.holds(condition, device, self.energised, self.moment)

    def hold(self, condition: Condition, device: Equipment) -> int:
        """Return the moves one of which it takes to make true what is not."""
        if condition.element:
            name = f"{device.id}.{condition.element}"
            return (
                self._once("hold", name, lambda: self._reach(self.logic.load[name])) if name in self.logic.load else 0
            )
        if condition.output:
            supply = self.logic.supply_of(device)
            wanted = called(device.id, condition.output) in self.moment.outputs
            dead = supply is not None and not self._true(supply, device)
            return self.settings | (self.hold(supply, device) if wanted and dead and supply else 0)
        if condition.state:
            return 0
        if condition.negated:
            return self.fail(condition.negated, device)
        if condition.any is not None:
            found = 0
            for part in condition.any:
                found |= self.hold(part, device)
            return found
        false = [part for part in condition.all or () if not self._true(part, device)]
        return min((self.hold(part, device) for part in false), key=int.bit_count, default=0)

    def fail(self, condition: Condition, device: Equipment) -> int:
        """Return the moves one of which it takes to make false what is true."""
        if condition.element:
            name = f"{device.id}.{condition.element}"
            return self._once("fail", name, lambda: self._part(self.logic.load[name])) if name in self.logic.load else 0
        if condition.output:
            # A thermostat that loses its supply would stop it too, but that is wrong in itself.
            return self.settings
        if condition.state:
            return 0
        if condition.negated:
            return self.hold(condition.negated, device)
        if condition.any is not None:
            true = [part for part in condition.any if self._true(part, device)]
            return min((self.fail(part, device) for part in true), key=int.bit_count, default=0)
        found = 0
        for part in condition.all or ():
            found |= self.fail(part, device)
        return found

    def _once(self, what: str, name: str, of: Callable[[], int]) -> int:
        """Return what it takes with a load, nothing where that hangs on itself."""
        if (what, name) in self._busy:
            return 0
        self._busy.add((what, name))
        found = of()
        self._busy.discard((what, name))
        return found

    # -- loads ------------------------------------------------------------------------------------------

    def _reach(self, load: Load) -> int:
        """Return the moves one of which it takes to energise a load: new joints out of the copper at one of its sides."""
        sourced = {self.piece[point] for supply in self.logic.supplies for point in supply.points}
        sides = [self.piece[point] for point in load.points]
        loose = [self._out_of(side) for side in sides if side not in sourced]
        if loose:
            return min(loose, key=int.bit_count) | self.settings
        return self._out_of(sides[0]) | self._out_of(sides[1]) | self.settings

    def _part(self, load: Load) -> int:
        """Return the moves one of which it takes to de-energise a load: joints on its way from the source and back."""
        best = None
        for supply in self.logic.supplies:
            for one, two in (supply.points, supply.points[::-1]):
                near, far = load.points
                if self.piece[one] == self.piece[near] and self.piece[two] == self.piece[far]:
                    found = self.way(one, near) | self.way(two, far)
                    if best is None or found.bit_count() < best.bit_count():
                        best = found
        return (best or 0) | self.settings

    # -- copper -----------------------------------------------------------------------------------------

    def _out_of(self, piece: int) -> int:
        """Return the moves that make a joint between a piece of copper and what lies outside it, contacts that close included."""
        if self._crossing is None:
            self._crossing = {}
            for root, moves in self.wired.crossing.items():
                whole = self.piece[root] if root < self.mesh.terminals else -1 - root
                self._crossing[whole] = self._crossing.get(whole, 0) ^ moves
        found = self._crossing.get(piece, 0)
        for contact in self.logic.contacts:
            a, b = (self.piece[point] for point in contact.points)
            condition = contact.condition
            leads_out = (a == piece) != (b == piece)
            if leads_out and condition is not None and not self._true(condition, contact.equipment):
                found |= self.hold(condition, contact.equipment)
        return found

    def way(self, start: int, stop: int, *, past_loads: bool = False) -> int:
        """Return the moves one of which it takes to break the way between two joined points with the fewest joints."""
        around = self._edges(past_loads=past_loads)
        start, stop = self._place(start), self._place(stop)
        heap: list[tuple[int, int]] = [(0, start)]
        best = {start: 0}
        came: dict[int, _Joint] = {}
        while heap:
            cost, here = heapq.heappop(heap)
            if here == stop:
                break
            if cost > best[here]:
                continue
            for there, moves, condition, device in around.get(here, ()):
                further = cost + (1 if moves or condition else 0)
                if further < best.get(there, 1 << 30):
                    best[there] = further
                    came[there] = (here, moves, condition, device)
                    heapq.heappush(heap, (further, there))
        if stop not in came and stop != start:
            # What finds no rest is in no state long enough to ask it.
            return self.mesh.everything
        found, here = 0, stop
        while here != start:
            here, moves, condition, device = came[here]
            found |= moves
            if condition is not None and device is not None:
                found |= self.fail(condition, device)
        return found | self.settings

    def _place(self, point: int) -> int:
        """Return a point of the equipment as a point of this graph: those inside come after all that is wired."""
        return point if point < self.mesh.terminals else point + self.mesh.size

    def _edges(self, *, past_loads: bool) -> dict[int, list[_Joint]]:
        """Return what joins what at this moment, with the loads that may not stand between two sources where asked."""
        if past_loads not in self._around:
            around: dict[int, list[_Joint]] = {}
            place = self._place

            def join(a: int, b: int, moves: int, condition: Condition | None, device: Equipment | None) -> None:
                around.setdefault(a, []).append((b, moves, condition, device))
                around.setdefault(b, []).append((a, moves, condition, device))

            for a, b, moves in self.wired.edges:
                join(a, b, moves, None, None)
            for a, b in self.logic.links:
                join(place(a), place(b), 0, None, None)
            for contact in self.logic.contacts:
                if self.logic.closed(contact, self.moment, self.energised, self.opened):
                    a, b = contact.points
                    join(place(a), place(b), 0, contact.condition, contact.equipment)
            for a, b in self.logic.between if past_loads else ():
                join(place(a), place(b), 0, None, None)
            self._around[past_loads] = around
        return self._around[past_loads]
