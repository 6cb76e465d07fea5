"""Leads that bring one source to loads of another; which they are the circuit shows: nothing beyond them has a way back."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from callpath.calls.letters import disagree
from callpath.circuit.copper import COPPER, LOADS, Copper
from callpath.circuit.network import Branch, Network
from callpath.circuit.snapshot import Snapshot
from callpath.job.model import Job

__all__ = ["Astray", "brought", "but_for", "closed"]


@dataclass(frozen=True)
class Astray:
    """What brings a source to a load of another, ``own``: leads of which any by itself does, the likeliest first."""

    own: str
    leads: tuple[str, ...]
    remedy: str


def brought(state: Snapshot, feeder: str, load: str) -> Astray | None:
    """Return what brings a source to a load whose other side belongs to another source; None where it belongs to none.

    Beyond such a lead, all contacts closed, no load at all has a way back to the source: all that it leads to is another's. Where
    there are several the circuit is the same without any of them; the likeliest is one between terminals of unlike meaning.
    """
    own = _own_source(state, feeder, load)
    if not own:
        return None
    names, branch = state.circuit.source_names, state.circuit.network.branches[state.circuit.network.index[load]]
    steps = [(step, own) for step in _leads_nowhere(state, names.index(feeder), branch)]
    # Which of the two sources is the stranger to the load is not said yet: what leads to its other side may be what is wrong.
    steps += [(step, feeder) for step in _leads_nowhere(state, names.index(own), branch)]
    steps.sort(key=lambda found: not _unlike(state.circuit.job, found[0][0], found[0][2]))
    if not steps:
        return Astray(own, (), f"take off what brings {feeder} there: {load} is to be fed from {own} alone")
    (here, lead, there), right = steps[0]
    off = f"take {lead} off {there if there.partition('.')[0] == load.partition('.')[0] else here}"
    if lead not in state.circuit.job.landings:
        off = f"take out the jumper from {here} to {there}"
    remedy = (
        f"{off}: what hangs on it is to be fed from {right} and led back to it, or fed by a relay's contact of its own"
    )
    return Astray(own, tuple(lead for (_, lead, _), whose in steps if whose == right), remedy)


def _leads_nowhere(state: Snapshot, source: int, load: Branch) -> Iterator[tuple[str, str, str]]:
    """Yield the leads from a source to a load beyond which no load at all leads on to the source's other side."""
    network = state.circuit.network
    index = network.sources[source].branch
    ends = network.branches[index]
    joined = closed(state).piece_of
    sides = [(branch.a, branch.b) for branch in network.branches if branch.kind in LOADS]
    for start, other in ((ends.a, ends.b), (ends.b, ends.a)):
        home = but_for(network, start, index)
        near = next((side for side in (load.a, load.b) if joined[side] == joined[start]), None)
        for at, lead, to in () if near is None else _leads(state, start, near, {load.a, load.b} - {near}):
            piece = _every_contact_closed(network, lead).piece_of
            beyond = piece[to]
            across = [far for a, b in sides for one, far in ((a, b), (b, a)) if piece[one] == beyond]
            if piece[start] != beyond and not any(home.joined(far, other) for far in across):
                yield network.nodes[at], lead, network.nodes[to]


def closed(state: Snapshot) -> Copper:
    """Return the copper that is joined in a state, loads and sources left out."""
    siemens = state.siemens
    return Copper(state.circuit.network, lambda i, branch: 1.0 if branch.kind in COPPER and siemens[i] != 0 else None)


def but_for(network: Network, hot: int, source: int) -> Copper:
    """Return all copper, every contact closed, but for what touches one node; another source leads on: that is a tie."""

    def weigh(i: int, branch: Branch) -> float | None:
        leads = branch.kind in COPPER or (branch.kind == "source" and i != source)
        return 1.0 if leads and hot not in (branch.a, branch.b) else None

    return Copper(network, weigh)


def _own_source(state: Snapshot, feeder: str, load: str) -> str:
    """Return another source than the one that feeds a load, whose copper one of the load's sides belongs to; empty where none."""
    network = state.circuit.network
    branch = network.branches[network.index[load]]
    piece = closed(state).piece_of
    sides = {piece[branch.a], piece[branch.b]}
    for other, source in zip(state.circuit.source_names, network.sources, strict=True):
        its = network.branches[source.branch]
        if other != feeder and sides & {piece[its.a], piece[its.b]}:
            return other
    return ""


def _every_contact_closed(network: Network, lead: str) -> Copper:
    """Return all copper, every contact closed, without one lead."""
    return Copper(network, lambda _, branch: 1.0 if branch.kind in COPPER and branch.name != lead else None)


def _leads(state: Snapshot, start: int, end: int, avoid: Collection[int]) -> Iterator[tuple[int, str, int]]:
    """Yield the conductors and jumpers on the easiest closed way between two nodes, each between the two that it joins."""
    network = state.circuit.network
    copper = closed(state)
    way = copper.way(start, end, avoid)
    for at, to in itertools.pairwise(way[1] if way else ()):
        lead = network.branches[copper.branch(at, to)]
        if lead.kind in ("wire", "jumper"):
            yield at, lead.name, to


def _unlike(job: Job, one: str, two: str) -> bool:
    """Tell whether two points are terminals of unlike meaning."""
    if any(end.partition(".")[0] not in job.equipment for end in (one, two)):
        return False
    a, b = (set(device.part.terminals[letters].means) for device, letters in (job.terminal(one), job.terminal(two)))
    return disagree(a, b)
