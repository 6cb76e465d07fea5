"""What a meter reads: volts with its own impedance across two points, amps in a conductor, ohms with the sources off.

A reading is a nominal value and the spread within which sound equipment may show it: the supply between its lowest and
highest voltage, every component off its nominal value in the worst direction, and the meter's own error on top. What comes
to a point only through stray capacitance and leakage is a ghost: a meter may show that much, half as much again, or nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import Circuit
from callpath.circuit.copper import Copper
from callpath.circuit.network import EARTH, Branch, Network
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Bools, Changes, Engine
from callpath.parts.catalogue import physics, tolerances

__all__ = [
    "OVER_LIMIT_OHMS",
    "SPREAD_OF",
    "Reading",
    "ghost_spread",
    "is_ghost",
    "read_amps",
    "read_ohms",
    "read_volts",
    "with_probes",
]

Floats = NDArray[np.float64]

OVER_LIMIT_OHMS = 4.0e7
"""A hand meter's highest ohms; anything above shows OL (common practice)."""

SPREAD_OF = {
    "source": "source-impedance",
    "coil": "coil",
    "load": "load",
    "input": "input",
    "wire": "wire",
    "contact": "contact",
    "jumper": "contact",
    "link": "contact",
    "fuse": "contact",
}
"""Which tolerance a kind of branch has; one that is not named is taken as it is."""

# A voltage that the meter's own impedance pulls down by more than this part comes through stray capacitance or leakage. To the
# meter's resistance a capacitance stands at a right angle, which hardly shows in the magnitude: 0.05 % is 330 feet of cable at
# 60 Hz; of what a load of 1500 Ω brings, the meter takes 0.015 %.
_PULLED_DOWN = 5e-4
# Nobody knows stray capacitance and leakage better than by half (common practice, no source).
_STRAY_UNKNOWN = 1.5


@dataclass(frozen=True)
class Reading:
    """A meter's reading: nominal, lowest and highest; all infinite for an open circuit in ohms.

    ``ghost`` tells that nothing but stray capacitance and leakage brings a voltage there.
    """

    value: float
    low: float
    high: float
    ghost: bool = False


def is_ghost(shown: Floats, alone: Floats) -> NDArray[np.bool_]:
    """Tell which voltages come only through stray capacitance or leakage: a 10 MΩ meter itself pulls them down.

    Parameters
    ----------
    shown, alone : ndarray
        Volts with a 10 MΩ meter there, and without [V].
    """
    ghost: NDArray[np.bool_] = np.abs(alone - shown) > _PULLED_DOWN * np.maximum(alone, 1e-9)
    return ghost


def ghost_spread(low: Floats, high: Floats, ghost: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return what a meter may show, lowest and highest, where some voltages are ghosts."""
    return np.where(ghost, 0.0, low), np.where(ghost, _STRAY_UNKNOWN * high, high)


def with_probes(network: Network, pairs: Sequence[tuple[str, str]]) -> Network:
    """Return the network with an open branch ``probe:N`` across each pair of named points, for a meter to close."""
    probes = tuple(
        Branch(f"probe:{i}", "probe", network.node_of[one], network.node_of[two], complex(math.inf))
        for i, (one, two) in enumerate(pairs)
    )
    return replace(network, branches=(*network.branches, *probes))


def read_volts(
    circuit: Circuit, given: Bools, pairs: Sequence[tuple[str, str]], *, meter_ohms: float | None = None
) -> list[Reading]:
    """Return what a voltmeter shows across each pair of points, one pair at a time.

    Parameters
    ----------
    given : (given,) bool
        Field contacts, outputs called and states.
    pairs : sequence of (str, str)
        Named points.
    meter_ohms : float, optional
        The meter's resistance [Ω]; 10 MΩ without it.

    Returns
    -------
    list of Reading
        Volts RMS, one for each pair.
    """
    network = with_probes(circuit.network, pairs)
    engine = Engine(network)
    count = len(pairs)
    probe = np.arange(len(circuit.network.branches), len(network.branches), dtype=np.intp)
    meters = _across(probe, 1 / (meter_ohms or physics()["meter-ohms"]))
    found = np.array(_spread(engine, given, meters, probe[:, None], amps=False)).reshape(-1, 3)
    # A low impedance leaves nothing of a ghost.
    ghost = np.zeros(count, bool)
    if meter_ohms is None:
        ghost = is_ghost(found[:, 0], _settled_volts(engine, given, _across(probe, 0.0), probe))
    low, high = ghost_spread(found[:, 1], found[:, 2], ghost)
    error = tolerances()["meter-volts"]
    return [
        replace(_with_meter(found[i, 0], low[i], high[i], error.fraction, error.digits), ghost=bool(ghost[i]))
        for i in range(count)
    ]


def _across(probe: NDArray[np.intp], siemens: float) -> Changes:
    """Return one question for each probe: a meter there."""
    return Changes(probe[:, None], np.full((len(probe), 1), np.nan), np.full((len(probe), 1), siemens, complex))


def _settled_volts(engine: Engine, given: Bools, changes: Changes, watched: NDArray[np.intp]) -> Floats:
    """Return the magnitude across a branch of each question."""
    live = np.ones((len(watched), len(engine.network.sources)))
    settled = settle(engine, States(np.repeat(given[None], len(watched), axis=0), live, changes))
    return np.array(
        [
            _magnitudes(engine, settled.bits[q], 1.0, changes.take(np.array([q])), int(branch), [], amps=False)[0]
            for q, branch in enumerate(watched)
        ]
    )


def read_amps(circuit: Circuit, given: Bools, conductor: str) -> Reading:
    """Return what a clamp meter shows around a conductor [A RMS]."""
    branch = np.array([[circuit.network.index[conductor]]])
    ((nominal, low, high),) = _spread(circuit.engine, given, Changes.none(1), branch, amps=True)
    error = tolerances()["meter-amps"]
    return _with_meter(nominal, low, high, error.fraction, error.digits)


def _with_meter(nominal: float, low: float, high: float, fraction: float, digits: float) -> Reading:
    return Reading(
        float(nominal), max(0.0, float(low) * (1 - fraction) - digits), float(high) * (1 + fraction) + digits
    )


def _spread(
    engine: Engine, given: Bools, changes: Changes, watched: NDArray[np.intp], *, amps: bool
) -> list[tuple[float, float, float]]:
    """Return nominal, lowest and highest magnitude per question: supply corners settled anew, then every component.

    ``changes`` and ``watched`` (questions, 1) give each question its meter and the branch that it watches.
    """
    network = engine.network
    supply = tolerances()["supply-volts"]
    corners = np.array([1.0, supply.low / supply.nominal, supply.high / supply.nominal])
    count, sources = len(watched), len(network.sources)
    live = np.repeat(np.repeat(corners[:, None], sources, axis=1), count, axis=0)
    settled = settle(
        engine, States(np.repeat(given[None], 3 * count, axis=0), live, changes.take(np.tile(np.arange(count), 3)))
    )
    spread_of = tolerances()
    shifts = [
        (i, fraction * sign)
        for i, branch in enumerate(network.branches)
        if branch.kind in SPREAD_OF
        for fraction in (spread_of[SPREAD_OF[branch.kind]].fraction,)
        for sign in (1, -1)
    ]
    found = []
    for q in range(count):
        corner = [
            _magnitudes(
                engine, settled.bits[k * count + q], corners[k], changes.take(np.array([q])), watched[q, 0], [], amps
            )
            for k in range(3)
        ]
        nominal = float(corner[0][0])
        moved = _magnitudes(engine, settled.bits[q], 1.0, changes.take(np.array([q])), watched[q, 0], shifts, amps)[1:]
        change = (moved - nominal).reshape(-1, 2)
        low = min(float(c[0]) for c in corner) + float(np.minimum(change.min(axis=1, initial=0.0), 0).sum())
        high = max(float(c[0]) for c in corner) + float(np.maximum(change.max(axis=1, initial=0.0), 0).sum())
        found.append((nominal, max(low, 0.0), high))
    return found


def _magnitudes(
    engine: Engine,
    bits: Bools,
    supply: float,
    changes: Changes,
    watched: int,
    shifts: list[tuple[int, float]],
    amps: bool,
) -> NDArray[np.float64]:
    """Return |V| or |I| of a branch: as settled, then with each component's impedance shifted by a fraction."""
    network = engine.network
    rows = network.drive_rows(bits[None])
    configured = engine.siemens_of(rows)[0]
    states = len(shifts) + 1
    branch = np.full((states, 1), -1, np.intp)
    siemens = np.zeros((states, 1), complex)
    for i, (index, fraction) in enumerate(shifts):
        branch[i + 1], siemens[i + 1] = index, configured[index] / (1 + fraction)
    extended = Changes(
        np.concatenate([np.repeat(changes.branch, states, axis=0), branch], axis=1),
        np.concatenate([np.repeat(changes.series_ohms, states, axis=0), np.full((states, 1), np.nan)], axis=1),
        np.concatenate([np.repeat(changes.siemens, states, axis=0), siemens], axis=1),
    )
    live = np.full((states, len(network.sources)), supply)
    volts, admittance = engine.solve(np.repeat(rows, states, axis=0), live, extended, np.array([watched]))
    return np.abs(volts[:, 0] * admittance[:, 0] if amps else volts[:, 0])


def read_ohms(circuit: Circuit, given: Bools, one: str, two: str) -> Reading:
    """Return what an ohmmeter shows between two points with every source off and every coil at rest.

    Parallel paths count, as they do for a meter. Leakage does not: it is beyond what a hand meter shows.

    Returns
    -------
    Reading
        Ohms; infinite where no path joins the two points, or more than 40 MΩ.
    """
    network = circuit.network
    bits = np.concatenate([np.zeros(len(network.bits), bool), given])
    driven = dict(zip(network.driven, network.drive_rows(bits[None])[0], strict=True))
    ohms = {}
    for i, branch in enumerate(network.branches):
        if driven.get(i, False) and branch.kind == "contact":
            resistance = complex(branch.driven_ohms or 0).real
        else:
            resistance = branch.dc_ohms
        resistance += branch.added_ohms
        if math.isfinite(resistance):
            ohms[i] = resistance
    a, b = network.node_of[one], network.node_of[two]
    nominal = _two_point(network, ohms, a, b)
    if nominal > OVER_LIMIT_OHMS:
        return Reading(math.inf, math.inf, math.inf)
    spread_of = tolerances()
    low = high = nominal
    for i in ohms:
        kind = SPREAD_OF.get(network.branches[i].kind)
        if kind is not None:
            for sign in (1, -1):
                shifted = {**ohms, i: ohms[i] * (1 + sign * spread_of[kind].fraction)}
                moved = _two_point(network, shifted, a, b) - nominal
                low, high = low + min(moved, 0.0), high + max(moved, 0.0)
    error = spread_of["meter-ohms"]
    return _with_meter(nominal, max(low, 0.0), high, error.fraction, error.digits)


def _two_point(network: Network, ohms: dict[int, float], a: int, b: int) -> float:
    """Return the resistance between two nodes [Ω], infinite where nothing joins them."""
    if a == b:
        return 0.0
    copper = Copper(network, lambda i, _: 1.0 if i in ohms else None)
    if not copper.joined(a, b):
        return math.inf
    piece = {node for node, which in copper.piece_of.items() if which == copper.piece_of[a]}
    place = {node: k for k, node in enumerate(sorted(piece - {b}, key=lambda n: (n == EARTH, n)))}
    matrix = np.zeros((len(place), len(place)))
    for i, resistance in ohms.items():
        ends = [place.get(node) for node in (network.branches[i].a, network.branches[i].b)]
        if network.branches[i].a not in piece or ends[0] == ends[1]:
            continue
        siemens = 1 / max(resistance, 1e-6)
        for k in ends:
            if k is not None:
                matrix[k, k] += siemens
        if ends[0] is not None and ends[1] is not None:
            matrix[ends[0], ends[1]] -= siemens
            matrix[ends[1], ends[0]] -= siemens
    drive = np.zeros(len(place))
    drive[place[a]] = 1.0
    return float(np.linalg.solve(matrix, drive)[place[a]])
