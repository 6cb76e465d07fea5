"""What no wiring cures: broken equipment, field contacts that stand open, joints gone bad; said, and not wired round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from callpath.job.model import Fault, Job

__all__ = ["broken"]

_TOLD = {
    "open": "{0} is open: replace it",
    "dead": "{0} gives nothing: find out why before replacing it, a short downstream would kill the next one too",
    "stuck": "{0} does not open any more: replace it",
    "tripped": "{0} stands open: find out what tripped it, and never bridge it",
    "high-resistance": "{0} has a bad connection of {1:g} Ω: make the joint again",
}


def broken(faults: Sequence[Fault], contacts: Mapping[str, bool], job: Job) -> Iterator[str]:
    """Yield a sentence for everything that is broken rather than miswired.

    Parameters
    ----------
    contacts : mapping
        Field contacts that are not at rest, closed (True) or open.
    """
    for fault in faults:
        told = _TOLD.get(fault.kind, "{0} is broken ({2}): put it right")
        yield told.format(" and ".join(fault.where), fault.ohms or 0.0, fault.kind.replace("-", " "))
    for name, closed in contacts.items():
        id_, _, element = name.partition(".")
        rest = job.equipment[id_].part.elements[element].rest == "closed"
        if closed != rest:
            stands = "closed" if closed else "open"
            yield f"{name} stands {stands}: find out what moved it, and never bridge it"
