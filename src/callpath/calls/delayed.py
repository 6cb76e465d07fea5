"""What follows late: a contact that closes after its driver, a reason for a function to run, a defrost that comes round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from callpath.circuit.build import Circuit
from callpath.circuit.drive import compile_condition
from callpath.circuit.network import Drive
from callpath.job.model import Equipment
from callpath.parts.model import Condition, Cycle, ElectricalValue, Retry, Step, fitted

__all__ = ["Delayed", "Turn", "cycles", "late_contacts", "triggers"]


@dataclass
class Delayed:
    """A contact that follows its driver late, or one trigger of a function with its delays and steps.

    ``now`` is what it does, ``wants`` what it will do when its delay is over; a new ``ticket`` makes what was planned void.
    A burner is ``failing`` from a trial without flame until it is lit, and has been ``locked_out`` after the last.
    """

    name: str
    equipment: str
    drive: Drive
    on_s: float
    off_s: float
    function: str = ""
    steps: tuple[Step, ...] = ()
    drivers: tuple[str, ...] = ()
    makers: frozenset[str] = frozenset()
    states: frozenset[str] = frozenset()
    retry: Retry | None = None
    branch: int = -1
    now: bool = False
    wants: bool = False
    ticket: int = 0
    tries: int = 0
    failing: bool = False
    locked_out: bool = False

    @property
    def proving(self) -> str:
        """The step at which a burner proves its flame; empty for all else."""
        return self.steps[-1].what if self.retry is not None and self.steps else ""


@dataclass
class Turn:
    """A state of equipment that comes round while a condition lasts: defrost, with frost on the coil."""

    equipment: str
    cycle: Cycle
    drive: Drive
    after_s: float
    lasts_s: float
    running: bool = False
    wants: bool = False
    began_s: float = 0.0
    ticket: int = field(default=0)


def late_contacts(circuit: Circuit, place: Mapping[str, int]) -> Iterator[Delayed]:
    """Yield the contacts that follow their drivers late."""
    for name, (equipment, element) in circuit.elements.items():
        if element.on_delay_s is not None and element.closed_when is not None:
            yield Delayed(
                name,
                equipment.id,
                compile_condition(element.closed_when, equipment, place),
                _seconds(element.on_delay_s, equipment),
                _seconds(element.off_delay_s, equipment),
                branch=circuit.network.index[name],
                drivers=_named(equipment, element.closed_when),
            )


def triggers(circuit: Circuit, place: Mapping[str, int]) -> Iterator[Delayed]:
    """Yield every reason for every function to run."""
    for equipment in circuit.job.equipment.values():
        for name, function in equipment.part.functions.items():
            for trigger in function.triggers:
                if fitted(trigger.when, equipment.settings):
                    yield Delayed(
                        f"{equipment.id}.{name}",
                        equipment.id,
                        compile_condition(trigger.runs_when, equipment, place),
                        _seconds(trigger.on_delay_s, equipment),
                        _seconds(trigger.off_delay_s, equipment),
                        function=f"{equipment.id}.{name}",
                        steps=trigger.steps,
                        drivers=tuple(
                            driver
                            for driver in _named(equipment, trigger.runs_when)
                            if not equipment.part.elements[driver.partition(".")[2]].hidden
                        ),
                        makers=frozenset(trigger.runs_when.makers()),
                        states=frozenset(trigger.runs_when.states()),
                        retry=function.retry,
                    )


def cycles(circuit: Circuit, place: Mapping[str, int]) -> Iterator[Turn]:
    """Yield the states of equipment that come round by themselves."""
    for equipment in circuit.job.equipment.values():
        for cycle in equipment.part.cycles:
            if fitted(cycle.when, equipment.settings) and cycle.state in place:
                yield Turn(
                    equipment.id,
                    cycle,
                    compile_condition(cycle.runs_when, equipment, place),
                    _seconds(cycle.after_s, equipment),
                    _seconds(cycle.lasts_s, equipment),
                )


def _seconds(value: ElectricalValue | None, equipment: Equipment) -> float:
    return (value.resolve(equipment.settings) if value else None) or 0.0


def _named(equipment: Equipment, condition: Condition) -> tuple[str, ...]:
    return tuple(f"{equipment.id}.{element}" for element in sorted(condition.elements()))
