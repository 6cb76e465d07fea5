"""Leads that bring one source to loads of another; which they are the circuit shows: nothing beyond them has a way back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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


def brought(state: Snapshot, feeder: str, path: Sequence[str], load: str) -> Astray | None:
    """Return what brings a source to a load whose other side belongs to another source; None where it belongs to none.

    Beyond such a lead, all contacts closed, no load at all has a way back to the source: all that it leads to is another's. Where
    there are several the circuit is the same without any of them; the likeliest is one between terminals of unlike meaning.

    Parameters
    ----------
    feeder : str
        The source that feeds the load.
    path : sequence of str
        The way that its current takes to the load and as far as it comes.
    """
    own = _own_source(state, feeder, load)
    if not own:
        return None
    network, job = state.circuit.network, state.circuit.job
    source = network.sources[state.circuit.source_names.index(feeder)]
    feeding = network.branches[source.branch]
    home = but_for(network, feeding.a, source.branch)
    found: list[tuple[str, str, str]] = []
    for at, lead, to in _leads(job, path):
        if to not in network.node_of:
            # A short between two conductors stands between their ends.
            continue
        piece = _every_contact_closed(network, lead).piece_of
        beyond = piece[network.node_of[to]]
        sides = [(branch.a, branch.b) for branch in network.branches if branch.kind in LOADS]
        across = [far for a, b in sides for near, far in ((a, b), (b, a)) if piece[near] == beyond]
        if piece[feeding.a] != beyond and not any(home.joined(far, feeding.b) for far in across):
            found.append((at, lead, to))
    found.sort(key=lambda step: not _unlike(job, step[0], step[2]))
    off = "take off what brings it there"
    if found:
        at, lead, to = found[0]
        what = lead if lead in job.landings else f"the jumper from {at} to {to}"
        off = f"take {what} off {to if to.partition('.')[0] == load.partition('.')[0] else at}"
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


def _leads(job: Job, path: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield the conductors and jumpers of a way, each between the two points that it joins there."""
    jumpers = {frozenset(pair): f"jumper:{pair[0]}+{pair[1]}" for pair in job.jumpers}
    for i, step in enumerate(path[:-1]):
        if step in job.landings and i:
            yield path[i - 1], step, path[i + 1]
        elif frozenset((step, path[i + 1])) in jumpers:
            yield step, jumpers[frozenset((step, path[i + 1]))], path[i + 1]


def _unlike(job: Job, one: str, two: str) -> bool:
    """Tell whether two points are terminals of unlike meaning."""
    if one in job.splices or two in job.splices:
        return False
    a, b = (set(device.part.terminals[letters].means) for device, letters in (job.terminal(one), job.terminal(two)))
    return not a & b
