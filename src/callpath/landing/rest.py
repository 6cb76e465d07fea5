"""What no wiring cures: broken equipment, field contacts that stand open, joints gone bad; said, and not wired round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from callpath.job.model import Fault, Job
from callpath.parts.model import fitted
from callpath.proof.prove import prove

__all__ = ["as_it_should_stand", "broken", "rests_closed"]

_TOLD = {
    "open": "{0} is open: replace it",
    "dead": "{0} gives nothing: find out why before replacing it, a short downstream would kill the next one too",
    "idle": "{0} does not run though it is called for: look for what it takes beyond the 24 V circuit",
    "stuck": "{0} does not open any more: replace it",
    "tripped": "{0} stands open: find out what tripped it, and never bridge it",
    "high-resistance": "{0} has a bad connection of {1:g} Ω: make the joint again",
}


def broken(faults: Sequence[Fault], contacts: Mapping[str, bool], job: Job) -> Iterator[str]:
    """Yield a sentence for everything that is broken rather than miswired.

    Parameters
    ----------
    contacts : mapping
        Field contacts that do not stand as the wiring is judged, closed (True) or open.
    """
    for fault in faults:
        told = _TOLD.get(fault.kind, "{0} is broken ({2}): put it right")
        yield told.format(" and ".join(fault.where), fault.ohms or 0.0, fault.kind.replace("-", " "))
    for name, closed in contacts.items():
        if closed != rests_closed(job, name):
            yield f"{name} stands {'closed' if closed else 'open'}: find out what moved it, and never bridge it"
        else:
            yield f"{name} stands open, as it rests: see what it waits for, and never bridge it"


def rests_closed(job: Job, name: str) -> bool:
    """Tell whether a field contact is closed at rest."""
    id_, _, element = name.partition(".")
    return job.equipment[id_].part.elements[element].rest == "closed"


def as_it_should_stand(job: Job) -> dict[str, bool]:
    """Return the field contacts that do not stand at rest when a job's wiring is judged, closed (True) or open.

    A safety that stands open has tripped, which is no reason to rewire. What rests open and is wired, a humidistat or a switch
    that proves air, is taken to be closed, for open it would hide what is wrong behind it. Where less is wrong the other way,
    a contact stands as it was found: it may just be asking.
    """
    contacts = dict(job.contacts)
    landed = {end for ends in (*job.landings.values(), *job.jumpers) for end in ends}
    least = -1
    for device in job.equipment.values():
        for element, data in device.part.elements.items():
            name = f"{device.id}.{element}"
            if not data.field or not fitted(data.when, device.settings):
                continue
            rests = data.rest == "closed"
            stands = contacts.get(name, rests)
            if stands:
                continue
            tripped = rests and bool(data.stops)
            wired = all(f"{device.id}.{point}" in landed for point in data.between)
            if not (rests or wired):
                continue
            closed = {**contacts, name: True}
            if not tripped:
                least = _wrongs(job, contacts) if least < 0 else least
                wrongs = _wrongs(job, closed)
                if wrongs > least:
                    continue
                least = wrongs
            contacts = closed
    return {name: closed for name, closed in contacts.items() if closed != rests_closed(job, name)}


def _wrongs(job: Job, contacts: Mapping[str, bool]) -> int:
    return sum(finding.severity != "note" for finding in prove(replace(job, contacts=contacts)).findings)
