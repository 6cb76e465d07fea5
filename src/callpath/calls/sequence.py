"""The sequence of operation: what energises, closes and runs, when, why, and by which path.

Between two moments the circuit is settled as it stands, with everything that takes time held where it is; what then wants to
move is written down for later, and time jumps to the earliest of it. Coils and inputs move at once; end switches,
functions and their steps take the time that the catalogue gives.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from callpath.calls.closing import given_for, outputs_for
from callpath.circuit.build import Circuit, compile_condition
from callpath.circuit.network import Drive
from callpath.circuit.path import through
from callpath.circuit.settle import States, settle
from callpath.circuit.snapshot import Snapshot, snapshots
from callpath.circuit.solve import Bools, Changes
from callpath.errors import QuestionError, nearest
from callpath.parts.model import Step, fitted

__all__ = ["Event", "Interruption", "Safety", "safeties", "sequence"]

_LONGEST_S = 3600.0


@dataclass(frozen=True)
class Event:
    """One thing that happens.

    ``at_s`` is seconds after the call; ``where`` the element, terminal or function; ``because`` the cause in words;
    ``path`` the loop that energises it, where there is one.
    """

    at_s: float
    what: str
    where: str
    because: str
    path: tuple[str, ...] = ()


@dataclass(frozen=True)
class Interruption:
    """Something from outside meanwhile: a field contact opens or closes, or the call ends (``contact`` empty)."""

    at_s: float
    contact: str = ""
    closed: bool = False


@dataclass(frozen=True)
class Safety:
    """What a field contact stops when it opens (or starts, when it closes)."""

    contact: str
    title: str
    stops: tuple[str, ...]


def safeties(circuit: Circuit, call: str) -> list[Safety]:
    """Return for every field contact what changes in the steady state of a call when it changes over."""
    given = given_for(circuit, call)
    rows = [given]
    names = list(circuit.field_contacts)
    for name in names:
        row = given.copy()
        row[circuit.network.given.index(name)] ^= True
        rows.append(row)
    states = States(np.stack(rows), np.ones((len(rows), len(circuit.network.sources))), Changes.none(len(rows)))
    bits = settle(circuit.engine, states).bits
    running = [
        {name for name, drive in circuit.functions.items() if drive(bits[i : i + 1])[0]} for i in range(len(rows))
    ]
    return [
        Safety(name, circuit.elements[name][1].title, tuple(sorted(running[0] - running[i + 1])))
        for i, name in enumerate(names)
    ]


def sequence(
    circuit: Circuit,
    call: str,
    *,
    interruptions: Sequence[Interruption] = (),
    stopped_ago_s: float = math.inf,
) -> list[Event]:
    """Return what happens on a call, in order.

    Parameters
    ----------
    call : str
        The call; it begins at 0 s, the circuit having rested in ``off``.
    interruptions : sequence of Interruption
        What happens from outside meanwhile.
    stopped_ago_s : float
        How long before the call every compressor stopped [s].

    Raises
    ------
    QuestionError
        The call or a field contact does not exist.
    """
    for item in interruptions:
        if item.contact and item.contact not in circuit.field_contacts:
            raise QuestionError(
                f"this job has no field contact '{item.contact}'; {nearest(item.contact, circuit.field_contacts)}"
            )
    return _Timeline(circuit, call, stopped_ago_s).run(sorted(interruptions, key=lambda item: item.at_s))


@dataclass
class _Delayed:
    """A contact that follows its driver late, or one trigger of a function with its delays and steps."""

    name: str
    drive: Drive
    on_s: float
    off_s: float
    function: str = ""
    steps: tuple[Step, ...] = ()
    drivers: tuple[str, ...] = ()
    branch: int = -1
    now: bool = False
    wants: bool = False
    ticket: int = 0


@dataclass
class _Timeline:
    circuit: Circuit
    call: str
    stopped_ago_s: float
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        network = self.circuit.network
        self.place = network.bit_index
        self.given = given_for(self.circuit, "off")
        self.bits = np.zeros(len(network.bits), bool)
        self.delayed = list(self._late_things())
        self.queue: list[tuple[float, int, str, _Delayed | None, int, str]] = []
        self.order = itertools.count()
        self.running: set[str] = set()
        self.stopped_at: dict[str, float] = {}
        self.because = ""
        self._settle()
        for thing in self.delayed:
            thing.now = thing.wants = bool(thing.drive(self._vector())[0])
        self.running = self._running()

    def _late_things(self) -> Iterator[_Delayed]:
        circuit = self.circuit
        for name, (equipment, element) in circuit.elements.items():
            if element.on_delay_s is not None and element.closed_when is not None:
                drive = compile_condition(element.closed_when, equipment, self.place)
                off = element.off_delay_s
                yield _Delayed(
                    name,
                    drive,
                    element.on_delay_s.resolve(equipment.settings) or 0.0,
                    (off.resolve(equipment.settings) if off else None) or 0.0,
                    branch=circuit.network.index[name],
                    drivers=tuple(f"{equipment.id}.{e}" for e in sorted(element.closed_when.elements())),
                )
        for equipment in circuit.job.equipment.values():
            for name, function in equipment.part.functions.items():
                for trigger in function.triggers:
                    if fitted(trigger.when, equipment.settings):
                        on, off = trigger.on_delay_s, trigger.off_delay_s
                        shown = [
                            f"{equipment.id}.{e}"
                            for e in sorted(trigger.runs_when.elements())
                            if not equipment.part.elements[e].hidden
                        ]
                        yield _Delayed(
                            f"{equipment.id}.{name}",
                            compile_condition(trigger.runs_when, equipment, self.place),
                            (on.resolve(equipment.settings) if on else None) or 0.0,
                            (off.resolve(equipment.settings) if off else None) or 0.0,
                            function=f"{equipment.id}.{name}",
                            steps=trigger.steps,
                            drivers=tuple(shown),
                        )

    def run(self, interruptions: Sequence[Interruption]) -> list[Event]:
        """Play the call and what interrupts it, until nothing is left to happen."""
        self._say(0.0, f"the call is '{self.call}'", "thermostat", "the room asks for it")
        self.given = given_for(self.circuit, self.call)
        self.because = f"the call '{self.call}'"
        self._closings(0.0, self.call)
        self._advance(0.0)
        for item in interruptions:
            heapq.heappush(
                self.queue, (item.at_s, next(self.order), "outside", None, 0, item.contact + "|" * item.closed)
            )
        while self.queue:
            at, _, kind, thing, ticket, text = heapq.heappop(self.queue)
            if at > _LONGEST_S or (thing is not None and ticket != thing.ticket):
                continue
            if kind == "outside":
                self._outside(at, text)
            elif kind == "step" and thing is not None:
                self._say(at, text, thing.function, f"{', '.join(thing.drivers)} energised")
            elif thing is not None:
                self._move(at, thing)
        return self.events

    # -- moments ---------------------------------------------------------------------------------------------

    def _outside(self, at: float, text: str) -> None:
        contact, closed = text.rstrip("|"), text.endswith("|")
        if contact:
            self.given[self.circuit.network.given.index(contact)] = closed
            word = "closes" if closed else "opens"
            title = self.circuit.elements[contact][1].title
            self._say(at, f"{title} {word}", contact, "from outside the circuit")
            self.because = f"{contact} {word}"
        else:
            self._say(at, f"the call '{self.call}' ends", "thermostat", "the room is satisfied")
            place = self.circuit.network.given
            held = {name: bool(self.given[place.index(name)]) for name in self.circuit.field_contacts}
            self.given = given_for(self.circuit, "off")
            for name, value in held.items():
                self.given[place.index(name)] = value
            self.because = "the call has ended"
        self._advance(at)

    def _move(self, at: float, thing: _Delayed) -> None:
        thing.now = thing.wants
        if thing.function:
            self._functions(at, thing)
        else:
            title = self.circuit.elements[thing.name][1].title
            driver = ", ".join(thing.drivers)
            self._say(
                at,
                f"{title} {'closes' if thing.now else 'opens'}",
                thing.name,
                f"{driver} {'on' if thing.now else 'off'} long enough",
            )
            self.because = f"{thing.name} has {'closed' if thing.now else 'opened'}"
            self._advance(at)

    def _functions(self, at: float, thing: _Delayed) -> None:
        before, self.running = self.running, self._running()
        equipment, _, name = thing.function.partition(".")
        told = self.circuit.job.equipment[equipment].part.functions[name]
        cause = ", ".join(thing.drivers) or "its control"
        if thing.function in self.running - before:
            state = self._snapshot()
            branch = self.circuit.network.index.get(thing.drivers[0]) if thing.drivers else None
            late = f", {thing.on_s:g} s later" if thing.on_s else ""
            self._say(
                at,
                told.runs,
                thing.function,
                f"{cause} energised{late}",
                through(state, branch) if branch is not None else (),
            )
        elif thing.function in before - self.running:
            self.stopped_at[thing.function] = at
            late = f", {thing.off_s:g} s later" if thing.off_s else ""
            self._say(at, told.rests, thing.function, f"{cause} de-energised{late}")

    def _closings(self, at: float, call: str) -> None:
        place = self.circuit.network.bit_index
        for stat, outputs in outputs_for(self.circuit.job, call).items():
            alive = self.circuit.alive[stat](self._vector())[0]
            for output in outputs:
                if alive and f"{stat}>{output}" in place:
                    self._say(at, f"{stat} closes {output}", f"{stat}.{output}", f"the call '{call}'")
            if not alive:
                self._say(at, f"{stat} closes nothing", stat, "it has no supply of its own")

    def _advance(self, at: float) -> None:
        """Settle the circuit as it stands now, tell what moved at once, and write down what will move later."""
        before, alive = self.bits.copy(), self._alive()
        self._settle()
        self._tell_moves(at, before)
        for stat, now in self._alive().items():
            if now != alive[stat]:
                what = "has its supply and works" if now else "loses its supply and lets go of everything"
                self._say(at, f"{stat} {what}", stat, self.because)
        for thing in self.delayed:
            wants = bool(thing.drive(self._vector())[0])
            if wants == thing.wants:
                continue
            thing.wants = wants
            thing.ticket += 1
            if wants == thing.now:
                continue
            due = at + (thing.on_s if wants else thing.off_s)
            if wants and thing.function:
                due = max(due, self._earliest_start(at, thing))
                for step in thing.steps:
                    heapq.heappush(
                        self.queue, (at + step.after_s, next(self.order), "step", thing, thing.ticket, step.what)
                    )
            heapq.heappush(self.queue, (due, next(self.order), "move", thing, thing.ticket, ""))

    def _earliest_start(self, at: float, thing: _Delayed) -> float:
        equipment, _, name = thing.function.partition(".")
        rest = self.circuit.job.equipment[equipment].part.functions[name].minimum_off_s
        seconds = (rest.resolve(self.circuit.job.equipment[equipment].settings) if rest else None) or 0.0
        since = self.stopped_at.get(thing.function, -self.stopped_ago_s)
        due = since + seconds
        if due > at:
            self._say(
                at,
                "short-cycle protection holds it back",
                thing.function,
                f"it stopped {at - since:.0f} s ago and must rest {seconds:.0f} s, until {due:.0f} s",
            )
        return due

    def _tell_moves(self, at: float, before: Bools) -> None:
        network = self.circuit.network
        moved = np.flatnonzero(before != self.bits)
        if not len(moved):
            return
        state = self._snapshot()
        for i in moved:
            bit = network.bits[i]
            equipment, element = self.circuit.elements[bit.name]
            if element.hidden or (equipment.part.calls and element.kind == "load"):
                continue
            title = element.title or bit.name
            if bit.sense != "volts":
                self._say(at, f"{title} opens", bit.name, f"too much current after {self.because}")
                continue
            on = bool(self.bits[i])
            word = {"coil": ("pulls in", "drops out")}.get(element.kind, ("energised", "de-energised"))[0 if on else 1]
            volts = f", {abs(state.volts[bit.branch]):.1f} V" if on else ""
            self._say(
                at, f"{title} {word}", bit.name, f"{self.because}{volts}", through(state, bit.branch) if on else ()
            )

    # -- the circuit as it stands -------------------------------------------------------------------------------

    def _changes(self) -> Changes:
        held = [thing for thing in self.delayed if thing.branch >= 0]
        network = self.circuit.network
        closed = [1 / complex(network.branches[thing.branch].driven_ohms or 1) for thing in held]
        return Changes(
            np.array([[thing.branch for thing in held]], np.intp).reshape(1, len(held)),
            np.full((1, len(held)), np.nan),
            np.array([[y if thing.now else 0 for thing, y in zip(held, closed, strict=True)]], complex).reshape(
                1, len(held)
            ),
        )

    def _states(self) -> States:
        return States(self.given[None], np.ones((1, len(self.circuit.network.sources))), self._changes())

    def _settle(self) -> None:
        settled = settle(self.circuit.engine, self._states(), start=self.bits[None])
        self.bits = settled.bits[0, : len(self.bits)]
        self._settled = settled

    def _snapshot(self) -> Snapshot:
        return snapshots(self.circuit, self._settled)[0]

    def _vector(self) -> Bools:
        return np.concatenate([self.bits, self.given])[None]

    def _alive(self) -> dict[str, bool]:
        return {stat: bool(drive(self._vector())[0]) for stat, drive in self.circuit.alive.items()}

    def _running(self) -> set[str]:
        return {thing.function for thing in self.delayed if thing.function and thing.now}

    def _say(self, at: float, what: str, where: str, because: str, path: tuple[str, ...] = ()) -> None:
        self.events.append(Event(round(at, 3), what, where, because, path))
