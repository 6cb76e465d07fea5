"""Questions to a meter, asked in the words of a job: a call, two points, a conductor, ohms with the power off."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from callpath.calls.closing import given_for
from callpath.circuit.build import Circuit, build, end_node
from callpath.circuit.copper import Copper
from callpath.circuit.meter import Reading, read_amps, read_ohms, read_volts
from callpath.circuit.network import Network
from callpath.errors import QuestionError, nearest
from callpath.job.model import Job
from callpath.parts.catalogue import physics

__all__ = [
    "TableRow",
    "amps_in",
    "commons",
    "fuse_ends",
    "lifted_job",
    "ohms_between",
    "place_of_point",
    "point",
    "points_at",
    "points_of",
    "spread",
    "touchable",
    "volts_between",
    "volts_table",
]


@dataclass(frozen=True)
class TableRow:
    """One line of the table: a terminal, what it is read against, and the reading [V RMS]."""

    terminal: str
    against: str
    reading: Reading


def point(circuit: Circuit, name: str) -> str:
    """Return the node that a meter's lead on a point touches; a conductor's end that is landed is where it is landed.

    Raises
    ------
    QuestionError
        The job has no such point; the nearest names are given.
    """
    points = points_of(circuit)
    if name not in points:
        message = f"this job has no terminal, splice, or end of a conductor or fuse '{name}'"
        raise QuestionError(f"{message}; {nearest(name, points)}")
    conductor, _, end = name.partition("@")
    if conductor in circuit.job.landings:
        return end_node(conductor, int(end) - 1, circuit.job.landings[conductor])
    ends = fuse_ends(circuit)
    return circuit.network.nodes[ends[name]] if name in ends else name


def points_of(circuit: Circuit) -> list[str]:
    """Return where a meter's leads can go: terminals, splices, both ends of every conductor (``cable.colour@1``) and fuse."""
    terminals = [f"{e.id}.{letters}" for e in circuit.job.equipment.values() for letters in e.part.terminals]
    ends = [f"{name}@{end}" for name in circuit.job.landings for end in (1, 2)]
    return [*terminals, *circuit.job.splices, *ends, *fuse_ends(circuit)]


def place_of_point(circuit: Circuit, point: str) -> str:
    """Return where a terminal, splice, or end of a conductor or fuse is."""
    job = circuit.job
    if point in job.splices:
        return job.splices[point]
    conductor, _, end = point.partition("@")
    if conductor in job.landings:
        return job.cable_of(conductor).between[int(end) - 1]
    return job.equipment[point.partition(".")[0]].at


def points_at(circuit: Circuit) -> dict[str, list[str]]:
    """Return the points that a meter's leads can go to, by place."""
    found: dict[str, list[str]] = {}
    for name in points_of(circuit):
        found.setdefault(place_of_point(circuit, name), []).append(name)
    return found


def fuse_ends(circuit: Circuit) -> dict[str, int]:
    """Return the node of each end of every fuse, ``board.fuse@1`` and ``@2``: a fuse in its holder can be probed."""
    network = circuit.network
    fuses = (network.branches[network.index[name]] for name, (_, e) in circuit.elements.items() if e.kind == "fuse")
    return {f"{fuse.name}@{k}": node for fuse in fuses for k, node in ((1, fuse.a), (2, fuse.b))}


def touchable(circuit: Circuit) -> tuple[str, ...]:
    """Return the points that a meter's lead can touch, each once: terminals, splices and capped ends."""
    terminals = _terminals(circuit.job)
    return tuple(name for name in circuit.network.node_of if "/" not in name or name in terminals)


def _terminals(job: Job) -> set[str]:
    return {f"{e.id}.{letters}" for e in job.equipment.values() for letters in e.part.terminals}


def _conductor(job: Job, name: str) -> str:
    if name not in job.landings:
        raise QuestionError(f"this job has no conductor '{name}'; {nearest(name, job.landings)}")
    return name


def volts_between(circuit: Circuit, call: str, one: str, two: str, *, low_z: bool = False) -> Reading:
    """Return what a voltmeter shows between two points on a call [V RMS].

    Parameters
    ----------
    low_z : bool
        Use a low-impedance meter (3 kΩ) in place of a 10 MΩ one.
    """
    pair = (point(circuit, one), point(circuit, two))
    ohms = physics()["low-z-meter-ohms"] if low_z else None
    return read_volts(circuit, given_for(circuit, call), [pair], meter_ohms=ohms)[0]


def amps_in(circuit: Circuit, call: str, conductor: str) -> Reading:
    """Return what a clamp meter shows around a conductor on a call [A RMS]."""
    return read_amps(circuit, given_for(circuit, call), _conductor(circuit.job, conductor))


def ohms_between(circuit: Circuit, one: str, two: str, *, call: str = "off", lifted: Collection[str] = ()) -> Reading:
    """Return what an ohmmeter shows between two points with every source off [Ω].

    Parameters
    ----------
    call : str
        What the thermostats ask for meanwhile; those that live on cells keep their contacts closed.
    lifted : collection of str
        Conductors taken off whichever of the two points they sit on.
    """
    for name in (one, two):
        point(circuit, name)
    if lifted:
        circuit = build(lifted_job(circuit.job, lifted, (one, two)))
    return read_ohms(circuit, given_for(circuit, call), point(circuit, one), point(circuit, two))


def lifted_job(job: Job, conductors: Collection[str], terminals: Sequence[str]) -> Job:
    """Return the job with conductors taken off the given terminals; at its own end a lead is in the hand, taken off.

    Raises
    ------
    QuestionError
        A conductor sits on neither of the terminals.
    """
    landings = dict(job.landings)
    for name in conductors:
        ends = landings[_conductor(job, name)]
        off = [ends[k] in terminals or f"{name}@{k + 1}" in terminals for k in (0, 1)]
        if not any(off):
            raise QuestionError(f"'{name}' sits on neither {' nor '.join(terminals)}, so it cannot be lifted there")
        landings[name] = (None if off[0] else ends[0], None if off[1] else ends[1])
    return replace(job, landings=landings)


def volts_table(circuit: Circuit, call: str) -> list[TableRow]:
    """Return the reading of every terminal against its common on a call."""
    against = commons(circuit)
    rows = [(name, other) for name, other in against.items() if name != other]
    readings = read_volts(circuit, given_for(circuit, call), rows)
    return [TableRow(name, other, reading) for (name, other), reading in zip(rows, readings, strict=True)]


# How much further off than it is a source counts that shows no return.
_NO_RETURN_SHOWN = 5.0


def commons(circuit: Circuit) -> dict[str, str]:
    """Return for every terminal the point that it is read against: the return of the nearest source.

    Where a source shows no terminal on its return side, as in a boiler that is called across two terminals, the reading is
    taken between the two.
    """
    network = circuit.network
    copper = _near(network)
    returns: list[tuple[int, str]] = []
    terminals = _terminals(circuit.job)
    for source in network.sources:
        branch = network.branches[source.branch]
        owner = branch.name.partition(".")[0]
        own = {network.node_of[name]: name for name in sorted(terminals) if name.partition(".")[0] == owner}
        reach = copper.distances(branch.b)
        exposed = [(reach[node], node) for node in own if node in reach and reach[node] < 5]
        if exposed:
            returns.append((source.branch, own[min(exposed)[1]]))
        else:
            hot = copper.distances(branch.a)
            returns.append((source.branch, own[max((hot.get(node, 0.0), node) for node in own)[1]]))
    found: dict[str, str] = {}
    owners = [network.branches[index].name.partition(".")[0] for index, _ in returns]
    shows = [_is_return(network, returned, copper) for returned in returns]
    ways = [_distances(copper, network.branches[index].a, network.branches[index].b) for index, _ in returns]
    for name in sorted(terminals):
        node = network.node_of[name]
        if not returns:
            continue
        owner = name.partition(".")[0]
        # A terminal of equipment that has a source of its own is read against that; a source that shows no return, as a boiler
        # called across two terminals, is nobody else's.
        nearest_source = min(
            range(len(returns)),
            key=lambda s: (owners[s] != owner, ways[s][node] + (0.0 if shows[s] else _NO_RETURN_SHOWN), s),
        )
        against = returns[nearest_source][1]
        if against == name and network.branches[returns[nearest_source][0]].b != node:
            others = [other for other in sorted(terminals) if other.partition(".")[0] == owner and other != name]
            against = against if _is_return(network, returns[nearest_source], copper) else others[0]
        found[name] = against
    return found


def _distances(copper: Copper, one: int, two: int) -> dict[int, float]:
    """Return how far every node is from the nearer of two."""
    first, second = copper.distances(one), copper.distances(two)
    return {node: min(first.get(node, 1e9), second.get(node, 1e9)) for node in copper.piece_of}


def _is_return(network: Network, returned: tuple[int, str], copper: Copper) -> bool:
    branch = network.branches[returned[0]]
    return copper.distances(branch.b).get(network.node_of[returned[1]], 1e9) < 5


def _near(network: Network) -> Copper:
    """Return the copper as a graph in which loads and open contacts are far."""
    weights = {"wire": 1.0, "jumper": 1.0, "link": 0.1, "fuse": 0.1, "short": 1.0, "contact": 20.0, "earthing": 60.0}
    loads = dict.fromkeys(("coil", "input", "load"), 200.0)
    return Copper(network, lambda _, branch: (weights | loads).get(branch.kind))


def spread(quantity: str, reading: Reading) -> dict[str, Any]:
    """Return a reading as JSON keys: the quantity, ``low`` and ``high``, ``OL`` in an open circuit; ``ghost`` where it is one."""
    if math.isinf(reading.value):
        return {quantity: "OL", "low": "OL", "high": "OL"}
    digits = 4 if quantity == "amps" else 6
    return {
        quantity: round(reading.value, digits + 2),
        "low": round(reading.low, digits),
        "high": round(reading.high, digits),
        **({"ghost": True} if reading.ghost else {}),
    }
