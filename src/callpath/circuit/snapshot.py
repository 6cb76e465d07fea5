"""One settled state, whole: potentials, currents, and what may be asked of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from callpath.circuit.build import Circuit
from callpath.circuit.network import EARTH
from callpath.circuit.settle import Settled, States, settle
from callpath.circuit.solve import Bools, Changes, Complex
from callpath.circuit.solve import Ints as _Ints

__all__ = ["Snapshot", "SourceLoad", "snapshot", "snapshots", "states_of"]


@dataclass(frozen=True)
class SourceLoad:
    """What a source delivers: terminal volts, amps and VA beside its nameplate."""

    volts: float
    amps: float
    va: float
    rated_va: float


@dataclass(frozen=True)
class Snapshot:
    """One state of a circuit, solved.

    ``bits`` is the state vector, ``potentials`` the node potentials [V RMS], ``siemens`` the branch admittances [S], ``emf`` each
    branch's EMF [V RMS]; ``chatter`` tells that the state is one of a cycle, not a steady one.
    """

    circuit: Circuit
    bits: Bools
    potentials: Complex
    siemens: Complex
    emf: Complex
    chatter: bool = False

    @cached_property
    def volts(self) -> Complex:
        """Voltage across every branch, a against b."""
        return self.circuit.network.incidence @ self.potentials

    @cached_property
    def amps(self) -> Complex:
        """Current through every branch from a to b [A RMS]; through a source too, so that what it delivers is the negative."""
        amps: Complex = self.siemens * (self.volts - self.emf)
        return amps

    @cached_property
    def shares(self) -> Complex:
        """Current through every branch that each source alone drives, every other EMF at nothing; (sources, branches).

        Together they are ``amps``. Where currents of several sources meet in one conductor, only their shares tell which way each
        of them takes.
        """
        network = self.circuit.network
        sources = [source.branch for source in network.sources]
        if len(sources) < 2:
            return self.amps[None]
        drive = np.zeros((len(network.branches), len(sources)), complex)
        drive[sources, range(len(sources))] = self.emf[sources]
        admittance = self.siemens[:, None] * network.incidence
        potentials = np.linalg.solve(
            network.incidence.T @ admittance, network.incidence.T @ (self.siemens[:, None] * drive)
        )
        amps: Complex = (self.siemens[:, None] * (network.incidence @ potentials - drive)).T
        return amps

    def at(self, name: str) -> complex:
        """Return the potential of a terminal, splice or capped end against earth [V RMS]."""
        index = self.circuit.network.node_of[name]
        return 0j if index == EARTH else complex(self.potentials[index])

    def between(self, one: str, two: str) -> float:
        """Return the voltage between two named points [V RMS], no meter connected."""
        return abs(self.at(one) - self.at(two))

    def bit(self, name: str) -> bool:
        """Return a named bit: a coil pulled in, an input on, a fuse or source open."""
        return bool(self.bits[self.circuit.network.bit_index[name]])

    @cached_property
    def opened(self) -> tuple[str, ...]:
        """Fuses that have opened and sources that have burned, sorted."""
        bits = self.circuit.network.bits
        return tuple(sorted(b.name for b, on in zip(bits, self.bits, strict=False) if on and b.sense != "volts"))

    @cached_property
    def running(self) -> tuple[str, ...]:
        """Functions that run once every delay is over, sorted."""
        row = self.bits[None]
        return tuple(sorted(name for name, drive in self.circuit.functions.items() if drive(row)[0]))

    @cached_property
    def sources(self) -> dict[str, SourceLoad]:
        """What every source delivers."""
        loads = {}
        for name, source in zip(self.circuit.source_names, self.circuit.network.sources, strict=True):
            volts, amps = abs(self.volts[source.branch]), abs(self.amps[source.branch])
            loads[name] = SourceLoad(float(volts), float(amps), float(volts * amps), source.rated_va)
        return loads


def states_of(circuit: Circuit, given: Bools, live: np.ndarray | None = None) -> States:
    """Return a batch without changes from rows of given bits; every source live unless told otherwise."""
    count = len(given)
    power = np.ones((count, len(circuit.network.sources))) if live is None else np.asarray(live, float)
    return States(given, power, Changes.none(count))


def snapshots(circuit: Circuit, settled: Settled, which: str = "bits", members: _Ints | None = None) -> list[Snapshot]:
    """Solve settled states whole.

    Parameters
    ----------
    which : str
        ``bits`` for the steady state, ``before_fuse`` for the one in which the first fuse was still whole.
    members : (n,) int, optional
        Which states of the batch; all without it.
    """
    chosen = np.arange(len(settled.bits)) if members is None else members
    network, engine = circuit.network, circuit.engine
    bits: Bools = getattr(settled, which)[chosen]
    live = settled.states.live[chosen]
    potentials, siemens = engine.solve(network.drive_rows(bits), live, settled.states.changes.take(chosen))
    emf = np.zeros((len(chosen), len(network.branches)), complex)
    if len(engine.source_branch):
        emf[:, engine.source_branch] = live * engine.emf
    return [
        Snapshot(circuit, bits[i], potentials[i], siemens[i], emf[i], bool(settled.chatter[member]))
        for i, member in enumerate(chosen)
    ]


def snapshot(circuit: Circuit, given: Bools, live: np.ndarray | None = None) -> Snapshot:
    """Settle one state, given as one row of given bits, and solve it whole."""
    settled = settle(circuit.engine, states_of(circuit, given[None], None if live is None else live[None]))
    return snapshots(circuit, settled)[0]
