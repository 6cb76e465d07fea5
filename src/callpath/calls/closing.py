"""What a thermostat closes on each call, and which calls a job's thermostats can make."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from callpath.circuit.build import Circuit
from callpath.circuit.solve import Bools
from callpath.errors import QuestionError, nearest
from callpath.job.model import Equipment, Job
from callpath.parts.model import CallRule, fitted

__all__ = [
    "CALL_ORDER",
    "call_rules",
    "callers_of",
    "calls_of_job",
    "check_callers",
    "given_for",
    "given_for_each",
    "outputs_for",
    "thermostats",
]

CALL_ORDER = (
    "off",
    "fan",
    "cool",
    "cool-2",
    "heat",
    "heat-2",
    "aux",
    "aux-2",
    "emergency",
    "defrost",
    "hot-water",
    "humidify",
    "dehumidify",
    "ventilate",
)
"""The order in which calls are listed; others that a part declares follow."""


def thermostats(job: Job) -> tuple[Equipment, ...]:
    """Return the equipment of a job that can make calls."""
    return tuple(equipment for equipment in job.equipment.values() if equipment.part.calls)


def call_rules(thermostat: Equipment) -> Mapping[str, CallRule]:
    """Return the calls that a thermostat can make with its settings."""
    return {call: rule for call, rule in thermostat.part.calls.items() if fitted(rule.when, thermostat.settings)}


def calls_of_job(circuit: Circuit) -> tuple[str, ...]:
    """Return ``off`` and every call that the job's thermostats can make, in the order they are listed.

    A call that stands for a state of equipment (``defrost``) is there only where some equipment has that state.
    """
    found = {"off"}
    for thermostat in thermostats(circuit.job):
        for call, rule in call_rules(thermostat).items():
            if all(state in circuit.network.given for state in rule.states):
                found.add(call)
    known = [call for call in CALL_ORDER if call in found]
    return (*known, *sorted(found.difference(known)))


def callers_of(job: Job, call: str) -> tuple[str, ...]:
    """Return the thermostats that can make a call."""
    return tuple(stat.id for stat in thermostats(job) if call in call_rules(stat))


def check_callers(job: Job, call: str, callers: Collection[str]) -> None:
    """Raise where a call is to be made by what does not make it; ``off``, and no call at all, are everybody's.

    Raises
    ------
    QuestionError
        There is no such thermostat, or it cannot make the call.
    """
    stats = {stat.id: stat for stat in thermostats(job)}
    for name in callers:
        if name not in stats:
            raise QuestionError(f"this job has no thermostat '{name}'; {nearest(name, stats)}".removesuffix("; "))
        possible = call_rules(stats[name])
        if call not in ("", "off") and call not in possible:
            raise QuestionError(f"{name} cannot call '{call}'; {nearest(call, possible)}")


def outputs_for(job: Job, call: str, callers: Collection[str] | None = None) -> dict[str, tuple[str, ...]]:
    """Return the outputs that each thermostat asks for on a call.

    Parameters
    ----------
    call : str
        The call; ``off`` asks for nothing.
    callers : collection of str, optional
        Thermostats that make the call; all that can, without it.
    """
    asked = {}
    for thermostat in thermostats(job):
        rule = call_rules(thermostat).get(call)
        if rule is not None and (callers is None or thermostat.id in callers):
            asked[thermostat.id] = tuple(item.output for item in rule.closes if fitted(item.when, thermostat.settings))
    return asked


def given_for(circuit: Circuit, call: str, callers: Collection[str] | None = None) -> Bools:
    """Return one row of given bits for a call, field contacts as the job has them.

    Raises
    ------
    QuestionError
        No thermostat of the job can make the call.
    """
    possible = calls_of_job(circuit)
    if call not in possible:
        raise QuestionError(f"no thermostat of this job can call '{call}'; {nearest(call, possible)}")
    states = {
        state
        for thermostat in thermostats(circuit.job)
        if callers is None or thermostat.id in callers
        for state in (call_rules(thermostat)[call].states if call in call_rules(thermostat) else ())
    }
    return circuit.given(outputs_for(circuit.job, call, callers), sorted(states))


def given_for_each(circuit: Circuit, asked: Iterable[tuple[str, str]]) -> Bools:
    """Return one row of given bits where every thermostat makes calls of its own, field contacts as the job has them.

    Parameters
    ----------
    asked : iterable of (str, str)
        A thermostat and a call that it can make, each; all others ask for nothing.
    """
    job = circuit.job
    outputs: dict[str, tuple[str, ...]] = {}
    states: set[str] = set()
    for stat, call in asked:
        outputs[stat] = tuple(dict.fromkeys((*outputs.get(stat, ()), *outputs_for(job, call, [stat])[stat])))
        states |= set(call_rules(job.equipment[stat])[call].states)
    return circuit.given(outputs, sorted(states))
