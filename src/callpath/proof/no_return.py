"""Loads that are fed and have no way back to the source that feeds them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from callpath.calls.closing import outputs_for
from callpath.circuit.copper import LOADS, Copper
from callpath.circuit.network import Branch
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.job.model import Equipment
from callpath.proof.aim import output_for, purposes_of
from callpath.proof.astray import brought, but_for, closed
from callpath.proof.crossed import exchange_on
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
        component = closed(state).piece_of
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
            if element.kind not in LOADS or equipment.part.calls or element.hidden:
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
        # Loads that share the missing return share the cause, and so do those that hang on one lead of another source.
        key = (one.leads[0], source) if one.leads else (one.remedy, one.path[-1:])
        if key in found:
            known = found[key]
            both = tuple(call for call in examined.calls if call in {*known.calls, *one.calls})
            where = (*known.where, name)
            ends = f": {one.message.partition(': ')[2]}" if one.leads else ""
            fed = f"{', '.join(where)} are fed from {examined.circuit.source_names[source]}"
            one = replace(known, calls=both, where=where, message=f"{fed} and have no way back to it{ends}")
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
        beyond = but_for(network, feeding.a, source.branch)
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
    path = route.path or through(state, index)
    ends = f"the path ends at {route.beyond}" if route.beyond else "its other side belongs to another source"
    astray = brought(state, feeder, name)
    if astray:
        # A return to the foreign source would tie the two; what brings it here has to go.
        ends = f"the other side belongs to {astray.own}, and one more joint would tie the two"
        remedy = astray.remedy
    else:
        remedy = exchange_on(examined, path, (name,)) or (
            return_for(examined, route.beyond, feeder) if route.beyond else f"feed {name} from its own source alone"
        )
    return Finding(
        "no-return",
        "fault",
        (),
        (name,),
        path,
        f"{name} is fed from {feeder} and has no way back to it: {ends}",
        remedy,
        astray.leads if astray else (),
    )
