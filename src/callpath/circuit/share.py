"""Settling a large batch on several cores: one share of the states and one engine for each.

numpy leaves the interpreter free while it works on arrays, so threads are enough; engines are not shared, because each
learns bases as it goes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from typing import TypeVar

import numpy as np

from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.solve import Engine

__all__ = ["in_threads", "settle_shared"]

_A = TypeVar("_A")
_B = TypeVar("_B")
_T = TypeVar("_T")


def in_threads(work: Callable[[_A, _B], _T], ones: Sequence[_A], others: Sequence[_B]) -> list[_T]:
    """Do the same with every pair at once, each in a thread of its own; who listens to this one hears of all."""

    def one(pair: tuple[_A, _B]) -> _T:
        return work(*pair)

    with ThreadPoolExecutor(len(ones)) as pool:
        pairs = zip(ones, others, strict=True)
        return [share.result() for share in [pool.submit(copy_context().run, one, pair) for pair in pairs]]


def settle_shared(engines: Sequence[Engine], states: States) -> Settled:
    """Settle a batch in as many shares as there are engines, each in a thread of its own.

    Parameters
    ----------
    engines : sequence of Engine
        Engines of one and the same network, usually one for each core.
    states : States
        The batch; fewer than some thousands are settled sooner by ``settle`` alone.

    Returns
    -------
    Settled
        The same as ``settle`` returns.
    """
    shares = np.array_split(np.arange(len(states)), len(engines))
    held = states.held
    parts = [
        States(states.given[k], states.live[k], states.changes.take(k), None if held is None else held[k])
        for k in shares
    ]
    done = in_threads(settle, engines, parts)
    return Settled(
        states,
        np.concatenate([part.bits for part in done]),
        np.concatenate([part.before_fuse for part in done]),
        np.concatenate([part.chatter for part in done]),
        np.concatenate([part.rounds for part in done]),
    )
