"""What is landed where: ends that disagree, crowded terminals, colours against custom, spares, ways back through metal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from callpath.calls.closing import given_for
from callpath.circuit.path import through
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Changes
from callpath.job.model import Equipment
from callpath.parts.catalogue import custom_colours
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = [
    "crowded_terminals",
    "ends_that_disagree",
    "off_colours",
    "relies_on_chassis",
    "relies_on_fan_lead",
    "spares",
]

_RETURN_AMPS = 0.01


def _sides(
    examined: Examined, conductor: str
) -> tuple[list[tuple[Equipment, str, str]], list[tuple[Equipment, str, str]]]:
    """Return the terminals that each end of a conductor comes to: its own, or those beyond a splice."""
    joins = examined.needs.joins
    job = joins.job
    sides = []
    for end in job.landings[conductor]:
        if end is None:
            sides.append([])
        elif end in job.splices:
            names = {end}
            todo = [end]
            while todo:
                here = todo.pop()
                for _, other, name in joins.graph.edges(here, data="name"):
                    if name and name != conductor and other not in names:
                        names.add(other)
                        if other in job.splices:
                            todo.append(other)
            sides.append(joins.terminals(frozenset(names)))
        else:
            equipment, letters = job.terminal(end)
            sides.append([(equipment, letters, end)])
    return sides[0], sides[1]


def ends_that_disagree(examined: Examined) -> Iterator[Finding]:
    """A conductor from a thermostat terminal to an indoor terminal that means something else."""
    told: set[frozenset[str]] = set()
    for conductor in examined.circuit.job.landings:
        one, two = _sides(examined, conductor)
        for stats, others in ((one, two), (two, one)):
            for stat, letters, name in stats:
                if not stat.part.calls:
                    continue
                for equipment, other_letters, other in others:
                    means = set(stat.part.terminals[letters].means)
                    other_means = set(equipment.part.terminals[other_letters].means)
                    if equipment.part.role != "indoor" or means & other_means or frozenset((name, other)) in told:
                        continue
                    told.add(frozenset((name, other)))
                    yield Finding(
                        "ends-disagree",
                        "fault",
                        examined.calls,
                        (conductor, name, other),
                        (name, conductor, other),
                        f"{conductor} joins {name} ({', '.join(sorted(means))}) to {other} ({', '.join(sorted(other_means))})",
                        f"move one end of {conductor} so that both ends mean the same; its colour does not matter, its ends do",
                    )


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
    for conductor in job.landings:
        one, two = _sides(examined, conductor)
        stats = [(stat, letters, name) for stat, letters, name in (*one, *two) if stat.part.calls]
        direct = [stat for stat in stats if stat[2] in job.landings[conductor]]
        colour = conductor.partition(".")[2]
        for stat, letters, name in direct:
            purposes = stat.part.terminals[letters].means
            custom = next((colours[purpose] for purpose in purposes if purpose in colours), None)
            if custom is not None and custom != colour and (one and two):
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
    """The way back from a load runs through metal."""
    for call, state in examined.plain.items():
        network = state.circuit.network
        metal = [i for i, branch in enumerate(network.branches) if branch.kind == "earthing"]
        carrying = [i for i in metal if abs(state.amps[i]) > _RETURN_AMPS]
        if not carrying:
            continue
        for name, (equipment, element) in examined.circuit.elements.items():
            if element.kind not in ("coil", "load", "input") or element.hidden:
                continue
            path = through(state, network.index[name])
            cases = {f"{network.branches[i].name.partition(':')[2]}.chassis" for i in carrying}
            if len(cases & set(path)) >= 2 and abs(state.amps[network.index[name]]) > _RETURN_AMPS:
                yield Finding(
                    "relies-on-chassis",
                    "note",
                    (call,),
                    (name,),
                    path,
                    f"the way back from {name} runs through metal",
                    "it works while every bond is sound; a conductor to the common is better where there is one to spare",
                )


def relies_on_fan_lead(examined: Examined) -> Iterator[Finding]:
    """In cooling the blower runs only because the fan output is wired."""
    circuit = examined.circuit
    network = circuit.network
    for call in ("cool", "cool-2"):
        state = examined.plain.get(call)
        if state is None or call not in examined.needs.serves():
            continue
        blowers = [name for name in examined.needs.must_run(call) if name.endswith(".blower") and name in state.running]
        given = given_for(circuit, call)
        fan = [
            i
            for i, name in enumerate(network.given)
            if ">" in name and given[i] and _means_fan(circuit.job.equipment, name)
        ]
        if not blowers or not fan:
            continue
        given[fan] = False
        states = States(given[None], np.ones((1, len(network.sources))), Changes.none(1))
        bits = settle(circuit.engine, states).bits
        lost = sorted(name for name in blowers if not circuit.functions[name](bits)[0])
        for name in lost:
            leads = [network.given[i].replace(">", ".") for i in fan]
            yield Finding(
                "relies-on-fan-lead",
                "note",
                (call,),
                (name, *leads),
                (),
                f"{name} runs in cooling only because {', '.join(leads)} is wired",
                "do not borrow this lead for anything else",
            )


def _means_fan(equipment: object, given: str) -> bool:
    stat, _, output = given.partition(">")
    return "fan" in equipment[stat].part.terminals[output].means  # type: ignore[index]
