"""What is landed where: crowded terminals, colours against custom, spares, ways back through metal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from callpath.calls.closing import given_for
from callpath.circuit.path import through
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import states_of
from callpath.job.model import Job
from callpath.parts.catalogue import custom_colours
from callpath.proof.ends import opposed, side_of
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["crowded_terminals", "off_colours", "relies_on_chassis", "relies_on_fan_lead", "spares"]

_RETURN_AMPS = 0.01
_LOADS = ("coil", "load", "input")


def _means(job: Job, terminal: str) -> tuple[str, ...]:
    equipment, letters = job.terminal(terminal)
    return equipment.part.terminals[letters].means


def crowded_terminals(examined: Examined) -> Iterator[Finding]:
    """More conductors on one terminal than it takes."""
    job = examined.circuit.job
    count: Counter[str] = Counter()
    for landing in job.landings.values():
        count.update(end for end in landing if end and end not in job.splices)
    for name, number in sorted(count.items()):
        equipment, letters = job.terminal(name)
        takes = equipment.part.terminals[letters].takes
        if number > takes:
            conductors = tuple(c for c, landing in job.landings.items() if name in landing)
            yield Finding(
                "crowded-terminal",
                "weak",
                examined.calls,
                (name, *conductors),
                (),
                f"{name} holds {number} conductors and takes {takes}: {', '.join(conductors)}",
                "splice them and bring one pigtail to the terminal",
            )


def off_colours(examined: Examined) -> Iterator[Finding]:
    """A conductor of a thermostat's cable whose purpose custom gives another colour."""
    job = examined.circuit.job
    colours = custom_colours()
    for conductor, landing in job.landings.items():
        colour = conductor.partition(".")[2]
        if next(opposed(examined, conductor), None):
            # A conductor on the wrong terminal is not right but for its colour.
            continue
        for end in (0, 1):
            name = landing[end]
            if name is None or name in job.splices or not job.terminal(name)[0].part.calls:
                continue
            custom = next((colours[purpose] for purpose in _means(job, name) if purpose in colours), None)
            if custom not in (None, colour) and side_of(examined, conductor, 1 - end):
                yield Finding(
                    "off-colour",
                    "note",
                    (),
                    (conductor, name),
                    (),
                    f"{conductor} serves {name}, which custom gives {custom}",
                    "right, but label it at both ends",
                )


def spares(examined: Examined) -> Iterator[Finding]:
    """Conductors landed nowhere."""
    for conductor, landing in examined.circuit.job.landings.items():
        if landing == (None, None):
            yield Finding(
                "spare",
                "note",
                (),
                (conductor,),
                (),
                f"{conductor} is landed nowhere",
                "cap it at both ends and keep it for the next fault",
            )


def relies_on_chassis(examined: Examined) -> Iterator[Finding]:
    """The way back from some loads runs through metal; one note for all of them."""
    loads: dict[str, None] = {}
    calls: dict[str, None] = {}
    first: tuple[str, ...] = ()
    for call, state in examined.plain.items():
        for name, (_, element) in examined.circuit.elements.items():
            index = state.circuit.network.index[name]
            if element.kind not in _LOADS or element.hidden or abs(state.amps[index]) < _RETURN_AMPS:
                continue
            path = through(state, index)
            if any(point.endswith(".chassis") for point in path):
                loads[name] = calls[call] = None
                first = first or path
    if loads:
        yield Finding(
            "relies-on-chassis",
            "note",
            tuple(calls),
            tuple(loads),
            first,
            f"the way back from {', '.join(loads)} runs through metal",
            "it works while every bond is sound; a conductor to the common is better where there is one to spare",
        )


def relies_on_fan_lead(examined: Examined) -> Iterator[Finding]:
    """In cooling a blower runs only because the fan output is wired: without that output it stops."""
    circuit = examined.circuit
    network = circuit.network
    for call in ("cool", "cool-2"):
        state = examined.plain.get(call)
        if state is None or call not in examined.needs.serves():
            continue
        needed = examined.needs.must_run(call)
        if not needed <= set(state.running):
            # What else should start the blower may be just what is broken; the dead call tells that.
            continue
        blowers = {name for name in needed if name.endswith(".blower")}
        given = given_for(circuit, call)
        for i, name in enumerate(network.given):
            if not (">" in name and given[i] and _means_fan(circuit.job, name)):
                continue
            without = given.copy()
            without[i] = False
            bits = settle(circuit.engine, states_of(circuit, without[None])).bits
            lost = sorted(name for name in blowers if not circuit.functions[name](bits)[0])
            lead = name.replace(">", ".")
            for blower in lost:
                yield Finding(
                    "relies-on-fan-lead",
                    "note",
                    (call,),
                    (blower, lead),
                    (),
                    f"{blower} runs in cooling only because {lead} is wired",
                    "do not borrow this lead for anything else",
                )


def _means_fan(job: Job, given: str) -> bool:
    stat, _, output = given.partition(">")
    return "fan" in job.equipment[stat].part.terminals[output].means
