"""The circuit at one moment of a played call: who calls what, which contacts stand how, which equipment has power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from callpath.calls.closing import call_rules, outputs_for, thermostats
from callpath.calls.delayed import Delayed
from callpath.circuit.build import Circuit
from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.snapshot import Snapshot, snapshots
from callpath.circuit.solve import Bools, Changes

__all__ = ["Moment", "Standing"]


@dataclass(frozen=True, eq=False)
class Moment:
    """The circuit as it has come to rest at one moment of a played call; so it stays until the next.

    ``running`` are the functions that run then, delays and all.
    """

    at_s: float
    running: tuple[str, ...]
    circuit: Circuit
    settled: Settled

    @cached_property
    def state(self) -> Snapshot:
        """The settled state, solved whole."""
        return snapshots(self.circuit, self.settled)[0]


class Standing:
    """A circuit as it stands; whoever changes something settles it anew.

    Parameters
    ----------
    circuit : Circuit
        The circuit, at rest: nobody calls, everything has power.

    Notes
    -----
    ``calls`` holds what each thermostat calls, ``contacts`` the field contacts that are closed, ``states`` the named states
    of equipment that have come round by themselves, ``dark`` the equipment without power, ``bits`` what the circuit decides.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.calls: dict[str, str] = {stat.id: "off" for stat in thermostats(circuit.job)}
        self.contacts = dict(circuit.field_contacts)
        self.states: set[str] = set()
        self.dark: set[str] = set()
        self.bits: Bools = np.zeros(len(circuit.network.bits), bool)

    @property
    def outputs(self) -> dict[str, tuple[str, ...]]:
        """The outputs that each thermostat's call asks for."""
        job = self.circuit.job
        return {stat: outputs_for(job, call, [stat]).get(stat, ()) for stat, call in self.calls.items()}

    def settle(self, delayed: Sequence[Delayed]) -> None:
        """Let everything that moves at once come to rest, the delayed contacts as they are now."""
        self._given = self._given_bits()
        live = np.array([[float(name.partition(".")[0] not in self.dark) for name in self.circuit.source_names]])
        states = States(self._given[None], live.reshape(1, -1), self._held(delayed))
        self._settled = settle(self.circuit.engine, states, start=self.bits[None])
        self.bits = self._settled.bits[0, : len(self.bits)]

    @property
    def vector(self) -> Bools:
        """The state vector that drives look at, one row."""
        return np.concatenate([self.bits, self._given])[None]

    @property
    def alive(self) -> dict[str, bool]:
        """Whether each thermostat has its supply."""
        return {stat: bool(drive(self.vector)[0]) for stat, drive in self.circuit.alive.items()}

    def snapshot(self) -> Snapshot:
        """Return the settled state, solved whole."""
        return snapshots(self.circuit, self._settled)[0]

    def moment(self, at_s: float, running: Sequence[str]) -> Moment:
        """Return how it stands now, to be looked at later."""
        return Moment(at_s, tuple(running), self.circuit, self._settled)

    def _given_bits(self) -> Bools:
        asked = {stat.id: call_rules(stat).get(self.calls[stat.id]) for stat in thermostats(self.circuit.job)}
        called = {state for rule in asked.values() if rule is not None for state in rule.states}
        given = self.circuit.given(self.outputs, sorted(called | self.states))
        for name, closed in self.contacts.items():
            given[self.circuit.network.given.index(name)] = closed
        return given

    def _held(self, delayed: Sequence[Delayed]) -> Changes:
        """Return the late contacts as they stand, whatever their drivers would have them do."""
        held = [thing for thing in delayed if thing.branch >= 0]
        branches = self.circuit.network.branches
        closed = [1 / complex(branches[thing.branch].driven_ohms or 1) for thing in held]
        siemens = [y if thing.now else 0 for thing, y in zip(held, closed, strict=True)]
        return Changes(
            np.array([[thing.branch for thing in held]], np.intp).reshape(1, len(held)),
            np.full((1, len(held)), np.nan),
            np.array([siemens], complex).reshape(1, len(held)),
        )
