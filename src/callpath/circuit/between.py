"""What a voltmeter shows between every two of many points at once, with its spread.

Asking a meter pair by pair solves the circuit again for every pair and every component that may be off. Here one settled state is
inverted once, and all pairs and components follow from it: with the port of a pair seen as a source V₀ behind Z₀, the meter of
resistance M reads |V₀ / (1 + Z₀ / M)|; and a branch whose admittance is off by δ changes both by what it takes from the port,

    V₀′ = V₀ − t δ i / (1 + δ z)      Z₀′ = Z₀ − t² δ / (1 + δ z)

where z is what the branch sees at its own ends, t the transfer between port and branch (the same both ways, as in every network
without amplifiers) and i the branch's voltage less its EMF.

References
----------
Thévenin's and the compensation theorem, and reciprocity, as any textbook of circuit theory has them (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import Circuit
from callpath.circuit.copper import Copper
from callpath.circuit.meter import SPREAD_OF, Reading, ghost_spread, is_ghost
from callpath.circuit.network import EARTH
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import Snapshot, snapshots, states_of
from callpath.circuit.solve import Bools, Complex
from callpath.parts.catalogue import physics, tolerances

__all__ = ["Readings", "volts_between_all"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Readings:
    """Nominal, lowest and highest volts between points, each of shape (points, points)."""

    points: tuple[str, ...]
    volts: _Floats
    low: _Floats
    high: _Floats
    ghost: NDArray[np.bool_]

    def between(self, one: str, two: str) -> Reading:
        """Return the reading between two of the points [V]."""
        at = self.points.index(one), self.points.index(two)
        return Reading(float(self.volts[at]), float(self.low[at]), float(self.high[at]), bool(self.ghost[at]))


def volts_between_all(circuit: Circuit, given: Bools, points: Sequence[str]) -> Readings:
    """Return what a 10 MΩ voltmeter shows between every two points, and within which spread.

    Parameters
    ----------
    given : (given,) bool
        Field contacts, outputs called and states.
    points : sequence of str
        Named points: terminals, splices, capped ends.

    Returns
    -------
    Readings
        The same as :func:`callpath.circuit.meter.read_volts` tells pair by pair.
    """
    supply = tolerances()["supply-volts"]
    corners = np.array([1.0, supply.low / supply.nominal, supply.high / supply.nominal])
    live = np.repeat(corners[:, None], len(circuit.network.sources), axis=1)
    states = snapshots(circuit, settle(circuit.engine, states_of(circuit, np.repeat(given[None], 3, axis=0), live)))
    ports = [_Ports(state, points) for state in states]
    nominal, *others = [port.volts() for port in ports]
    low, high = np.minimum(nominal, np.min(others, axis=0)), np.maximum(nominal, np.max(others, axis=0))
    for less, more in ports[0].changes(nominal):
        low += less
        high += more
    ghost = is_ghost(nominal, np.abs(ports[0].open_volts))
    low, high = ghost_spread(low, high, ghost)
    error = tolerances()["meter-volts"]
    low = np.maximum(0.0, np.maximum(low, 0.0) * (1 - error.fraction) - error.digits)
    return Readings(tuple(points), nominal, low, high * (1 + error.fraction) + error.digits, ghost)


class _Ports:
    """Every two of some points of one solved state, each pair a port."""

    def __init__(self, state: Snapshot, points: Sequence[str]) -> None:
        self.state, self.network = state, state.circuit.network
        self.meter_ohms = physics()["meter-ohms"]
        self.node = np.array([self.network.node_of[name] for name in points], np.intp)
        admittance = self.network.incidence.T @ (state.siemens[:, None] * self.network.incidence)
        # Columns of potentials per ampere: into each node and out of the reference of its own piece of copper, so that what
        # lies within a piece is not lost beside the megohms by which the piece as a whole stands off earth.
        self.reference = self._references()
        inject = np.eye(len(self.network.nodes))
        inject[self.reference, range(len(self.reference))] -= 1.0
        far = sorted(set(map(int, self.reference)))
        apart = np.zeros((len(self.network.nodes), len(far)))
        apart[far, range(len(far))] = 1.0
        solved = np.linalg.solve(admittance, np.concatenate([inject, apart], axis=1))
        self.within, self.off = solved[:, : len(inject)], solved[:, len(inject) :]
        self.far = np.array([far.index(int(node)) for node in self.reference], np.intp)
        self.open_volts = _differences(state.potentials[self.node])
        self.ohms = self._port_ohms()

    def _references(self) -> NDArray[np.intp]:
        """Return for every node one node of the piece that branches carrying current join it to."""
        siemens = np.abs(self.state.siemens)
        stray = ("leak", "capacitance", "earthing")
        copper = Copper(self.network, lambda i, branch: 1.0 if branch.kind not in stray and siemens[i] > 1e-6 else None)
        first: dict[int, int] = {}
        return np.array(
            [first.setdefault(copper.piece_of[node], node) for node in range(len(self.network.nodes))], np.intp
        )

    def _port_ohms(self) -> Complex:
        """Return what each pair of points sees between them [Ω]."""
        ohms: Complex = np.zeros((len(self.node), len(self.node)), complex)
        for rise in (self.within[np.ix_(self.node, self.node)], self.off[np.ix_(self.node, self.far[self.node])]):
            own = np.diag(rise)
            ohms += (own[:, None] - rise) - (rise.T - own[None, :])
        return ohms

    def volts(self) -> _Floats:
        """Return what the meter shows across every port."""
        found: _Floats = np.abs(self.open_volts / (1 + self.ohms / self.meter_ohms))
        return found

    def changes(self, nominal: _Floats) -> list[tuple[_Floats, _Floats]]:
        """Return by how much each component, off in its worst direction, lowers and raises every reading."""
        network, state, spread_of = self.network, self.state, tolerances()
        found = []
        for i, branch in enumerate(network.branches):
            kind = SPREAD_OF.get(branch.kind)
            if kind is None or state.siemens[i] == 0:
                continue
            transfer = self._transfer(branch.a, branch.b)
            own = self._own_ohms(branch.a, branch.b)
            moved = []
            for sign in (1, -1):
                delta = state.siemens[i] * (1 / (1 + sign * spread_of[kind].fraction) - 1)
                taken = transfer * delta / (1 + delta * own)
                volts = self.open_volts - taken * (state.volts[i] - state.emf[i])
                ohms = self.ohms - taken * transfer
                moved.append(np.abs(volts / (1 + ohms / self.meter_ohms)) - nominal)
            less, more = np.minimum(*moved), np.maximum(*moved)
            found.append((np.minimum(less, 0.0), np.maximum(more, 0.0)))
        return found

    def _transfer(self, a: int, b: int) -> Complex:
        """Return the voltage across a branch for one ampere into one point and out of another [Ω], (points, points)."""
        found: Complex = np.zeros((len(self.node), len(self.node)), complex)
        for rises, column in ((self.within, self.node), (self.off, self.far[self.node])):
            across = np.zeros(rises.shape[1], complex)
            if a != EARTH:
                across += rises[a]
            if b != EARTH:
                across -= rises[b]
            found += _differences(across[column])
        return found

    def _own_ohms(self, a: int, b: int) -> complex:
        """Return what a branch sees at its own ends [Ω], itself included."""
        rise = np.zeros(len(self.network.nodes), complex)
        for node, sign in ((a, 1), (b, -1)):
            if node != EARTH:
                rise += sign * (self.within[:, node] + self.off[:, self.far[node]])
        if a != EARTH and b != EARTH and self.far[a] == self.far[b]:
            rise = self.within[:, a] - self.within[:, b]
        return complex((rise[a] if a != EARTH else 0) - (rise[b] if b != EARTH else 0))


def _differences(values: Complex) -> Complex:
    """Return every value less every other, shape (points, points)."""
    found: Complex = values[:, None] - values[None, :]
    return found
