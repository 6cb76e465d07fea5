"""Zones that a repair keeps apart: every valve is opened by some thermostat, and no two thermostats are made one.

The proof lets two thermostats open one valve, as two that stand in one zone do. A repair does not make it so: a jumper between
two zones' leads would cure a zone that stays cold, and heat both whenever one calls.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace

from callpath.calls.closing import call_rules, thermostats
from callpath.calls.need import Needs
from callpath.landing.logic import Logic, Moment
from callpath.landing.points import Plan

__all__ = ["Opened", "Zones", "zones_of"]

Opened = dict[str, dict[str, list[Moment]]]
"""By thermostat, what runs when it alone calls, each function with the moments in which it does."""


@dataclass(frozen=True)
class Zones:
    """Who has a zone and what opens it.

    Parameters
    ----------
    openings : frozenset of str
        What opens for a zone, ``valve.open``; each must, for somebody.
    stats : tuple of str
        The thermostats that have a zone.
    calls : tuple of str
        The calls to serve.
    shared : frozenset of (str, str, str)
        Two thermostats and a function that both ran as found.
    apart : frozenset of (str, str)
        Pairs of thermostats that ran nothing together as found, though both ran something.
    """

    openings: frozenset[str]
    stats: tuple[str, ...]
    calls: tuple[str, ...]
    shared: frozenset[tuple[str, str, str]] = frozenset()
    apart: frozenset[tuple[str, str]] = frozenset()

    @property
    def enough(self) -> bool:
        """Whether every thermostat can have a zone of its own."""
        return len(self.openings) >= len(self.stats)

    def as_found(self, logic: Logic, plan: Plan) -> Zones:
        """Return the same with what thermostats share as found, and which run nothing together."""
        runs = {stat: set(functions) for stat, functions in self.opened(logic, plan).items()}
        pairs = list(itertools.combinations(runs, 2))
        shared = {(one, two, name) for one, two in pairs for name in runs[one] & runs[two]}
        apart = {(one, two) for one, two in pairs if runs[one] and runs[two] and not runs[one] & runs[two]}
        return replace(self, shared=frozenset(shared), apart=frozenset(apart))

    def opened(self, logic: Logic, plan: Plan) -> Opened:
        """Return what every thermostat runs when it alone calls."""
        found: Opened = {}
        for stat in thermostats(logic.job):
            runs = found.setdefault(stat.id, {})
            rules = call_rules(stat)
            for call in self.calls:
                if call in rules:
                    moment = logic.moment(call, (stat.id,))
                    for name in logic.running(logic.settle(plan, moment)[0], moment.states):
                        runs.setdefault(name, []).append(moment)
        return found

    def idle(self, opened: Opened) -> Iterator[tuple[frozenset[str], tuple[str, ...]]]:
        """Yield what ought to open, one of each at least, and the thermostats whose call ought to open it."""
        for opening in sorted(self.openings):
            if not any(opening in runs for runs in opened.values()):
                yield frozenset((opening,)), self.stats
        for stat in self.stats if self.enough else ():
            if not self.openings & opened[stat].keys():
                yield self.openings, (stat,)

    def joined(self, opened: Opened) -> Iterator[tuple[str, Moment, Moment]]:
        """Yield what two thermostats run that should not share it, and a moment of each."""
        for one, two in itertools.combinations(opened, 2):
            for name in sorted(opened[one].keys() & opened[two].keys()):
                zoned = name in self.openings and one in self.stats and two in self.stats
                own = zoned and (self.enough or (one, two, name) not in self.shared)
                if own or (one, two) in self.apart:
                    yield name, opened[one][name][0], opened[two][name][0]


def zones_of(needs: Needs, serves: tuple[str, ...]) -> Zones:
    """Return the zones of a job as found: what its calls open or ought to open."""
    openings: dict[str, set[str]] = {
        stat.id: {
            name
            for call in serves
            if call in call_rules(stat)
            for name in needs.must_run(call, [stat.id])
            if name.endswith(".open")
        }
        for stat in thermostats(needs.job)
        if stat.id in needs.landed
    }
    stats = tuple(stat for stat, opens in openings.items() if opens)
    return Zones(frozenset[str]().union(*openings.values()), stats, serves)
