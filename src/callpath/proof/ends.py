"""Ends that disagree: a conductor from a thermostat to indoor equipment whose two ends mean different things, and what to do."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.calls.closing import thermostats
from callpath.calls.letters import traps
from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["Side", "ends_that_disagree", "opposed", "side_of"]

Side = dict[str, tuple[str, ...]]
"""The terminals that one end of a conductor comes to, each with the splices and conductors on the way from that end."""


def side_of(examined: Examined, conductor: str, end: int) -> Side:
    """Return where an end of a conductor comes to: its own terminal, or those beyond its splice."""
    joins = examined.needs.joins
    job = joins.job
    at = job.landings[conductor][end]
    if at is None:
        return {}
    found: Side = {}
    ways: dict[str, tuple[str, ...]] = {at: (at,)}
    todo = [at]
    while todo:
        here = todo.pop()
        if here not in job.splices:
            if here.partition(".")[0] in job.equipment:
                found[here] = ways[here]
            continue
        for other, name in joins.leads(here):
            if name and name != conductor and other not in ways:
                ways[other] = (*ways[here], name, other)
                todo.append(other)
    return found


def opposed(examined: Examined, conductor: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield what a thermostat's conductor joins though it means something else: the thermostat's terminal, the other, the way."""
    job = examined.circuit.job
    for end in (0, 1):
        name = job.landings[conductor][end]
        if name is None or name in job.splices:
            continue
        stat, letters = job.terminal(name)
        if not stat.part.calls:
            continue
        means = examined.needs.meanings(stat, letters)
        for other, way in sorted(side_of(examined, conductor, 1 - end).items()):
            equipment, other_letters = job.terminal(other)
            if equipment.part.role == "indoor" and not means & set(equipment.part.terminals[other_letters].means):
                yield name, other, (name, conductor, *way)


def ends_that_disagree(examined: Examined) -> Iterator[Finding]:
    """A conductor from a thermostat terminal to an indoor terminal that means something else."""
    job = examined.circuit.job
    wrong = {conductor: list(opposed(examined, conductor)) for conductor in job.landings}
    for conductor in job.landings:
        for name, other, way in wrong[conductor]:
            if traps(job, name, other):
                continue
            here, there = (", ".join(sorted(_means(examined, terminal))) for terminal in (name, other))
            yield Finding(
                "ends-disagree",
                "fault",
                examined.calls,
                (conductor, name, other),
                way,
                f"{conductor} joins {name} ({here}) to {other} ({there})",
                _put_right(examined, wrong, conductor, name, other),
            )


_Wrong = dict[str, list[tuple[str, str, tuple[str, ...]]]]
"""By conductor: what it joins though that means something else, as `opposed` yields it."""


def _put_right(examined: Examined, wrong: _Wrong, conductor: str, name: str, other: str) -> str:
    """Say how to put a conductor right: by exchanging it with one that is wrong the other way round, or by moving one end."""
    job = examined.circuit.job
    for second, wrongs in wrong.items():
        for its_name, its_other, _ in wrongs:
            crossed = _means(examined, name) & _means(examined, its_other) and _means(examined, its_name) & _means(
                examined, other
            )
            if second != conductor and crossed:
                at = other.partition(".")[0]
                return f"exchange {conductor} and {second} at {at}: each sits where the other belongs"
    if job.landings[conductor] not in ((name, other), (other, name)):
        return (
            f"follow the path: past its splice {conductor} comes to what {name} has nothing to do with; power off and take it "
            "out of that splice"
        )
    ways = [
        (not _wanted(examined, conductor, right), bool(first), moved, first)
        for at, right in ((other, name), (name, other))
        for moved, first in _moves(examined, wrong, conductor, at, right)
    ]
    if not ways:
        return f"power off and take {conductor} off: neither end has a free terminal beside it that means what the other does"
    best = min(ways)[:2]
    first = next((way[3] for way in sorted(ways) if way[:2] == best and way[3]), "")
    moves = " or ".join(way[2] for way in ways if way[:2] == best)
    return f"power off{first} and move {conductor} {moves}, so that both ends mean the same; its ends matter, not its colour"


def _wanted(examined: Examined, conductor: str, terminal: str) -> bool:
    """Tell whether the job needs this lead to a terminal: for a call that it serves, or a supply, and no other comes from there.

    What leads from the indoor equipment on to the outdoor unit does not bring it a call.
    """
    job = examined.circuit.job
    stats = {stat.id for stat in thermostats(job)}
    others = [ends for name, ends in job.landings.items() if name != conductor and terminal in ends]
    if any(end and end.partition(".")[0] in stats for ends in others for end in ends):
        return False
    means = _means(examined, terminal)
    if "common" in means:
        equipment, _ = job.terminal(terminal)
        return (
            bool(equipment.part.calls) and not examined.circuit.alive[equipment.id](examined.plain["off"].bits[None])[0]
        )
    return bool(means & {"power"}.union(*(examined.purposes(call) for call in examined.needs.serves())))


def _moves(examined: Examined, wrong: _Wrong, conductor: str, at: str, right: str) -> Iterator[tuple[str, str]]:
    """Yield where one end could go if the other sits right, and what comes off first: what sits there and is wrong itself."""
    job = examined.circuit.job
    device, letters = job.terminal(at)
    used = {end: name for name, landing in job.landings.items() for end in landing if end and name != conductor}
    jumped = {end for pair in job.jumpers for end in pair}
    for other in device.part.terminals:
        end = f"{device.id}.{other}"
        if end in jumped or not _means(examined, right) & _means(examined, end):
            continue
        if end not in used:
            yield f"at {device.id} from {letters} to {other}", ""
        elif wrong.get(used[end]):
            yield f"at {device.id} from {letters} to {other}", f", take {used[end]} off {end}"


def _means(examined: Examined, terminal: str) -> set[str]:
    equipment, letters = examined.circuit.job.terminal(terminal)
    if equipment.part.calls:
        return set(examined.needs.meanings(equipment, letters))
    return set(equipment.part.terminals[letters].means)
