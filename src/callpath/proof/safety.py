"""Safeties that are wired and stop nothing: a float switch with its leads joined past it looks right and protects nobody."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.calls.closing import given_for
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import states_of
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["idle_safeties"]


def idle_safeties(examined: Examined) -> Iterator[Finding]:
    """A field contact of an accessory that is landed, and whose opening changes nothing on any call that works."""
    circuit = examined.circuit
    network = circuit.network
    working = [call for call in examined.needs.serves() if call in examined.plain and examined.plain[call].running]
    for name, (equipment, element) in circuit.elements.items():
        ends = [f"{equipment.id}.{point}" for point in element.between]
        landed = [end for end in ends if examined.needs.joins.leads(end)]
        if not element.field or equipment.part.role != "accessory" or not landed or not working:
            continue
        rows = np.stack([given_for(circuit, call) for call in working])
        place = network.given.index(name)
        branch = network.index[name]
        if not rows[:, place].all() or all(examined.plain[call].siemens[branch] == 0 for call in working):
            continue
        rows[:, place] = False
        bits = settle(circuit.engine, states_of(circuit, rows)).bits
        running = np.stack([drive(bits) for drive in circuit.functions.values()], axis=1)
        before = np.array([[f in examined.plain[call].running for f in circuit.functions] for call in working])
        if np.array_equal(running, before):
            stuck = network.branches[branch].drive is None
            past = "its contact stays closed" if stuck else "current goes past it"
            series = f"what it must stop has to go through {' and '.join(ends)}, and no other way"
            leads = sorted({conductor for end in landed for conductor in examined.needs.joins.conductors_at(end)})
            yield Finding(
                "idle-safety",
                "weak",
                tuple(working),
                (name, *leads),
                (),
                f"{name} ({element.title}) is wired and stops nothing when it opens: {past}",
                f"replace {name}" if stuck else f"put it in series: {series}",
            )
