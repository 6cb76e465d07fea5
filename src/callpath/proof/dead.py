"""Calls that do not run what they need; the path ends where the current stops."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from callpath.calls.closing import thermostats
from callpath.circuit.copper import LOADS
from callpath.circuit.drive import BEYOND, idle_functions
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.parts.model import fitted
from callpath.proof.aim import output_for, purposes_of
from callpath.proof.crossed import Crossed, crossed_at, exchange_on
from callpath.proof.finding import Finding
from callpath.proof.route import Route, driver_of, intended
from callpath.proof.setting import changed_over, kept_from, other_way_round
from callpath.proof.states import Examined
from callpath.proof.stop import IDLE_VOLTS, fed_at, is_a_thing, remedy_for, stops_at, without_return

__all__ = ["dead_calls"]


def dead_calls(examined: Examined) -> Iterator[Finding]:
    """A call in ``serves`` that does not run a function that it needs; the path ends where the current stops.

    Where several thermostats can make a call each of them is asked alone too: what the others keep running hides nothing.
    """
    stopped: dict[tuple[tuple[str, ...], str, bool], _Stopped] = {}
    # What nobody's call opens is told by itself.
    shut = {f"{id_}.open" for id_ in examined.needs.forgotten}
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
        missing = needed - set(state.running) - shut
        _note(examined, stopped, call, state, missing, None)
        for (other, stat), alone in examined.alone.items():
            if other == call and stat in examined.needs.landed:
                lacks = examined.needs.must_run(call, [stat]) - set(alone.running) - missing - shut
                _note(examined, stopped, call, alone, lacks, stat)
    for dead in stopped.values():
        yield _dead(examined, dead)


def _note(
    examined: Examined,
    stopped: dict[tuple[tuple[str, ...], str, bool], _Stopped],
    call: str,
    state: Snapshot,
    missing: Collection[str],
    caller: str | None,
) -> None:
    """Note every function that does not run in a state, by where the current to it stops."""
    for function in sorted(missing):
        driver = driver_of(state, function, examined.purposes(call))
        route = Route((), "", False, False, "")
        if driver is not None:
            route = _route(examined, call, state, function, driver, caller)
        # One broken thing is one cause, by however many ways the voltage comes to it.
        key = (route.path, route.stop, route.fed)
        exchanged = _exchanged(examined, route, driver)
        if exchanged:
            key = ((), exchanged[0].terminal, False)
        elif is_a_thing(examined, route.stop):
            key = ((), route.stop, False)
        elif route.fed and not route.returns and route.beyond:
            key = ((), route.beyond, True)
        name = examined.circuit.network.branches[driver].name if driver is not None else ""
        stopped.setdefault(key, _Stopped(route, state, {}, {}, {}, {})).add(call, function, name, caller)


@dataclass
class _Stopped:
    """What stops at one place: the calls and the functions, in order."""

    route: Route
    state: Snapshot
    calls: dict[str, None]
    functions: dict[str, None]
    drivers: dict[str, None]
    callers: dict[str, None]

    def add(self, call: str, function: str, driver: str, caller: str | None) -> None:
        """Note one more function that stops here, what should have driven it, and who called alone."""
        self.calls[call] = self.functions[function] = None
        if driver:
            self.drivers[driver] = None
        self.callers[caller or ""] = None


def _route(examined: Examined, call: str, state: Snapshot, function: str, driver: int, caller: str | None) -> Route:
    purposes = purposes_of(examined, function, driver)
    owner = function.partition(".")[0]
    output = output_for(examined, call, state, purposes, owner, [caller] if caller else None)
    route = intended(state, driver, output, purposes)
    if route.fed and not route.returns and abs(state.volts[driver]) > IDLE_VOLTS:
        # Current does flow, through another load; its whole way shows through which.
        return replace(route, path=through(state, driver))
    equipment, _ = examined.circuit.elements.get(route.stop, (None, None))
    if equipment is not None and equipment.part.calls and not examined.circuit.alive[equipment.id](state.bits[None])[0]:
        return replace(route, stop=equipment.id)
    return route


def _dead(examined: Examined, dead: _Stopped) -> Finding:
    state, route, functions = dead.state, dead.route, tuple(dead.functions)
    calls = tuple(call for call in examined.calls if call in dead.calls)
    on = ", ".join(f"'{call}'" for call in calls)
    what = f"{', '.join(functions)} {'does' if len(functions) == 1 else 'do'} not run"
    alone = "" if "" in dead.callers else f" from {' or '.join(dead.callers)} alone"
    drivers = tuple(dead.drivers)
    exchanged = _exchanged(examined, route, state.circuit.network.index[drivers[0]] if drivers else None)
    leads = sorted(lead for one in exchanged for lead in one.leads)
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
        burned = all(name in examined.circuit.source_names for name in opened)
        why = f"{', '.join(opened)} has {'burned' if burned else 'opened'}, so nothing beyond it has 24 V"
        remedy = "clear the short first; a new fuse into the same short opens again"
        if burned:
            remedy = (
                "put right first what the finding of the short or overload names; a new transformer burns the same way"
            )
    elif drivers and state.bit(drivers[0]) and (idle := _idle(state, functions)):
        what_idles = f"{idle} does not follow" if idle in functions else f"{idle}, which it waits for, does not run"
        why = f"{drivers[0]} is energised and {what_idles}: {BEYOND}"
        remedy = (
            "look for what that takes: line voltage, a capacitor, the motor; for a burner gas and ignition. Open the disconnect "
            "and discharge capacitors first; what is live, refrigerant and gas are for licensed practice"
        )
    elif exchanged:
        at = exchanged[0].terminal.partition(".")[0]
        why = f"power and common are exchanged at {at}: {' and '.join(map(str, exchanged))}"
        remedy = f"power off and exchange {' and '.join(leads)} at one end, {at} or the other"
    elif route.fed and not route.returns:
        why, remedy = without_return(examined, state, route, drivers[0])
    elif drivers and _rests_for(examined, functions[0], drivers[0]) and state.bit(drivers[0]):
        at = fed_at(state, route.path, route.source, drivers[0])
        why = f"{drivers[0]} is energised, and must be without voltage for that"
        stats = {stat.id for stat in thermostats(examined.circuit.job)}
        through_stat = [end for end in route.path if end.partition(".")[0] in stats]
        if through_stat:
            ways = other_way_round(examined.circuit.job, functions[0], drivers[0], through_stat)
            remedy = f"one end takes voltage at {at} for yes and the other for no: {ways or 'set both the same way'}"
        else:
            remedy = _crossed(examined, state, route, drivers[0], at)
    elif route.fed:
        why = f"{drivers[0]} is fed and has a return, but does not act on what it sees"
        remedy = "see the weak findings: too little voltage comes to it"
    else:
        why, remedy = stops_at(examined, state, route, last), remedy_for(examined, state, route, last, drivers)
        why, remedy = _by_setting(examined, route, functions, calls, why) or (why, remedy)
    if not exchanged and not any(route.stop in fault.where for fault in examined.circuit.job.faults):
        remedy = exchange_on(examined, route.path, drivers) or remedy
    path = route.path
    if exchanged:
        # What lies beyond the wrong terminal is the same source's hot side once more.
        wrong = next((i for i, name in enumerate(path) if name in {one.terminal for one in exchanged}), len(path))
        path = path[: wrong + 1]
    stops = [*leads, *([route.stop] if route.stop else [])]
    return Finding(
        "dead-call",
        "fault",
        calls,
        tuple(dict.fromkeys((*functions, *drivers, *stops))),
        path,
        f"on {on}{alone} {what}: {why}",
        remedy,
    )


def _exchanged(examined: Examined, route: Route, driver: int | None) -> tuple[Crossed, ...]:
    """Return what is exchanged at the equipment to run, or where the current stops; nothing where no two leads are."""
    if driver is None or not ((route.fed and not route.returns) or route.stop):
        return ()
    named = (examined.circuit.network.branches[driver].name, route.stop)
    for id_ in (name.partition(".")[0] for name in named if name not in examined.circuit.job.landings):
        if len(crossed := crossed_at(examined.needs.joins, id_)) > 1:
            return crossed
    return ()


def _crossed(examined: Examined, state: Snapshot, route: Route, driver: str, at: str) -> str:
    """Say what brings a load voltage that must have none, beside what drives the rest of its equipment."""
    own = driver.partition(".")[0]
    network = state.circuit.network
    fed = {at: route.path}
    for name, (equipment, element) in examined.circuit.elements.items():
        if equipment.id == own and element.kind in LOADS and name != driver and not element.hidden and state.bit(name):
            path = through(state, network.index[name])
            fed[fed_at(state, path, route.source, name)] = path
    comes = [(end, way[way.index(end) - 1]) for end, way in fed.items() if end in way[1:]]
    if len(comes) < 2:
        return f"take off what feeds {driver} past the thermostat: nothing may bring voltage to {at} on this call"
    said = " and ".join(f"at {end} from {source}" for end, source in comes)
    return (
        f"{own} gets voltage {said} on one call, and only one of them may have it: see which of the leads are exchanged"
    )


def _by_setting(
    examined: Examined, route: Route, functions: tuple[str, ...], calls: tuple[str, ...], why: str
) -> tuple[str, str] | None:
    """Say which setting keeps a sound thermostat's contact open, and what to set; None where it stops elsewhere or none does."""
    job = examined.circuit.job
    stat, element = examined.circuit.elements.get(route.stop, (None, None))
    if stat is None or element is None or not stat.part.calls or any(route.stop in fault.where for fault in job.faults):
        return None
    said = changed_over(job, functions, stat.id)
    if said is None:
        kept = [kept_from(job, function, calls) for function in functions]
        said = kept[0] if len(set(kept)) == 1 else None
    return said and (f"{why}; {said[0]}", said[1])


def _idle(state: Snapshot, functions: Collection[str]) -> str:
    """Return the function that does not run though it is driven, and keeps these from running; empty where there is none."""
    idle = sorted(idle_functions(state.circuit.job))
    owners = {name.partition(".")[0] for name in functions}
    return next((name for name in idle if name in functions), "") or next(
        (name for name in idle if name.partition(".")[0] in owners), ""
    )


def _rests_for(examined: Examined, function: str, driver: str) -> bool:
    """Tell whether a function runs only while its driver is not energised."""
    id_, _, name = function.partition(".")
    element = driver.partition(".")[2]
    device = examined.circuit.job.equipment[id_]
    triggers = [trigger for trigger in device.part.functions[name].triggers if fitted(trigger.when, device.settings)]
    conditions = [trigger.runs_when for trigger in triggers]
    named = [condition for condition in conditions if element in condition.elements()]
    return bool(named) and not any(element in condition.makers() for condition in named)
