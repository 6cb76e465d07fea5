"""What is driven both ways and only ever one way: a damper whose closing lead is off opens once and stays open for good."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.circuit.drive import compile_condition
from callpath.circuit.path import through
from callpath.proof.finding import Finding
from callpath.proof.route import driver_of
from callpath.proof.states import Examined

__all__ = ["stays_on"]


def stays_on(examined: Examined) -> Iterator[Finding]:
    """A function that begins in some state and that nothing takes back in any, of a part that stays as it is until taken back."""
    circuit = examined.circuit
    bits = examined.settled.bits
    for j, function in enumerate(circuit.functions):
        id_, _, name = function.partition(".")
        device = circuit.job.equipment[id_]
        undone = device.part.functions[name].undone_when
        begun = np.flatnonzero(examined.running[:, j])
        if undone is None or not len(begun):
            continue
        if compile_condition(undone, device, circuit.network.bit_index)(bits).any():
            continue
        state = examined.snapshot(int(begun[0]))
        driver = driver_of(state, function)
        windings = tuple(f"{id_}.{element}" for element in sorted(undone.elements()))
        idle = [case for case in examined.cases if not case.mixed and not examined.running[case.first, j]]
        calls = {case.call for case in idle}
        yield Finding(
            "unwanted-run",
            "fault",
            tuple(call for call in examined.calls if call in calls),
            (function, *windings),
            () if driver is None else through(state, driver),
            f"{function} stays once it has begun: nothing ever energises {' or '.join(windings)}, which takes it back",
            f"lead to {' or '.join(windings)} what shall be fed while {function} shall not be",
        )
