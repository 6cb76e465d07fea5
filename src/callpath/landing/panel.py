"""Several thermostats on one zone panel: what is joined to what, zone by zone, and then from the panel on.

A panel's part says which of its terminals go to one device. Each zone's thermostat and valve are joined to their group by what
the terminals mean. What the panel then closes on each call makes it the one thermostat of the equipment, and the equipment is
landed with that thermostat by the whole search. All of it together is one plan, which is carried and proved like any other.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from callpath.calls.closing import call_rules, outputs_for, thermostats
from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job.model import Equipment, Job, Landing
from callpath.landing.demand import Demands
from callpath.landing.logic import Logic, Moment
from callpath.landing.points import Contact, Plan
from callpath.parts.model import CallRule, Calls, Condition, Panel, Part, Terminal

__all__ = ["Panelled", "panelled", "shared_panel"]

_MOST_ORDERS = 24
_HANDED_ON = {"pass", "coil", "dry", "metal"}

_Joint = tuple[int, int]


@dataclass(frozen=True)
class Panelled:
    """A plan for a panel's job: the terminals that it joins, what runs by it, and the safety switches that it leads through."""

    plan: Plan
    runs: int
    switches: tuple[Contact, ...]


def shared_panel(job: Job) -> Equipment | None:
    """Return the one panel that all thermostats of a job can share, if there is one."""
    found = [device for device in job.equipment.values() if device.part.panel is not None]
    return found[0] if len(found) == 1 and len(thermostats(job)) <= len(_of(found[0]).zones) else None


def panelled(
    demands: Demands, panel: Equipment, wanted: Sequence[str], land: Callable[[Job], Job]
) -> Callable[[Sequence[str]], Panelled | None]:
    """Return what gives the plan that serves some calls, None where there is none.

    Parameters
    ----------
    demands : Demands
        What the job's calls demand, and what is fixed.
    wanted : sequence of str
        All calls that may be asked for.
    land : callable
        Lands a job of one thermostat and returns it landed.
    """
    work = _Panel(demands, panel)
    orders = itertools.islice(itertools.permutations(range(len(_of(panel).zones)), len(work.stats)), _MOST_ORDERS)
    for order in orders:
        zoned = work.zoned(order)
        outputs = work.outputs(zoned, wanted) if work.sound(zoned) else None
        if outputs is None:
            continue
        onward = work.onward(land, outputs)
        for joints in (work.guarded([*zoned, *onward]), [*zoned, *onward]):
            whole = work.whole(joints, [call for call in wanted if call in outputs])
            if whole is not None:
                return partial(work.whole, joints)
    return lambda serves: None


def _of(device: Equipment) -> Panel:
    assert device.part.panel is not None
    return device.part.panel


class _Panel:
    """One panel and what can be joined to it."""

    def __init__(self, demands: Demands, panel: Equipment) -> None:
        self.demands = demands
        self.logic: Logic = demands.logic
        self.job = demands.job
        self.device = panel
        self.groups = _of(panel)
        self.stats = thermostats(self.job)
        self.openers = [device for device in self.job.equipment.values() if "open" in device.part.functions]
        self.switches = [contact for contact in demands.free_switches if contact.equipment.at == panel.at]

    # -- the zones --------------------------------------------------------------------------------------

    def zoned(self, order: Sequence[int]) -> list[_Joint]:
        """Return the joints of the zones: of every thermostat with its zone, and of every valve with one, in order."""
        joints: list[_Joint] = []
        openers = list(self.openers)
        for stat, zone in zip(self.stats, order, strict=True):
            joints += self._matched(self.groups.zones[zone].thermostat, stat)
            if openers and self.groups.zones[zone].opens:
                joints += self._matched(self.groups.zones[zone].opens, openers.pop(0))
        return joints

    def _matched(self, group: Sequence[str], device: Equipment) -> list[_Joint]:
        """Return what is joined between a group and a device: like to like, and what only hands on in the order it stands."""
        logic = self.logic
        ours = [logic.place[f"{self.device.id}.{letters}"] for letters in group]
        theirs = [
            logic.place[f"{device.id}.{letters}"]
            for letters, terminal in device.part.terminals.items()
            if terminal.signal == "24v-on-off" and "metal" not in terminal.means
        ]
        joints: list[_Joint] = []
        for other in theirs:
            like = [own for own in ours if logic.means[own] & logic.means[other] - _HANDED_ON]
            fresh = [own for own in like if own not in {one for one, _ in joints}]
            joints += [(own, other) for own in (fresh or like)[:1]]
        for own in ours:
            if own not in {one for one, _ in joints}:
                left = [other for other in theirs if other not in {two for _, two in joints}]
                joints += [(own, other) for other in left if logic.means[own] & logic.means[other]][:1]
        return joints

    # -- what is asked ----------------------------------------------------------------------------------

    def joined(self, joints: Iterable[_Joint]) -> Plan:
        """Return the plan of some joints over what is fixed."""
        plan = self.demands.base
        for one, two in joints:
            plan = self.logic.joined(plan, one, two)
        return plan

    def sound(self, joints: Sequence[_Joint]) -> bool:
        """Tell whether some joints short and run nothing that they must not, and leave the zones apart, whoever calls beside."""
        plan = self.joined(joints)
        opened: dict[str, str] = {}
        for stat, call in self._alone():
            together = self._running(plan, self.logic.moment(call))
            for name in self._running(plan, self.logic.moment(call, (stat,))):
                if name.endswith(".open") and (opened.setdefault(name, stat) != stat or name not in together):
                    return False
        return self.demands.sound(plan)

    def _alone(self) -> Iterator[tuple[str, str]]:
        for stat in self.stats:
            for call in call_rules(stat):
                if call in self.demands.calls:
                    yield stat.id, call

    def _running(self, plan: Plan, moment: Moment) -> frozenset[str]:
        return self.logic.running(self.logic.settle(plan, moment)[0], moment.states)

    def outputs(self, joints: Sequence[_Joint], wanted: Sequence[str]) -> dict[str, frozenset[str]] | None:
        """Return the contacts for the equipment that the panel closes on each call; None where zones differ in that."""
        plan = self.joined(joints)
        found: dict[str, frozenset[str]] = {}
        for stat, call in self._alone():
            moment = self.logic.moment(call, (stat,))
            energised, _ = self.logic.settle(plan, moment)
            closed = frozenset(
                contact.name for contact in self._contacts() if self.logic.closed(contact, moment, energised)
            )
            if call in wanted and found.setdefault(call, closed) != closed:
                return None
        return {call: closed for call, closed in found.items() if closed}

    def _contacts(self) -> list[Contact]:
        inside = {self.logic.place[f"{self.device.id}.{letters}"] for letters in self.groups.equipment}
        return [contact for contact in self.logic.contacts if set(contact.points) <= inside]

    # -- from the panel on ------------------------------------------------------------------------------

    def onward(self, land: Callable[[Job], Job], outputs: Mapping[str, frozenset[str]]) -> list[_Joint]:
        """Return the joints of the equipment, landed with the panel in the place of its thermostat."""
        standing_in = replace(self.device, part=self._as_thermostat(outputs), settings={})
        zones = {device.id for device in (*self.stats, *self.openers)}
        compressors = any("compressor" in device.part.functions for device in self.job.equipment.values())
        stops = {c.equipment.id for c in self.demands.floats} if compressors else set[str]()
        equipment = {
            id_: standing_in if id_ == self.device.id else device
            for id_, device in self.job.equipment.items()
            if id_ not in zones and (id_ in stops or id_ not in {c.equipment.id for c in self.switches})
        }
        landed = Logic(land(replace(_within(self.job, equipment), serves=tuple(outputs))))
        joints = []
        for net in landed.nets(landed.wired):
            names = sorted(
                (landed.terminals[i] for i in net), key=lambda name: name.partition(".")[0] != self.device.id
            )
            first, *others = (self.logic.place[name] for name in names)
            joints += [(first, other) for other in others if self.demands.base[first] != self.demands.base[other]]
        return joints

    def _as_thermostat(self, outputs: Mapping[str, frozenset[str]]) -> Part:
        """Return the panel's contacts for the equipment as a thermostat that makes the same calls."""
        part = self.device.part
        elements, terminals = {}, {letters: part.terminals[letters] for letters in self.groups.equipment}
        leads: dict[str, str] = {}
        for contact in self._contacts():
            name = contact.name.partition(".")[2]
            element = part.elements[name]
            feeds, fed = element.between
            if "power" in terminals[fed].means:
                feeds, fed = fed, feeds
            elements[name] = element.model_copy(update={"closed_when": Condition(output=fed)})
            leads[contact.name] = fed
            if set(terminals[fed].means) <= _HANDED_ON:
                purposes = self._purposes(call for call, closed in outputs.items() if contact.name in closed)
                terminals[feeds] = Terminal(means=("power", *terminals[feeds].means))
                terminals[fed] = Terminal(means=(*purposes, *terminals[fed].means))
        calls = {
            call: CallRule(
                closes=tuple(Calls(output=leads[name]) for name in sorted(closed)),
                runs=next((rule.runs for stat in self.stats if (rule := call_rules(stat).get(call))), ()),
            )
            for call, closed in outputs.items()
        }
        return Part(
            part=part.part, title=part.title, role="thermostat", terminals=terminals, elements=elements, calls=calls
        )

    def _purposes(self, calls: Iterable[str]) -> list[str]:
        """Return what the outputs mean that thermostats close on some calls."""
        found: dict[str, None] = {}
        for call in calls:
            for stat, outputs in outputs_for(self.job, call).items():
                for output in outputs:
                    found |= dict.fromkeys(self.job.equipment[stat].part.terminals[output].means)
        return [purpose for purpose in found if purpose not in _HANDED_ON]

    # -- safeties ---------------------------------------------------------------------------------------

    def guarded(self, joints: list[_Joint]) -> list[_Joint]:
        """Return the joints led through the safety switches that no compressor needs, so that each stops all heat."""
        plan = self.joined(joints)
        switches = [switch for switch in self.switches if not self._lies_in(plan, switch)]
        own = {self.logic.place[f"{self.device.id}.{letters}"] for letters in self.groups.equipment}
        ways = sorted(
            (joint for joint in joints if len(own & set(joint)) == 1),
            key=lambda joint: ("power" in self.logic.means[joint[0]], "power" in self.logic.means[joint[1]]),
        )
        for one, two in ways if switches else ():
            led = [joint for joint in joints if joint != (one, two)]
            for switch in switches:
                led.append((one, switch.points[0]))
                one = switch.points[1]
            led.append((one, two))
            if self._stopped(self.joined(led), plan, switches):
                return led
        return joints

    def _lies_in(self, plan: Plan, switch: Contact) -> bool:
        return any(plan.count(plan[point]) > 1 for point in switch.points)

    def _stopped(self, plan: Plan, before: Plan, switches: Sequence[Contact]) -> bool:
        """Tell whether everything still runs, and no heat with any of some switches open."""
        for moment in self.demands.moments:
            if self._running(plan, moment) != self._running(before, moment):
                return False
            for switch in switches:
                running = self.logic.running(self.logic.settle(plan, moment, (switch.name,))[0], moment.states)
                if any(name.endswith(".heat") for name in running):
                    return False
        return True

    # -- the whole --------------------------------------------------------------------------------------

    def whole(self, joints: Sequence[_Joint], serves: Sequence[str]) -> Panelled | None:
        """Return the plan of some joints without those that no call needs; None where it does not serve the calls."""
        asked = self._asked(joints, serves)
        kept = list(joints)
        if not self._right(self.joined(kept), asked):
            return None
        for joint in reversed(joints):
            fewer = [other for other in kept if other != joint]
            if self._right(self.joined(fewer), asked):
                kept = fewer
        plan = self.joined(kept)
        moments = [self.logic.moment(call) for call in serves]
        runs = sum(len(self._running(plan, moment) & self.demands.moments[moment]) for moment in moments)
        switches = tuple(s for s in self.switches if self._lies_in(plan, s))
        return Panelled(plan, runs, switches)

    def _asked(self, joints: Sequence[_Joint], serves: Sequence[str]) -> dict[Moment, frozenset[str]]:
        """Return what every thermostat's calls must run once everything is joined."""
        names = self.logic.terminals
        jumpers = tuple((names[one], names[two]) for one, two in joints)
        needs = Needs(build(replace(self.job, jumpers=(*self.job.jumpers, *jumpers))))
        return {
            moment: needs.must_run(moment.call, moment.callers)
            for moment in self.demands.moments
            if moment.call in serves
        }

    def _right(self, plan: Plan, asked: Mapping[Moment, frozenset[str]]) -> bool:
        off = self.logic.settle(plan, self.logic.moment("off"))[0]
        alive = not self.demands.supplied or all(self.logic.alive(stat, off) for stat in self.stats)
        return (
            alive
            and all(needed <= self._running(plan, moment) for moment, needed in asked.items())
            and not self.logic.staying(plan, self.demands.moments)
            and self.demands.sound(plan)
        )


def _within(job: Job, equipment: Mapping[str, Equipment]) -> Job:
    """Return the part of a job that some of its equipment is landed in, with what is fixed there."""
    at = {device.at for device in equipment.values()}
    cables, landings = {}, dict[str, Landing]()
    for cable in job.cables.values():
        names = {colour: f"{cable.id}.{colour}" for colour in cable.conductors}
        kept = [
            colour
            for colour, name in names.items()
            if all(
                end is None or end in job.splices or end.partition(".")[0] in equipment for end in job.landings[name]
            )
        ]
        if set(cable.between) <= at and kept:
            cables[cable.id] = replace(cable, conductors=tuple(kept))
            landings |= {names[colour]: job.landings[names[colour]] for colour in kept}
    used = {end for ends in landings.values() for end in ends}
    return replace(
        job,
        equipment=equipment,
        cables=cables,
        landings=landings,
        splices={name: where for name, where in job.splices.items() if name in used},
        jumpers=tuple(pair for pair in job.jumpers if all(end.partition(".")[0] in equipment for end in pair)),
        contacts={name: closed for name, closed in job.contacts.items() if name.partition(".")[0] in equipment},
        faults=tuple(fault for fault in job.faults if fault.kind == "open" and fault.where[0] in landings),
    )
