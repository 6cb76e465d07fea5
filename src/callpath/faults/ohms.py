"""What an ohmmeter shows with every source off, for many hypotheses at once.

At rest the network is plain resistors. Nothing matters but what copper joins to the two points: hypotheses that change
nothing there show what the sound job shows, and of the others each different one is solved once.
"""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.meter import OVER_LIMIT_OHMS
from callpath.circuit.network import EARTH, Network
from callpath.circuit.solve import Bools, Changes, Ints
from callpath.progress import step

__all__ = ["Ohmmeter"]

Floats = NDArray[np.float64]

# Ties whatever floats to the second point, far beyond what a meter shows.
_TIE_SIEMENS = 1e-11
_MOST_SIEMENS = 1e6
# Numbers in the matrices that are solved together.
_AT_ONCE = 2_000_000


class Ohmmeter:
    """Reads ohms in one network.

    Parameters
    ----------
    network : Network
        The network with its open places.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.a: Ints = np.array([branch.a for branch in network.branches], np.intp)
        self.b: Ints = np.array([branch.b for branch in network.branches], np.intp)
        self._rest: dict[bytes, Floats] = {}

    def read(self, pair: tuple[str, str], given: Bools, off: Collection[int], changes: Changes) -> Floats:
        """Return the ohms between two points, (states,); infinite where no path joins them.

        Parameters
        ----------
        pair : (str, str)
            Named points.
        given : (given,) bool
            Contacts that are held closed, and what thermostats ask for.
        off : collection of int
            Branches that are taken off.
        changes : Changes
            What each hypothesis changes, with its admittances for DC.
        """
        rest = self._at_rest(given).copy()
        taken = np.array(sorted(off), np.intp)
        rest[taken] = 0.0
        branch = np.where(np.isin(changes.branch, taken), -1, changes.branch)
        matters = self._joined(rest, pair)
        # A change matters where it touches what is joined to either point.
        touched = np.asarray(matters[self.a] | matters[self.b], bool)
        branch = np.where((branch >= 0) & touched[branch], branch, -1)
        # Where one change reaches further, the other may matter as well.
        reaching = (branch >= 0).sum(axis=1) > 0
        branch = np.where(reaching[:, None] & ~np.isin(changes.branch, taken), changes.branch, branch)
        asked = _siemens(changes, branch, rest)
        key = np.concatenate([branch, np.round(asked * 1e9).astype(np.int64)], axis=1)
        _, first, which = np.unique(key, axis=0, return_index=True, return_inverse=True)
        found: Floats = self._solve(rest, pair, branch[first], asked[first])[which.ravel()]
        return found

    def _at_rest(self, given: Bools) -> Floats:
        """Return the conductance of every branch at rest [S]."""
        key = given.tobytes()
        if key not in self._rest:
            network = self.network
            bits = np.concatenate([np.zeros(len(network.bits), bool), given])
            driven = dict(zip(network.driven, network.drive_rows(bits[None])[0].tolist(), strict=True))
            ohms = np.array([branch.dc_ohms + branch.added_ohms for branch in network.branches])
            for i, on in driven.items():
                branch = network.branches[i]
                if on and branch.kind == "contact":
                    ohms[i] = complex(branch.driven_ohms or 0).real + branch.added_ohms
            self._rest[key] = np.where(np.isfinite(ohms), 1 / np.maximum(ohms, 1 / _MOST_SIEMENS), 0.0)
        return self._rest[key]

    def _joined(self, siemens: Floats, pair: tuple[str, str]) -> Bools:
        """Return which nodes copper joins to either point; the last is the earth."""
        assert EARTH == -1
        joined = np.zeros(len(self.network.nodes) + 1, bool)
        joined[[self.network.node_of[point] for point in pair]] = True
        live = siemens > 0
        a, b = self.a[live], self.b[live]
        while True:
            grown = joined.copy()
            grown[a[joined[b]]] = True
            grown[b[joined[a]]] = True
            if np.array_equal(grown, joined):
                return grown
            joined = grown

    def _solve(self, rest: Floats, pair: tuple[str, str], branch: Ints, asked: Floats) -> Floats:
        """Return the ohms between two points in each of some different states."""
        one, two = (self.network.node_of[point] for point in pair)
        # Nodes that nothing joins to the points in any of the states carry nothing; the second point is the reference.
        ever = rest.copy()
        np.maximum.at(ever, branch[branch >= 0], asked[branch >= 0])
        joined = self._joined(ever, pair)
        joined[two] = False
        place = np.where(joined, np.cumsum(joined) - 1, -1)
        count = int(joined.sum())
        if place[one] < 0:
            return np.zeros(len(branch))
        base = np.zeros((count + 1, count + 1))
        _stamp(base, place[self.a], place[self.b], rest)
        found = np.empty(len(branch))
        for part in np.array_split(np.arange(len(branch)), 1 + len(branch) * count**2 // _AT_ONCE):
            step()
            matrix = np.repeat(base[None, :count, :count], len(part), axis=0)
            for which, siemens in zip(branch[part].T, asked[part].T, strict=True):
                state = np.flatnonzero(which >= 0)
                _change(
                    matrix,
                    state,
                    place[self.a[which[state]]],
                    place[self.b[which[state]]],
                    siemens[state] - rest[which[state]],
                )
            matrix += _TIE_SIEMENS * np.eye(count)
            push = np.zeros((count, 1))
            push[place[one]] = 1.0
            found[part] = np.linalg.solve(matrix, np.broadcast_to(push, (len(part), count, 1)))[:, place[one], 0]
        found[found > OVER_LIMIT_OHMS] = math.inf
        return found


def _siemens(changes: Changes, branch: Ints, rest: Floats) -> Floats:
    """Return the conductance that each change asks for [S]."""
    ohms = np.where(np.isfinite(changes.series_ohms), changes.series_ohms, 0.0)
    as_set = rest[branch]
    series = np.where(np.isinf(changes.series_ohms), 0.0, as_set / (1 + ohms * as_set))
    asked: Floats = np.where(np.isnan(changes.series_ohms), changes.siemens.real, series)
    return np.where(branch >= 0, np.minimum(asked, _MOST_SIEMENS), 0.0)


def _stamp(matrix: Floats, a: Ints, b: Ints, siemens: Floats) -> None:
    """Add conductances to a nodal matrix; nodes that are left out are its last."""
    np.add.at(matrix, (a, a), siemens)
    np.add.at(matrix, (b, b), siemens)
    np.add.at(matrix, (a, b), -siemens)
    np.add.at(matrix, (b, a), -siemens)


def _change(matrix: Floats, state: Ints, a: Ints, b: Ints, siemens: Floats) -> None:
    """Add one conductance to each of some states' matrices; nodes −1 are left out."""
    for one, other in ((a, b), (b, a)):
        inside = one >= 0
        matrix[state[inside], one[inside], one[inside]] += siemens[inside]
        both = inside & (other >= 0)
        matrix[state[both], one[both], other[both]] -= siemens[both]
