"""Functions that run in a call that must not run them, and states that never come to rest."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.circuit.path import through
from callpath.proof.finding import Finding
from callpath.proof.route import driver_of
from callpath.proof.states import Examined

__all__ = ["chatters", "unwanted_runs"]


def unwanted_runs(examined: Examined) -> Iterator[Finding]:
    """A function that runs where it must not, with the loop that energises it; looked for in every state."""
    names = tuple(examined.circuit.functions)
    allowed = np.zeros((len(examined.cases), len(names)), bool)
    for i, case in enumerate(examined.cases):
        must = examined.needs.must_run(case.call, None if case.everybody else case.callers)
        allowed[i] = [name in must for name in names]
    extra = examined.running & ~allowed[examined.case_of] & ~examined.settled.chatter[:, None]
    told: dict[str, Finding] = {}
    for j, function in enumerate(names):
        states = np.flatnonzero(extra[:, j])
        if not len(states):
            continue
        state = examined.snapshot(int(states[0]))
        driver = driver_of(state, function)
        if driver is None:
            continue
        element = state.circuit.network.branches[driver].name
        calls = examined.calls_of(states)
        if element in told:
            # One energised coil or input is one cause, however many functions follow from it.
            known = told[element]
            calls = tuple(call for call in examined.calls if call in {*known.calls, *calls})
            where = (*known.where[:-1], function, element)
            told[element] = _finding(calls, where, known.path, abs(state.volts[driver]))
        else:
            where = (function,) if function == element else (function, element)
            told[element] = _finding(calls, where, through(state, driver), abs(state.volts[driver]))
    yield from told.values()


def _finding(calls: tuple[str, ...], where: tuple[str, ...], path: tuple[str, ...], volts: float) -> Finding:
    functions, element = (where[:-1] or where), where[-1]
    plural = "s" if len(functions) == 1 else ""
    on = ", ".join(f"'{call}'" for call in calls)
    return Finding(
        "unwanted-run",
        "fault",
        calls,
        where,
        path,
        f"{' and '.join(functions)} run{plural} on {on} and must not: {element} is fed from {path[0] if path else 'elsewhere'}",
        f"follow the path and take off the joint that should not lead to {element}: a conductor on the wrong terminal, a "
        "contact that does not open, or current coming back through another load",
    )


def chatters(examined: Examined) -> Iterator[Finding]:
    """States with no rest: something drops out what feeds it."""
    states = np.flatnonzero(examined.settled.chatter)
    if not len(states):
        return
    state = examined.snapshot(int(states[0]))
    network = examined.circuit.network
    unrest = [
        bit.name
        for i, bit in enumerate(network.bits)
        if bit.sense == "volts" and bit.name in examined.circuit.elements and _restless(examined, states, i)
    ]
    coil = unrest[0] if unrest else network.bits[0].name
    yield Finding(
        "chatter",
        "weak",
        examined.calls_of(states),
        tuple(unrest),
        through(state, network.index[coil]),
        f"{', '.join(unrest)} never comes to rest: what it switches takes away its own supply, and it chatters",
        "do not feed a coil through its own opening contact, and give it a source that holds up when it pulls in",
    )


def _restless(examined: Examined, states: np.ndarray, bit: int) -> bool:
    """Tell whether a bit stands on the wrong side of its threshold in a state that the settling stopped in."""
    network = examined.circuit.network
    watched = network.bits[bit]
    for i in states[:8]:
        state = examined.snapshot(int(i))
        seen = abs(state.volts[watched.branch])
        if (seen >= watched.on_at and not state.bits[bit]) or (seen < watched.off_at and state.bits[bit]):
            return True
    return False
