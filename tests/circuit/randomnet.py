"""Random networks with everything that a job's network can hold, from a seed; and the same as a Hypothesis strategy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from callpath.circuit.network import Network
from callpath.circuit.settle import States
from callpath.circuit.solve import Changes, Complex
from tests.circuit.handnet import Hand

STRAY = ("leak", "capacitance")


@dataclass(frozen=True)
class RandomNet:
    """A network and the random numbers that go on making states of it."""

    seed: int
    network: Network
    rng: np.random.Generator

    def states(self, count: int, most: int) -> States:
        """Return states with random given bits and dead sources, each with up to ``most`` changed branches."""
        rng, network = self.rng, self.network
        live = (rng.random((count, len(network.sources))) < 0.85).astype(float)
        return States(rng.random((count, len(network.given))) < 0.5, live, self.changes(count, most))

    def bits(self, states: States) -> np.ndarray:
        """Return random state vectors that agree with the states' given bits."""
        n_bits = len(self.network.bits)
        return np.concatenate([self.rng.random((len(states), n_bits)) < 0.4, states.given], axis=1)

    def changes(self, count: int, most: int, *, exactly: bool = False) -> Changes:
        """Return up to ``most`` different changed branches per state: opened, made bad, or replaced."""
        rng = self.rng
        ports = np.array([i for i, branch in enumerate(self.network.branches) if branch.kind not in STRAY])
        most = min(most, len(ports))
        branch = np.full((count, most), -1, np.intp)
        series = np.zeros((count, most))
        siemens = np.zeros((count, most), complex)
        for state in range(count):
            rank = most if exactly else int(rng.integers(0, most + 1))
            for j, i in enumerate(rng.choice(ports, rank, replace=False)):
                branch[state, j] = i
                kind = rng.random()
                if np.isinf(self.network.branches[i].ohms.real) or kind < 0.3:
                    # A contact pressed or welded closed, a short between conductors, a coil that is half gone.
                    series[state, j] = np.nan
                    siemens[state, j] = 1 / (10 ** rng.uniform(-1.5, 3) * np.exp(1j * rng.uniform(0, 1.5)))
                elif kind < 0.65:
                    series[state, j] = np.inf
                else:
                    series[state, j] = 10 ** rng.uniform(-1, 4)
        return Changes(branch, series, siemens)


def random_net(seed: int, *, points: int | None = None) -> RandomNet:
    """Return the random network of a seed.

    It has one to three sources, in or out of phase and each with or without a fuse; wires in a random tree and some
    loops; coils and loads; contacts that coils, or the state given, open and close; open places where a short may come;
    capacitance between points; and the metal bonded to earth, or not.
    """
    rng = np.random.default_rng(seed)
    hand = Hand()
    names = [f"p{i}" for i in range(points or int(rng.integers(6, 30)))]

    def pair() -> tuple[str, str]:
        one, two = rng.choice(names, 2, replace=False)
        return str(one), str(two)

    hand.given += [f"g{i}" for i in range(int(rng.integers(1, 5)))]
    for i in range(1, len(names)):
        # The tree may have contacts in it, so that parts of the network float when they are open.
        near = names[int(rng.integers(max(0, i - 4), i))]
        if rng.random() < 0.8:
            hand.wire(f"w{i}", near, names[i], 10 ** rng.uniform(-1.5, 0.5))
    for i in range(int(rng.integers(1, 4))):
        emf = 27.0 * rng.uniform(0.9, 1.1) * rng.choice([1, -1])
        scale = rng.uniform(0.4, 2)
        one, two = pair()
        if rng.random() < 0.6:
            hand.points.setdefault(one, len(hand.points))
            hand.fuse(f"f{i}", f"s{i}", one, float(rng.choice([3.0, 5.0])) * 1.35)
            one = f"s{i}"
        if rng.random() < 0.5:
            hand.burning(f"t{i}", one, two, 2 * 40 / 24 / scale, emf)
        else:
            hand.source(f"t{i}", one, two, emf, (1.516 + 3.015j) * scale)
    coils = [f"k{i}" for i in range(int(rng.integers(1, 5)))]
    for name in coils:
        inrush = rng.uniform(6, 20) * np.exp(1j * rng.uniform(0.3, 1.1))
        added = float(rng.choice([0, 0, 0, 20.0, np.inf]))
        sealed = inrush * rng.uniform(2, 6)
        hand.coil(name, *pair(), open_gap=inrush, sealed=sealed, on=rng.uniform(14, 18), added_ohms=added)
    for i in range(int(rng.integers(1, 5))):
        hand.load(f"l{i}", *pair(), 10 ** rng.uniform(1, 4))
    drivers = [*coils, *hand.given]
    for i in range(int(rng.integers(2, 8))):
        hand.contact(f"c{i}", *pair(), str(rng.choice(drivers)), closed=bool(rng.random() < 0.4))
    for i in range(int(rng.integers(1, 4))):
        hand.branch(f"short{i}", "short", *pair(), complex(np.inf))
    for i in range(int(rng.integers(0, 6))):
        hand.branch(f"cap{i}", "capacitance", *pair(), 1 / (2j * np.pi * 60 * 10 ** rng.uniform(-10, -8.5)))
    for i in range(int(rng.integers(0, 3))):
        hand.branch(f"bond{i}", "earthing", str(rng.choice(names)), "earth", 0.2)
    return RandomNet(seed, hand.network(), rng)


def random_nets(points: int | None = None) -> st.SearchStrategy[RandomNet]:
    """Return a Hypothesis strategy of random networks; a failure names the seed."""
    return st.integers(0, 2**32 - 1).map(lambda seed: random_net(seed, points=points))


def alike(found: Complex, reference: Complex) -> np.ndarray:
    """Return which states agree at every node to a millionth.

    Notes
    -----
    A millionth of the node's own potential, or, where that is smaller than a thousandth of the largest in its state, of
    that thousandth, or of the thousandth of a source's 27 V: 27 nV.
    """
    size = np.abs(reference)
    floor = 1e-3 * size.max(axis=-1, keepdims=True, initial=27.0)
    return np.asarray((np.abs(found - reference) <= 1e-6 * np.maximum(size, floor)).all(axis=-1))
