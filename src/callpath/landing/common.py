"""A common for a thermostat on cells, where the best landing leaves a conductor to spare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from callpath.calls.closing import thermostats
from callpath.job.model import Equipment, Job
from callpath.landing.landed import Landed
from callpath.parts.catalogue import custom_colours
from callpath.proof.prove import prove

__all__ = ["with_common"]


def with_common(found: Landed) -> Landed:
    """Return a clean landing with C landed too; as it is where no conductor is free or the proof would not stay clean.

    Notes
    -----
    Nothing needs it, so the search leaves it out; but cells run down, and the next thermostat may want a common.
    """
    if not found.serves or found.proof.verdict != "clean":
        return found
    for conductor, stat, ends in _ways(found.job):
        job = replace(found.job, landings={**found.job.landings, conductor: ends})
        proof = prove(job)
        if proof.verdict != "clean" or any(
            result.running != found.proof.calls[call].running for call, result in proof.calls.items()
        ):
            continue
        why = f"to spare, so C is landed too: {stat.id} can then be fed by the transformer, and its cells only stand by"
        custom, colour = custom_colours()["common"], conductor.partition(".")[2]
        departures = found.departures
        if colour != custom:
            at = next(end for end in ends if end.startswith(f"{stat.id}."))
            why += f"; custom gives {at} {custom}: mark {colour} with {custom} tape at both ends"
            departures = (*departures, f"{conductor} lands on {at}, which custom gives {custom}")
        choices = {**found.choices, conductor: why}
        return replace(found, job=job, proof=proof, choices=choices, departures=departures)
    return found


def _ways(job: Job) -> Iterator[tuple[str, Equipment, tuple[str, str]]]:
    """Yield a spare conductor, the thermostat on cells and the terminals that it would join; the best colour first."""
    feeding = [device for device in job.equipment.values() if _source(device)]
    stats = thermostats(job)
    jumped = {end for pair in job.jumpers for end in pair}
    hurt = {where for fault in job.faults for where in fault.where}
    if len(feeding) != 1 or len(stats) != 1 or stats[0].settings.get("power") != "battery":
        return
    for mine in _commons(stats[0]):
        for theirs in _commons(feeding[0]):
            for cable in job.cables.values():
                if cable.between == (stats[0].at, feeding[0].at):
                    ends = (mine, theirs)
                elif cable.between == (feeding[0].at, stats[0].at):
                    ends = (theirs, mine)
                else:
                    continue
                names = [f"{cable.id}.{colour}" for colour in sorted(cable.conductors, key=_strangeness)]
                # One that somebody has begun to land there goes first.
                for name in sorted(names, key=lambda name: job.landings[name] == (None, None)):
                    taken = jumped.union(*(landed for other, landed in job.landings.items() if other != name))
                    was = job.landings[name]
                    begun = None in was and all(old in (None, new) for old, new in zip(was, ends, strict=True))
                    if mine not in taken and begun and name not in hurt:
                        yield name, stats[0], ends


def _source(device: Equipment) -> bool:
    return any(element.kind == "source" for element in device.part.elements.values())


def _commons(device: Equipment) -> list[str]:
    return [f"{device.id}.{letters}" for letters, t in device.part.terminals.items() if t.means == ("common",)]


def _strangeness(colour: str) -> int:
    """Return how badly a colour suits a common: custom's own first, then those that mean nothing else."""
    colours = custom_colours()
    return 0 if colour == colours["common"] else 2 if colour in colours.values() else 1
