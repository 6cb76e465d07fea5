"""A job with faults in it as it might really stand: components off their nominal values, some mains voltage, a meter with errors.

It answers tests as a job would, from the planted job's own circuit. Practice hides a fault in one, and calibration is
measured on many.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.network import Branch, Network
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Bools, Changes, Engine
from callpath.faults.asked import Answer, Check, Pair
from callpath.faults.ohms import Ohmmeter
from callpath.faults.places import apart
from callpath.job.model import Fault, Job
from callpath.parts.catalogue import physics, tolerances

__all__ = ["World", "as_shown", "drawn"]

_SPREAD_OF = {
    "source": "source-impedance",
    "coil": "coil",
    "load": "load",
    "input": "input",
    "wire": "wire",
    "contact": "contact",
    "landing": "contact",
    "jumper": "contact",
    "link": "contact",
    "fuse": "contact",
}
# Nobody knows stray capacitance and leakage better than by half.
_STRAY = ("capacitance", "leak")
_STRAY_SPREAD = 0.5
_DIGITS = {"volts": 1, "amps": 2, "ohms": 1}


class World:
    """A job with faults in it, its tolerances drawn.

    Parameters
    ----------
    job : Job
        The job as it should be.
    faults : sequence of Fault
        What is wrong with it.
    rng : numpy Generator
        Draws tolerances and the meter's errors.
    exact : bool
        Nothing is drawn: nominal values and a perfect meter.
    """

    def __init__(self, job: Job, faults: Sequence[Fault], rng: np.random.Generator, *, exact: bool = False) -> None:
        self.faults = tuple(faults)
        self.rng = rng
        self.exact = exact
        circuit = apart(replace(job, faults=self.faults))
        limits = tolerances()["supply-volts"]
        self.supply = 1.0 if exact else float(rng.uniform(limits.low, limits.high) / limits.nominal)
        network = circuit.network if exact else drawn(circuit.network, rng)
        self.circuit = replace(circuit, network=network)
        self._meters: dict[tuple[tuple[str, Pair], ...], tuple[Network, Engine]] = {}

    @cached_property
    def _ohmmeter(self) -> Ohmmeter:
        return Ohmmeter(self.circuit.network)

    def answer(self, check: Check) -> Answer:
        """Return what a test shows."""
        given = self._given(check.call)
        match check.kind:
            case "running":
                bits = self._settled(given, check.jumped, None)[0]
                place = self.circuit.network.bit_index
                return Answer(
                    {
                        name: bool(
                            bits[0, place[name]] if name in check.coils else self.circuit.functions[name](bits)[0]
                        )
                        for name in check.functions
                    }
                )
            case "ohms":
                assert check.between is not None
                return Answer({}, self._ohms(check.between, check.lifted, given))
            case _:
                return Answer({}, self._powered(check, given))

    def trips(self, check: Check) -> bool:
        """Tell whether a test would open a fuse or burn a source that is whole without it."""
        given = self._given(check.call)
        guards = [i for i, bit in enumerate(self.circuit.network.bits) if bit.sense != "volts"]
        before = self._settled(given, None, None)[0][0, guards]
        after = self._settled(given, check.jumped, None)[0][0, guards]
        return bool((after & ~before).any())

    def _given(self, call: str) -> Bools:
        return given_for(self.circuit, call if call in calls_of_job(self.circuit) else "off")

    def _powered(self, check: Check, given: Bools) -> float:
        meter = None
        if check.kind == "volts":
            assert check.between is not None
            meter = (check.between, 1 / physics()["low-z-meter-ohms" if check.low_z else "meter-ohms"])
        bits, network, engine, changes = self._settled(given, check.jumped, meter)
        name = f"meter:{check.between}" if check.kind == "volts" else check.conductor
        watched = np.array([network.index[name or ""]], np.intp)
        live = np.full((1, len(network.sources)), self.supply)
        volts, siemens = engine.solve(network.drive_rows(bits), live, changes, watched)
        value = float(abs(volts[0, 0] if check.kind == "volts" else volts[0, 0] * siemens[0, 0]))
        return self._as_shown(check.kind, value)

    def _settled(
        self, given: Bools, jumped: Pair | None, meter: tuple[Pair, float] | None
    ) -> tuple[Bools, Network, Engine, Changes]:
        """Return the state that it settles to with a jumper and a meter in place, and where that was reckoned."""
        added = []
        if jumped is not None:
            added.append(("jump", jumped, 1 / physics()["jumper-ohms"]))
        if meter is not None:
            added.append(("meter", meter[0], meter[1]))
        key = tuple((what, pair) for what, pair, _ in added)
        if key not in self._meters:
            node = self.circuit.network.node_of
            more = [
                Branch(f"{what}:{pair}", "probe", node[pair[0]], node[pair[1]], complex(math.inf)) for what, pair in key
            ]
            network = replace(self.circuit.network, branches=(*self.circuit.network.branches, *more))
            self._meters[key] = network, Engine(network)
        network, engine = self._meters[key]
        changes = Changes(
            np.array([[network.index[f"{what}:{pair}"] for what, pair, _ in added]], np.intp).reshape(1, len(added)),
            np.full((1, len(added)), math.nan),
            np.array([[siemens for *_, siemens in added]], complex).reshape(1, len(added)),
        )
        live = np.full((1, len(network.sources)), self.supply)
        bits = settle(engine, States(given[None], live, changes)).bits
        return bits, network, engine, changes

    def _ohms(self, pair: Pair, lifted: Sequence[str], given: Bools) -> float:
        index, landings = self.circuit.network.index, self.circuit.job.landings
        off = [
            index[f"landing:{name}@{end}"]
            for name in lifted
            if name in landings
            for end in (1, 2)
            if landings[name][end - 1] is not None and (landings[name][end - 1] in pair or f"{name}@{end}" in pair)
        ]
        # A jumper that is missing cannot be lifted, and need not.
        off += [index[f"jumper:{name}"] for name in lifted if f"jumper:{name}" in index]
        value = float(self._ohmmeter.read(pair, given, off, Changes.none(1))[0])
        return self._as_shown("ohms", value)

    def _as_shown(self, kind: str, value: float) -> float:
        return value if self.exact else as_shown(kind, value, self.rng)


def as_shown(kind: str, value: float, rng: np.random.Generator) -> float:
    """Return what a meter with its errors and digits shows."""
    if math.isinf(value):
        return value
    error = tolerances()[f"meter-{kind}"]
    value *= 1 + float(rng.uniform(-error.fraction, error.fraction))
    return round(abs(value + float(rng.uniform(-error.digits, error.digits))), _DIGITS[kind])


def drawn(network: Network, rng: np.random.Generator) -> Network:
    """Return the network with every component off its nominal value by some part of its tolerance."""
    spread_of = tolerances()
    branches = []
    for branch in network.branches:
        kind = _SPREAD_OF.get(branch.kind)
        most = _STRAY_SPREAD if branch.kind in _STRAY else spread_of[kind].fraction if kind else 0.0
        factor = 1 + float(rng.uniform(-most, most)) if most else 1.0
        branches.append(_scaled(branch, factor) if most else branch)
    return replace(network, branches=tuple(branches))


def _scaled(branch: Branch, factor: float) -> Branch:
    driven = branch.driven_ohms
    changed: dict[str, Any] = {
        "ohms": branch.ohms * factor if np.isfinite(branch.ohms) else branch.ohms,
        "driven_ohms": driven * factor if driven is not None and np.isfinite(driven) else driven,
        "dc_ohms": branch.dc_ohms * factor,
    }
    return replace(branch, **changed)
