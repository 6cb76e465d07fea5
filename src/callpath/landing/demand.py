"""Which terminals must be joined so that some calls are served: plans, the best first.

A demand is a load that must be energised on a call: a loop from a source's hot side through the contacts that the call
closes, through the load, and back to that source. Where the loop is not yet closed, every way of closing it is
tried: every source, every contact that the call can close, the load either way round. A plan joins no more than its
demands need; whatever must not run, or shorts a source, rules it out and all that would be built on it.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from callpath.calls.closing import call_rules, calls_of_job, thermostats
from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job.model import Job
from callpath.landing.cover import choices, valves
from callpath.landing.logic import Logic, Moment
from callpath.landing.loop import loops
from callpath.landing.points import Contact, Load, Plan
from callpath.progress import step

__all__ = ["Demands", "Level"]

_NO_WATER = ("fan", "cool", "cool-2")
"""Calls on which no zone valve opens; which of the others open it is for the proof to say."""

Level = tuple[int, int, int, int]
"""How good a plan is before any conductor is chosen: sources that meet, minus the functions that run, pairs of unlike
terminals, joints to be made."""

MOST_PLANS = 2500
"""More plans than this are not looked into for one set of calls."""
MOST_PLANS_OF_A_JOB = 3000
"""More plans than this are not looked into for one job."""


@dataclass(frozen=True)
class _Part:
    """A plan on its way: what still must be energised, and whom each thermostat is to serve."""

    plan: Plan
    owed: tuple[tuple[Moment, str], ...]
    choice: int


class Demands:
    """What a job's calls demand of its joints.

    Parameters
    ----------
    job : Job
        The job, with what is fixed in it.
    base : Plan
        What the fixed conductors and jumpers join.
    """

    def __init__(self, logic: Logic, base: Plan) -> None:
        self.logic = logic
        self.base = base
        self.job = logic.job
        bare = Job(
            **{
                **self.job.__dict__,
                "landings": dict.fromkeys(self.job.landings, (None, None)),
                "splices": {},
                "jumpers": (),
                "faults": (),
            }
        )
        self.needs = Needs(build(bare))
        self.room: dict[str, int] = {}
        """By place, how many free conductors lead away from it; empty where that shall not matter."""
        self.supplied = True
        """Whether every thermostat must have the supply that it needs."""
        self.gave_up = False
        self.most_plans = (MOST_PLANS, MOST_PLANS_OF_A_JOB)
        """How many plans are looked into, for one set of calls and for the job."""
        self._sound: dict[Plan, bool] = {}

    @cached_property
    def moments(self) -> dict[Moment, frozenset[str]]:
        """Every call, by each thermostat alone and by all, and the functions that may run then."""
        found: dict[Moment, frozenset[str]] = {self.logic.moment("off"): frozenset()}
        for call in self.calls:
            able = [stat.id for stat in thermostats(self.job) if call in call_rules(stat)]
            for callers in dict.fromkeys([*((one,) for one in able), tuple(able)]):
                found[self.logic.moment(call, callers)] = self.may_run(call, callers)
        return found

    @cached_property
    def calls(self) -> tuple[str, ...]:
        """The calls other than ``off`` that the job's thermostats can make."""
        return tuple(call for call in calls_of_job(self.needs.circuit) if call != "off")

    def may_run(self, call: str, callers: Collection[str]) -> frozenset[str]:
        """Return the functions that a call may run, whatever it reaches."""
        everything = frozenset(
            f"{device.id}.{name}" for device in self.job.equipment.values() for name in device.part.functions
        )
        known = self.needs.must_run(call, callers)
        known |= frozenset(
            f"{device.id}.{name}"
            for device in self.job.equipment.values()
            for name, function in device.part.functions.items()
            if call in function.on
        )
        if not known:
            return everything
        opens = (name for name in everything if name.endswith(".open"))
        return known | frozenset(opens if call not in _NO_WATER else ())

    @cached_property
    def floats(self) -> tuple[Contact, ...]:
        """Free safeties that shall stop every compressor: those whose part names it first."""
        return tuple(switch for switch in self.free_switches if self._stops(switch)[0] == "compressor")

    @staticmethod
    def _stops(switch: Contact) -> tuple[str, ...]:
        return switch.equipment.part.elements[switch.name.partition(".")[2]].stops

    @cached_property
    def free_switches(self) -> tuple[Contact, ...]:
        """Safeties that lie free: accessories with nothing but such a contact, and nothing landed on them."""
        found = []
        for contact in self.logic.contacts:
            part = contact.equipment.part
            ends = contact.points
            free = all(self.base.count(self.base[end]) == 1 for end in ends if end < len(self.base))
            if (
                part.role == "accessory"
                and len(part.elements) == 1
                and contact.condition is None
                and contact.closed
                and self._stops(contact)
                and free
            ):
                found.append(contact)
        return tuple(found)

    # -- plans ------------------------------------------------------------------------------------------

    def plans(self, serves: Sequence[str], floats: Sequence[Contact]) -> Iterator[tuple[Level, Plan | None]]:
        """Yield the plans that serve some calls, the best level first, each once; and a bare level now and then, which no
        plan still to come is better than.

        Parameters
        ----------
        serves : sequence of str
            The calls.
        floats : sequence of Contact
            Free switches that shall stop every compressor.
        """
        moments = [
            self.logic.moment(call, (stat.id,))
            for call in serves
            for stat in thermostats(self.job)
            if call in call_rules(stat)
        ]
        if not self.sound(self.base):
            return
        ways, all_of_them = choices(self.needs, self.moments, serves, moments)
        if not all_of_them:
            self.gave_up = True
        before = len(self._sound)
        order = itertools.count()
        heap: list[tuple[Level, int, _Part]] = []
        for i, (count, _) in enumerate(ways):
            heapq.heappush(heap, ((0, -count, 0, 0), next(order), _Part(self.base, (), i)))
        told: set[Plan] = set()
        seen: set[_Part] = set()
        while heap:
            most, most_of_all = self.most_plans
            if len(self._sound) > min(before + most, max(before, most_of_all)):
                self.gave_up = True
                return
            step()
            level, _, part = heapq.heappop(heap)
            yield level, None
            following = self._next(part, ways[part.choice][1], moments, floats)
            if following is None:
                needed = ways[part.choice][1]
                if part.plan not in told and self._fit(part.plan, serves, needed, floats, -level[1]):
                    told.add(part.plan)
                    yield level, part.plan
                continue
            for new in following:
                if new not in seen and self.sound(new.plan) and self._roomy(new.plan):
                    seen.add(new)
                    heapq.heappush(heap, (self.level(new.plan, -level[1]), next(order), new))

    def sound(self, plan: Plan) -> bool:
        """Tell whether a plan is harmless, and count it as looked into."""
        if plan not in self._sound:
            self._sound[plan] = self.harmless(plan)
        return self._sound[plan]

    def harmless(self, plan: Plan) -> bool:
        """Tell whether a plan shorts no source, joins no two and runs nothing that must not run, on any call."""
        joined = any(plan[one] == plan[two] and self.base[one] != self.base[two] for one, two in self.logic.apart)
        joined = joined or self._meet(plan) > self._met
        return not joined and all(self._quiet(plan, moment, allowed) for moment, allowed in self.moments.items())

    def _roomy(self, plan: Plan) -> bool:
        """Tell whether conductors suffice for the nets that leave each place and can never become one."""
        logic = self.logic
        nets = logic.nets(plan) if self.room else []
        for place, room in self.room.items():
            leaving = [net for net in nets if {logic.at[i] for i in net} > {place} and not self._carried(net, place)]
            if len(leaving) <= room:
                continue
            apart: list[list[int]] = []
            for net in leaving:
                if all(self._never(plan, net[0], other[0]) for other in apart):
                    apart.append(net)
            if len(apart) > room:
                return False
        return True

    def _never(self, plan: Plan, one: int, two: int) -> bool:
        """Tell whether two nets joined would short a source or run what must not run; more joints would not mend that."""
        joined = self.logic.joined(plan, one, two)
        return not all(self._quiet(joined, moment, allowed) for moment, allowed in self.moments.items())

    def _carried(self, net: Sequence[int], place: str) -> bool:
        """Tell whether fixed conductors carry a net away from a place already."""
        groups: dict[int, set[str]] = {}
        for i in net:
            groups.setdefault(self.base[i], set()).add(self.logic.at[i])
        return any(places > {place} for places in groups.values())

    def _quiet(self, plan: Plan, moment: Moment, allowed: frozenset[str]) -> bool:
        energised, piece = self.logic.settle(plan, moment)
        excess = self._excess(energised, moment, allowed)
        # What the want of a voltage makes run can still be stopped by a joint more.
        return not self.logic.shorted(piece) and excess <= self.logic.inverse.keys()

    def _excess(self, energised: frozenset[str], moment: Moment, allowed: frozenset[str]) -> frozenset[str]:
        return self.logic.running(energised, moment.states) - self.needs.beside(moment.call) - allowed

    def _meet(self, plan: Plan) -> int:
        """Return how many pairs of sources copper and loads join, every contact closed that ever closes."""
        if len(self.logic.supplies) < 2:
            return 0
        closed = {points for moment in self.moments for points in self.logic.closing(plan, moment)}
        piece = self.logic.meeting(self.logic.pieces(plan, closed))
        sides = [{piece[point] for point in supply.points} for supply in self.logic.supplies]
        return sum(bool(one & two) for one, two in itertools.combinations(sides, 2))

    @cached_property
    def _met(self) -> int:
        """How many pairs meet in what is fixed."""
        return self._meet(self.base)

    def level(self, plan: Plan, runs: int) -> Level:
        """Return how good a plan is by which so many functions run."""
        joints = len(set(self.base)) - len(set(plan))
        return self._meet(plan), -runs, self.logic.misfits(plan), joints

    def _fit(
        self,
        plan: Plan,
        serves: Sequence[str],
        needed: Mapping[Moment, frozenset[str]],
        floats: Sequence[Contact],
        count: int,
    ) -> bool:
        """Tell whether a whole plan keeps to what is asked of it beyond its demands."""
        logic = self.logic
        piece = logic.pieces(plan, logic.resting(logic.moment("off")))
        hot = {piece[supply.points[0]] for supply in logic.supplies}
        joined = {terminal for net in logic.nets(plan) for terminal in net}
        if any(logic.means[i] == {"power"} and piece[i] not in hot for i in joined):
            return False
        if any(self._excess(logic.settle(plan, moment)[0], moment, may) for moment, may in self.moments.items()):
            return False
        for moment, functions in needed.items():
            running = logic.running(logic.settle(plan, moment)[0], moment.states)
            if valves(running) != valves(functions):
                return False
        runs = 0
        for call in serves:
            moment = logic.moment(call)
            running = logic.running(logic.settle(plan, moment)[0], moment.states)
            runs += len(running & self.moments[moment])
            for switch in floats:
                stopped = logic.running(logic.settle(plan, moment, (switch.name,))[0])
                if any(name.endswith(".compressor") for name in stopped):
                    return False
        return runs == count

    # -- the next demand --------------------------------------------------------------------------------

    def _next(
        self,
        part: _Part,
        needed: dict[Moment, frozenset[str]],
        moments: Sequence[Moment],
        floats: Sequence[Contact],
    ) -> list[_Part] | None:
        """Return every way to meet the first demand that a plan does not meet; None where it meets all."""
        logic = self.logic
        # What a relay needs is owed later than what it is needed for, and comes first.
        for moment, name in reversed(part.owed):
            energised, _ = logic.settle(part.plan, moment)
            if name not in energised:
                return [
                    replace(part, plan=plan, owed=tuple(dict.fromkeys((*part.owed, *owed))))
                    for plan, owed in loops(logic, part.plan, logic.load[name], moment, floats)
                ]
        part = replace(part, owed=())
        off = logic.moment("off")
        for device in thermostats(self.job) if self.supplied else ():
            if not logic.alive(device, logic.settle(part.plan, off)[0]):
                return [
                    replace(part, owed=((off, load.name),))
                    for load in logic.loads
                    if load.equipment.id == device.id and self._supplies(load)
                ]
        for moment in moments:
            energised, _ = logic.settle(part.plan, moment)
            for function in sorted(needed[moment] - logic.running(energised, moment.states)):
                return [
                    replace(part, owed=tuple((moment, name) for name in sorted(loads)))
                    for loads in logic.ways_to_run(function, moment)
                ]
        for name, _ in logic.staying(part.plan, self.moments):
            device, undone = logic.returning[name]
            return [
                replace(part, owed=tuple((moment, load) for load in sorted(loads)))
                for moment in self.moments
                for loads in logic.ways_to(undone, device, moment)
                if name not in logic.running(logic.settle(part.plan, moment)[0], moment.states)
            ]
        for moment, allowed in self.moments.items() if logic.inverse else ():
            energised, _ = logic.settle(part.plan, moment)
            for function in sorted(self._excess(energised, moment, allowed) & logic.inverse.keys()):
                return [replace(part, owed=((moment, load),)) for load in logic.inverse[function]]
        return None

    def _supplies(self, load: Load) -> bool:
        supply = load.equipment.part.supply
        return any(item.needs is not None and load.element in item.needs.elements() for item in supply)
