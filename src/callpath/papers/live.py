"""Which way current takes on a call: the loop of every load that is energised, from its source through it and back."""

from __future__ import annotations

from dataclasses import dataclass

from callpath.calls.closing import given_for
from callpath.circuit.build import Circuit
from callpath.circuit.path import through, to_and_back
from callpath.circuit.snapshot import Snapshot, snapshot

__all__ = ["Loop", "live", "loops"]

_LOADS = ("coil", "input", "load")


@dataclass(frozen=True)
class Loop:
    """One load with the way of its current, named terminal by terminal and conductor by conductor.

    ``to`` is the way from the source to the load, ``back`` the way from there back to the source; ``path`` is both.
    """

    load: str
    title: str
    path: tuple[str, ...]
    to: tuple[str, ...]
    back: tuple[str, ...]


def live(circuit: Circuit, call: str) -> list[Loop]:
    """Return the loops of a call, once settled, field contacts as the job has them and every source live."""
    return loops(snapshot(circuit, given_for(circuit, call)))


def loops(state: Snapshot) -> list[Loop]:
    """Return the loop of every energised load that leaves its own equipment, thermostats' electronics included."""
    network = state.circuit.network
    found = []
    for name, (_, element) in state.circuit.elements.items():
        if element.kind not in _LOADS or element.hidden or not state.bit(name):
            continue
        path = through(state, network.index[name])
        if any(step.partition(".")[0] != name.partition(".")[0] for step in path):
            found.append(Loop(name, element.title or name, path, *to_and_back(state, network.index[name])))
    return found
