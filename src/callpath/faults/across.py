"""A network with an open place across some pairs of points, where a jumper or a meter may be put."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from callpath.circuit.network import Branch, Network
from callpath.circuit.solve import Changes
from callpath.faults.asked import Pair

__all__ = ["and_also", "open_name", "padded", "with_open"]


def open_name(what: str, pair: Pair) -> str:
    """Return the name of the branch across a pair of points; ``what`` may be put there."""
    return f"{what}:{pair[0]}+{pair[1]}"


def with_open(network: Network, pairs: Sequence[Pair], what: str) -> Network:
    """Return the network with an open branch across each pair of points."""
    added = {
        name: Branch(name, "probe", network.node_of[pair[0]], network.node_of[pair[1]], complex(math.inf))
        for pair in pairs
        for name in (open_name(what, pair),)
        if name not in network.index
    }
    return replace(network, branches=(*network.branches, *added.values()))


def and_also(changes: Changes, branch: int, siemens: complex) -> Changes:
    """Return the changes and one more in every state, except where the branch is changed already."""
    count = len(changes.branch)
    there = (changes.branch == branch).any(axis=1)
    return Changes(
        np.concatenate([changes.branch, np.where(there, -1, branch)[:, None]], axis=1),
        np.concatenate([changes.series_ohms, np.full((count, 1), math.nan)], axis=1),
        np.concatenate([changes.siemens, np.full((count, 1), siemens, complex)], axis=1),
    )


def padded(changes: Changes, width: int) -> Changes:
    """Return the changes with room for so many in every state."""
    more = width - changes.branch.shape[1]
    if not more:
        return changes
    pad = ((0, 0), (0, more))
    return Changes(
        np.pad(changes.branch, pad, constant_values=-1), np.pad(changes.series_ohms, pad), np.pad(changes.siemens, pad)
    )
