"""One moment of a wiring and the moves that could change what happens then.

What runs lasts as long as the way that its current takes, so some joint of that way has to go. What does not run has to be
reached, so some new joint has to lead out of the piece of copper that it hangs on. A contact on the way opens or closes only
with what drives it, and the same is asked of that.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable
from functools import cached_property, reduce
from operator import and_

from callpath.circuit.drive import called
from callpath.job.model import Equipment
from callpath.landing.logic import Logic, Moment
from callpath.landing.mesh import Mesh, Wired
from callpath.landing.points import Load
from callpath.parts.model import Condition, fitted

__all__ = ["Look"]

_Joint = tuple[int, int, Condition | None, Equipment | None]
"""Where it leads, the moves that take it away, and for a contact its condition and whose it is."""


class Look:
    """One moment of a wiring, looked at closely, perhaps with field contacts opened.

    Parameters
    ----------
    last : bool
        Whether only one more move is made: where several sets have to be met, it lies in all of them.
    """

    def __init__(
        self,
        mesh: Mesh,
        logic: Logic,
        wired: Wired,
        moment: Moment,
        opened: tuple[str, ...] = (),
        *,
        last: bool = False,
    ) -> None:
        self.mesh = mesh
        self.logic = logic
        self.wired = wired
        self.moment = moment
        self.opened = opened
        self.last = last
        self.energised, self.piece = logic.settle(wired.plan, moment, opened)
        self.settings = mesh.settings
        self._busy: set[tuple[str, str]] = set()
        self._around: dict[bool, dict[int, list[_Joint]]] = {}
        self._crossing: dict[int, int] | None = None
        self._leading: dict[int, int] = {}

    # -- what runs and must not, what must and does not --------------------------------------------------

    def stop(self, function: str) -> int:
        """Return the moves one of which it takes to stop a function."""
        device, runs = self._triggers(function)
        ways = [self.fail(condition, device) for condition in runs if self._true(condition, device)]
        return self._least(ways) | self.settings

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

    def _least(self, sets: Iterable[int]) -> int:
        """Return moves one of which it takes where one of each of some sets is needed."""
        found = list(sets)
        return reduce(and_, found) if found and self.last else min(found, key=int.bit_count, default=0)

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
        return self._least(self.hold(part, device) for part in false)

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
            return self._least(self.fail(part, device) for part in true)
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
        """Return the moves one of which it takes to energise a load: new joints out of the copper at one of its sides.

        The last move has to lead from there to the copper of a source.
        """
        if self.last and len(self._busy) == 1:
            return self._reach_at_once(load)
        sourced = {self.piece[point] for supply in self.logic.supplies for point in supply.points}
        sides = [self.piece[point] for point in load.points]
        loose = [self._out_of(side) for side in sides if side not in sourced]
        if loose:
            return min(loose, key=int.bit_count) | self.settings
        return self._out_of(sides[0]) | self._out_of(sides[1]) | self.settings

    def _reach_at_once(self, load: Load) -> int:
        near, far = (self.piece[point] for point in load.points)
        found = self.settings
        for supply in self.logic.supplies:
            hot, back = (self.piece[point] for point in supply.points)
            for one, two in ((hot, back), (back, hot)):
                apart = {piece for side, end in ((near, one), (far, two)) if side != end for piece in (side, end)}
                found |= reduce(and_, map(self._out_at_once, apart), self.mesh.everything)
        return found

    def _out_at_once(self, piece: int) -> int:
        """Return what leads out of a piece, whatever it is asked for: kept, for every load asks it of the same sources."""
        if piece not in self._leading:
            busy, self._busy = self._busy, {("out of", "")}
            self._leading[piece] = self._out_of(piece)
            self._busy = busy
        return self._leading[piece]

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
        for sides, condition, device in self._gaps:
            if piece in sides:
                found |= self.hold(condition, device)
        return found

    @cached_property
    def _gaps(self) -> list[tuple[tuple[int, int], Condition, Equipment]]:
        """The contacts that stand open between two pieces and that something could close."""
        found = []
        for contact in self.logic.contacts:
            sides = (self.piece[contact.points[0]], self.piece[contact.points[1]])
            condition, device = contact.condition, contact.equipment
            if sides[0] != sides[1] and condition is not None and not self._true(condition, device):
                found.append((sides, condition, device))
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
