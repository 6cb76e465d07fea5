"""The circuit of a job as yes and no: what is energised on a call when terminals are joined in a certain way.

A shadow of the real circuit, good for ruling out quickly what can never work: a load is energised where copper and
closed contacts join its two sides to the two sides of one source. It knows no ohms; whatever it lets through is still
proved by the engine.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

from callpath.calls.closing import call_rules, outputs_for, thermostats
from callpath.circuit.drive import called
from callpath.job.model import Equipment, Job
from callpath.landing.points import Contact, Plan, Points
from callpath.parts.model import Condition, fitted

__all__ = ["Logic", "Moment"]

_MOST_KEPT = 100_000


@dataclass(frozen=True, eq=False)
class Moment:
    """A call and who makes it; ``outputs`` are ``thermostat>output``, ``states`` those of equipment."""

    call: str
    callers: tuple[str, ...]
    outputs: frozenset[str]
    states: frozenset[str]


class Logic(Points):
    """The points of a job, and what is energised, closed and running when they are joined in a certain way."""

    def __init__(self, job: Job) -> None:
        super().__init__(job)
        self._closing: dict[tuple[Moment, frozenset[str], tuple[str, ...]], list[tuple[int, int]]] = {}
        self._running: dict[tuple[frozenset[str], frozenset[str]], frozenset[str]] = {}
        self._moments: dict[tuple[str, tuple[str, ...] | None], Moment] = {}
        self._settled: dict[tuple[Plan, Moment, tuple[str, ...]], tuple[frozenset[str], list[int]]] = {}
        self._supply_of = {device.id: _supply(device) for device in job.equipment.values()}

    def moment(self, call: str, callers: Collection[str] | None = None) -> Moment:
        """Return what a call asks for; callers are all thermostats that can make it, unless given.

        The same question gives the same object.
        """
        key = (call, None if callers is None else tuple(callers))
        if key not in self._moments:
            self._moments[key] = self._moment(call, callers)
        return self._moments[key]

    def _moment(self, call: str, callers: Collection[str] | None) -> Moment:
        asked = outputs_for(self.job, call, callers)
        rules = [call_rules(stat)[call] for stat in thermostats(self.job) if stat.id in asked]
        outputs = frozenset(called(stat, output) for stat, names in asked.items() for output in names)
        states = frozenset(state for rule in rules for state in rule.states)
        # The same moment may be asked for in other words.
        return self._moments.setdefault((call, tuple(asked)), Moment(call, tuple(asked), outputs, states))

    def resting(self, moment: Moment, opened: Collection[str] = ()) -> list[tuple[int, int]]:
        """Return the contacts that are closed at a moment with nothing energised and no thermostat closing any."""
        quiet = Moment(moment.call, moment.callers, frozenset(), moment.states)
        return [
            contact.points
            for contact in self.contacts
            if self._closed(contact, quiet, frozenset(), opened) and self._closed(contact, moment, frozenset(), opened)
        ]

    def settle(self, plan: Plan, moment: Moment, opened: tuple[str, ...] = ()) -> tuple[frozenset[str], list[int]]:
        """Return which loads are energised once nothing changes any more, and the pieces of copper then."""
        key = (plan, moment, opened)
        if key not in self._settled:
            if len(self._settled) > _MOST_KEPT:
                self._settled.clear()
            self._settled[key] = self._settle(plan, moment, opened)
        return self._settled[key]

    def _settle(self, plan: Plan, moment: Moment, opened: tuple[str, ...]) -> tuple[frozenset[str], list[int]]:
        energised: frozenset[str] = frozenset()
        for _ in range(8):
            closed = self._closed_points(moment, energised, opened)
            piece = self.pieces(plan, closed)
            live = [(piece[supply.points[0]], piece[supply.points[1]]) for supply in self.supplies]
            pairs = {*live, *((b, a) for a, b in live)}
            now = frozenset(load.name for load in self.loads if (piece[load.points[0]], piece[load.points[1]]) in pairs)
            if now == energised:
                break
            energised = now
        return energised, piece

    def _closed_points(
        self, moment: Moment, energised: frozenset[str], opened: tuple[str, ...]
    ) -> list[tuple[int, int]]:
        key = (moment, energised, opened)
        if key not in self._closing:
            self._closing[key] = [
                contact.points for contact in self.contacts if self._closed(contact, moment, energised, opened)
            ]
        return self._closing[key]

    def closing(self, plan: Plan, moment: Moment) -> list[tuple[int, int]]:
        """Return the contacts that are closed once nothing changes any more."""
        energised, _ = self.settle(plan, moment)
        return self._closed_points(moment, energised, ())

    def running(self, energised: Collection[str], states: frozenset[str] = frozenset()) -> frozenset[str]:
        """Return the functions that energised loads make run while equipment is in some states."""
        key = (frozenset(energised), states)
        if key not in self._running:
            self._running[key] = frozenset(
                f"{device.id}.{name}"
                for device in self.job.equipment.values()
                for name, function in device.part.functions.items()
                for trigger in function.triggers
                if fitted(trigger.when, device.settings)
                and self._holds(trigger.runs_when, device, key[0], frozenset(), states)
            )
        return self._running[key]

    @cached_property
    def inverse(self) -> dict[str, tuple[str, ...]]:
        """Functions that the want of a voltage makes run, each with the loads whose voltage keeps it from running."""
        found: dict[str, tuple[str, ...]] = {}
        for device in self.job.equipment.values():
            for name, function in device.part.functions.items():
                loads: dict[str, None] = {}
                for trigger in function.triggers:
                    if fitted(trigger.when, device.settings):
                        loads |= dict.fromkeys(f"{device.id}.{e}" for e in _unless(trigger.runs_when))
                if loads:
                    found[f"{device.id}.{name}"] = tuple(load for load in loads if load in self.load)
        return {name: loads for name, loads in found.items() if loads}

    @cached_property
    def returning(self) -> dict[str, tuple[Equipment, Condition]]:
        """Functions that stay until something takes them back, each with what that takes."""
        return {
            f"{device.id}.{name}": (device, function.undone_when)
            for device in self.job.equipment.values()
            for name, function in device.part.functions.items()
            if function.undone_when is not None
        }

    def staying(self, plan: Plan, moments: Collection[Moment]) -> list[tuple[str, Moment]]:
        """Return the functions that nothing takes back at any of some moments, each with one at which it runs."""
        found = []
        for name, (device, undone) in self.returning.items():
            settled = [(moment, self.settle(plan, moment)[0]) for moment in moments]
            runs = [moment for moment, on in settled if name in self.running(on, moment.states)]
            if runs and not any(self.holds(undone, device, on, moment) for moment, on in settled):
                found.append((name, runs[0]))
        return found

    @cached_property
    def breaks(self) -> bool:
        """Whether some contact opens when a load is energised: a joint more may then put right what a joint did wrong."""
        return any(_unless(contact.condition) for contact in self.contacts if contact.condition is not None)

    def supply_of(self, thermostat: Equipment) -> Condition | None:
        """Return what a thermostat must see to be alive; None where it needs nothing, or steals it through its loads."""
        return self._supply_of[thermostat.id]

    def alive(self, thermostat: Equipment, energised: Collection[str]) -> bool:
        """Tell whether a thermostat has its supply; one that steals a little through its loads is taken to have it."""
        needs = self._supply_of[thermostat.id]
        return needs is None or self._holds(needs, thermostat, energised, frozenset(), frozenset())

    def closed(self, contact: Contact, moment: Moment, energised: frozenset[str], opened: Collection[str] = ()) -> bool:
        """Tell whether a contact is closed at a moment with some loads energised and some field contacts opened."""
        return self._closed(contact, moment, energised, opened)

    def holds(self, condition: Condition, device: Equipment, energised: frozenset[str], moment: Moment) -> bool:
        """Tell whether a condition of a device holds at a moment with some loads energised."""
        return self._holds(condition, device, energised, moment.outputs, moment.states)

    def _closed(self, contact: Contact, moment: Moment, energised: frozenset[str], opened: Collection[str]) -> bool:
        if contact.condition is None:
            return contact.closed and contact.name not in opened
        return self._holds(contact.condition, contact.equipment, energised, moment.outputs, moment.states)

    def _holds(
        self,
        condition: Condition,
        device: Equipment,
        energised: Collection[str],
        outputs: frozenset[str],
        states: frozenset[str],
    ) -> bool:
        if condition.element:
            name = f"{device.id}.{condition.element}"
            return self._field.get(name, name in energised)
        if condition.output:
            return called(device.id, condition.output) in outputs and self.alive(device, energised)
        if condition.state:
            return condition.state in states
        if condition.negated:
            return not self._holds(condition.negated, device, energised, outputs, states)
        holds = (
            self._holds(part, device, energised, outputs, states) for part in (condition.all or condition.any or ())
        )
        return any(holds) if condition.any is not None else all(holds)

    # -- what must be energised -------------------------------------------------------------------------

    def ways_to(self, condition: Condition, device: Equipment, moment: Moment) -> Iterator[frozenset[str]]:
        """Yield the sets of loads, each of which is enough to make a condition hold at a moment."""
        if condition.element:
            name = f"{device.id}.{condition.element}"
            if name in self.load:
                yield frozenset((name,))
            elif self._field.get(name):
                yield frozenset()
        elif condition.output:
            if called(device.id, condition.output) in moment.outputs:
                yield frozenset()
        elif condition.state:
            if condition.state in moment.states:
                yield frozenset()
        elif condition.negated:
            if not self._holds(condition.negated, device, (), moment.outputs, moment.states):
                yield frozenset()
        elif condition.any is not None:
            for part in condition.any:
                yield from self.ways_to(part, device, moment)
        else:
            found: list[frozenset[str]] = [frozenset()]
            for part in condition.all or ():
                found = [one | two for one in found for two in self.ways_to(part, device, moment)]
            yield from found

    def ways_to_run(self, function: str, moment: Moment) -> Iterator[frozenset[str]]:
        """Yield the sets of loads, each of which is enough to run ``equipment.function``."""
        id_, _, name = function.partition(".")
        device = self.job.equipment[id_]
        for trigger in device.part.functions[name].triggers:
            if fitted(trigger.when, device.settings):
                yield from self.ways_to(trigger.runs_when, device, moment)


def _supply(device: Equipment) -> Condition | None:
    """Return what a thermostat must see to be alive; nothing where it lives on cells or steals through its loads."""
    outputs = {item.output for rule in device.part.calls.values() for item in rule.closes}
    for supply in device.part.supply:
        if fitted(supply.when, device.settings) and supply.needs is not None:
            steals = any(set(device.part.elements[name].between) & outputs for name in supply.needs.elements())
            return None if steals else supply.needs
    return None


def _unless(condition: Condition, *, negated: bool = False) -> set[str]:
    """Return the elements that a condition wants not to be energised."""
    if condition.element:
        return {condition.element} if negated else set()
    if condition.negated is not None:
        return _unless(condition.negated, negated=not negated)
    parts = condition.all or condition.any or ()
    return set().union(*(_unless(part, negated=negated) for part in parts))
