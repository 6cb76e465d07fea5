"""From power-up to a steady state: coils pull in, contacts follow, fuses open, thermostats wake or die.

Each round solves the circuit, then moves every coil, input and load that stands on the wrong side of its pull-in or
drop-out voltage, all at once. Only when nothing moves any more does a fuse open, the most overloaded first, and the coils
are settled again; a source that no fuse protects burns open the same way. A state that repeats itself goes on with one
move at a time; if it repeats itself again, a fuse overloaded on the way opens, and where none is there is no steady
state: it is reported as chatter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Bools, Changes, Complex, Engine, Ints
from callpath.progress import step

__all__ = ["Settled", "States", "settle"]

# Far beyond any cycle seen; a state that neither rests nor repeats itself for so long is called chatter too.
_ROUNDS_PER_BIT = 64
# How much of a batch is done is worth telling where it takes long enough to be read.
_MANY = 5000


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
    held : (states, bits) bool, optional
        Bits that stay true whatever drives them: a contactor whose contacts are welded.
    """

    given: Bools
    live: NDArray[np.float64]
    changes: Changes
    held: Bools | None = None

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
    free = None if states.held is None else ~states.held
    if states.held is not None:
        bits[:, :n_bits] |= states.held
    watch = _Watch(engine)
    before_fuse = bits.copy()
    blown = np.zeros(count, bool)
    careful, chatter = np.zeros(count, bool), np.zeros(count, bool)
    rounds = np.zeros(count, np.intp)
    remembered = bits.copy()
    overload, overloaded, opened = np.zeros(count), bits.copy(), bits.copy()
    active = np.arange(count)
    for number in range(1, _ROUNDS_PER_BIT * (n_bits + 1)):
        if not len(active):
            break
        rounds[active] += 1
        going: list[Ints] = []
        live, changes = states.live, states.changes
        if number > 1:
            live, changes = live[active], changes.take(active)
        solving = engine.amps(network.drive_rows(bits[active]), live, changes, watch.branch)
        for some, amps in solving:
            step(done=1 - len(active) / count if count > _MANY else None)
            members = active[some]
            slow = np.flatnonzero(careful[members])
            if len(slow):
                whose = members[slow]
                ratio = watch.overload(bits[whose, :n_bits], amps[slow])
                worse = ratio.max(axis=1) > overload[whose]
                ratio, whose = ratio[worse], whose[worse]
                overload[whose], overloaded[whose], opened[whose] = ratio.max(axis=1), bits[whose], bits[whose]
                opened[whose, ratio.argmax(axis=1)] = True
            moves, opens = watch.moves(
                bits[members, :n_bits], amps, careful[members], None if free is None else free[members]
            )
            moving = np.flatnonzero(moves.any(axis=1))
            members, moves = members[moving], moves[moving]
            fresh = members[opens[moving] & ~blown[members]]
            before_fuse[fresh] = bits[fresh]
            blown[fresh] = True
            bits[members, :n_bits] ^= moves
            going.append(members)
        active = np.concatenate(going)
        # Whatever repeats itself meets, sooner or later, the state remembered at the last power of two.
        again = active[(bits[active, :n_bits] == remembered[active, :n_bits]).all(axis=1)]
        # A fuse overloaded in a cycle does not wait for rest, as what drops out its own supply under a short would have it.
        blow = again[overload[again] > 0]
        fresh = blow[~blown[blow]]
        before_fuse[fresh] = overloaded[fresh]
        blown[blow] = True
        bits[blow] = opened[blow]
        chatter[again] = careful[again] & (overload[again] == 0)
        careful[again] = True
        active = active[~chatter[active]]
        anew = active if number & (number - 1) == 0 else again
        remembered[anew], overload[anew] = bits[anew], 0.0
    chatter[active] = True
    before_fuse[~blown] = bits[~blown]
    return Settled(states, bits, before_fuse, chatter, rounds)


class _Watch:
    """Tells from the current through every bit's branch which bits move."""

    def __init__(self, engine: Engine) -> None:
        network = engine.network
        self.branch: Ints = np.array([bit.branch for bit in network.bits], np.intp)
        kinds = np.array([bit.sense for bit in network.bits], dtype="U5")
        self.fuse: Bools = kinds == "fuse"
        by_volts: Bools = kinds == "volts"
        # What an element senses is its own voltage, which its current tells through its own impedance, whatever bad
        # connection stands in series. Fuses and sources go by the current itself, and never come back.
        rest, driven = (np.abs(own[self.branch]) for own in network.own_admittance)
        driven = np.where(np.isin(self.branch, engine.driven), driven, rest)
        on = np.array([bit.on_at for bit in network.bits])
        off = np.array([bit.off_at for bit in network.bits])
        self.by_volts = by_volts
        self.on_amps = np.where(by_volts, on * rest, on)
        self.off_amps = np.where(by_volts, off * driven, -np.inf)

    def moves(self, bits: Bools, amps: Complex, careful: Bools, free: Bools | None) -> tuple[Bools, Bools]:
        """Return which bits move, (states, bits), and in which states that is a fuse or source that opens.

        Where ``careful`` only the bit that is furthest past its limit moves. Bits that are not ``free``, where given, never do.
        """
        size = np.abs(amps)
        limit = np.where(bits, self.off_amps, self.on_amps)
        wrong = (size >= limit) != bits
        if free is not None:
            wrong &= free
        moves = wrong & self.by_volts
        one = np.flatnonzero(careful & moves.any(axis=1))
        if len(one):
            past = np.abs(size[one] - limit[one]) / np.maximum(limit[one], 1e-12)
            moves[one] = _furthest(np.where(moves[one], past, 0))
        opens = wrong.any(axis=1) & ~moves.any(axis=1)
        which = np.flatnonzero(opens)
        if len(which):
            moves[which] = _furthest(self.overload(bits[which], amps[which]))
        return moves, opens

    def overload(self, bits: Bools, amps: Complex) -> NDArray[np.float64]:
        """Return by how much each whole fuse or source is overloaded, (states, bits), zero where it holds."""
        ratio = np.where(bits | self.by_volts, 0.0, np.abs(amps) / self.on_amps)
        ratio[ratio < 1] = 0.0
        # A fuse is quicker than a winding.
        ratio[:, self.fuse] *= 1e6
        return ratio


def _furthest(past: NDArray[np.float64]) -> Bools:
    """Return a row of booleans for each row, true only at its largest value."""
    furthest: Bools = np.arange(past.shape[1]) == past.argmax(axis=1)[:, None]
    return furthest
