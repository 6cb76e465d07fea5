"""Leads that bring one source to loads of another; which they are the circuit shows: nothing beyond them has a way back."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

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
    network = state.circuit.network
    source = network.sources[state.circuit.source_names.index(feeder)]
    feeding = network.branches[source.branch]
    home = but_for(network, feeding.a, source.branch)
    found: list[tuple[str, str, str]] = []
    for at, lead, to in _leads(state, feeding.a, load):
        piece = _every_contact_closed(network, lead).piece_of
        beyond = piece[to]
        sides = [(branch.a, branch.b) for branch in network.branches if branch.kind in LOADS]
        across = [far for a, b in sides for near, far in ((a, b), (b, a)) if piece[near] == beyond]
        if piece[feeding.a] != beyond and not any(home.joined(far, feeding.b) for far in across):
            found.append((network.nodes[at], lead, network.nodes[to]))
    found.sort(key=lambda step: not _unlike(state.circuit.job, step[0], step[2]))
    off = "take off what brings it there"
    if found:
        here, lead, there = found[0]
        off = f"take {lead} off {there if there.partition('.')[0] == load.partition('.')[0] else here}"
        if lead not in state.circuit.job.landings:
            off = f"take out the jumper from {here} to {there}"
    remedy = f"{off}: what hangs on it is to be fed from {own}, or by a relay's contact of its own"
    return Astray(own, tuple(lead for _, lead, _ in found), remedy)


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


def _leads(state: Snapshot, hot: int, load: str) -> Iterator[tuple[int, str, int]]:
    """Yield the conductors and jumpers on the way from a source's hot side to a load, each between the two nodes it joins."""
    network = state.circuit.network
    copper = closed(state)
    branch = network.branches[network.index[load]]
    for near, far in ((branch.a, branch.b), (branch.b, branch.a)):
        way = copper.way(hot, near, {far})
        if way is None:
            continue
        for at, to in itertools.pairwise(way[1]):
            lead = network.branches[copper.branch(at, to)]
            if lead.kind in ("wire", "jumper"):
                yield at, lead.name, to
        return


def _unlike(job: Job, one: str, two: str) -> bool:
    """Tell whether two points are terminals of unlike meaning."""
    if any(end.partition(".")[0] not in job.equipment for end in (one, two)):
        return False
    a, b = (set(device.part.terminals[letters].means) for device, letters in (job.terminal(one), job.terminal(two)))
    return not a & b
