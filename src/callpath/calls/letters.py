"""Equal letters that mean different things: what two terminals are called, against what they are."""

from __future__ import annotations

from collections.abc import Set

from callpath.job.model import Job

__all__ = ["NEUTRAL", "disagree", "foreign", "traps"]

NEUTRAL = frozenset({"pass", "coil", "dry", "metal"})
"""Purposes of a terminal that only passes on what comes: it agrees with anything."""


def disagree(a: Set[str], b: Set[str]) -> bool:
    """Tell whether terminals of these purposes mean different things."""
    return not (a & b or a <= NEUTRAL or b <= NEUTRAL)


def traps(job: Job, one: str, two: str) -> bool:
    """Tell whether two terminals of different equipment share a letter and mean different things by it.

    ``O/B`` is both an O and a B.
    """
    (here, its), (there, others) = job.terminal(one), job.terminal(two)
    if here.id == there.id or not set(its.split("/")) & set(others.split("/")) or foreign(job, one, two):
        return False
    a, b = (set(device.part.terminals[letters].means) for device, letters in ((here, its), (there, others)))
    return disagree(a, b)


def foreign(job: Job, one: str, two: str) -> bool:
    """Tell whether two terminals carry signals of different classes, such as 24 V and line voltage."""
    (here, its), (there, others) = job.terminal(one), job.terminal(two)
    return here.part.terminals[its].signal != there.part.terminals[others].signal
