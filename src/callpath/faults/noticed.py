"""What nobody could ever notice: a wiring fault that leaves every call as it was, whatever field contacts do.

The leads of an alternating-current coil exchanged are such a one. It is no fault to look for, and none to hide.
Only wrong landings and jumpers are asked about: what is broken is worth replacing even where nothing shows it yet.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from callpath.calls.closing import calls_of_job, given_for, thermostats
from callpath.circuit.build import Circuit
from callpath.circuit.settle import settle
from callpath.circuit.solve import Bools
from callpath.faults.asked import Setup
from callpath.faults.places import places_of
from callpath.faults.predict import Shows
from callpath.faults.universe import Universe
from callpath.job.model import Fault, Job

__all__ = ["unnoticed"]

_ARRANGED = ("swapped", "missing", "extra")
# Less than a meter's last digit across whatever is fed. Common practice, no source.
_ALIKE_VOLTS = 0.1
# So many field contacts are asked about in all their states together; of more, each alone is moved.
_TOGETHER = 4


def unnoticed(job: Job, faults: Sequence[Fault]) -> frozenset[Fault]:
    """Return the wiring faults that change nothing on any call in any state of the field contacts.

    Nothing: what runs and what is pulled in, which fuses and sources are whole, which thermostats are alive, and the voltage
    across everything that is fed.

    Parameters
    ----------
    job : Job
        The job as it should be.
    faults : sequence of Fault
        Faults that the job can have.
    """
    asked = tuple(fault for fault in faults if fault.kind in _ARRANGED)
    if not asked:
        return frozenset()
    count = len(asked)
    rows = np.arange(count + 1)
    universe = Universe(asked, rows - 1, np.full(count + 1, -1), np.full(count + 1, 1 / (count + 1)), 0.0)
    shows = Shows(places_of(job, asked), universe)
    network, engine = shows.network, shows.engines[0]
    fed = np.array([bit.branch for bit in network.bits if bit.sense == "volts"], np.intp)
    quiet = np.ones(count + 1, bool)
    for given in _given(shows.circuit):
        left = np.flatnonzero(quiet)
        states = replace(shows.states(Setup("off"), left), given=np.repeat(given[None], len(left), axis=0))
        bits = settle(engine, states).bits
        volts = np.abs(engine.solve(network.drive_rows(bits), states.live, states.changes, fed)[0])
        same = (bits == bits[0]).all(axis=1) & (np.abs(volts - volts[0]) < _ALIKE_VOLTS).all(axis=1)
        quiet[left[~same]] = False
        if quiet.sum() == 1:
            break
    return frozenset(asked[row - 1] for row in np.flatnonzero(quiet).tolist() if row)


def _given(circuit: Circuit) -> Iterator[Bools]:
    """Yield what is given from outside: every call of all thermostats and of each alone, in every state of the contacts."""
    network, able = circuit.network, thermostats(circuit.job)
    whose = [None, *([stat.id] for stat in able if len(able) > 1)]
    seen: set[bytes] = set()
    for call, callers, held in itertools.product(calls_of_job(circuit), whose, _contact_states(circuit)):
        given = given_for(circuit, call, callers).copy()
        for name, closed in held.items():
            given[network.bit_index[name] - len(network.bits)] = closed
        if given.tobytes() not in seen:
            seen.add(given.tobytes())
            yield given


def _contact_states(circuit: Circuit) -> Iterator[Mapping[str, bool]]:
    """Yield states of the field contacts that the circuit is given, that of the job first."""
    place = circuit.network.bit_index
    usual = {name: closed for name, closed in circuit.field_contacts.items() if name in place}
    if len(usual) <= _TOGETHER:
        for moved in itertools.product((False, True), repeat=len(usual)):
            yield {name: closed != moves for (name, closed), moves in zip(usual.items(), moved, strict=True)}
        return
    yield usual
    for name, closed in usual.items():
        yield {**usual, name: not closed}
