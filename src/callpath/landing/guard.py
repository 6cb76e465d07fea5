"""What a repair keeps of what is wired: no safety stops less than before, no control is gone past, no machine is taken off.

The proof alone would let a repair take a float switch out of the circuit, or one of two condensers: what nothing is landed on
cannot be found idle, and no call needs it. So every switch is held to what its part says it is for and to what it did stop as
found, and every machine that the calls to serve need as found has to do something on one of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.need import Needs
from callpath.landing.asked import Ask
from callpath.landing.logic import Logic, Moment
from callpath.landing.points import Plan
from callpath.proof.prove import Proof
from callpath.proof.safety import Switch

__all__ = ["Guards", "guards_of"]


@dataclass(frozen=True)
class Guards:
    """The field contacts that something is landed on as found, and the machines that the calls to serve come to.

    Parameters
    ----------
    safeties : mapping of str to Switch
        Those that are there to stop something, as found.
    controls : tuple of str
        Those that stand in a circuit and are no safety.
    machines : mapping of str to frozenset of str
        Equipment that the calls to serve need as found, and which of its functions they need.
    """

    safeties: Mapping[str, Switch] = field(default_factory=dict)
    controls: tuple[str, ...] = ()
    machines: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def lost(self, proof: Proof) -> str:
        """Return in words what a repair, as proved, takes the work from; empty where everything keeps it."""
        idle = self._idle(name for call in proof.serves for name in proof.calls[call].running)
        if idle:
            return f"no call runs {' or '.join(sorted(idle))} any more"
        for name, found in self.safeties.items():
            if not _still_stops(found, proof.switches[name]):
                return f"{name} does not stop {' or '.join(found.held or found.guards)} any more"
        return next(
            (f"{name} governs nothing any more" for name in self.controls if not proof.switches[name].changes), ""
        )

    def idle(self, logic: Logic, plan: Plan, asks: Sequence[Ask]) -> frozenset[str]:
        """Return the machines that do nothing in all moments in which something must run, in the yes and no of ``Logic``."""
        asked = [ask.moment for ask in asks if ask.groups]
        states = ((moment, logic.settle(plan, moment)[0]) for moment in asked)
        return self._idle(name for moment, energised in states for name in logic.running(energised, moment.states))

    def _idle(self, running: Iterable[str]) -> frozenset[str]:
        return frozenset(self.machines) - {name.partition(".")[0] for name in running}

    def passed(self, logic: Logic, plan: Plan, asks: Sequence[Ask]) -> Iterator[list[tuple[Moment, str, str]]]:
        """Yield for every safety that a wiring gets past the moments in which it does, each with what runs and the open switch.

        In the yes and no of ``Logic``; one of what is yielded together must stop running in its moment.
        """
        if not self.safeties:
            return
        closed = {
            contact.name for contact in logic.contacts if contact.closed and not _moves_others(logic, contact.name)
        }
        whole = [ask.moment for ask in asks if _by_everybody(logic, ask.moment)]
        for name, found in self.safeties.items():
            if name not in closed:
                continue
            runs: dict[str, list[Moment]] = {}
            goes_on: dict[str, list[Moment]] = {}
            for moment in whole:
                for which, opened in ((runs, ()), (goes_on, (name,))):
                    running = logic.running(logic.settle(plan, moment, opened)[0], moment.states)
                    for function in running & set(found.guards):
                        which.setdefault(function, []).append(moment)
            for function in found.held:
                if function in goes_on:
                    yield [(goes_on[function][0], function, name)]
            if goes_on and set(found.guards) <= goes_on.keys():
                yield [(moments[0], function, name) for function, moments in goes_on.items()]


def _still_stops(found: Switch, now: Switch) -> bool:
    """Tell whether a safety stops all that it stopped as found, and one of what it is for, wherever that runs at all."""
    for function in found.guards:
        before = set(found.stops.get(function, ()))
        going = set(now.goes_on.get(function, ()))
        if before & going or (function in found.held and going):
            return False
    return bool(now.held) or not now.loose


def _moves_others(logic: Logic, name: str) -> bool:
    """Tell whether other contacts follow a field contact, as an alarm contact follows the one that shuts down."""
    id_, _, element = name.partition(".")
    return any(
        contact.equipment.id == id_ and contact.condition is not None and element in contact.condition.elements()
        for contact in logic.contacts
    )


def _by_everybody(logic: Logic, moment: Moment) -> bool:
    return moment.callers == tuple(stat.id for stat in thermostats(logic.job) if moment.call in call_rules(stat))


def guards_of(needs: Needs, proof: Proof, serves: Sequence[str]) -> Guards:
    """Return what a repair that serves some calls has to keep, from the proof of a job as found."""
    elements = needs.circuit.elements
    safeties, controls = {}, []
    for name, switch in proof.switches.items():
        equipment, element = elements[name]
        points = [f"{equipment.id}.{point}" for point in element.between]
        landed = [bool(needs.joins.leads(point)) for point in points if point in needs.circuit.network.node_of]
        outside = equipment.part.role == "accessory"
        if switch.guards and (any(landed) or not outside):
            safeties[name] = switch
        elif not switch.guards and outside and len(landed) == 2 and all(landed):
            controls.append(name)
    machines: dict[str, frozenset[str]] = {}
    for call in serves:
        for name in proof.calls[call].needed if call in proof.calls else ():
            id_ = name.partition(".")[0]
            machines[id_] = machines.get(id_, frozenset()) | {name}
    return Guards(safeties, tuple(controls), machines)
