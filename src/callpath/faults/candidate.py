"""The tests that could be made next, and what each would show under every suspect.

Nothing is offered that a technician would not do: leads go to terminals of one piece of equipment, ohms are taken with the
power off and a lead lifted, and two terminals are jumped only where the engine finds, for every suspect left, that no fuse
opens, no source burns and none gives more than its nameplate.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from callpath.calls.closing import calls_of_job
from callpath.calls.reading import fuse_ends, leads_on, place_of_point
from callpath.circuit.build import Circuit
from callpath.circuit.solve import Ints
from callpath.faults.asked import Check, Pair, Setup
from callpath.faults.noise import amps_spread, supply, volts_spread
from callpath.faults.places import coils_of
from callpath.faults.posterior import Prediction, predict
from callpath.faults.predict import Shows
from callpath.job.model import Equipment, Fault
from callpath.progress import step

__all__ = [
    "Outcomes",
    "candidate_tests",
    "direct_tests",
    "harmed",
    "jump_pairs",
    "looks_together",
    "meter_pairs",
    "only_new",
    "outcomes_of",
    "place_of",
    "places_of_check",
    "quick_outcomes",
    "safe_jumps",
]

Floats = NDArray[np.float64]

_APART = 2.0
# A source that carries at most this many times what it carries without a jumper is loaded no further by it.
_NO_FURTHER = 1.1


def jump_pairs(circuit: Circuit) -> list[Pair]:
    """Return the pairs of terminals that a technician may think of jumping: a supply and an output, at one device."""
    found: list[Pair] = []
    for device in circuit.job.equipment.values():
        if device.part.role not in ("thermostat", "indoor"):
            continue
        for supply_, other in itertools.permutations(device.part.terminals, 2):
            means = [device.part.terminals[name].means for name in (supply_, other)]
            if "power" in means[0] and not {"power", "common", "metal"} & set(means[1]):
                found.append((f"{device.id}.{supply_}", f"{device.id}.{other}"))
    return found


def _references(device: Equipment) -> list[str]:
    """Return the terminals that others are read against: commons first, then supplies, then the metal."""
    terminals = device.part.terminals

    def meaning(*words: str) -> list[str]:
        return [name for word in words for name, terminal in terminals.items() if word in terminal.means]

    commons = meaning("common") or meaning("power") or meaning("metal") or list(terminals)[:1]
    return list(dict.fromkeys([*commons, *meaning("power")]))


def _pairs_at(device: Equipment) -> list[Pair]:
    pairs: dict[frozenset[str], Pair] = {}
    for against in _references(device):
        for name in device.part.terminals:
            if name != against and "metal" not in device.part.terminals[name].means:
                pair = (f"{device.id}.{name}", f"{device.id}.{against}")
                pairs.setdefault(frozenset(pair), pair)
    return list(pairs.values())


def meter_pairs(circuit: Circuit) -> list[Pair]:
    """Return the pairs of points that a voltmeter may be put between."""
    fuses = [name for name, (_, element) in circuit.elements.items() if element.kind == "fuse"]
    at_devices = (pair for device in circuit.job.equipment.values() for pair in _pairs_at(device))
    return list(dict.fromkeys([*at_devices, *((f"{fuse}@1", f"{fuse}@2") for fuse in fuses)]))


def candidate_tests(circuit: Circuit, calls: Sequence[str], suspects: Iterable[Fault]) -> list[Check]:
    """Return the tests that could be made, jumps apart.

    Parameters
    ----------
    circuit : Circuit
        The job as it should be.
    calls : sequence of str
        Calls on which to test.
    suspects : iterable of Fault
        Faults still suspected; conductors and windings among them are worth an ohmmeter.
    """
    job = circuit.job
    tests: list[Check] = []
    pairs = meter_pairs(circuit)
    for call in calls:
        for device in job.equipment.values():
            functions = tuple(name for name in circuit.functions if name.partition(".")[0] == device.id)
            if functions:
                tests.append(Check("running", call, functions))
            if pulled := _coils_at(circuit, device.id):
                tests.append(Check("running", call, pulled, coils=frozenset(pulled)))
        tests += [Check("volts", call, between=pair) for pair in pairs]
        tests += [
            Check("amps", call, conductor=name) for name, landing in job.landings.items() if landing != (None, None)
        ]
    return list(dict.fromkeys([*tests, *direct_tests(circuit, suspects)]))


def direct_tests(circuit: Circuit, suspects: Iterable[Fault]) -> Iterator[Check]:
    """Yield tests made at the very thing that is suspected: ohms, and for a source its volts with nothing called."""
    job = circuit.job
    for fault in suspects:
        first = fault.where[0]
        match fault.kind:
            case "loose":
                # From the screw to the bare copper beside it.
                end = 1 if job.landings[first][0] == fault.where[1] else 2
                yield Check("ohms", between=(fault.where[1], f"{first}@{end}"))
            case "swapped":
                for one, other in (fault.where, fault.where[::-1]):
                    where = job.landings[other][1]
                    if where is not None:
                        yield Check("ohms", between=(where, f"{one}@2"))
            case "missing" | "extra":
                # What is asked is whether there is a jumper, so jumpers stay.
                on = tuple(name for name, landing in job.landings.items() if first in landing)
                yield Check("ohms", between=(first, fault.where[1]), lifted=on)
            case "open" | "high-resistance" if first in job.landings:
                yield Check("ohms", between=(f"{first}@1", f"{first}@2"), lifted=(first,))
            case "idle":
                # It does not run, and what drives it is pulled in: so it is the thing itself.
                pulled = _coils_at(circuit, first.partition(".")[0])
                for call in calls_of_job(circuit) if pulled else ():
                    yield Check("running", call, (first, *pulled), coils=frozenset(pulled))
            case "dead" | "tapped":
                yield from _at_source(circuit, first)
            case "open" if first in circuit.source_names:
                yield from _at_source(circuit, first)
                yield from _across(circuit, first)
            case "short" if all(name in job.landings for name in fault.where):
                yield Check("ohms", between=(f"{fault.where[0]}@1", f"{fault.where[1]}@1"), lifted=fault.where)
            case "short":
                yield from _to_metal(circuit, fault)
            case "stuck" if circuit.elements[first][1].kind == "coil":
                # It runs, or is pulled in, and nothing asks for it.
                device = first.partition(".")[0]
                functions = tuple(name for name in circuit.functions if name.partition(".")[0] == device)
                pulled = _coils_at(circuit, device)
                yield Check("running", "off", (*functions, *pulled), coils=frozenset(pulled))
                yield from (Check("volts", "off", between=pair) for pair in _pairs_at(circuit.elements[first][0]))
            case "open" | "shorted" | "burned" | "high-resistance" | "stuck" | "tripped":
                yield from _across(circuit, first)
            case _:
                pass


def _coils_at(circuit: Circuit, device: str) -> tuple[str, ...]:
    return tuple(name for name in coils_of(circuit) if name.partition(".")[0] == device)


def _at_source(circuit: Circuit, source: str) -> Iterator[Check]:
    """Yield volts between the ends of a secondary, where a lead can get at both, before the fuse if there is one."""
    network = circuit.network
    branch = network.branches[network.index[source]]
    owner = source.partition(".")[0]
    points = {f"{owner}.{letters}" for letters in circuit.job.equipment[owner].part.terminals}
    reach = {node: name for name, node in fuse_ends(circuit).items() if name.startswith(f"{owner}.")}
    reach |= {network.node_of[name]: name for name in points}
    if branch.a in reach and branch.b in reach:
        yield Check("volts", "off", between=(reach[branch.a], reach[branch.b]))


def _to_metal(circuit: Circuit, fault: Fault) -> Iterator[Check]:
    (conductor,) = (name for name in fault.where if name in circuit.job.landings)
    (metal,) = (name for name in fault.where if name not in circuit.job.landings)
    at = circuit.job.equipment[metal.partition(".")[0]].at
    end = 2 if circuit.job.cable_of(conductor).between[1] == at else 1
    yield Check("ohms", between=(f"{conductor}@{end}", metal), lifted=(conductor,))


def _across(circuit: Circuit, element: str) -> Iterator[Check]:
    """Yield ohms between the terminals of an element's equipment, leads lifted off the first of them."""
    device, what = circuit.elements[element]
    if what.kind == "fuse":
        yield Check("ohms", between=(f"{element}@1", f"{element}@2"))
    own = tuple(f"{device.id}.{point}" for point in what.between)
    pairs = [own] if all(point in device.part.terminals for point in what.between) else []
    pairs += [pair for pair in _pairs_at(device) if set(pair) != set(own)]
    for one, two in pairs:
        yield Check("ohms", between=(one, two), lifted=leads_on(circuit.job, one))


def harmed(shows: Shows, rows: Ints, setup: Setup) -> NDArray[np.bool_]:
    """Return under which hypotheses a jumper opens a fuse, burns a source or overloads one further, shape (rows,)."""
    guards = [i for i, bit in enumerate(shows.network.bits) if bit.sense != "volts"]
    without = replace(setup, jumped=None)
    trips = (shows.settled(setup, rows)[:, guards] & ~shows.settled(without, rows)[:, guards]).any(axis=1)
    load, before = shows.source_load(setup, rows), shows.source_load(without, rows)
    # What the call itself does to a source is no harm of the jumper's.
    overloads = np.logical_and(load > 1, load > before * _NO_FURTHER).any(axis=1)
    found: NDArray[np.bool_] = np.logical_or(trips, overloads)
    return found


def safe_jumps(shows: Shows, rows: Ints, pairs: Sequence[Pair], call: str = "off") -> Iterator[Check]:
    """Yield a look at what runs with two terminals jumped, where that is safe under every hypothesis of ``rows``.

    Parameters
    ----------
    rows : (n,) int
        Hypotheses that are still suspected.
    pairs : sequence of pairs
        Terminals to jump.
    """
    shows.settle_all([Setup(call), *(Setup(call, pair) for pair in pairs)], rows)
    for pair in pairs:
        setup = Setup(call, pair)
        if harmed(shows, rows, setup).any():
            continue
        # Looked at are the things at that place, and whatever the jumper ought to start.
        at = shows.circuit.job.equipment[pair[0].partition(".")[0]].at
        functions = tuple(
            name
            for name in shows.circuit.functions
            if shows.circuit.job.equipment[name.partition(".")[0]].at == at
            or shows.running(setup, name, np.zeros(1, np.intp))[0]
        )
        if functions:
            yield Check("running", call, functions, jumped=pair)


def only_new(test: Check, made: Collection[Check]) -> Check | None:
    """Return a test without what has been looked at already, as the job stands for it; None where nothing is left of it."""
    if test.kind != "running":
        return None if test in made else test
    looked = {
        name for other in made if other.kind == "running" and other.setup == test.setup for name in other.functions
    }
    new = tuple(name for name in test.functions if name not in looked)
    return replace(test, functions=new, coils=test.coils & frozenset(new)) if new else None


def looks_together(tests: Iterable[Check]) -> list[Check]:
    """Return tests with all looks on one call as one: what was seen in two looks tells as much as in one."""
    looks: dict[Setup, Check] = {}
    others = []
    for test in tests:
        if test.kind != "running":
            others.append(test)
            continue
        held = looks.get(test.setup, test)
        functions = tuple(dict.fromkeys((*held.functions, *test.functions)))
        looks[test.setup] = replace(held, functions=functions, coils=held.coils | test.coils)
    return [*looks.values(), *others]


def places_of_check(circuit: Circuit, test: Check) -> tuple[str, ...]:
    """Return where one goes for a test, in order."""
    job = circuit.job
    if test.kind == "running":
        devices = [name.partition(".")[0] for name in ((test.jumped[0],) if test.jumped else ()) + test.functions]
        return tuple(dict.fromkeys(job.equipment[device].at for device in devices))
    if test.conductor is not None:
        return (job.cable_of(test.conductor).between[0],)
    assert test.between is not None
    return tuple(dict.fromkeys(place_of_point(circuit, point) for point in test.between))


def place_of(circuit: Circuit, test: Check) -> str:
    """Return where a test leaves one standing."""
    return places_of_check(circuit, test)[-1]


@dataclass(frozen=True)
class Outcomes:
    """The outcomes of a test that can be told from each other.

    ``of`` (rows,) is the outcome under each hypothesis; ``low`` and ``high`` (outcomes,) bound a reading; ``runs`` (outcomes,
    functions) tells what runs.
    """

    test: Check
    of: Ints
    low: Floats
    high: Floats
    runs: NDArray[np.bool_]


def outcomes_of(prediction: Prediction) -> Outcomes:
    """Return the outcomes that a meter can tell apart: predictions whose spreads overlap are one."""
    nothing = np.zeros(0)
    if prediction.test.kind == "running":
        return Outcomes(prediction.test, prediction.index, nothing, nothing, prediction.runs)
    # A bad connection of any resistance would bridge what a meter tells apart; each is taken at its own here.
    return _bins(prediction.test, prediction.shown, prediction.spread, prediction.index)


def _bins(test: Check, shown: Floats, spread: Floats, index: Ints) -> Outcomes:
    points = supply()[0] if test.kind != "ohms" else np.ones(1)
    low, high = shown * points.min() - _APART * spread, shown * points.max() + _APART * spread
    order = np.argsort(low, kind="stable")
    reach = np.maximum.accumulate(high[order])
    fresh = np.concatenate([[False], low[order][1:] > reach[:-1]])
    number = np.empty(len(shown), np.intp)
    number[order] = np.cumsum(fresh)
    starts = np.flatnonzero(np.concatenate([[True], fresh[1:]]))
    ends = np.concatenate([starts[1:], [len(shown)]]) - 1
    return Outcomes(
        test, number[index], np.maximum(low[order][starts], 0.0), reach[ends], np.zeros((len(starts), 0), bool)
    )


def quick_outcomes(shows: Shows, tests: Sequence[Check], rows: Ints) -> list[Outcomes]:
    """Return the outcomes of many tests, voltages as if meters stood everywhere: near enough, and quick."""
    found: list[Outcomes] = []
    potentials: dict[Setup, NDArray[np.complex128]] = {}
    amps: dict[Setup, tuple[list[str], Floats]] = {}
    shows.settle_all(list(dict.fromkeys(test.setup for test in tests if test.kind != "ohms")), rows)
    clamped = list(dict.fromkeys(test.conductor for test in tests if test.conductor is not None))
    for number, test in enumerate(tests):
        step(f"looking at {len(tests):,} tests that could be made", number / len(tests))
        if test.kind == "volts" and test.between is not None:
            if test.setup not in potentials:
                potentials[test.setup] = shows.alone_and_pulled(test.setup, rows)
            one, two = (shows.network.node_of[point] for point in test.between)
            across = potentials[test.setup][..., one] - potentials[test.setup][..., two]
            alone, pulled = np.abs(across).T
            found.append(_bins(test, pulled, volts_spread(pulled, alone), np.arange(len(rows))))
        elif test.kind == "amps" and test.conductor is not None:
            if test.setup not in amps:
                amps[test.setup] = (clamped, shows.amps_in_all(test.setup, clamped, rows))
            names, all_amps = amps[test.setup]
            found.append(_amps_bins(test, all_amps[:, names.index(test.conductor)]))
        else:
            found.append(outcomes_of(predict(shows, test, rows)))
    return found


def _amps_bins(test: Check, amps: Floats) -> Outcomes:
    return _bins(test, amps, amps_spread(amps), np.arange(len(amps)))
