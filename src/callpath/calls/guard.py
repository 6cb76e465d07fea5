"""What a field contact stops when it changes over, in the steady state of a call."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from callpath.calls.closing import given_for
from callpath.circuit.build import Circuit
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Changes

__all__ = ["Safety", "safeties"]


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
