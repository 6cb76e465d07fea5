"""Where the voltage stops, in words, and what to do about it; no remedy joins what could short."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from callpath.calls.letters import foreign
from callpath.circuit.copper import COPPER, Copper
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.job.model import Job
from callpath.parts.model import Element
from callpath.proof.astray import brought
from callpath.proof.crossed import crossed_at
from callpath.proof.lost import lost
from callpath.proof.route import Route, hot_side
from callpath.proof.safety import guarded_by
from callpath.proof.states import Examined

__all__ = ["IDLE_VOLTS", "fed_at", "is_a_thing", "remedy_for", "return_for", "stops_at", "without_return"]

IDLE_VOLTS = 3.0
"""A load that sees less carries no current worth the name."""

_LOW_VOLTS = 10.0
_NOT_A_CALL = {"power", "common", "metal", "pass"}


def is_a_thing(examined: Examined, stop: str) -> bool:
    """Tell whether voltage stops at something that can break, conductor, element or equipment, and not at a bare end."""
    job = examined.circuit.job
    return stop in job.landings or stop in examined.circuit.elements or stop in job.equipment


def stops_at(examined: Examined, state: Snapshot, route: Route, last: str) -> str:
    """Say where the voltage stops, and at what."""
    stop = route.stop
    if stop in examined.circuit.source_names:
        return f"no voltage leaves {stop}"
    why = f"{_what(state, route.source)} stops at {last or 'its source'}"
    if stop in examined.circuit.job.equipment:
        return f"{why}: {stop} has no supply of its own, so it closes nothing"
    if not is_a_thing(examined, stop):
        return f"{why} and never reaches {stop}" if stop and stop != last else why
    if _fades(state, stop):
        return f"{why}: most of it is lost in {' and '.join(_lost_in(state, stop))}"
    return f"{why}, open at {stop}{_which_holds(examined, state, stop)}"


def without_return(examined: Examined, state: Snapshot, route: Route, driver: str) -> tuple[str, str]:
    """Say what is wrong with a load that is fed and has no way back, and what to do about it."""
    volts = abs(state.volts[examined.circuit.network.index[driver]])
    beyond = route.beyond
    if not beyond:
        why = (
            f"{_what(state, route.source)} goes into {driver} and not out again, for its other side belongs to another source "
            f"than {route.source}"
        )
        return why, f"feed {driver} from its own source alone, through a dry contact"
    if volts > IDLE_VOLTS:
        worst = _most_lost(state, route)
        if worst:
            return (
                f"{driver} sees {volts:.1f} V only: most of it is lost in {worst}",
                _thin(state, worst, driver)
                or f"check conductor {worst}: ring it out end to end, remake its joints, and use a spare if it is bad",
            )
        why = f"{driver} sees {volts:.1f} V only, for its way back to {route.source} runs through another load"
        return why, f"take the other load out of the way back: {return_for(examined, beyond, route.source)}"
    why = f"{_what(state, route.source)} goes through {driver} and stops at {beyond}: no way back to {route.source}"
    hot = [one for one in crossed_at(examined.needs.joins, driver.partition(".")[0]) if one.terminal in route.path]
    if hot:
        lead = ", ".join(hot[0].leads) or "the jumper"
        remedy = f"power off, take {lead} off {hot[0].brought} and land it on the return of {route.source}"
        return f"24 V stands on both sides of {driver}: {hot[0]} all the time", remedy
    if route.stop:
        opener = _which_holds(examined, state, route.stop)
        return f"{why}, open at {route.stop}{opener}", remedy_for(examined, state, route, beyond, (driver,))
    astray = brought(state, route.source, driver)
    if astray:
        # To give it that source's return would tie the two sources.
        return f"{why}, for the other side belongs to {astray.own}", astray.remedy
    return why, f"give {driver} a return: {return_for(examined, beyond, route.source)}"


def fed_at(state: Snapshot, path: Sequence[str], source: str, driver: str) -> str:
    """Return the terminal where a way comes to a load's equipment: its last hot one, for a way that goes home ends elsewhere."""
    network = state.circuit.network
    s = state.circuit.source_names.index(source)
    own = driver.partition(".")[0]
    hot = [step for step in path if step.partition(".")[0] == own and hot_side(state, s, network.node_of[step])]
    return hot[-1] if hot else driver


def _most_lost(state: Snapshot, route: Route) -> str:
    """Return the conductor on a way in which most of what the load lacks is lost; empty where no conductor has it."""
    index = state.circuit.network.index
    drops = {name: abs(state.volts[index[name]]) for name in route.path if name in state.circuit.job.landings}
    worst = max(drops, key=drops.__getitem__, default="")
    return worst if worst and drops[worst] > IDLE_VOLTS and drops[worst] > 0.5 * sum(drops.values()) else ""


def _fades(state: Snapshot, stop: str) -> bool:
    """Tell whether a voltage is lost at something that is closed, little by little."""
    network = state.circuit.network
    index = network.index.get(stop)
    return index is not None and network.branches[index].kind in COPPER and state.siemens[index] != 0


def _lost_in(state: Snapshot, stop: str) -> list[str]:
    """Return what takes most of a voltage that fades away at something closed: of all that its current runs through."""
    network = state.circuit.network
    amps = np.abs(state.amps)
    carries = amps > 0.5 * amps[network.index[stop]]
    drops = {
        branch.name: abs(state.volts[i])
        for i, branch in enumerate(network.branches)
        if carries[i]
        and (branch.name in state.circuit.job.landings or branch.name in state.circuit.elements)
        and branch.kind in COPPER
    }
    most = max(drops.values())
    return sorted((name for name in drops if drops[name] > 0.5 * most), key=lambda name: (-round(drops[name], 6), name))


def _what(state: Snapshot, source: str) -> str:
    """Return in words what a source gives: 24 V, or what else a generator of its own makes."""
    sources = dict(zip(state.circuit.source_names, state.circuit.network.sources, strict=True))
    volts = abs(sources[source].emf_volts) if source in sources else 24.0
    return "24 V" if volts > _LOW_VOLTS else "the voltage"


def _held_open_by(examined: Examined, state: Snapshot, stop: str) -> str:
    """Return the coil or input that is energised and thereby keeps a contact open; empty where none does."""
    equipment, element = examined.circuit.elements.get(stop, (None, None))
    if equipment is None or element is None or element.closed_when is None:
        return ""
    openers = sorted(element.closed_when.elements() - element.closed_when.makers())
    return next((name for name in (f"{equipment.id}.{opener}" for opener in openers) if state.bit(name)), "")


def _which_holds(examined: Examined, state: Snapshot, stop: str) -> str:
    opener = _held_open_by(examined, state, stop)
    return f", which {opener} holds open" if opener else ""


def _let_go(state: Snapshot, stop: str, opener: str, driver: str) -> str:
    """Say what to do about a sound contact that an energised coil holds open, and what feeds that coil."""
    own = opener.partition(".")[0]
    path = through(state, state.circuit.network.index[opener])
    feeds = list(itertools.takewhile(lambda name: name.partition(".")[0] != own, path))
    fed = f", fed by {' → '.join(feeds)}" if feeds else ""
    return (
        f"nothing is broken: {opener} is energised{fed}, and that opens {stop}. On this call {opener} must be without voltage, "
        f"or {driver} must not hang on that contact"
    )


def _thin(state: Snapshot, conductor: str, driver: str) -> str:
    """Say what to do about a sound conductor that loses the voltage by its own length and gauge; empty where it is not that."""
    found = lost(state, state.circuit.network.index[driver])
    if found is None or conductor not in found.leads:
        return ""
    return f"nothing is broken; lost on the way: {found.said}. What helps: {found.helps}"


def remedy_for(examined: Examined, state: Snapshot, route: Route, last: str, drivers: tuple[str, ...]) -> str:
    """Say what to do where the voltage stops; ``last`` is where it still is, ``drivers`` the loads that it should come to."""
    job = examined.circuit.job
    stop = route.stop
    if stop in job.landings:
        ring = f"check conductor {stop}: ring it out end to end, remake its joints, and use a spare if it is broken"
        return (drivers and _thin(state, stop, drivers[0])) or ring
    if _fades(state, stop) and (takes := _lost_in(state, stop)) != [stop]:
        return f"less drop on {' and '.join(takes)}: heavier or shorter wire, and joints made anew"
    if stop in job.equipment:
        return f"bring {stop} its supply back; see the finding that names it"
    if stop in examined.circuit.elements:
        equipment, element = examined.circuit.elements[stop]
        if element.kind == "source":
            return f"check the primary of {stop}, and its windings: no voltage leaves it"
        if element.field:
            return _open_switch(examined, stop, element)
        if (opener := _held_open_by(examined, state, stop)) and not any(stop in fault.where for fault in job.faults):
            return _let_go(state, stop, opener, drivers[0] if drivers else "the load")
        movers = sorted(element.closed_when.makers()) if element.closed_when else []
        idle = [name for name in (f"{equipment.id}.{mover}" for mover in movers) if not state.bit(name)]
        if idle:
            return f"{stop} ({element.title}) closes with {', '.join(idle)}, which is not energised: see why"
        if element.kind == "contact" and equipment.part.calls:
            if any(fault.kind == "open" and stop in fault.where for fault in job.faults):
                return f"replace {equipment.id}: its {element.title} does not close any more; no lead has to move"
            return f"{equipment.id} does not close {element.between[1]}: check its settings and the contact itself"
        if element.kind == "fuse":
            return f"find what has opened {stop} ({element.title}) before fitting a new one of the same size"
        return f"power off and ring out {stop} ({element.title}): where it reads open, replace it; no lead has to move"
    if stop and stop != last and last:
        if last in job.splices or last not in _terminals(job) or "power" not in _means(job, last):
            # Joining the two could close a short: what arrives here does not belong here.
            return f"bring the hot side of {route.source} to {stop}; it arrives at {last}, where it does not belong"
        if wrong := [one for one in crossed_at(examined.needs.joins, stop.partition(".")[0]) if one.terminal == stop]:
            # Joined as it is, the hot side would go straight to the return.
            return f"power off; {wrong[0]}, the return: take it off {stop} first, and only then join {last} to {stop}"
        if stop in _terminals(job) and foreign(job, last, stop):
            return f"{last} and {stop} do not go together: fit a thermostat of the equipment's own kind"
        if stop in _terminals(job) and "dry" in _means(job, stop):
            return f"join {last} to {stop} by a dry contact that the call closes, and by nothing else"
        if stop in _terminals(job) and "power" not in _means(job, stop):
            return f"bring the call to {stop}, from the thermostat's output that asks for it; {last} itself is hot on every call"
        return f"join {last} to {stop}: the jumper or conductor between them is missing"
    load = drivers[0] if drivers else "the load"
    dry = _dry_pair(job, load)
    if dry:
        return f"close {dry[0]} to {dry[1]} by a dry contact that the call closes, such as a relay's, and bring no voltage there"
    feeds = " or ".join(_call_terminals(state, load)) or f"the terminal that feeds {load}"
    return f"lead what arrives at {last} on to {feeds}: move the end that sits wrong, or land a conductor"


def _open_switch(examined: Examined, stop: str, element: Element) -> str:
    """Say what to do about a field contact that stands open: nothing is wired past any, whatever it is for."""
    prove = f"to prove the call with it closed, write `contacts: {{{stop}: closed}}`; wire nothing past it"
    if element.stops and element.rest == "closed":
        guards = guarded_by(examined.circuit, stop)
        what = " or ".join(guards) if len(guards) < len(examined.circuit.functions) else "the equipment"
        return f"find out why {stop} ({element.title}) has opened; it is there to stop {what}"
    if element.stops:
        return f"see that what {stop} ({element.title}) proves is there, for it stands open until then; {prove}"
    return f"{stop} ({element.title}) is a control and stands open: see what it waits for; {prove}"


def return_for(examined: Examined, beyond: str, source: str) -> str:
    """Say how a terminal gets a return; what it is joined to already must come off first, or the new joint shorts that."""
    joins = examined.needs.joins
    own = beyond.partition(".")[0]
    for letters in examined.circuit.job.equipment[own].part.terminals if own in examined.circuit.job.equipment else ():
        terminal = f"{own}.{letters}"
        fed = [
            name for _, _, name in joins.terminals(joins.net(terminal)) if "power" in _means(examined.circuit.job, name)
        ]
        if terminal != beyond and fed and "power" not in _means(examined.circuit.job, terminal):
            # The side that is always hot is the one that is wrong; the other is where the call comes in.
            at = ", ".join(sorted(joins.conductors_at(terminal))) or "what joins them"
            always = f"{at} brings {fed[0]} to {terminal} all the time"
            return f"{always}: take it off {fed[0]} and land it on the return of {source}"
    others = [name for equipment, _, name in joins.terminals(joins.net(beyond)) if equipment.id != own]
    moved = sorted(joins.conductors_at(beyond))
    if not others or not moved:
        return f"join {beyond} to the return of {source}"
    leads = f"{', '.join(moved)} leads from {beyond} to {', '.join(others)}"
    return f"{leads}; power off, take it off there, and only then give {beyond} the return of {source}"


def _terminals(job: Job) -> set[str]:
    return {f"{equipment.id}.{letters}" for equipment in job.equipment.values() for letters in equipment.part.terminals}


def _dry_pair(job: Job, load: str) -> tuple[str, ...]:
    """Return the two terminals that a dry contact closes to make a load of their equipment run; empty where there are none."""
    device = job.equipment.get(load.partition(".")[0])
    dry = (
        [f"{device.id}.{letters}" for letters, t in device.part.terminals.items() if "dry" in t.means] if device else []
    )
    return (dry[0], dry[1]) if len(dry) == 2 else ()


def _call_terminals(state: Snapshot, load: str) -> list[str]:
    """Return the terminals that lead to a load inside its own equipment and mean what it is there for; empty where none says."""
    network = state.circuit.network
    own = load.partition(".")[0]
    device = state.circuit.job.equipment.get(own)
    if device is None or load not in network.index:
        return []
    within = ("contact", "link", "fuse")
    piece = Copper(
        network, lambda _, branch: 1.0 if branch.kind in within and branch.name.startswith(f"{own}.") else None
    ).piece_of
    branch = network.branches[network.index[load]]
    ends = {piece[branch.a], piece[branch.b]}
    return [
        f"{own}.{letters}"
        for letters, terminal in device.part.terminals.items()
        if piece[network.node_of[f"{own}.{letters}"]] in ends and not set(terminal.means) & _NOT_A_CALL
    ]


def _means(job: Job, terminal: str) -> tuple[str, ...]:
    equipment, letters = job.terminal(terminal)
    return equipment.part.terminals[letters].means
