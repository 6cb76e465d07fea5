"""Several thermostats, landed one after the other: each with the equipment that is nearest to it, what came before fixed.

A search over everything at once finds the best for two thermostats and little equipment; beyond that there are too
many ways. This one is not the best of all, and says so; the whole is proved like any other landing.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from callpath.calls.closing import call_rules, thermostats
from callpath.job.model import Equipment, Job, Landing

__all__ = ["in_turn"]

_FAR = 99
_MOST_ORDERS = 5040


@dataclass
class _Merged:
    """What has been landed so far."""

    landings: dict[str, Landing]
    splices: dict[str, str]
    jumpers: list[tuple[str, str]] = field(default_factory=list)


def in_turn(job: Job, wanted: Sequence[str], land: Callable[[Job], Job]) -> Job:
    """Return a job landed one thermostat at a time.

    Parameters
    ----------
    job : Job
        The job with what is fixed in it.
    wanted : sequence of str
        The calls to serve; each thermostat is asked for those that it can make.
    land : callable
        Lands a job of one thermostat and returns it landed.
    """
    hops = _Hops(job)
    shares = _shares(job, hops)
    merged = _Merged(dict(job.landings), dict(job.splices), list(job.jumpers))
    for stat in thermostats(job):
        part = _part(job, merged, stat, shares[stat.id], hops)
        calls = tuple(call for call in wanted if call in call_rules(stat))
        _take(merged, part, land(replace(part, serves=calls)))
    used = {end for ends in merged.landings.values() for end in ends}
    splices = {name: at for name, at in merged.splices.items() if name in used}
    return replace(job, landings=merged.landings, splices=splices, jumpers=tuple(merged.jumpers))


class _Hops:
    """How many cables lead from one location to another."""

    def __init__(self, job: Job) -> None:
        self.beside: dict[str, set[str]] = {}
        for cable in job.cables.values():
            one, two = cable.between
            self.beside.setdefault(one, set()).add(two)
            self.beside.setdefault(two, set()).add(one)

    def between(self, one: str, two: str) -> int:
        """Return the number of cables on the shortest way, a large one where none leads there."""
        return self._reach(one).get(two, _FAR)

    def on_the_way(self, one: str, two: str) -> set[str]:
        """Return the locations that lie on some shortest way."""
        there, back = self._reach(one), self._reach(two)
        return {at for at in there if at in back and there[at] + back[at] == there.get(two, _FAR)} | {one, two}

    def _reach(self, start: str) -> dict[str, int]:
        found = {start: 0}
        todo = [start]
        for here in todo:
            for at in sorted(self.beside.get(here, ())):
                if at not in found:
                    found[at] = found[here] + 1
                    todo.append(at)
        return found


def _shares(job: Job, hops: _Hops) -> dict[str, list[Equipment]]:
    """Return the equipment of every thermostat: of a kind one each, the nearest; what is left goes to the nearest.

    Equipment that heats and moves no air serves every thermostat that has a valve, or has nothing else to heat with;
    sources and relays are there for all.
    """
    stats = thermostats(job)
    shares: dict[str, list[Equipment]] = {stat.id: [] for stat in stats}
    others = [device for device in job.equipment.values() if not device.part.calls]
    cooling = [stat for stat in stats if "cool" in call_rules(stat)] or list(stats)
    air = [device for device in others if "blower" in device.part.functions]
    compressors = [device for device in others if "compressor" in device.part.functions]
    valves = [device for device in others if "open" in device.part.functions]
    for kind, among in ((air, cooling), (compressors, cooling), (valves, list(stats))):
        for device, stat in _matched(kind, among, hops):
            shares[stat.id].append(device)
    water = [device for device in others if "heat" in device.part.functions and device not in air]
    for device in water:
        for stat in stats:
            has_valve = any(other in valves for other in shares[stat.id])
            has_heat = any({"heat", "aux-heat"} & other.part.functions.keys() for other in shares[stat.id])
            if has_valve or not (has_heat or valves):
                shares[stat.id].append(device)
    sorted_out = [*air, *compressors, *valves, *water]
    for device in others:
        if device in sorted_out:
            continue
        if any(element.field for element in device.part.elements.values()):
            near = [stat for stat in stats if any(other.at == device.at for other in shares[stat.id])] or list(stats)
            shares[min(near, key=lambda stat: hops.between(stat.at, device.at)).id].append(device)
        else:
            for stat in stats:
                shares[stat.id].append(device)
    return shares


def _matched(
    devices: Sequence[Equipment], stats: Sequence[Equipment], hops: _Hops
) -> list[tuple[Equipment, Equipment]]:
    """Return whose each device is: one each as far as they go, all together as near as can be."""
    few = min(len(devices), len(stats))
    orders = itertools.islice(itertools.permutations(stats, few), _MOST_ORDERS)
    first = devices[:few]
    best = min(
        orders,
        key=lambda order: sum(hops.between(s.at, d.at) for d, s in zip(first, order, strict=True)),
        default=(),
    )
    found = list(zip(first, best, strict=True))
    found += [(device, min(stats, key=lambda stat: hops.between(stat.at, device.at))) for device in devices[few:]]
    return found


def _part(job: Job, merged: _Merged, stat: Equipment, share: Sequence[Equipment], hops: _Hops) -> Job:
    """Return the part of a job that one thermostat is landed in, with what has been landed there already."""
    within = {stat.at}
    for device in share:
        within |= hops.on_the_way(stat.at, device.at)
    equipment = {device.id: device for device in (stat, *share)}
    cables = {}
    landings: dict[str, Landing] = {}
    for cable in job.cables.values():
        if not set(cable.between) <= within:
            continue
        names = {colour: f"{cable.id}.{colour}" for colour in cable.conductors}
        kept = [colour for colour, name in names.items() if _inside(merged.landings[name], equipment, merged.splices)]
        if kept:
            cables[cable.id] = replace(cable, conductors=tuple(kept))
            landings |= {names[colour]: merged.landings[names[colour]] for colour in kept}
    used = {end for ends in landings.values() for end in ends}
    splices = {name: at for name, at in merged.splices.items() if name in used}
    jumpers = tuple(pair for pair in merged.jumpers if all(end.partition(".")[0] in equipment for end in pair))
    return replace(
        job,
        equipment=equipment,
        cables=cables,
        landings=landings,
        splices=splices,
        jumpers=jumpers,
        contacts={},
        faults=tuple(fault for fault in job.faults if fault.kind == "open" and fault.where[0] in landings),
    )


def _inside(ends: Landing, equipment: Mapping[str, Equipment], splices: Collection[str]) -> bool:
    """Tell whether a conductor is free, or landed on what belongs to a part."""
    return all(end is None or (end in splices) or end.partition(".")[0] in equipment for end in ends)


def _take(merged: _Merged, part: Job, landed: Job) -> None:
    """Take over what has been landed; a new splice whose name is taken gets another."""
    names: dict[str, str] = {}
    taken = {*merged.splices, *part.equipment, *part.cables}
    for name, at in landed.splices.items():
        if name in part.splices:
            continue
        new = next(n for n in (name, *(f"{name}-{i}" for i in range(2, 999))) if n not in taken)
        taken.add(new)
        names[name] = new
        merged.splices[new] = at
    for conductor, (one, two) in landed.landings.items():
        merged.landings[conductor] = (names.get(str(one), one), names.get(str(two), two))
    merged.jumpers += [pair for pair in landed.jumpers if pair not in part.jumpers]
