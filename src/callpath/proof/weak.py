"""Weaknesses: coils that hardly pull in, loads that starve, sources and fuses of the wrong size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from callpath.circuit.copper import LOADS
from callpath.circuit.path import loop, through
from callpath.circuit.settle import States, settle
from callpath.circuit.snapshot import Snapshot
from callpath.circuit.solve import Changes
from callpath.parts.catalogue import physics, tolerances
from callpath.proof.finding import Finding
from callpath.proof.lost import lost
from callpath.proof.route import driver_of
from callpath.proof.states import Examined

__all__ = ["fuse_sizes", "larger", "over_va", "weak_loads"]

_HOLD = 0.85
# Below a quarter of its rating a load is not fed but idle; what is wrong then is a dead call.
_FED = 0.25
_RATED_VOLTS = 24.0
# Nameplates that control transformers usually come with: common practice, no source.
_USUAL_VA = (20, 40, 50, 75, 100)


def _settled(examined: Examined) -> Iterator[tuple[str, Snapshot]]:
    """Yield the plain states in which nothing opened and nothing chatters; the others have a worse finding."""
    for call, state in examined.plain.items():
        opened = any(bit.sense != "volts" and state.bits[i] for i, bit in enumerate(state.circuit.network.bits))
        if not opened and not state.chatter:
            yield call, state


def larger(state: Snapshot, source: int) -> str:
    """Say what transformer it takes to feed at 24 V all that one feeds in a state, every coil pulled in.

    Notes
    -----
    A nameplate is chosen by what loads take once they have pulled in; what they take at inrush the proof looks at by itself.
    """
    network = state.circuit.network
    fed = [
        i
        for i, branch in enumerate(network.branches)
        if branch.kind in LOADS
        and abs(state.volts[i]) > _FED * _RATED_VOLTS
        and abs(state.shares[source, i]) > 0.5 * abs(state.amps[i])
    ]
    needed = abs(network.own_admittance[1][fed].sum()) * _RATED_VOLTS**2
    rated = state.sources[state.circuit.source_names[source]].rated_va
    sizes = [size for size in _USUAL_VA if size >= needed and size > rated]
    size = next(iter(sizes), None)
    said = f"once pulled in all of it takes {needed:.0f} VA at 24 V"
    if needed <= rated:
        waiting = [i for i in fed if network.branches[i].kind == "coil" and not state.bit(network.branches[i].name)]
        size = next((size for size in sizes if _pull_in(state, source, size / rated, waiting)), None)
        said += f", and {rated:g} VA do not pull it in"
        if size is None:
            return f"{said}, nor does a larger transformer by itself: lose less on the way, or let one pull in after the other"
        if size != sizes[0]:
            return f"{said}: fit a transformer of {size} VA, the smallest usual size that does, or take load off"
    if size is None:
        return f"{said}, more than one Class 2 source gives: divide it between two that stay apart"
    return f"{said}: fit a transformer of {size} VA, the next usual size, or take load off"


def _pull_in(state: Snapshot, source: int, larger: float, coils: Sequence[int]) -> bool:
    """Tell whether some coils pull in behind a source so many times larger."""
    circuit = state.circuit
    branch = circuit.network.sources[source].branch
    one = np.array([[branch]], np.intp)
    changes = Changes(one, np.full((1, 1), np.nan), np.array([[state.siemens[branch] * larger]]))
    given = state.bits[len(circuit.network.bits) :]
    settled = settle(circuit.engine, States(given[None], np.ones((1, len(circuit.network.sources))), changes))
    index = circuit.network.bit_index
    return not settled.chatter[0] and all(settled.bits[0, index[circuit.network.branches[i].name]] for i in coils)


def weak_loads(examined: Examined) -> Iterator[Finding]:
    """Coils that are called and do not pull in, and loads that see less than 85 % of their rating."""
    for call, state in _settled(examined):
        network = state.circuit.network
        needed = examined.needs.must_run(call)
        drivers = {driver_of(state, function, examined.purposes(call)) for function in needed}
        for name, (equipment, element) in examined.circuit.elements.items():
            index = network.index[name]
            called = index in drivers or equipment.part.role == "accessory"
            if element.kind not in ("coil", "load") or equipment.part.calls:
                continue
            rated = element.data["rated-volts"].resolve(equipment.settings) or 24.0
            volts = float(abs(state.amps[index]) / max(abs(network.own_admittance[state.bit(name) * 1][index]), 1e-12))
            if volts < _FED * rated or not (called or state.bit(name)):
                continue
            path = through(state, index)
            if element.kind == "coil" and not state.bit(name):
                pull_in = element.data["pull-in-volts"].resolve(equipment.settings) or 0.0
                yield Finding(
                    "weak-pull-in",
                    "weak",
                    (call,),
                    (name,),
                    path,
                    f"{name} sees {volts:.1f} V at inrush and needs {pull_in:g} V to pull in; it hums and burns",
                    _better(state, index),
                )
            elif volts < _HOLD * rated:
                yield Finding(
                    "low-hold",
                    "weak",
                    (call,),
                    (name,),
                    path,
                    f"{name} sees {volts:.1f} V, less than 85 % of its {rated:g} V",
                    _better(state, index),
                )


def _better(state: Snapshot, load: int) -> str:
    """Say where the volts go that a load lacks, and what helps."""
    found = lost(state, load)
    if found is None:
        return "look for a load in series with it, a bad joint, too thin a wire, or an overloaded transformer"
    return f"lost on the way: {found.said}. What helps: {found.helps}"


def over_va(examined: Examined) -> Iterator[Finding]:
    """A source that carries more than its nameplate once everything has pulled in."""
    for call, state in _settled(examined):
        for s, (name, load) in enumerate(state.sources.items()):
            if load.va > load.rated_va:
                yield Finding(
                    "over-va",
                    "weak",
                    (call,),
                    (name,),
                    loop(state, s),
                    f"{name} is a {load.rated_va:g} VA transformer and carries more on '{call}'",
                    f"it carries {load.va:.0f} VA at {load.volts:.1f} V: {larger(state, s)}",
                )


def fuse_sizes(examined: Examined) -> Iterator[Finding]:
    """A fuse that a dead short would not open, or that allows more than Class 2 does.

    Notes
    -----
    Class 2 sources over 20 to 30 V that are not inherently limited need overcurrent protection of at most 100 / Vmax
    amperes, Vmax the highest open-circuit voltage (NEC chapter 9 table 11, from memory).
    """
    network = examined.circuit.network
    supply = tolerances()["supply-volts"]
    for name, (equipment, element) in examined.circuit.elements.items():
        if element.kind != "fuse":
            continue
        owner = [s for s, source in enumerate(examined.circuit.source_names) if source.startswith(f"{equipment.id}.")]
        if not owner:
            continue
        source = network.sources[owner[0]]
        amps = element.data["amps"].resolve(equipment.settings) or 0.0
        inner = network.branches[source.branch].ohms + network.branches[network.index[name]].ohms
        emf = abs(complex(source.emf_volts)) or 27.0
        dead_short = emf / abs(inner)
        highest = emf * supply.high / supply.nominal
        limit = 100 / highest
        if amps * physics()["fuse-opens-at"] > dead_short:
            message = (
                f"{name} of {amps:g} A does not open even into a dead short of its transformer, {dead_short:.1f} A"
            )
        elif amps > limit:
            message = (
                f"{name} of {amps:g} A is beyond the Class 2 limit of {limit:.2f} A for a source of {highest:.1f} V"
            )
        else:
            continue
        yield Finding(
            "fuse-size",
            "weak",
            examined.calls,
            (name,),
            (),
            message,
            "fit the size that the equipment's maker gives, usually 3 A; a larger fuse protects nothing",
        )
