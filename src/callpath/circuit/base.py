"""One setting of a network, solved once for everything that may be done to it.

Every branch is a *port* with one drive and one sense. A closed branch is driven by a voltage drop put in series with it [V]
and senses its current [A]; an open one is driven by a current through the gap [A] and senses the voltage across it [V].
Either way the response to the drive is finite and keeps its digits, whether the branch carries amperes or only the
leakage of a floating end. To change a branch's admittance is to let its own sense work its drive:

* closed, y to y′: the drop is (1/y′ − 1/y) times the current, written y′ x = (1 − y′/y) s so that y′ = 0 opens it;
* open, to y′: the current is x = y′ s.

A setting that differs in one branch more follows from this one by exchanging that port's drive and sense, a rank-one
step (a principal pivot); no new factorisation is needed unless the step would lose digits.

References
----------
M. J. Tsatsomeros, "Principal pivot transforms: properties and applications", Linear Algebra and its Applications 307 (2000)
151-165 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.exact import Complex, Stamp

__all__ = ["Base", "Pool", "factored", "stepped"]

# Steps that leave less than this of a port's response to itself have lost five digits of it, and are not taken.
_LEAST_LEFT = 1e-5


@dataclass(frozen=True)
class Base:
    """A network in one setting of its driven branches.

    Parameters
    ----------
    row : (driven,) bool
        The setting.
    siemens, ohms : (ports,) complex
        Admittance [S] of every port, and its inverse [Ω], zero where the port is open.
    response : (ports, ports + nodes) complex
        What one unit of each port's drive (rows) adds to the sense of every port and the potential of every node (columns).
    feed : (sources, ports + nodes) complex
        What one volt of each source's EMF makes every port sense and every node stand at.
    left : (ports,) float
        How much of each port's own response the steps since the last factorisation have left.
    """

    row: NDArray[np.bool_]
    siemens: Complex
    ohms: Complex
    response: Complex
    feed: Complex
    left: NDArray[np.float64]


@dataclass(frozen=True)
class Pool:
    """Bases of one network stacked, so that states near different ones are worked on together.

    ``row`` (bases, driven) and ``feed`` (bases, sources, ports + nodes) are stacked; of the others the ports of one base follow
    those of the one before.
    """

    row: NDArray[np.bool_]
    siemens: Complex
    ohms: Complex
    response: Complex
    feed: Complex
    left: NDArray[np.float64]

    @classmethod
    def of(cls, bases: Sequence[Base]) -> Pool:
        """Stack some bases."""
        if len(bases) == 1:
            (one,) = bases
            return cls(one.row[None], one.siemens, one.ohms, one.response, one.feed[None], one.left)
        return cls(
            np.stack([base.row for base in bases]),
            np.concatenate([base.siemens for base in bases]),
            np.concatenate([base.ohms for base in bases]),
            np.concatenate([base.response for base in bases]),
            np.stack([base.feed for base in bases]),
            np.concatenate([base.left for base in bases]),
        )


def factored(
    stamp: Stamp, ports: NDArray[np.intp], feeds: NDArray[np.intp], row: NDArray[np.bool_], siemens: Complex
) -> Base:
    """Solve a setting from nothing.

    Parameters
    ----------
    ports : (ports,) int
        Branches that are ports.
    feeds : (sources,) int
        Which port each source stands in.
    siemens : (branches,) complex
        Admittance of every branch in this setting [S].
    """
    column = np.arange(len(ports))
    y = siemens[ports]
    closed = y != 0
    drop = np.zeros((len(siemens), len(ports)), complex)
    drop[ports[closed], column[closed]] = 1.0
    # A current through the gap from a to b leaves the network at a and comes back at b.
    through = np.where(closed, 0.0, -stamp.incidence[ports].T)
    potentials, volts, amps = stamp.solve(siemens, drop, through)
    sense = np.where(closed[:, None], amps[ports], volts[ports])
    response = np.ascontiguousarray(np.concatenate([sense, potentials]).T)
    return _base(row, y, response, feeds, np.ones(len(ports)))


def stepped(base: Base, feeds: NDArray[np.intp], row: NDArray[np.bool_], siemens: Complex) -> Base | None:
    """Return the setting with other admittances of its ports by one exchange for each that differs.

    Returns None where digits would be lost.
    """
    response, left, y = base.response.copy(), base.left.copy(), base.siemens.copy()
    own = np.arange(len(y))
    for m in np.flatnonzero(siemens != y):
        old, new, itself = y[m], siemens[m], response[m, m]
        by_drive, at_sense = response[m].copy(), response[:, m].copy()
        before = np.abs(response[own, own])
        if old == 0:
            gain = new / (1 - new * itself)
            drive, sense, both, lost_in = -gain, gain, -gain, -gain
        elif new == 0:
            gain = -1 / itself
            drive, sense, both, lost_in = -gain, gain, 1 / old - gain, gain
        else:
            added = 1 / new - 1 / old
            sense = 1 / (1 - added * itself)
            gain, drive, both, lost_in = sense * added, sense, sense * itself, sense * itself
        response += (at_sense * gain)[:, None] * by_drive
        response[m], response[:, m] = drive * by_drive, sense * at_sense
        response[m, m] = both
        y[m] = new
        kept = np.abs(response[own, own]) / np.maximum(before, np.finfo(float).tiny)
        kept[m] = abs(both) / abs(lost_in)
        left *= np.minimum(kept, 1.0)
        # A singular exchange leaves no number, which is not at least anything either.
        if not (left >= _LEAST_LEFT).all():
            return None
    return _base(row, y, response, feeds, left)


def _base(
    row: NDArray[np.bool_], siemens: Complex, response: Complex, feeds: NDArray[np.intp], left: NDArray[np.float64]
) -> Base:
    ohms = np.divide(1.0, siemens, out=np.zeros_like(siemens), where=siemens != 0)
    # An EMF is a drop in series with its winding; across an open one it is only missing from the volts.
    feed = response[feeds]
    for s in np.flatnonzero(siemens[feeds] == 0):
        feed[s] = 0
        feed[s, feeds[s]] = -1
    return Base(row, siemens, ohms, response, feed, left)
