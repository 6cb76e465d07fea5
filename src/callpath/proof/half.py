"""Conductors landed at one end only, and on which calls their open end is live."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from callpath.circuit.build import end_node
from callpath.circuit.copper import reached
from callpath.circuit.snapshot import Snapshot
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["half_landed"]

# A quarter of 24 V; what stands there is then no voltage that an idle load leaves.
_LIVE_VOLTS = 6.0
# Through less than 10 kΩ a point is joined to a source; through stray capacitance and leakage it shows a ghost.
_JOINED_SIEMENS = 1e-4


def half_landed(examined: Examined) -> Iterator[Finding]:
    """A conductor that is landed at one end and on nothing at the other."""
    job = examined.circuit.job
    for conductor, landing in job.landings.items():
        if (landing[0] is None) == (landing[1] is None):
            continue
        open_end = 0 if landing[0] is None else 1
        at = job.cable_of(conductor).between[open_end]
        end = end_node(conductor, open_end, landing)
        live = tuple(call for call, state in examined.plain.items() if _live(state, end))
        when = "live on no call"
        if live:
            when = "live all the time" if len(live) == len(examined.plain) else f"live on {', '.join(live)}"
        yield Finding(
            "half-landed",
            "note",
            live,
            (conductor, landing[1 - open_end] or ""),
            (),
            f"{conductor} is landed on {landing[1 - open_end]} and on nothing at {at}: its open end is {when}",
            "land its other end too, or take this one off; until then cap the open end by itself",
        )


def _live(state: Snapshot, end: str) -> bool:
    """Tell whether a point stands under a source's voltage and is joined to that source by more than strays."""
    network = state.circuit.network
    node = network.node_of[end]
    for source in network.sources:
        hot, back = network.branches[source.branch].a, network.branches[source.branch].b
        other = 0j if back < 0 else state.potentials[back]
        if abs(state.potentials[node] - other) < _LIVE_VOLTS:
            continue
        passable = np.abs(state.siemens) > _JOINED_SIEMENS
        passable[source.branch] = False
        if reached(network, passable, [hot, back])[node]:
            return True
    return False
