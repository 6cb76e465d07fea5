"""From power-up to a steady state: coils pull in, contacts follow, fuses open, thermostats wake or die.

Each round solves the circuit, then moves every coil, input and load that stands on the wrong side of its pull-in or
drop-out voltage, all at once. Only when nothing moves any more does a fuse open, the most overloaded first, and the coils
are settled again; a source that no fuse protects burns open the same way. A state that repeats itself is tried once
more with one move at a time; if that repeats too, a fuse overloaded on the way opens, and where none is there is no
steady state: it is reported as chatter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Bools, Changes, Engine, Ints

__all__ = ["Settled", "States", "settle"]


@dataclass(frozen=True)
class States:
    """A batch of states to settle.

    Parameters
    ----------
    given : (states, given) bool
        Field contacts closed, outputs called, named states; in the order of the network's ``given``.
    live : (states, sources) float
        1 where a source's primary has power.
    changes : Changes
        Faults, meters and jumps, as changes to branches.
    """

    given: Bools
    live: NDArray[np.float64]
    changes: Changes

    def __len__(self) -> int:
        return len(self.given)


@dataclass(frozen=True)
class Settled:
    """What a batch settled to.

    ``bits`` (states, bits + given) is the steady state; ``before_fuse`` the state in which the first fuse or source was still
    whole (the same as ``bits`` where none opened); ``chatter`` marks states that have no steady state; ``rounds`` counts
    solves per state.
    """

    states: States
    bits: Bools
    before_fuse: Bools
    chatter: Bools
    rounds: Ints


def settle(engine: Engine, states: States, *, start: Bools | None = None) -> Settled:
    """Settle every state of a batch from power-up, or from ``start``.

    Parameters
    ----------
    engine : Engine
        Solver of the network.
    states : States
        The batch.
    start : (states, bits) bool, optional
        Bits to begin with instead of everything de-energised and every fuse whole.
    """
    network = engine.network
    count, n_bits = len(states), len(network.bits)
    bits = np.zeros((count, n_bits + len(network.given)), bool)
    if start is not None:
        bits[:, :n_bits] = start
    bits[:, n_bits:] = states.given
    before_fuse = bits.copy()
    blown = np.zeros(count, bool)
    rounds = np.zeros(count, np.intp)
    active = np.arange(count)
    sensor = _Sensor(engine)
    # Every round moves at least one bit; without a cycle a state is settled after a few.
    for _ in range(2 * n_bits + 6):
        if not len(active):
            break
        now = bits[active]
        volts, amps = sensor.feel(now, states, active)
        rounds[active] += 1
        moved = sensor.moved(now, volts)
        still = (moved == now).all(axis=1)
        opened = sensor.opened(now, amps)
        opens = still & (opened >= 0)
        fresh = active[opens & ~blown[active]]
        before_fuse[fresh] = bits[fresh]
        blown[fresh] = True
        moved[np.flatnonzero(opens), opened[opens]] = True
        bits[active] = moved
        active = active[~still | opens]
    chatter = np.zeros(count, bool)
    for i in active:
        bits[i], before, chatter[i] = _one_at_a_time(sensor, states, int(i), bits[i], n_bits)
        if before is not None and not blown[i]:
            before_fuse[i], blown[i] = before, True
    before_fuse[~blown] = bits[~blown]
    return Settled(states, bits, before_fuse, chatter, rounds)


class _Sensor:
    """Reads what every bit watches."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        network = engine.network
        self.branch: Ints = np.array([bit.branch for bit in network.bits], np.intp)
        self.on = np.array([bit.on_at for bit in network.bits])
        self.off = np.array([bit.off_at for bit in network.bits])
        kinds = np.array([bit.sense for bit in network.bits], dtype="U5")
        self.by_volts: Bools = kinds == "volts"
        self.fuse: Bools = kinds == "fuse"
        self.burn: Bools = kinds == "burn"
        rest, driven = network.own_admittance
        self.own_siemens = np.stack([rest[self.branch], driven[self.branch]])
        self.has_drive = np.isin(self.branch, engine.driven)
        self.source_of = np.full(len(self.branch), -1)
        for s, branch in enumerate(engine.source_branch):
            self.source_of[self.branch == branch] = s

    def feel(self, bits: Bools, states: States, members: Ints) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the volts that each watched element itself sees, and the amps through it, (states, bits) each."""
        engine, n_bits = self.engine, len(self.branch)
        rows = engine.network.drive_rows(bits)
        volts, siemens = engine.solve(rows, states.live[members], states.changes.take(members), self.branch)
        if (self.source_of >= 0).any():
            emf = states.live[members] * engine.emf
            volts = volts - np.where(self.source_of >= 0, emf[:, self.source_of], 0)
        amps = np.abs(volts * siemens)
        # A coil with a bad connection in series sees what its own impedance leaves of the voltage; a broken one sees none.
        own = np.where(bits[:, :n_bits] & self.has_drive, self.own_siemens[1], self.own_siemens[0])
        with np.errstate(divide="ignore", invalid="ignore"):
            seen = np.where(siemens == own, np.abs(volts), amps / np.abs(own))
        return seen, amps

    def moved(self, bits: Bools, volts: NDArray[np.float64]) -> Bools:
        """Return state vectors with every coil, input and load moved by the voltage it sees."""
        n_bits = len(self.branch)
        old = bits[:, :n_bits]
        new = np.where(self.by_volts, np.where(old, volts >= self.off, volts >= self.on), old)
        out = bits.copy()
        out[:, :n_bits] = new
        return out

    def opened(self, bits: Bools, amps: NDArray[np.float64]) -> Ints:
        """Return per state the fuse that opens next, else the source that burns next, else −1."""
        n_bits = len(self.branch)
        if not (self.fuse | self.burn).any():
            return np.full(len(bits), -1, np.intp)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where((self.fuse | self.burn) & ~bits[:, :n_bits], amps / self.on, 0)
        ratio[ratio < 1] = 0
        # A fuse is quicker than a winding.
        ratio[:, self.fuse] *= 1e6
        worst = ratio.argmax(axis=1)
        return np.where(ratio[np.arange(len(bits)), worst] > 0, worst, -1)


def _one_at_a_time(
    sensor: _Sensor, states: States, i: int, start: Bools, n_bits: int
) -> tuple[Bools, Bools | None, bool]:
    """Settle a state that repeats itself by the move that is furthest past its threshold; tell whether it repeats again.

    A fuse that is overloaded in some part of a cycle opens: it does not wait for rest, as what drops out its own supply under a
    short would have it do.
    """
    member = np.array([i])
    bits, before = start.copy(), None
    trail: list[Bools] = []
    seen: dict[bytes, int] = {}
    while True:
        if bits.tobytes() in seen:
            cycle = np.stack(trail[seen[bits.tobytes()] :])
            _, amps = sensor.feel(cycle, states, np.repeat(member, len(cycle)))
            opened = sensor.opened(cycle, amps)
            over = [(float(amps[k, bit] / sensor.on[bit]), -k) for k, bit in enumerate(opened) if bit >= 0]
            if not over:
                return bits, before, True
            worst = -max(over)[1]
            before = cycle[worst].copy() if before is None else before
            bits, trail, seen = cycle[worst].copy(), [], {}
            bits[opened[worst]] = True
        seen[bits.tobytes()] = len(trail)
        trail.append(bits.copy())
        volts, amps = sensor.feel(bits[None], states, member)
        moved = sensor.moved(bits[None], volts)[0]
        differ = np.flatnonzero(moved[:n_bits] != bits[:n_bits])
        if len(differ):
            limit = np.where(bits[:n_bits], sensor.off, sensor.on)
            past = np.abs(volts[0] - limit)[differ] / np.maximum(limit[differ], 1e-9)
            bits[differ[past.argmax()]] ^= True
            continue
        next_open = int(sensor.opened(bits[None], amps)[0])
        if next_open < 0:
            return bits, before, False
        if before is None:
            before = bits.copy()
        bits[next_open] = True
