"""What any repair must contain: for everything that is wrong with a wiring, a set of moves one of which has to be made.

Where only one more move is to be made, it has to put right everything at once, which leaves few to try.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator

from callpath.calls.closing import call_rules
from callpath.landing.asked import Ask, Asked
from callpath.landing.guard import Guards
from callpath.landing.logic import Moment
from callpath.landing.look import Look
from callpath.landing.mesh import Mesh, Wired
from callpath.landing.zones import Zones

__all__ = ["Necessary"]


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
        self.last = False

    def right(self) -> bool:
        """Tell whether nothing is wrong that yes and no can tell."""
        return next(self._wrongs(closely=False), None) is None

    def sets(self) -> list[int]:
        """Return a set of moves for everything that is wrong; one of each has to be made."""
        return list(dict.fromkeys(self._wrongs(closely=True)))

    def at_once(self, among: int) -> int | None:
        """Return those of some moves that may each put right everything that is wrong; None where nothing is."""
        self.last = True
        anything = False
        for moves in self._wrongs(closely=True):
            anything = True
            among &= moves
            if not among:
                break
        return among if anything else None

    def _wrongs(self, *, closely: bool) -> Iterator[int]:
        """Yield a set for each wrong; zero instead where only whether there is one is asked."""
        yield from self._crowded()
        yield from self._disagreeing()
        for ask in self.asked.asks:
            energised, piece = self.logic.settle(self.wired.plan, ask.moment)
            look = self._look(ask.moment) if closely else None
            yield from self._joined(piece, look)
            yield from self._running(ask, energised, look)
            if ask.moment.call == "off":
                for stat, supply in self.asked.supplies:
                    if not self.logic.alive(stat, energised):
                        yield look.hold(supply, stat) if look else 0
        yield from self._staying(closely=closely)
        yield from self._zoned(closely=closely)
        yield from self._guarded(closely=closely)
        yield from self._put_to_work(closely=closely)

    def _guarded(self, *, closely: bool) -> Iterator[int]:
        """Yield for every safety that current gets past what stops its work while it stands open."""
        for passed in self.guards.passed(self.logic, self.wired.plan, self.asked.asks):
            found = 0
            for moment, function, name in passed if closely else ():
                found |= self._look(moment, (name,)).stop(function)
            yield found

    def _put_to_work(self, *, closely: bool) -> Iterator[int]:
        """Yield for every machine that does nothing on any call to serve what makes it do something on one of them."""
        for machine in sorted(self.guards.idle(self.logic, self.wired.plan, self.asked.asks)):
            found = 0
            for ask in self.asked.asks if closely else ():
                if ask.groups:
                    found |= self._look(ask.moment).start(self.guards.machines[machine])
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

    def _look(self, moment: Moment, opened: tuple[str, ...] = ()) -> Look:
        return Look(self.mesh, self.logic, self.wired, moment, opened, last=self.last)

    def _joined(self, piece: list[int], look: Look | None) -> Iterator[int]:
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

    def _running(self, ask: Ask, energised: frozenset[str], look: Look | None) -> Iterator[int]:
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
