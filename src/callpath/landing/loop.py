"""Every way to close a loop through a load: which source, which contact that the call closes, the load either way round."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from callpath.landing.logic import Logic, Moment
from callpath.landing.points import Contact, Load, Plan

__all__ = ["loops"]


def loops(
    logic: Logic, plan: Plan, load: Load, moment: Moment, floats: Sequence[Contact]
) -> Iterator[tuple[Plan, tuple[tuple[Moment, str], ...]]]:
    """Yield the plans that close a loop through a load, and what must be energised besides for that."""
    resting = logic.resting(moment, [switch.name for switch in floats])
    compressor = any(name.endswith(".compressor") for name in logic.running((load.name,)))
    for supply in logic.supplies:
        hot, back = supply.points
        for near, far in (load.points, load.points[::-1]):
            for returned in _join(logic, plan, back, far, resting, back=True):
                for chain, owed in _chains(logic, load, moment, floats if compressor else ()):
                    for fed in _along(logic, returned, hot, chain, near, resting):
                        yield fed, owed


def _chains(
    logic: Logic, load: Load, moment: Moment, floats: Sequence[Contact]
) -> Iterator[tuple[tuple[tuple[int, int], ...], tuple[tuple[Moment, str], ...]]]:
    """Yield the contacts, each from its feeding to its fed side, that a call can close between source and load."""
    stats, others, own = [], [], []
    for contact in logic.contacts:
        if contact.condition is None:
            continue
        if contact.condition.negated is not None and moment.outputs:
            # What rests closed is good only for what shall be fed while nobody calls.
            continue
        ways = list(logic.ways_to(contact.condition, contact.equipment, moment))
        if contact.condition.output and ways:
            ahead = contact.points
            output = logic.place[f"{contact.equipment.id}.{contact.condition.output}"]
            stats.append((ahead[::-1] if output == ahead[0] else ahead, ()))
        elif load.name not in {name for way in ways for name in way}:
            closing = [
                (points, tuple((moment, name) for name in sorted(way)))
                for way in ways
                for points in (contact.points, contact.points[::-1])
            ]
            others += closing
            own += closing if contact.equipment is load.equipment else []
    if load.equipment.part.calls:
        yield (), ()
        return
    if any(point < len(logic.means) and logic.means[point] == {"power"} for point in load.points):
        yield (), ()
    tails = [
        tuple(ends)
        for order in itertools.permutations(floats)
        for ends in itertools.product(*((switch.points, switch.points[::-1]) for switch in order))
    ]
    singles = [*stats, *others]
    for tail in tails:
        for points, owed in singles:
            yield (points, *tail), owed
    # A timer's contact stands between the thermostat and its own equipment's coil.
    for (points, _), (behind, owed) in itertools.product(stats, own):
        yield (points, behind), owed


def _along(
    logic: Logic, plan: Plan, hot: int, chain: Sequence[tuple[int, int]], near: int, resting: Sequence[tuple[int, int]]
) -> Iterator[Plan]:
    """Yield the plans that lead from a source through contacts to a load."""
    if not chain:
        yield from _join(logic, plan, hot, near, resting)
        return
    for joined in _join(logic, plan, hot, chain[0][0], resting):
        yield from _along(logic, joined, chain[0][1], chain[1:], near, resting)


def _join(
    logic: Logic, plan: Plan, one: int, two: int, resting: Sequence[tuple[int, int]], *, back: bool = False
) -> Iterator[Plan]:
    """Yield the plans in which copper joins two points, each as little changed as can be."""
    piece = logic.pieces(plan, resting)
    if piece[one] == piece[two]:
        yield plan
        return
    sides = [_exits(logic, plan, piece, point, back=back) for point in (one, two)]
    for a, b in itertools.product(*sides):
        yield logic.joined(plan, a, b)


def _exits(logic: Logic, plan: Plan, piece: list[int], point: int, *, back: bool) -> list[int]:
    """Return one terminal of every net that a point leads to; metal only for a way back that has no other terminal."""
    own = [i for i in range(len(plan)) if piece[i] == piece[point]]
    plain = [i for i in own if i not in logic.metal]
    chosen = plain or (own if back else [])
    return list({plan[i]: i for i in chosen}.values())
