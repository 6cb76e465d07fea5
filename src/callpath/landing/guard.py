"""What a repair keeps of the switches that stand in the wiring: no safety stops less than before, no control is gone past.

The proof alone would let a repair take a float switch out of the circuit: what nothing is landed on cannot be found idle. So
every switch is held to what its part says it is for, and to what it did stop as found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
    """The field contacts that something is landed on as found.

    Parameters
    ----------
    safeties : mapping of str to Switch
        Those that are there to stop something, as found.
    controls : tuple of str
        Those that stand in a circuit and are no safety.
    """

    safeties: Mapping[str, Switch] = field(default_factory=dict)
    controls: tuple[str, ...] = ()

    def lost(self, proof: Proof) -> str:
        """Return in words which switch a repair, as proved, takes the work from; empty where every one keeps it."""
        for name, found in self.safeties.items():
            if not _still_stops(found, proof.switches[name]):
                return f"{name} does not stop {' or '.join(found.held or found.guards)} any more"
        return next(
            (f"{name} governs nothing any more" for name in self.controls if not proof.switches[name].changes), ""
        )

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


def guards_of(needs: Needs, proof: Proof) -> Guards:
    """Return the switches that a repair has to keep, from the proof of a job as found."""
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
    return Guards(safeties, tuple(controls))
