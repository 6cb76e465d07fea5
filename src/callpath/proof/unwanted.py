"""Functions that run in a call that must not run them, and states that never come to rest."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from callpath.circuit.copper import Copper
from callpath.circuit.network import Branch
from callpath.circuit.path import through
from callpath.circuit.snapshot import Snapshot
from callpath.parts.model import Trigger
from callpath.proof.crossed import exchange_on
from callpath.proof.finding import Finding
from callpath.proof.route import driver_of, wanting
from callpath.proof.setting import changed_over
from callpath.proof.states import Examined
from callpath.proof.unasked import without_the_lead

__all__ = ["chatters", "unwanted_runs"]

_HEATS = ("heat", "heat-2", "aux", "emergency")


def unwanted_runs(examined: Examined) -> Iterator[Finding]:
    """A function that runs where it must not, with the loop that energises it; looked for in every state."""
    names = tuple(examined.circuit.functions)
    allowed = np.array([[name in may for name in names] for may in _allowed(examined)], bool)
    allowed = allowed.reshape(len(examined.cases), len(names))
    extra = examined.running & ~allowed[examined.case_of] & ~examined.settled.chatter[:, None]
    # What tells of a fault may run while a safety is open or a source is dead, and at no other time.
    tells = np.isin(names, sorted(examined.needs.tell_of_a_fault))
    plain = np.isin(np.arange(len(extra)), [case.first for case in examined.cases])
    extra &= plain[:, None] | ~tells
    told: dict[frozenset[int], _Unwanted] = {}
    lacked: set[str] = set()
    # A mix of calls is news only where what runs has another cause than what a single call runs.
    for some, (j, function) in itertools.product((~examined.mixed, examined.mixed), enumerate(names)):
        states = np.flatnonzero(extra[:, j] & some)
        if not len(states):
            continue
        state = examined.snapshot(int(states[0]))
        driver = driver_of(state, function)
        if driver is None:
            continue
        together = examined.together(states)
        may = {names[k] for k in np.flatnonzero(examined.running[states[0]] & allowed[examined.case_of[states[0]]])}
        lacking = wanting(state, function, may)
        if lacking is not None:
            if together and function in lacked:
                continue
            lacked.add(function)
            yield _lacks_voltage(examined, function, *lacking, examined.calls_of(states), together)
            continue
        cause = _cause(examined, state, driver)
        if together and cause in told and not told[cause].together:
            continue
        found = told.setdefault(cause, _Unwanted(state, driver, through(state, driver), {}, {}, {}, together))
        found.functions[function] = found.elements[state.circuit.network.branches[driver].name] = None
        found.calls.update(dict.fromkeys(examined.calls_of(states)))
    for found in told.values():
        yield _finding(examined, found)


@dataclass
class _Unwanted:
    """What runs from one cause: functions, what drives them, and the calls it shows in."""

    state: Snapshot
    driver: int
    path: tuple[str, ...]
    functions: dict[str, None]
    elements: dict[str, None]
    calls: dict[str, None]
    together: str


def _allowed(examined: Examined) -> Iterator[frozenset[str]]:
    """Yield, case by case, the functions that may run: in a mix of calls what any of them may run."""
    needs = examined.needs
    alone: dict[tuple[str, str], frozenset[str]] = {}
    for case in examined.cases:
        if not case.mixed:
            yield needs.may_run(case.call, None if case.everybody else case.callers)
            continue
        for stat, call in case.asks:
            if (stat, call) not in alone:
                alone[stat, call] = needs.may_run(call, [stat])
        yield frozenset[str]().union(*(alone[ask] for ask in case.asks))


def _cause(examined: Examined, state: Snapshot, driver: int) -> frozenset[int]:
    """Return what tells one cause from another: the copper on either side of a load, as far as no thermostat switches it.

    Whatever else sits between the same two pieces runs for the same reason, whichever source feeds it and from which side.
    """
    elements = examined.circuit.elements

    def weigh(i: int, branch: Branch) -> float | None:
        closed = branch.kind == "contact" and state.siemens[i] != 0 and not elements[branch.name][0].part.calls
        return 1.0 if branch.kind in ("wire", "jumper", "link") or closed else None

    piece_of = Copper(state.circuit.network, weigh).piece_of
    branch = state.circuit.network.branches[driver]
    return frozenset((piece_of[branch.a], piece_of[branch.b]))


def _finding(examined: Examined, found: _Unwanted) -> Finding:
    calls = tuple(call for call in examined.calls if call in found.calls)
    plural = "s" if len(found.functions) == 1 else ""
    on = ", ".join(f"'{call}'" for call in calls)
    fed = f"{' and '.join(found.elements)} {'is' if len(found.elements) == 1 else 'are'}"
    why = f"{fed} fed from {found.path[0] if found.path else 'elsewhere'}"
    welded = _welded(examined, found.path)
    stuck = {where for fault in examined.circuit.job.faults if fault.kind == "stuck" for where in fault.where}
    held = [name for name in found.elements if name in stuck]
    over = changed_over(examined.circuit.job, found.functions)
    if held:
        why = f"{' and '.join(held)} stays pulled in, whatever its coil sees"
        remedy = f"replace {' and '.join(held)}, whose contacts are welded; no lead has to move"
    elif welded:
        why += f", and {' and '.join(welded)} stays closed"
        remedy = f"replace {' and '.join(welded)}, whose contact does not open any more; no lead has to move"
    elif over:
        why, remedy = f"{why}; {over[0]}", over[1]
    elif _both_fuels(examined, found):
        why += "; heat pump and furnace heat at the same time, and the indoor coil gets the furnace's hot air"
        remedy = (
            "let the two take turns: one call must not lead to both. Take off the joint between the furnace's and the heat "
            "pump's leads, or use a dual-fuel thermostat or interlock, whose call for the furnace takes the heat pump's away"
        )
    elif swapped := exchange_on(examined, found.path, found.elements):
        remedy = swapped
    else:
        remedy = "" if found.together else without_the_lead(examined, found.state, found.driver, found.functions, calls)
    return Finding(
        "unwanted-run",
        "fault",
        calls,
        tuple(dict.fromkeys((*found.functions, *found.elements))),
        found.path,
        f"{' and '.join(found.functions)} run{plural} on {on}{found.together} and must not: {why}",
        remedy
        or f"follow the path and take off the joint that should not lead to {next(iter(found.elements))}: a conductor on the "
        "wrong terminal, a contact that does not open, or current coming back through another load",
    )


def _lacks_voltage(
    examined: Examined, function: str, load: str, trigger: Trigger, calls: tuple[str, ...], together: str
) -> Finding:
    """Return the finding of a function that runs because nothing feeds the input that would keep it from running."""
    equipment, element = examined.circuit.elements[load]
    terminals = equipment.part.terminals
    ends = tuple(f"{equipment.id}.{point}" for point in element.between if point in terminals)
    fed = ends[0] if ends else load
    power = next((f"{equipment.id}.{letters}" for letters, t in terminals.items() if "power" in t.means), "a source")
    remedy = (
        f"bring 24 V to {fed}: through the contact that opens to ask for {function}, or by a jumper from {power} where nothing "
        "asks for it"
    )
    for setting, value in (trigger.when or {}).items():
        others = [choice for choice in equipment.part.settings[setting].choices if choice != value]
        remedy += f"; or set {equipment.id}.{setting} to {others[0]}" if len(others) == 1 else ""
    on = ", ".join(f"'{call}'" for call in calls)
    return Finding(
        "unwanted-run",
        "fault",
        calls,
        (function, load, fed),
        ends,
        f"{function} runs on {on}{together} and must not: {fed} has no 24 V, which {load} needs to keep it from running",
        remedy,
    )


def _welded(examined: Examined, path: tuple[str, ...]) -> list[str]:
    """Return the contacts on a path that stay closed whatever drives them."""
    network = examined.circuit.network
    steps = {frozenset(step) for step in itertools.pairwise(path)}
    return [
        name
        for name, (equipment, element) in examined.circuit.elements.items()
        if element.kind == "contact"
        and not element.field
        and network.branches[network.index[name]].drive is None
        and frozenset(f"{equipment.id}.{point}" for point in element.between) in steps
    ]


def _both_fuels(examined: Examined, found: _Unwanted) -> bool:
    """Tell whether on some call for heat a heat pump and a burner heat together, one of them unwanted."""
    job = examined.circuit.job
    pumps = {f"{id_}.compressor" for id_, device in job.equipment.items() if "reversing-valve" in device.part.functions}
    burners = {f"{id_}.heat" for id_, device in job.equipment.items() if "heat" in device.part.functions}
    heating = [set(examined.plain[call].running) for call in found.calls if call in examined.plain and call in _HEATS]
    return bool((pumps | burners) & found.functions.keys()) and any(run & pumps and run & burners for run in heating)


def chatters(examined: Examined) -> Iterator[Finding]:
    """States with no rest: something drops out what feeds it."""
    states = np.flatnonzero(examined.settled.chatter)
    if not len(states):
        return
    state = examined.snapshot(int(states[0]))
    network = examined.circuit.network
    unrest = [
        bit.name
        for i, bit in enumerate(network.bits)
        if bit.sense == "volts" and bit.name in examined.circuit.elements and _restless(examined, states, i)
    ]
    coil = unrest[0] if unrest else network.bits[0].name
    yield Finding(
        "chatter",
        "weak",
        examined.calls_of(states),
        tuple(unrest),
        through(state, network.index[coil]),
        f"{', '.join(unrest)} never comes to rest{examined.together(states)}: what it switches takes away its own supply, and it "
        "chatters",
        "do not feed a coil through its own opening contact, and give it a source that holds up when it pulls in",
    )


def _restless(examined: Examined, states: np.ndarray, bit: int) -> bool:
    """Tell whether a bit stands on the wrong side of its threshold in a state that the settling stopped in."""
    network = examined.circuit.network
    watched = network.bits[bit]
    for i in states[:8]:
        state = examined.snapshot(int(i))
        seen = abs(state.volts[watched.branch])
        if (seen >= watched.on_at and not state.bits[bit]) or (seen < watched.off_at and state.bits[bit]):
            return True
    return False
