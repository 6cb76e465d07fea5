"""Loads that are fed and have no way back to the source that feeds them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from callpath.calls.closing import outputs_for
from callpath.circuit.copper import COPPER, Copper
from callpath.circuit.network import Branch, Network
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.job.model import Equipment
from callpath.proof.aim import output_for, purposes_of
from callpath.proof.finding import Finding
from callpath.proof.route import driver_of, hot_side, intended
from callpath.proof.states import Examined
from callpath.proof.stop import IDLE_VOLTS, return_for

__all__ = ["no_returns"]


def no_returns(examined: Examined) -> Iterator[Finding]:
    """A load that a call feeds, with no copper from its other side back to the source, whatever the contacts do."""
    network = examined.circuit.network
    told: dict[str, tuple[str, int, str, dict[str, None]]] = {}
    for call, state in examined.plain.items():
        if state.chatter or call == "off":
            continue
        component = _closed(state).piece_of
        asked = {
            component[network.node_of[f"{stat}.{output}"]]
            for stat, outputs in outputs_for(examined.circuit.job, call).items()
            for output in outputs
        }
        needed = {
            driver_of(state, function, examined.purposes(call)): function
            for function in sorted(examined.needs.must_run(call))
        }
        for name, (equipment, element) in examined.circuit.elements.items():
            index = network.index[name]
            branch = network.branches[index]
            if element.kind not in ("coil", "input", "load") or equipment.part.calls or element.hidden:
                continue
            if abs(state.volts[index]) > IDLE_VOLTS or state.siemens[index] == 0:
                continue
            for near, far in ((branch.a, branch.b), (branch.b, branch.a)):
                source = _fed_without_return(state, component, near, far)
                hangs = source is not None and (component[near] in asked or index in needed)
                if source is not None and hangs and not _bridged(state, equipment, branch):
                    function = needed.get(index, "")
                    if name not in told or (function and not told[name][2]):
                        # Where the load is meant to run shows best which of its sides lacks the return.
                        told[name] = (call, source, function, told[name][3] if name in told else {})
                    told[name][3][call] = None
                    break
    found: dict[tuple[object, ...], Finding] = {}
    for name, (call, source, function, calls) in told.items():
        one = replace(_no_return(examined, call, name, source, function), calls=tuple(calls))
        # Coils that share the missing return share the cause.
        key = (one.remedy, one.path[-1:])
        if key in found:
            known = found[key]
            both = tuple(call for call in examined.calls if call in {*known.calls, *one.calls})
            where = (*known.where, name)
            fed = f"{', '.join(where)} are fed from {examined.circuit.source_names[source]}"
            one = replace(known, calls=both, where=where, message=f"{fed} and have no way back to it")
        found[key] = one
    yield from found.values()


def _bridged(state: Snapshot, equipment: Equipment, branch: Branch) -> bool:
    """Tell whether the load's own equipment joins its two sides, as safety switches do to the lockout relay across them."""
    own = f"{equipment.id}."

    def weigh(i: int, other: Branch) -> float | None:
        closed = other.kind in ("contact", "link") and state.siemens[i] != 0
        return 1.0 if closed and other.name.startswith(own) else None

    piece = Copper(state.circuit.network, weigh).piece_of
    return piece[branch.a] == piece[branch.b]


def _fed_without_return(state: Snapshot, component: dict[int, int], near: int, far: int) -> int | None:
    """Return the source whose hot side reaches one end of a load while no copper leads back from the other end."""
    network = state.circuit.network
    for s, source in enumerate(network.sources):
        feeding = network.branches[source.branch]
        if component[near] != component[feeding.a] or not hot_side(state, s, near):
            continue
        beyond = _without(network, feeding.a, source.branch)
        if not beyond.joined(far, feeding.b):
            return s
    return None


def _no_return(examined: Examined, call: str, name: str, source: int, function: str) -> Finding:
    state = examined.plain[call]
    index = state.circuit.network.index[name]
    purposes = purposes_of(examined, function, index) if function else ()
    route = intended(
        state,
        index,
        output_for(examined, call, state, purposes, name.partition(".")[0]) if function else None,
        purposes,
    )
    feeder = state.circuit.source_names[source]
    ends = f"the path ends at {route.beyond}" if route.beyond else "its other side belongs to another source"
    remedy = return_for(examined, route.beyond, feeder) if route.beyond else f"feed {name} from its own source alone"
    own = _own_source(state, name, feeder)
    if own and own != feeder:
        # A return to the foreign source would tie the two; what brings it here has to go.
        path = route.path or through(state, index)
        ends = f"its other side belongs to {own}, and one more joint would tie the two"
        remedy = f"{_brings(path, name)}: {name} is to be fed from {own}, or by a relay's contact of its own"
    return Finding(
        "no-return",
        "fault",
        (),
        (name,),
        route.path or through(state, index),
        f"{name} is fed from {feeder} and has no way back to it: {ends}",
        remedy,
    )


def _own_source(state: Snapshot, name: str, feeder: str) -> str:
    """Return another source than the one that feeds a load, whose copper the load's other side belongs to; empty where none."""
    network = state.circuit.network
    load = network.branches[network.index[name]]
    piece = _closed(state).piece_of
    sides = {piece[load.a], piece[load.b]}
    for other, source in zip(state.circuit.source_names, network.sources, strict=True):
        branch = network.branches[source.branch]
        if other != feeder and sides & {piece[branch.a], piece[branch.b]}:
            return other
    return ""


def _brings(path: Sequence[str], name: str) -> str:
    """Say what to take off so that a path does not come to a load any more: what leads into the load's equipment."""
    own = name.partition(".")[0]
    for before, step in itertools.pairwise(path):
        if step.partition(".")[0] == own and before.partition(".")[0] != own:
            return f"take {before} off {step}" if before in path[1:-1] else f"take what leads from {before} off {step}"
    return "take off what brings it there"


def _closed(state: Snapshot) -> Copper:
    """Return the copper that is joined in a state, loads and sources left out."""
    siemens = state.siemens
    return Copper(state.circuit.network, lambda i, branch: 1.0 if branch.kind in COPPER and siemens[i] != 0 else None)


def _without(network: Network, hot: int, source: int) -> Copper:
    """Return all copper, every contact closed, but for what touches one node; another source leads on: that is a tie."""

    def weigh(i: int, branch: Branch) -> float | None:
        leads = branch.kind in COPPER or (branch.kind == "source" and i != source)
        return 1.0 if leads and hot not in (branch.a, branch.b) else None

    return Copper(network, weigh)
