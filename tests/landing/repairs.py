"""Repairs told for comparison, and the sound jobs that mistakes are made in."""

from __future__ import annotations

import random

from callpath.job import Job
from callpath.landing.mended import Mended
from callpath.landing.moves import Move, all_moves, moved
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE

EVERY = {"cottage": COTTAGE, "house": HOUSE, "manor": MANOR, "pump": PUMP, "mill": MILL, "zone": ZONE, "relay": RELAY}


def done(found: Mended) -> set[tuple[str, str, str | None, str | None]]:
    return {(move.do, move.what, move.before, move.after) for move in found.moves}


def wrongly(job: Job, rng: random.Random, count: int) -> tuple[Job, list[Move]]:
    """Return a job after some random moves, and the moves."""
    moves = all_moves(job, metal=False)
    chosen: list[Move] = []
    while len(chosen) < count:
        move = rng.choice(moves)
        if all(move.thing != other.thing for other in chosen):
            chosen.append(move)
    return moved(job, chosen), chosen
