"""What makes a contact close and a function run: conditions of the catalogue as functions of state vectors."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from callpath.circuit.network import Drive
from callpath.circuit.solve import Bools
from callpath.job.model import Equipment, Job
from callpath.parts.model import Condition, fitted

__all__ = [
    "BEYOND",
    "alive_drive",
    "called",
    "column",
    "compile_condition",
    "function_drives",
    "held_back",
    "idle_functions",
    "never",
]

BEYOND = "the trouble lies beyond the 24 V circuit"
"""What is wrong where a function is driven and does not run, in words."""


def called(equipment: str, output: str) -> str:
    """Return the name of the given bit that says a thermostat's call asks for an output."""
    return f"{equipment}>{output}"


def never(bits: Bools) -> Bools:
    """Return that nothing holds in any state."""
    return np.zeros(len(bits), bool)


def _always(bits: Bools) -> Bools:
    return np.ones(len(bits), bool)


def column(i: int) -> Drive:
    """Return one bit as a function of state vectors."""
    return lambda bits: bits[:, i]


def compile_condition(condition: Condition, equipment: Equipment, place: Mapping[str, int]) -> Drive:
    """Return the condition as a function of state vectors.

    An output holds while the call asks for it and the thermostat has the supply that its settings need.
    """
    if condition.element:
        bit = place.get(f"{equipment.id}.{condition.element}")
        return never if bit is None else column(bit)
    if condition.state:
        return column(place[condition.state])
    if condition.negated:
        inner = compile_condition(condition.negated, equipment, place)
        return lambda bits: ~inner(bits)
    if condition.output:
        asked = place[called(equipment.id, condition.output)]
        alive = alive_drive(equipment, place)
        return lambda bits: bits[:, asked] & alive(bits)
    parts = [compile_condition(part, equipment, place) for part in (condition.all or condition.any or ())]
    if condition.any is not None:
        return _either(parts)
    return lambda bits: np.logical_and.reduce([part(bits) for part in parts])


def _either(parts: Sequence[Drive]) -> Drive:
    return (lambda bits: np.logical_or.reduce([part(bits) for part in parts])) if parts else never


def alive_drive(equipment: Equipment, place: Mapping[str, int]) -> Drive:
    """Return whether a thermostat is alive, as a function of state vectors; always where it lives on its own cells."""
    for supply in equipment.part.supply:
        if fitted(supply.when, equipment.settings) and supply.needs is not None:
            return compile_condition(supply.needs, equipment, place)
    return _always


def idle_functions(job: Job) -> frozenset[str]:
    """Return the functions that a job's faults keep from running though they are called for."""
    return frozenset(fault.where[0] for fault in job.faults if fault.kind == "idle")


def function_drives(equipment: Equipment, place: Mapping[str, int], idle: Collection[str] = ()) -> dict[str, Drive]:
    """Return whether each of the equipment's functions runs, once its delays are over, as functions of state vectors.

    Parameters
    ----------
    place : mapping
        Where each bit stands in a state vector.
    idle : collection of str
        Functions, ``equipment.function``, that never run, whatever drives them.
    """
    lost = held_back(equipment, idle)
    return {
        f"{equipment.id}.{name}": _either(
            [
                compile_condition(trigger.runs_when, equipment, place)
                for number, trigger in enumerate(function.triggers)
                if fitted(trigger.when, equipment.settings) and (name, number) not in lost
            ]
        )
        for name, function in equipment.part.functions.items()
    }


def held_back(equipment: Equipment, idle: Collection[str]) -> set[tuple[str, int]]:
    """Return the triggers, by function and number, that do nothing where some functions are idle.

    What starts by a burner's own call, blower or second stage, waits for its flame, as it does when the call is played.
    """
    functions = equipment.part.functions
    still = {name for name in functions if f"{equipment.id}.{name}" in idle}
    makers = [t.runs_when.makers() for name in still if functions[name].retry for t in functions[name].triggers]
    return {
        (name, number)
        for name, function in functions.items()
        for number, trigger in enumerate(function.triggers)
        if name in still or any(trigger.runs_when.makers() >= burner for burner in makers)
    }
