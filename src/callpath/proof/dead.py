"""Faults of omission: a call that does not run what it needs, a thermostat without its supply, a load without a return."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from callpath.calls.closing import outputs_for, thermostats
from callpath.circuit.copper import COPPER, Copper
from callpath.circuit.network import Branch, Network
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.job.model import Job
from callpath.proof.finding import Finding
from callpath.proof.route import Route, driver_of, hot_side, intended
from callpath.proof.states import Examined

__all__ = ["dead_calls", "no_returns", "unpowered_thermostats"]

_PURPOSE = {
    "compressor": ("cool",),
    "blower": ("fan", "cool", "heat"),
    "heat": ("heat",),
    "heat-2": ("heat-2", "heat"),
    "aux-heat": ("aux", "heat", "emergency"),
    "reversing-valve": ("changeover",),
    "open": ("heat",),
    "circulator": ("heat",),
}
_NO_PURPOSE = {"power", "common", "metal", "pass", "coil", "dry"}
_IDLE_VOLTS = 3.0


def dead_calls(examined: Examined) -> Iterator[Finding]:
    """A call in ``serves`` that does not run a function that it needs; the path ends where the current stops."""
    stopped: dict[tuple[tuple[str, ...], str, bool], _Stopped] = {}
    for call in examined.needs.serves():
        state = examined.plain.get(call)
        if state is None:
            continue
        needed = examined.needs.must_run(call)
        if not needed:
            yield Finding(
                "dead-call",
                "fault",
                (call,),
                (),
                (),
                f"nothing in this job can do what '{call}' asks",
                f"take '{call}' out of 'serves', or add the equipment that does it",
            )
        for function in sorted(needed - set(state.running)):
            driver = driver_of(state, function, examined.purposes(call))
            route = Route((), "", False, False, "") if driver is None else _route(examined, call, function, driver)
            # One broken thing is one cause, by however many ways the voltage comes to it.
            key = (route.path, route.stop, route.fed)
            if _is_a_thing(examined, route.stop):
                key = ((), route.stop, False)
            elif route.fed and not route.returns and route.beyond:
                key = ((), route.beyond, True)
            name = examined.circuit.network.branches[driver].name if driver is not None else ""
            stopped.setdefault(key, _Stopped(route, state, {}, {}, {})).add(call, function, name)
    for dead in stopped.values():
        yield _dead(examined, dead)


@dataclass
class _Stopped:
    """What stops at one place: the calls and the functions, in order."""

    route: Route
    state: Snapshot
    calls: dict[str, None]
    functions: dict[str, None]
    drivers: dict[str, None]

    def add(self, call: str, function: str, driver: str) -> None:
        """Note one more function that stops here, and what should have driven it."""
        self.calls[call] = self.functions[function] = None
        if driver:
            self.drivers[driver] = None


def _is_a_thing(examined: Examined, stop: str) -> bool:
    job = examined.circuit.job
    return stop in job.landings or stop in examined.circuit.elements or stop in job.equipment


def _route(examined: Examined, call: str, function: str, driver: int) -> Route:
    state = examined.plain[call]
    purposes = _purposes(examined, function, driver)
    route = intended(state, driver, _output(examined, call, purposes), purposes)
    if route.fed and not route.returns and abs(state.volts[driver]) > _IDLE_VOLTS:
        # Current does flow, through another load; its whole way shows through which.
        return replace(route, path=through(state, driver))
    equipment, _ = examined.circuit.elements.get(route.stop, (None, None))
    if equipment is not None and equipment.part.calls and not examined.circuit.alive[equipment.id](state.bits[None])[0]:
        return replace(route, stop=equipment.id)
    return route


def _purposes(examined: Examined, function: str, driver: int) -> tuple[str, ...]:
    """Return what a terminal means that should bring a function about: what its driver's own terminals mean, or what is usual."""
    equipment, element = examined.circuit.elements[examined.circuit.network.branches[driver].name]
    terminals = [equipment.part.terminals[point] for point in element.between if point in equipment.part.terminals]
    means = [purpose for terminal in terminals for purpose in terminal.means if purpose not in _NO_PURPOSE]
    return tuple(means) or _PURPOSE.get(function.partition(".")[2], ())


def _output(examined: Examined, call: str, purposes: Collection[str]) -> str | None:
    """Return the thermostat terminal that should bring something about on a call: the first that means one of its purposes."""
    job = examined.circuit.job
    asked = [(stat, output) for stat, outputs in outputs_for(job, call).items() for output in outputs]
    for purpose in purposes:
        for stat, output in asked:
            if purpose in job.equipment[stat].part.terminals[output].means:
                return f"{stat}.{output}"
    return f"{asked[0][0]}.{asked[0][1]}" if asked and not purposes else None


def _dead(examined: Examined, dead: _Stopped) -> Finding:
    state, route, functions = dead.state, dead.route, tuple(dead.functions)
    calls = tuple(call for call in examined.calls if call in dead.calls)
    on = ", ".join(f"'{call}'" for call in calls)
    what = f"{', '.join(functions)} {'does' if len(functions) == 1 else 'do'} not run"
    drivers = tuple(dead.drivers)
    last = route.path[-1] if route.path else route.source
    # What has opened matters where it stands between this call's source and its load.
    feeder = route.source.partition(".")[0]
    opened = [
        bit.name
        for i, bit in enumerate(examined.circuit.network.bits)
        if bit.sense != "volts" and state.bits[i] and feeder in ("", bit.name.partition(".")[0])
    ]
    if not route.source and not route.path:
        why = "nothing in this job feeds it" + (f": no hot side reaches {route.stop}" if route.stop else "")
        remedy = "bring the hot side and the return of one source to the thermostat and to the load"
    elif state.chatter:
        why, remedy = "it never comes to rest", "find what drops out its own supply; see the chatter finding"
    elif opened:
        why = f"{', '.join(opened)} has opened, so nothing beyond it has 24 V"
        remedy = "clear the short first; a new fuse into the same short opens again"
    elif route.fed and not route.returns:
        why, remedy = _without_return(examined, state, route, drivers[0])
    elif route.fed:
        why = f"{drivers[0]} is fed and has a return, but does not act on what it sees"
        remedy = "see the weak findings: too little voltage comes to it"
    else:
        why, remedy = _stops(examined, state, route, last), _remedy(examined, route, last, drivers)
    return Finding(
        "dead-call",
        "fault",
        calls,
        tuple(dict.fromkeys((*functions, *drivers, *([route.stop] if route.stop else [])))),
        route.path,
        f"on {on} {what}: {why}",
        remedy,
    )


def _without_return(examined: Examined, state: Snapshot, route: Route, driver: str) -> tuple[str, str]:
    volts = abs(state.volts[examined.circuit.network.index[driver]])
    beyond = route.beyond
    if not beyond:
        why = f"24 V goes into {driver} and not out again, for its other side belongs to another source than {route.source}"
        return why, f"feed {driver} from its own source alone, through a dry contact"
    if volts > _IDLE_VOLTS:
        why = f"{driver} sees {volts:.1f} V only, for its way back to {route.source} runs through another load"
        return why, f"take the other load out of the way back: {_return_for(examined, beyond, route.source)}"
    why = f"24 V goes through {driver} and stops at {beyond}: no way back to {route.source}"
    if route.stop:
        return f"{why}, open at {route.stop}", _remedy(examined, route, beyond, (driver,))
    return why, f"give {driver} a return: {_return_for(examined, beyond, route.source)}"


def _return_for(examined: Examined, beyond: str, source: str) -> str:
    """Say how a terminal gets a return; what it is joined to already must come off first, or the new joint shorts that."""
    joins = examined.needs.joins
    own = beyond.partition(".")[0]
    others = [name for equipment, _, name in joins.terminals(joins.net(beyond)) if equipment.id != own]
    moved = sorted(joins.conductors_at(beyond))
    if not others or not moved:
        return f"join {beyond} to the return of {source}"
    return f"{', '.join(moved)} leads from {beyond} to {', '.join(others)}; move that end to the return of {source}"


def _stops(examined: Examined, state: Snapshot, route: Route, last: str) -> str:
    """Say where the voltage stops, and at what."""
    stop = route.stop
    if stop in examined.circuit.source_names:
        return f"no voltage leaves {stop}"
    why = f"24 V stops at {last or 'its source'}"
    if stop in examined.circuit.job.equipment:
        return f"{why}: {stop} has no supply of its own, so it closes nothing"
    if not _is_a_thing(examined, stop):
        return f"{why} and never reaches {stop}" if stop and stop != last else why
    if state.siemens[examined.circuit.network.index[stop]] != 0:
        return f"{why}: most of it is lost in {stop}"
    return f"{why}, open at {stop}"


def _remedy(examined: Examined, route: Route, last: str, drivers: tuple[str, ...]) -> str:
    job = examined.circuit.job
    stop = route.stop
    if stop in job.landings:
        return f"check conductor {stop}: ring it out end to end, remake its joints, and use a spare if it is broken"
    if stop in job.equipment:
        return f"bring {stop} its supply back; see the finding that names it"
    if stop in examined.circuit.elements:
        equipment, element = examined.circuit.elements[stop]
        if element.kind == "source":
            return f"check the primary of {stop}, and its windings: no voltage leaves it"
        if element.field:
            return f"find out why {stop} ({element.title}) has opened; it is there to stop the equipment"
        movers = sorted(element.closed_when.elements()) if element.closed_when else []
        idle = [
            name
            for name in (f"{equipment.id}.{mover}" for mover in movers)
            if not any(state.bit(name) for state in examined.plain.values())
        ]
        if idle:
            return f"{stop} ({element.title}) closes with {', '.join(idle)}, which is not energised: see why"
        if element.kind == "contact" and equipment.part.calls:
            return f"{equipment.id} does not close {element.between[1]}: check its settings and the contact itself"
        return f"check {stop} ({element.title})"
    if stop and stop != last and last:
        if last in job.splices or last not in _terminals(job) or "power" not in _means(job, last):
            # Joining the two could close a short: what arrives here does not belong here.
            return f"bring the hot side of {route.source} to {stop}; it arrives at {last}, where it does not belong"
        if stop in _terminals(job) and "dry" in _means(job, stop):
            return f"join {last} to {stop} by a dry contact that the call closes, and by nothing else"
        return f"join {last} to {stop}: the jumper or conductor between them is missing"
    load = drivers[0] if drivers else "the load"
    return f"lead what arrives at {last} on to the terminal that feeds {load}: move the end that sits wrong, or land a conductor"


def _terminals(job: Job) -> set[str]:
    return {f"{equipment.id}.{letters}" for equipment in job.equipment.values() for letters in equipment.part.terminals}


def _means(job: Job, terminal: str) -> tuple[str, ...]:
    equipment, letters = job.terminal(terminal)
    return equipment.part.terminals[letters].means


def unpowered_thermostats(examined: Examined) -> Iterator[Finding]:
    """A thermostat that needs a supply and sees none, with no call and everything else as it should be."""
    state = examined.plain["off"]
    before = examined.plain_before_fuse["off"]
    if (state.bits != before.bits).any():
        return
    for thermostat in thermostats(examined.circuit.job):
        if examined.circuit.alive[thermostat.id](state.bits[None])[0]:
            continue
        supply = [
            name
            for name, (equipment, element) in examined.circuit.elements.items()
            if equipment.id == thermostat.id and element.kind == "load"
        ]
        index = examined.circuit.network.index[supply[0]]
        route = intended(state, index, None)
        power = thermostat.settings.get("power")
        if route.fed and not route.returns:
            why = f"power reaches {thermostat.id}, but nothing leads back from {route.beyond or 'it'}"
            remedy = f"land a conductor on {thermostat.id}.C and on the common of {route.source}, or use one that needs no common"
        elif route.fed:
            why = f"it sees {abs(state.volts[index]):.1f} V where it needs {_needed(examined, supply[0]):.0f} V"
            remedy = "find what takes the voltage: a load in series, a bad joint, a source overloaded"
        else:
            last = route.path[-1] if route.path else route.source
            why = _stops(examined, state, route, last)
            remedy = f"bring power to {thermostat.id}; with one source and two power terminals, jumper them"
            if _is_a_thing(examined, route.stop):
                remedy = _remedy(examined, route, last, ())
        yield Finding(
            "unpowered-thermostat",
            "fault",
            examined.calls,
            (thermostat.id, *supply),
            route.path,
            f"{thermostat.id} lives on '{power}' power and has none: {why}",
            remedy,
        )


def _needed(examined: Examined, element: str) -> float:
    equipment, data = examined.circuit.elements[element]
    return data.data["on-volts"].resolve(equipment.settings) or 0.0


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
            if abs(state.volts[index]) > _IDLE_VOLTS or state.siemens[index] == 0:
                continue
            for near, far in ((branch.a, branch.b), (branch.b, branch.a)):
                source = _fed_without_return(state, component, near, far)
                if source is not None and (component[near] in asked or index in needed):
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
    purposes = _purposes(examined, function, index) if function else ()
    route = intended(state, index, _output(examined, call, purposes) if function else None, purposes)
    feeder = state.circuit.source_names[source]
    ends = f"the path ends at {route.beyond}" if route.beyond else "its other side belongs to another source"
    remedy = _return_for(examined, route.beyond, feeder) if route.beyond else f"feed {name} from its own source alone"
    return Finding(
        "no-return",
        "fault",
        (),
        (name,),
        route.path or through(state, index),
        f"{name} is fed from {feeder} and has no way back to it: {ends}",
        remedy,
    )


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
