"""Questions to a meter, asked in the words of a job: a call, two points, a conductor, ohms with the power off."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from callpath.calls.closing import check_callers, given_for
from callpath.calls.common import commons, terminals_of
from callpath.circuit.build import Circuit, build, end_node
from callpath.circuit.meter import Reading, read_amps, read_ohms, read_volts
from callpath.circuit.solve import Bools
from callpath.errors import QuestionError, nearest
from callpath.job.model import Job
from callpath.parts.catalogue import physics

__all__ = [
    "TableRow",
    "amps_in",
    "asked_for",
    "fuse_ends",
    "jumper_name",
    "leads_on",
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
    ends = [f"{name}@{end}" for name in circuit.job.landings for end in (1, 2)]
    return [*terminals_of(circuit.job), *circuit.job.splices, *ends, *fuse_ends(circuit)]


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
    terminals = terminals_of(circuit.job)
    return tuple(name for name in circuit.network.node_of if "/" not in name or name in terminals)


def asked_for(circuit: Circuit, call: str, by: Collection[str] = ()) -> Bools:
    """Return one row of given bits for a call that some thermostats make, or all that can where none is named.

    Raises
    ------
    QuestionError
        There is no such thermostat, or it cannot make the call.
    """
    given = given_for(circuit, call)
    check_callers(circuit.job, call, by)
    return given_for(circuit, call, by) if by else given


def _conductor(job: Job, name: str) -> str:
    if name not in job.landings:
        raise QuestionError(f"this job has no conductor '{name}'; {nearest(name, job.landings)}")
    return name


def volts_between(
    circuit: Circuit, call: str, one: str, two: str, *, low_z: bool = False, by: Collection[str] = ()
) -> Reading:
    """Return what a voltmeter shows between two points on a call [V RMS].

    Parameters
    ----------
    low_z : bool
        Use a low-impedance meter (3 kΩ) in place of a 10 MΩ one.
    by : collection of str
        The thermostats that make the call; all that can, where none is named.
    """
    pair = (point(circuit, one), point(circuit, two))
    ohms = physics()["low-z-meter-ohms"] if low_z else None
    return read_volts(circuit, asked_for(circuit, call, by), [pair], meter_ohms=ohms)[0]


def amps_in(circuit: Circuit, call: str, conductor: str, *, by: Collection[str] = ()) -> Reading:
    """Return what a clamp meter shows around a conductor on a call [A RMS]."""
    return read_amps(circuit, asked_for(circuit, call, by), _conductor(circuit.job, conductor))


def ohms_between(
    circuit: Circuit, one: str, two: str, *, call: str = "off", lifted: Collection[str] = (), by: Collection[str] = ()
) -> Reading:
    """Return what an ohmmeter shows between two points with every source off [Ω].

    Parameters
    ----------
    call : str
        What the thermostats ask for meanwhile; those that live on cells keep their contacts closed.
    lifted : collection of str
        Conductors, and jumpers (``board.R+board.Y``), taken off whichever of the two points they sit on.
    by : collection of str
        The thermostats that make the call; all that can, where none is named.
    """
    for name in (one, two):
        point(circuit, name)
    if lifted:
        circuit = build(lifted_job(circuit.job, lifted, (one, two)))
    return read_ohms(circuit, asked_for(circuit, call, by), point(circuit, one), point(circuit, two))


def jumper_name(pair: tuple[str, str]) -> str:
    """Return the name of a jumper as a lead that can be lifted: its two terminals as the job has them."""
    return "+".join(pair)


def leads_on(job: Job, terminal: str) -> tuple[str, ...]:
    """Return the conductors and jumpers that sit on a terminal."""
    conductors = [name for name, landing in job.landings.items() if terminal in landing]
    return (*conductors, *(jumper_name(pair) for pair in job.jumpers if terminal in pair))


def lifted_job(job: Job, leads: Collection[str], terminals: Sequence[str]) -> Job:
    """Return the job with conductors and jumpers taken off the given terminals; at its own end a lead is in the hand, taken off.

    Raises
    ------
    QuestionError
        A lead sits on neither of the terminals.
    """
    landings, jumpers = dict(job.landings), {jumper_name(pair): pair for pair in job.jumpers}
    for name in leads:
        if (pair := jumpers.pop(name, None)) is not None:
            if not set(pair) & set(terminals):
                raise QuestionError(f"'{name}' sits on neither {' nor '.join(terminals)}, so it cannot be lifted there")
            continue
        ends = landings[_conductor(job, name)]
        off = [ends[k] in terminals or f"{name}@{k + 1}" in terminals for k in (0, 1)]
        if not any(off):
            raise QuestionError(f"'{name}' sits on neither {' nor '.join(terminals)}, so it cannot be lifted there")
        landings[name] = (None if off[0] else ends[0], None if off[1] else ends[1])
    return replace(job, landings=landings, jumpers=tuple(jumpers.values()))


def volts_table(circuit: Circuit, call: str, *, by: Collection[str] = ()) -> list[TableRow]:
    """Return the reading of every terminal against its common on a call, made by some thermostats or by all that can."""
    against = commons(circuit)
    rows = [(name, other) for name, other in against.items() if name != other]
    readings = read_volts(circuit, asked_for(circuit, call, by), rows)
    return [TableRow(name, other, reading) for (name, other), reading in zip(rows, readings, strict=True)]


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
