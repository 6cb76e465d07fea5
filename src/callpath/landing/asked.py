"""What is asked of a job's wiring on every call, in the yes and no of ``Logic``; whatever fails it fails the proof too."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from callpath.calls.closing import call_rules, thermostats
from callpath.job.model import Equipment, Job
from callpath.landing.demand import Demands
from callpath.landing.logic import Logic, Moment
from callpath.parts.model import Condition

__all__ = ["Ask", "Asked"]

_PRIMARY = ("blower", "compressor", "heat", "aux-heat")


@dataclass(frozen=True)
class Ask:
    """What one moment may run, and what it must: of every group one function at least."""

    moment: Moment
    allowed: frozenset[str]
    groups: tuple[frozenset[str], ...]


class Asked:
    """A job's equipment with its settings, and what every call asks of whatever wiring.

    Parameters
    ----------
    landed : collection of str
        The equipment that something is landed on; a thermostat that nothing is landed on is asked nothing alone.
    serves : sequence of str
        The calls to serve.
    """

    def __init__(self, job: Job, landed: Collection[str], serves: Collection[str]) -> None:
        self.logic = Logic(replace(job, faults=()))
        demands = Demands(self.logic, self.logic.bare)
        self.asks: list[Ask] = []
        for moment, allowed in demands.moments.items():
            everybody = tuple(stat.id for stat in thermostats(job) if moment.call in call_rules(stat))
            asked = moment.call in serves and (moment.callers == everybody or set(moment.callers) <= set(landed))
            needed = demands.needs.must_run(moment.call, moment.callers) if asked else frozenset()
            beside = demands.needs.beside(moment.call)
            self.asks.append(Ask(moment, allowed | beside, self._kinds(needed, moment)))
        self.supplies: list[tuple[Equipment, Condition]] = [
            (stat, supply) for stat in thermostats(job) if (supply := self.logic.supply_of(stat)) is not None
        ]

    def _kinds(self, functions: frozenset[str], moment: Moment) -> tuple[frozenset[str], ...]:
        """Return groups of which one at least must run: every kind of function that a call cannot do without."""
        equipment = self.logic.job.equipment
        kinds = {name.partition(".")[2] for name in functions} & set(_PRIMARY)
        alike: dict[str, tuple[str, ...]] = {kind: (kind,) for kind in kinds}
        if (
            kinds
            and moment.call.startswith("heat")
            and not any("aux" in equipment[caller].part.calls for caller in moment.callers)
        ):
            # Without a heat pump whatever heats will do, with the companions that it has.
            alike = {"heat": ("heat", "aux-heat")}
        groups = [
            frozenset(
                f"{device.id}.{kind}"
                for device in equipment.values()
                for kind in alike[name]
                if kind in device.part.functions
            )
            for name in sorted(alike)
        ]
        if all(len(group) == 1 for group in groups):
            # Where nothing can stand in for anything, whatever belongs to it must run too.
            groups = [frozenset((name,)) for name in sorted(functions)]
        return tuple(groups)
