"""Equipment that nothing is landed on: what does not hang on the circuit cannot fail in it, and is not proved by it either."""

from __future__ import annotations

from collections.abc import Iterator

from callpath.proof.finding import Finding
from callpath.proof.states import Examined

__all__ = ["left_out"]


def left_out(examined: Examined) -> Iterator[Finding]:
    """Equipment without any conductor or jumper, in a job where others have some."""
    job, joins = examined.circuit.job, examined.needs.joins
    bare = [
        device.id
        for device in job.equipment.values()
        if not any(joins.leads(f"{device.id}.{letters}") for letters in device.part.terminals)
    ]
    if len(bare) < len(job.equipment):
        for id_ in bare:
            yield Finding(
                "left-out",
                "note",
                (),
                (id_,),
                (),
                f"nothing is landed on {id_}: the circuit runs without it, and it does nothing there",
                f"land it, or leave {id_} out of the job",
            )
