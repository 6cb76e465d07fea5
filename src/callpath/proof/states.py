"""The states that a proof examines: every call, every combination of field contacts, every subset of live sources."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from callpath.calls.closing import call_rules, calls_of_job, given_for, outputs_for, thermostats
from callpath.calls.need import Needs
from callpath.circuit.build import Circuit
from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.snapshot import Snapshot, snapshots
from callpath.circuit.solve import Bools, Changes, Ints

__all__ = ["MOST_STATES", "Case", "Examined", "examine"]

MOST_STATES = 4096
"""More states than this are not all examined: contacts and sources then change one or two at a time."""
_MOST_CALLERS = 4


@dataclass(frozen=True)
class Case:
    """A call and the thermostats that make it; ``first`` is where its states begin, the plain one first."""

    call: str
    callers: tuple[str, ...]
    everybody: bool
    first: int
    count: int


@dataclass(frozen=True)
class Examined:
    """Every examined state, settled.

    ``case_of`` (states,) says which case each state belongs to. The first state of a case has field contacts as the job
    gives them and every source live. ``bounded`` says in words what was left out, empty where nothing was.
    """

    circuit: Circuit
    needs: Needs
    cases: tuple[Case, ...]
    settled: Settled
    case_of: Ints
    bounded: str

    @property
    def calls(self) -> tuple[str, ...]:
        """The calls, in order."""
        return tuple(case.call for case in self.cases if case.everybody)

    @cached_property
    def plain(self) -> dict[str, Snapshot]:
        """Per call: everybody calls, field contacts as given, every source live."""
        cases = [case for case in self.cases if case.everybody]
        found = snapshots(self.circuit, self.settled, members=np.array([case.first for case in cases]))
        return {case.call: state for case, state in zip(cases, found, strict=True)}

    @cached_property
    def alone(self) -> dict[tuple[str, str], Snapshot]:
        """Per call and thermostat, where several can make the call: that one alone calls, else as ``plain``."""
        cases = [case for case in self.cases if not case.everybody and len(case.callers) == 1]
        found = snapshots(self.circuit, self.settled, members=np.array([case.first for case in cases], np.intp))
        return {(case.call, case.callers[0]): state for case, state in zip(cases, found, strict=True)}

    @cached_property
    def plain_before_fuse(self) -> dict[str, Snapshot]:
        """The same, while every fuse and source was still whole."""
        cases = [case for case in self.cases if case.everybody]
        found = snapshots(self.circuit, self.settled, "before_fuse", np.array([case.first for case in cases]))
        return {case.call: state for case, state in zip(cases, found, strict=True)}

    def snapshot(self, state: int, which: str = "bits") -> Snapshot:
        """Return one examined state, solved whole."""
        return snapshots(self.circuit, self.settled, which, np.array([state]))[0]

    @cached_property
    def running(self) -> Bools:
        """Which functions run, shape (states, functions), in the order of ``circuit.functions``."""
        bits = self.settled.bits
        return (
            np.stack([drive(bits) for drive in self.circuit.functions.values()], axis=1)
            if self.circuit.functions
            else (np.zeros((len(bits), 0), bool))
        )

    @cached_property
    def opened(self) -> Bools:
        """Which fuses opened and sources burned, shape (states, bits)."""
        kinds = np.array([bit.sense != "volts" for bit in self.circuit.network.bits], bool)
        opened: Bools = self.settled.bits[:, : len(kinds)] & kinds
        return opened

    @cached_property
    def rows(self) -> tuple[Bools, Ints]:
        """Every setting of contacts, coils and fuses met: all steady states, then those before a fuse; and whose each is."""
        network = self.circuit.network
        blown = np.flatnonzero((self.settled.bits != self.settled.before_fuse).any(axis=1))
        rows = [network.drive_rows(self.settled.bits), network.drive_rows(self.settled.before_fuse[blown])]
        return np.concatenate(rows), np.concatenate([np.arange(len(self.settled.bits)), blown])

    def purposes(self, call: str) -> frozenset[str]:
        """Return what the outputs that a call closes mean."""
        job = self.circuit.job
        return frozenset(
            purpose
            for stat, outputs in outputs_for(job, call).items()
            for output in outputs
            for purpose in job.equipment[stat].part.terminals[output].means
        )

    def calls_of(self, states: Sequence[int] | Ints | Bools) -> tuple[str, ...]:
        """Return the calls that some states belong to, in order."""
        cases = set(np.unique(self.case_of[states]).tolist())
        found = {self.cases[i].call for i in cases}
        return tuple(call for call in self.calls if call in found)


def examine(circuit: Circuit) -> Examined:
    """Settle every state that a proof looks at, in one batch."""
    needs = Needs(circuit)
    network = circuit.network
    contacts = [i for i, name in enumerate(network.given) if name in circuit.field_contacts]
    heads, some_callers = _heads(circuit)
    flips, lives, some_states = _around(len(contacts), len(network.sources), len(heads))
    cases: list[Case] = []
    given: list[Bools] = []
    live: list[NDArray[np.float64]] = []
    case_of: list[int] = []
    for call, callers, everybody in heads:
        row = given_for(circuit, call, None if everybody else callers)
        block = np.repeat(row[None], len(flips), axis=0)
        block[:, contacts] ^= flips
        given.append(np.repeat(block, len(lives), axis=0))
        live.append(np.tile(lives, (len(flips), 1)))
        size = len(flips) * len(lives)
        cases.append(Case(call, callers, everybody, size * len(cases), size))
        case_of += [len(cases) - 1] * size
    states = States(np.concatenate(given), np.concatenate(live), Changes.none(len(case_of)))
    settled = settle(circuit.engine, states)
    bounded = "; ".join(left_out for left_out in (some_states, some_callers) if left_out)
    return Examined(circuit, needs, tuple(cases), settled, np.array(case_of, np.intp), bounded)


def _heads(circuit: Circuit) -> tuple[list[tuple[str, tuple[str, ...], bool]], str]:
    """Return every call with everybody calling, then with smaller groups of thermostats, and what was left out."""
    heads: list[tuple[str, tuple[str, ...], bool]] = []
    most = 0
    for call in calls_of_job(circuit):
        able = tuple(stat.id for stat in thermostats(circuit.job) if call in call_rules(stat))
        heads.append((call, able, True))
        few = len(able) <= _MOST_CALLERS
        most = max(most, 0 if few else len(able))
        for size in range(1, len(able)) if few else (1, len(able) - 1):
            heads += [(call, callers, False) for callers in itertools.combinations(able, size)]
    if not most:
        return heads, ""
    return heads, f"{most} thermostats make too many combinations to try them all: all call, all but one, or one alone"


def _around(contacts: int, sources: int, heads: int) -> tuple[Bools, NDArray[np.float64], str]:
    """Return which contacts flip (rows) and which sources live (rows), the plain row first in each, and what was left out."""
    if heads * 2 ** min(contacts + sources, 40) <= MOST_STATES:
        flips = _combinations(contacts, contacts)
        dead = _combinations(sources, sources)
        return flips, np.where(dead, 0.0, 1.0), ""
    dead = _combinations(sources, 1)
    if sources > 1:
        dead = np.unique(np.concatenate([dead, ~dead]), axis=0)
    pairs = 1 + contacts + contacts * (contacts - 1) // 2
    most = 2 if heads * pairs * len(dead) <= MOST_STATES else 1
    return (
        _combinations(contacts, most),
        np.where(dead, 0.0, 1.0),
        f"{contacts} field contacts and {sources} sources make too many combinations to try them all: at most {most} contacts "
        "away from where the job has them, and all sources, all but one, or one alone",
    )


def _combinations(things: int, most: int) -> Bools:
    """Return every choice of up to ``most`` things as rows of booleans, fewest first."""
    rows = [
        [i in chosen for i in range(things)]
        for size in range(min(most, things) + 1)
        for chosen in itertools.combinations(range(things), size)
    ]
    return np.array(rows, bool).reshape(len(rows), things)
