"""What every field contact stops when it opens: a safety must stop what its part says, and a control must change something.

A float switch with its leads joined past it looks right and protects nobody. One in the fan lead is worse: it opens,
something stops, and the compressor goes on making water.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from callpath.circuit.build import Circuit
from callpath.proof.finding import Finding
from callpath.proof.states import Case, Examined

__all__ = ["Switch", "guarded_by", "idle_safeties", "switches"]

_Runs = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Switch:
    """What one field contact does, everybody calling and every source live.

    Attributes
    ----------
    name : str
        The contact, ``equipment.element``.
    guards : tuple of str
        For a safety, the functions one of which it is there to stop; empty for a control.
    stops : mapping
        By function, the calls on which it runs with the contact closed and not with it open.
    goes_on : mapping
        By function, the calls on which it runs with the contact open.
    changes : bool
        Whether opening it changes anything that runs on any call.
    """

    name: str
    guards: tuple[str, ...]
    stops: _Runs
    goes_on: _Runs
    changes: bool

    @property
    def held(self) -> tuple[str, ...]:
        """The functions to guard that run with it closed, and on no call with it open."""
        return tuple(name for name in self.guards if name in self.stops and name not in self.goes_on)

    @property
    def loose(self) -> tuple[str, ...]:
        """The functions to guard that run on some call with it open."""
        return tuple(name for name in self.guards if name in self.goes_on)


def guarded_by(circuit: Circuit, name: str) -> tuple[str, ...]:
    """Return the functions of a job one of which a field contact is there to stop; none for a control.

    Where the job has no such function, anything counts: the float of a furnace that only heats stops its burner.
    """
    kinds = circuit.elements[name][1].stops
    asked = tuple(function for kind in kinds for function in circuit.functions if function.partition(".")[2] == kind)
    return asked or (tuple(circuit.functions) if kinds else ())


def switches(examined: Examined) -> dict[str, Switch]:
    """Return what every field contact of a job does when it opens.

    Notes
    -----
    Each is looked at closed and open, however it stands: a proving switch rests open, and a float may have tripped.
    """
    circuit = examined.circuit
    found = {}
    whole = [case for case in examined.cases if case.everybody]
    for name in circuit.field_contacts:
        stops: dict[str, list[str]] = {}
        goes_on: dict[str, list[str]] = {}
        changes = False
        for case in whole:
            plain, flipped = (examined.running[i] for i in _closed_and_open(examined, case, name))
            changes = changes or not np.array_equal(plain, flipped)
            for function, closed, opened in zip(circuit.functions, plain, flipped, strict=True):
                if opened:
                    goes_on.setdefault(function, []).append(case.call)
                elif closed:
                    stops.setdefault(function, []).append(case.call)
        found[name] = Switch(name, guarded_by(circuit, name), _whole(stops), _whole(goes_on), changes)
    return found


def _whole(calls_of: dict[str, list[str]]) -> _Runs:
    return {function: tuple(calls) for function, calls in calls_of.items()}


def _closed_and_open(examined: Examined, case: Case, name: str) -> tuple[int, int]:
    """Return the states of a call that have one contact closed and open, with nothing else away from the plain state."""
    place = examined.circuit.network.given.index(name)
    states = examined.settled.states
    first, end = case.first, case.first + case.count
    wanted = states.given[first].copy()
    wanted[place] ^= True
    alike = (states.given[first:end] == wanted).all(axis=1) & (states.live[first:end] == 1).all(axis=1)
    flipped = first + int(np.flatnonzero(alike)[0])
    return (first, flipped) if states.given[first, place] else (flipped, first)


def idle_safeties(examined: Examined) -> Iterator[Finding]:
    """A safety that is wired and does not stop what it is there to stop, and a control that is wired and changes nothing.

    Of a job that does not run what it needs nothing is said: what is dead cannot show what would stop it.
    """
    circuit = examined.circuit
    for name, switch in switches(examined).items():
        equipment, element = circuit.elements[name]
        ends = [f"{equipment.id}.{point}" for point in element.between]
        landed = [end for end in ends if end in circuit.network.node_of and examined.needs.joins.leads(end)]
        outside = equipment.part.role == "accessory"
        if outside and not landed:
            continue
        leads = sorted({conductor for end in landed for conductor in examined.needs.joins.conductors_at(end)})
        where = (name, *leads) if outside else (name,)
        stuck = circuit.network.branches[circuit.network.index[name]].drive is None
        if switch.guards:
            if switch.loose and not switch.held and not _dead(examined, switch.guards):
                yield _idle(examined, switch, where, ends, stuck=stuck)
        elif outside and not switch.changes and not _dead(examined, tuple(circuit.functions)):
            past = "its contact stays closed" if stuck else "current goes past it, or none comes to it"
            yield Finding(
                "idle-control",
                "weak",
                tuple(call for call in examined.calls if examined.plain[call].running),
                where,
                (),
                f"{name} ({element.title}) is wired and changes nothing on any call, open or closed: {past}",
                f"replace {name}" if stuck else _series("what it governs", ends),
            )


def _dead(examined: Examined, functions: tuple[str, ...]) -> bool:
    """Tell whether one of some functions does not run on a call to serve that needs it."""
    return any(
        function in examined.needs.must_run(call) and function not in examined.plain[call].running
        for call in examined.needs.serves()
        if call in examined.plain
        for function in functions
    )


def _idle(examined: Examined, switch: Switch, where: tuple[str, ...], ends: list[str], *, stuck: bool) -> Finding:
    element = examined.circuit.elements[switch.name][1]
    going = {call for function in switch.loose for call in switch.goes_on[function]}
    calls = tuple(call for call in examined.calls if call in going)
    on = ", ".join(f"'{call}'" for call in calls)
    goes_on = f"{' and '.join(switch.loose)} {'goes' if len(switch.loose) == 1 else 'go'} on running on {on}"
    if not switch.stops:
        past = "its contact stays closed" if stuck else "current goes past it"
        told = f"is wired and stops nothing when it opens: {past}, and {goes_on}"
    elif set(switch.stops) <= set(switch.loose):
        told = f"stops {' and '.join(switch.stops)} on some calls only when it opens: {goes_on}"
    else:
        told = f"is there to stop {' or '.join(switch.guards)} and stops only {', '.join(switch.stops)} when it opens: {goes_on}"
    wanted = " or ".join(switch.guards)
    remedy = f"replace {switch.name}" if stuck else _series(f"what energises {wanted}", ends)
    return Finding("idle-safety", "weak", calls, where, (), f"{switch.name} ({element.title}) {told}", remedy)


def _series(what: str, ends: list[str]) -> str:
    return f"put it in series: {what} has to go through {' and '.join(ends)}, and no other way"
