"""Mixes of calls: several thermostats that do not all ask for the same, upstairs cooling while downstairs wants heat; and one
that goes on asking for auxiliary heat while the outdoor unit defrosts.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterator

from callpath.calls.closing import call_rules, outputs_for, thermostats
from callpath.circuit.build import Circuit

__all__ = ["MOST_MIXES", "Asks", "mixes", "said"]

Asks = tuple[tuple[str, str], ...]
"""Who asks for what: thermostats, each with its call; all others ask for nothing. One that stands there twice asks for both."""

MOST_MIXES = 256
"""More mixes than this are not all examined: then only two thermostats call at a time."""


def mixes(circuit: Circuit, landed: Collection[str]) -> tuple[list[Asks], str]:
    """Return the mixes of calls of a job, the fewest callers first, and in words what was left out.

    Two calls that close the same contacts are one. Defrost is a state of all outdoor units at once, so it is mixed only where a
    single thermostat can call it.

    Parameters
    ----------
    landed : collection of str
        The equipment that something is landed on; a thermostat that is not among it closes nothing by calling.
    """
    job = circuit.job
    able = {stat.id: _calls(circuit, stat.id) for stat in thermostats(job) if stat.id in landed}
    able = {stat: calls for stat, calls in able.items() if calls}
    many = math.prod(len(calls) + 1 for calls in able.values()) > MOST_MIXES
    sizes = range(2, (min(len(able), 2) if many else len(able)) + 1)
    found = list(
        itertools.islice(itertools.chain.from_iterable(_of_size(able, size) for size in sizes), MOST_MIXES + 1)
    )
    defrosting = list(_defrosting(circuit, able))
    if not many:
        return [*found, *defrosting], ""
    all_pairs = len(found) <= MOST_MIXES
    tried = "all that two of them call" if all_pairs else f"{MOST_MIXES} of those that two of them call"
    left_out = f"{len(able)} thermostats mix their calls in too many ways to try them all: {tried}, the others off"
    return [*found[:MOST_MIXES], *defrosting], left_out


def _defrosting(circuit: Circuit, able: Collection[str]) -> Iterator[Asks]:
    """Yield what a thermostat can go on calling for while the outdoor unit defrosts: more heat than the call that it defrosts in.

    Cooling closes more than that too where the valve is fed in cooling, but nothing defrosts then.
    """
    for stat in able:
        equipment = circuit.job.equipment[stat]
        closes = {call: frozenset(outputs_for(circuit.job, call, [stat])[stat]) for call in call_rules(equipment)}
        states = {call: rule.states for call, rule in call_rules(equipment).items()}
        for state in (call for call in states if states[call] and set(states[call]) <= set(circuit.network.given)):
            more = {
                closes[call] - closes[state]: call
                for call in reversed(closes)
                if not states[call] and closes[call] > closes[state]
            }
            for beside, call in more.items():
                if not any("changeover" in equipment.part.terminals[output].means for output in beside):
                    yield (stat, call), (stat, state)


def _calls(circuit: Circuit, stat: str) -> tuple[str, ...]:
    """Return the calls of a thermostat that can be mixed with others, one for every set of contacts that it closes."""
    job = circuit.job
    shared = {
        call
        for call in call_rules(job.equipment[stat])
        if sum(call in call_rules(other) for other in thermostats(job)) > 1
    }
    found: dict[tuple[object, ...], str] = {}
    for call, rule in call_rules(job.equipment[stat]).items():
        closes = outputs_for(job, call, [stat])[stat]
        if closes and not (rule.states and (call in shared or set(rule.states) - set(circuit.network.given))):
            found.setdefault((frozenset(closes), tuple(rule.states)), call)
    return tuple(found.values())


def _of_size(able: dict[str, tuple[str, ...]], size: int) -> Iterator[Asks]:
    """Yield what so many thermostats can ask for without all asking for the same."""
    for callers in itertools.combinations(able, size):
        for calls in itertools.product(*(able[stat] for stat in callers)):
            if len(set(calls)) > 1:
                yield tuple(zip(callers, calls, strict=True))


def said(asks: Asks) -> str:
    """Return a mix in words."""
    by_stat: dict[str, list[str]] = {}
    for stat, call in asks:
        by_stat.setdefault(stat, []).append(f"'{call}'")
    return " and ".join(f"{stat} calls {' in '.join(calls)}" for stat, calls in by_stat.items())
