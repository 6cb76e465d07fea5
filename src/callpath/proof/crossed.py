"""Leads landed the wrong way round: two that sit on each other's terminals, or power where equipment has its common."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations

from callpath.calls.letters import NEUTRAL
from callpath.calls.reach import Joins
from callpath.circuit.build import build
from callpath.job.model import Equipment, Job
from callpath.parts.catalogue import custom_colours
from callpath.proof.ends import side_of
from callpath.proof.states import Examined

__all__ = ["Crossed", "crossed_at", "crossed_in", "exchange_on"]

_OTHER: dict[tuple[str, ...], tuple[str, ...]] = {("power",): ("common",), ("common",): ("power",)}


_Lead = tuple[str, str]
"""A conductor and the terminal that it sits on."""


@dataclass(frozen=True)
class Crossed:
    """A terminal of equipment that a source's other side is joined to: the terminal, that of the source, the leads between."""

    terminal: str
    brought: str
    leads: tuple[str, ...]

    def __str__(self) -> str:
        return f"{', '.join(self.leads) or 'a jumper'} brings {self.brought} to {self.terminal}"


def crossed_at(joins: Joins, id_: str) -> tuple[Crossed, ...]:
    """Return the terminals of equipment for power and common that the other side of a source is joined to.

    Where there is one for power and one for common, the two leads are exchanged.

    Parameters
    ----------
    id_ : str
        The equipment; empty, or no equipment's id, where there is none.
    """
    equipment = joins.job.equipment.get(id_)
    if equipment is None or _has_source(equipment):
        return ()
    found = []
    for letters, terminal in equipment.part.terminals.items():
        other = _OTHER.get(tuple(terminal.means))
        if other is None:
            continue
        name = f"{id_}.{letters}"
        brought = [
            whole
            for device, its, whole in joins.terminals(joins.net(name))
            if _has_source(device) and tuple(device.part.terminals[its].means) == other
        ]
        if brought:
            found.append(Crossed(name, brought[0], tuple(sorted(joins.conductors_at(name)))))
    return tuple(found)


def crossed_in(job: Job) -> frozenset[str]:
    """Return the terminals of a job for power that sit on a common, and the other way round, and inputs tied to a common.

    A floating circuit runs with the one, and an input that nothing is to reach is not missed, which is why a proof finds nothing;
    nobody would land either.
    """
    joins = Joins(build(job))
    crossed = {one.terminal for id_ in job.equipment for one in crossed_at(joins, id_)}
    for device in filter(_has_source, job.equipment.values()):
        for letters, terminal in device.part.terminals.items():
            joined = joins.terminals(joins.net(f"{device.id}.{letters}")) if _is_input(terminal.means) else ()
            if any(other is device and "common" in device.part.terminals[its].means for other, its, _ in joined):
                crossed.add(f"{device.id}.{letters}")
    return frozenset(crossed)


def _is_input(means: Collection[str]) -> bool:
    return bool(means) and not {"power", "common", *NEUTRAL} & set(means)


def exchange_on(examined: Examined, path: Sequence[str], beside: Collection[str] = ()) -> str:
    """Say which two leads to exchange that sit on each other's terminals, one of them on a path; empty where none do.

    Leads crossed at one end may as well be crossed at the other; where colours tell at which they are, that one is named.

    Parameters
    ----------
    path : sequence of str
        The way of a current; the equipment nearest its end is looked at first.
    beside : collection of str
        Elements or terminals of equipment to look at as well.
    """
    job = examined.circuit.job
    ids = dict.fromkeys(name.partition(".")[0] for name in (*beside, *reversed(path)))
    found = [
        (pair, id_)
        for id_ in ids
        if id_ in job.equipment
        for pair in _exchanged(examined, id_)
        if {*pair[0], *pair[1]} & set(path)
    ]
    if not found:
        return ""
    ((one, _), (two, _)), id_ = max(found, key=lambda candidate: _coloured(examined, candidate[0]))
    return f"power off and exchange {one} and {two} at {id_}: each sits where the other belongs"


def _coloured(examined: Examined, pair: tuple[_Lead, _Lead]) -> int:
    """Return how many of two leads have the colour that custom gives the other's terminal, less those that have their own's."""
    colours = custom_colours()
    (one, at), (two, its) = pair
    worn = [(one.partition(".")[2], at, its), (two.partition(".")[2], its, at)]
    given = [[{colours.get(purpose) for purpose in _means(examined, end)} for end in ends] for _, *ends in worn]
    return sum((colour in other) - (colour in own) for (colour, _, _), (own, other) in zip(worn, given, strict=True))


def _exchanged(examined: Examined, id_: str) -> list[tuple[_Lead, _Lead]]:
    """Return the pairs of conductors at equipment of which each brings what the other's terminal is for, and not its own."""
    job, joins = examined.circuit.job, examined.needs.joins
    here: list[tuple[_Lead, set[str], set[str]]] = []
    for letters, terminal in job.equipment[id_].part.terminals.items():
        name = f"{id_}.{letters}"
        for conductor in joins.conductors_at(name):
            beyond = side_of(examined, conductor, 1 - job.landings[conductor].index(name))
            brings = {purpose for other in beyond for purpose in _means(examined, other)}
            here.append(((conductor, name), brings - NEUTRAL, set(terminal.means) - NEUTRAL))
    return [
        (one, two)
        for (one, brings, means), (two, its_brings, its_means) in combinations(sorted(here), 2)
        if one[0] != two[0]
        and brings & its_means
        and its_brings & means
        and not brings & means
        and not its_brings & its_means
    ]


def _means(examined: Examined, terminal: str) -> tuple[str, ...]:
    equipment, letters = examined.circuit.job.terminal(terminal)
    return equipment.part.terminals[letters].means


def _has_source(equipment: Equipment) -> bool:
    return any(element.kind == "source" for element in equipment.part.elements.values())
