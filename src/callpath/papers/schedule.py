"""The hook-up schedule: what lands on every terminal and why, every conductor from point to point, splices, spares.

Why a conductor is there is told by the settled circuit: which loads it feeds, and for which the current comes back through it,
on which calls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from callpath.circuit.build import Circuit, end_node
from callpath.job.model import Job
from callpath.papers.live import Loop

__all__ = ["Landed", "Place", "Point", "Schedule", "reasons", "schedule"]


@dataclass(frozen=True)
class Landed:
    """A conductor or jumper on a terminal or splice: its name, where its other end is, and why it is there."""

    conductor: str
    other: str
    why: str


@dataclass(frozen=True)
class Point:
    """A terminal, a splice or a capped end, what it means, and what lands there."""

    name: str
    means: str
    lands: tuple[Landed, ...]


@dataclass(frozen=True)
class Place:
    """One piece of equipment (``id``) with its points; the splices and the capped ends of a location have no id."""

    location: str
    id: str
    title: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Run:
    """A conductor from point to point; a capped end is empty. ``at`` are the two locations."""

    conductor: str
    cable: str
    ends: tuple[str, str]
    at: tuple[str, str]
    why: str


@dataclass(frozen=True)
class Schedule:
    """Everything that lands anywhere; ``spares`` are the conductors capped at both ends."""

    places: tuple[Place, ...]
    runs: tuple[Run, ...]
    jumpers: tuple[tuple[str, str], ...]
    spares: tuple[str, ...]


def reasons(
    circuit: Circuit,
    loops: Mapping[str, Sequence[Loop]],
    alone: Mapping[tuple[str, str], Sequence[Loop]] | None = None,
) -> dict[str, str]:
    """Return for every conductor and jumper what current it carries.

    Parameters
    ----------
    circuit : Circuit
    loops : mapping of str to sequence of Loop
        The live loops of every call, all calling who can.
    alone : mapping of (str, str) to sequence of Loop, optional
        The same by call and thermostat, that one calling alone.
    """
    job = circuit.job
    jumpers = {frozenset(pair): f"jumper:{pair[0]}+{pair[1]}" for pair in job.jumpers}
    found: dict[str, dict[tuple[str, str], list[str]]] = {
        name: {} for name in (*job.landings, *(f"jumper:{one}+{two}" for one, two in job.jumpers))
    }
    by_one = {f"{call} from {stat}": (call, here) for (call, stat), here in (alone or {}).items()}
    for said, (call, here) in ({call: (call, here) for call, here in loops.items()} | by_one).items():
        for loop in here:
            for part, steps in (("feeds", loop.to), ("brings back", loop.back)):
                for name in {name for name in steps if name in job.landings} | _jumped(steps, jumpers):
                    calls = found[name].setdefault((part, loop.load), [])
                    if call not in calls:
                        calls.append(said)
    return {name: _why(job, name, parts, list(loops)) for name, parts in found.items()}


def _jumped(steps: Sequence[str], jumpers: Mapping[frozenset[str], str]) -> set[str]:
    return {jumpers[frozenset(pair)] for pair in pairwise(steps) if frozenset(pair) in jumpers}


def _why(job: Job, name: str, parts: Mapping[tuple[str, str], Sequence[str]], calls: Sequence[str]) -> str:
    if not parts:
        ends = job.landings.get(name)
        if ends == (None, None):
            return "spare, capped at both ends"
        if ends and None in ends:
            return "ends nowhere"
        one, two = ends or name.removeprefix("jumper:").split("+")
        return f"carries no load's current in any call; joins {_means(job, one)} to {_means(job, two)}"
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for (part, load), on in parts.items():
        groups.setdefault((part, tuple(on)), []).append(load)
    told = []
    for (part, on), loads in groups.items():
        when = "always" if set(calls) <= set(on) else f"on {', '.join(on)}"
        told.append(f"{part} {', '.join(loads)} {when}")
    return "; ".join(told)


def _means(job: Job, end: str | None) -> str:
    if end is None or end in job.splices:
        return "a splice"
    device, letters = job.terminal(end)
    return "/".join(device.part.terminals[letters].means)


def schedule(circuit: Circuit, why: Mapping[str, str]) -> Schedule:
    """Return the hook-up schedule of a job, its conductors told by ``why`` (see :func:`reasons`)."""
    job = circuit.job
    lands: dict[str, list[Landed]] = {}
    for name, on in job.landings.items():
        nodes = [end_node(name, end, on) for end in (0, 1)]
        for end in (0, 1):
            lands.setdefault(nodes[end], []).append(Landed(name, _spot(job, name, 1 - end), why[name]))
    for one, two in job.jumpers:
        for here, there in ((one, two), (two, one)):
            lands.setdefault(here, []).append(Landed("jumper", there, why[f"jumper:{one}+{two}"]))
    places = [
        Place(
            device.at,
            device.id,
            f"{device.part.part}: {device.part.title}",
            tuple(
                Point(letters, ", ".join(terminal.means), tuple(lands.get(f"{device.id}.{letters}", ())))
                for letters, terminal in device.part.terminals.items()
            ),
        )
        for device in job.equipment.values()
    ]
    loose: dict[str, list[Point]] = {}
    for splice, place in job.splices.items():
        loose.setdefault(place, []).append(Point(splice, "splice", tuple(lands.get(splice, ()))))
    for name, on in job.landings.items():
        for end in (0, 1):
            if on[end] is None:
                point = Point("capped", "capped end", tuple(lands[end_node(name, end, on)]))
                loose.setdefault(job.cable_of(name).between[end], []).append(point)
    places += [Place(place, "", "splices and capped ends", tuple(points)) for place, points in loose.items()]
    order = list(dict.fromkeys(place.location for place in places))
    places.sort(key=lambda place: order.index(place.location))
    return Schedule(
        tuple(places),
        tuple(
            Run(name, _cable(job, name), (on[0] or "", on[1] or ""), job.cable_of(name).between, why[name])
            for name, on in job.landings.items()
        ),
        job.jumpers,
        tuple(name for name, on in job.landings.items() if on == (None, None)),
    )


def _spot(job: Job, conductor: str, end: int) -> str:
    return job.landings[conductor][end] or f"capped in {job.cable_of(conductor).between[end]}"


def _cable(job: Job, conductor: str) -> str:
    cable = job.cable_of(conductor)
    metres = cable.length_ft * 0.3048
    return f"{cable.awg} AWG{' stranded' if cable.stranded else ''}, {cable.length_ft:.0f} ft ({metres:.1f} m)"
