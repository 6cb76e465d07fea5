"""The states that a proof examines: every call and mix of calls, every combination of field contacts and live sources."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from callpath.calls.closing import call_rules, calls_of_job, given_for, given_for_each, outputs_for, thermostats
from callpath.calls.need import Needs
from callpath.circuit.build import Circuit
from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.snapshot import Snapshot, snapshots
from callpath.circuit.solve import Bools, Changes, Ints
from callpath.proof.mixes import Asks, mixes, said

__all__ = ["MOST_STATES", "Case", "Examined", "examine"]

MOST_STATES = 4096
"""More states than this are not all examined: contacts and sources then change one or two at a time."""
_MOST_CALLERS = 4


@dataclass(frozen=True)
class Case:
    """What thermostats call; ``first`` is where its states begin, the plain one first.

    ``call`` is what all of ``asks`` call, empty in a mix of calls; ``everybody`` says that all who can make it do.
    """

    call: str
    asks: Asks
    everybody: bool
    first: int
    count: int

    @property
    def mixed(self) -> bool:
        """Whether not all who call ask for the same."""
        return not self.call

    @property
    def callers(self) -> tuple[str, ...]:
        """The thermostats that call."""
        return tuple(stat for stat, _ in self.asks)


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
        cases = [case for case in self.cases if not case.everybody and len(case.asks) == 1]
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
        """Return the calls that some states belong to, in order.

        Calls that are mixed count only where no state of a single call is among them: what a call shows by itself it shows in a
        mix too.
        """
        cases = self._cases_of(states)
        found = {case.call for case in cases if not case.mixed} or {call for case in cases for _, call in case.asks}
        return tuple(call for call in self.calls if call in found)

    def together(self, states: Sequence[int] | Ints | Bools) -> str:
        """Return in words which mix of calls shows what some states show; empty where a single call shows it."""
        cases = self._cases_of(states)
        return "" if not cases or any(not case.mixed for case in cases) else f" while {said(cases[0].asks)}"

    def single(self, states: Ints) -> Bools:
        """Tell which of some states are those of a single call; all of them are taken where none is."""
        alike: Bools = ~self.mixed[states]
        return alike if alike.any() else ~alike

    @cached_property
    def mixed(self) -> Bools:
        """Which states are those of a mix of calls, shape (states,)."""
        return np.array([case.mixed for case in self.cases], bool)[self.case_of]

    def _cases_of(self, states: Sequence[int] | Ints | Bools) -> list[Case]:
        return [self.cases[i] for i in np.unique(self.case_of[states])]


def examine(circuit: Circuit) -> Examined:
    """Settle every state that a proof looks at, in one batch."""
    needs = Needs(circuit)
    network = circuit.network
    contacts = [i for i, name in enumerate(network.given) if name in circuit.field_contacts]
    heads, some_callers = _heads(circuit)
    mixed, some_mixes = mixes(circuit, needs.landed)
    around, some_states = _around(len(contacts), len(network.sources), len(heads))
    beside, less_beside = _around_mixes(around, len(heads), len(mixed))
    asked = [*((*head, around) for head in heads), *(("", mix, False, beside) for mix in mixed)]
    cases: list[Case] = []
    given: list[Bools] = []
    live: list[NDArray[np.float64]] = []
    first = 0
    for call, asks, everybody, (flips, lives) in asked:
        row = given_for(circuit, call, [stat for stat, _ in asks]) if call else given_for_each(circuit, asks)
        block = np.repeat(row[None], len(flips), axis=0)
        block[:, contacts] ^= flips
        given.append(block)
        live.append(lives)
        cases.append(Case(call, asks, everybody, first, len(flips)))
        first += len(flips)
    states = States(np.concatenate(given), np.concatenate(live), Changes.none(first))
    settled = settle(circuit.engine, states)
    bounded = "; ".join(left_out for left_out in (some_states, some_callers, some_mixes, less_beside) if left_out)
    case_of = np.repeat(np.arange(len(cases)), [case.count for case in cases])
    return Examined(circuit, needs, tuple(cases), settled, case_of, bounded)


def _heads(circuit: Circuit) -> tuple[list[tuple[str, Asks, bool]], str]:
    """Return every call with everybody calling, then with smaller groups of thermostats, and what was left out."""
    heads: list[tuple[str, Asks, bool]] = []
    most = 0
    for call in calls_of_job(circuit):
        able = tuple((stat.id, call) for stat in thermostats(circuit.job) if call in call_rules(stat))
        heads.append((call, able, True))
        few = len(able) <= _MOST_CALLERS
        most = max(most, 0 if few else len(able))
        for size in range(1, len(able)) if few else (1, len(able) - 1):
            heads += [(call, asks, False) for asks in itertools.combinations(able, size)]
    if not most:
        return heads, ""
    return heads, f"{most} thermostats make too many combinations to try them all: all call, all but one, or one alone"


_Around = tuple[Bools, NDArray[np.float64]]
"""What is looked at around one call, the plain state first: by state, the contacts that flip and the sources that live."""


def _around(contacts: int, sources: int, heads: int) -> tuple[_Around, str]:
    """Return what is looked at around each call, and what was left out."""
    if heads * 2 ** min(contacts + sources, 40) <= MOST_STATES:
        return _every(_combinations(contacts, contacts), _combinations(sources, sources)), ""
    dead = _combinations(sources, 1)
    if sources > 1:
        dead = np.unique(np.concatenate([dead, ~dead]), axis=0)
    pairs = 1 + contacts + contacts * (contacts - 1) // 2
    most = 2 if heads * pairs * len(dead) <= MOST_STATES else 1
    return _every(_combinations(contacts, most), dead), (
        f"{contacts} field contacts and {sources} sources make too many combinations to try them all: at most {most} contacts "
        "away from where the job has them, and all sources, all but one, or one alone"
    )


def _around_mixes(around: _Around, heads: int, number: int) -> tuple[_Around, str]:
    """Return what is looked at around each mix of calls, and what was left out that is looked at around a single call."""
    flips, lives = around
    if not number or (heads + number) * len(flips) <= MOST_STATES:
        return around, ""
    # With one thing at a time away from the plain state, the first.
    away = flips.sum(axis=1) + (lives != 1).sum(axis=1)
    near = away <= 1
    if number * near.sum() <= MOST_STATES:
        return (flips[near], lives[near]), "of mixed calls only one contact tripped or one source dead at a time"
    return (flips[:1], lives[:1]), "of mixed calls only contacts as the job has them and every source live"


def _every(flips: Bools, dead: Bools) -> _Around:
    """Return every combination of some flips and dead sources."""
    return np.repeat(flips, len(dead), axis=0), np.tile(np.where(dead, 0.0, 1.0), (len(flips), 1))


def _combinations(things: int, most: int) -> Bools:
    """Return every choice of up to ``most`` things as rows of booleans, fewest first."""
    rows = [
        [i in chosen for i in range(things)]
        for size in range(min(most, things) + 1)
        for chosen in itertools.combinations(range(things), size)
    ]
    return np.array(rows, bool).reshape(len(rows), things)
