"""The network of a job with an open place wherever a fault could close one, and what each fault changes in it.

Every conductor has two ends of its own (``build(job, apart=True)``), so that a landing can come loose and what touches a
conductor stays on it when a lead is lifted. A fault is then a few changed branches, a source that is dead or gives other
volts, or another setting; two faults are the changes of both, wherever they do not change the same place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.calls.reading import fuse_ends
from callpath.circuit.build import Circuit, build
from callpath.circuit.drive import function_drives, held_back
from callpath.circuit.network import EARTH, Branch, Drive
from callpath.circuit.solve import Changes, Ints
from callpath.job.model import Fault, Job
from callpath.parts.catalogue import physics

__all__ = ["Change", "Effect", "Places", "Table", "apart", "coils_of", "places_of", "sound", "table_of"]


_BREAKS = ("open", "loose", "high-resistance")


@dataclass(frozen=True)
class Change:
    """One changed branch: ohms added in series (infinite: open), or another admittance [S], at 60 Hz and for DC."""

    branch: int
    series_ohms: float = math.nan
    siemens: complex = 0j
    dc_siemens: float = 0.0


@dataclass(frozen=True)
class Effect:
    """What a fault does: changed branches, sources that give a fraction of their volts, another wiring of the logic.

    ``variant`` is an index of ``Places.variants``; 0 is the job as it should be. ``drives`` are functions that run on fewer
    grounds than they should, if on any; the copper does not feel it. ``held`` are bits that stay true.
    """

    changes: tuple[Change, ...] = ()
    sources: tuple[tuple[int, float], ...] = ()
    variant: int = 0
    drives: Mapping[str, Drive] = field(default_factory=dict)
    held: tuple[int, ...] = ()

    def places(self, branch_count: int) -> set[int]:
        """Return numbers of everything that the effect changes: branches, then sources, then settings."""
        settings = {-self.variant} if self.variant else set[int]()
        return {change.branch for change in self.changes} | {branch_count + s for s, _ in self.sources} | settings


@dataclass(frozen=True)
class Places:
    """A job's circuit with its open places, and the effect of each of its faults.

    ``variants`` are circuits that differ in a setting only: their ``given`` rows and functions hold for the same network.
    """

    circuit: Circuit
    faults: tuple[Fault, ...]
    effects: tuple[Effect, ...]
    variants: tuple[Circuit, ...] = field(default=())

    def exclude(self) -> NDArray[np.bool_]:
        """Return which pairs of faults change the same place, (faults, faults)."""
        count = len(self.circuit.network.branches)
        touched = [effect.places(count) for effect in self.effects]
        width = count + len(self.circuit.network.sources)
        hit = np.zeros((len(touched), width + len(self.variants)), np.float32)
        for row, places in enumerate(touched):
            hit[row, [place if place >= 0 else width - place - 1 for place in places]] = 1
        # Two wrong settings at once would need a circuit of their own.
        set_wrong = np.array([effect.variant > 0 for effect in self.effects], bool)
        # Two breaks of one conductor show what one shows, and are mended with it.
        names = {name: k for k, name in enumerate(self.circuit.job.landings)}
        broken = np.array([names.get(f.where[0], -1) if f.kind in _BREAKS else -1 for f in self.faults], np.intp)
        breaks = (broken[:, None] == broken) & (broken >= 0)
        # Of three conductors in a ring nobody could say which two were exchanged.
        moved = np.zeros((len(self.faults), len(names)), np.float32)
        for row, fault in enumerate(self.faults):
            if fault.kind == "swapped":
                moved[row, [names[name] for name in fault.where]] = 1
        # What a wrong setting lets run when something else in that equipment is dead would need one too.
        number = {id_: k for k, id_ in enumerate(self.circuit.job.equipment)}
        logic = [number[f.where[0].partition(".")[0]] if f.kind in ("setting", "idle") else -1 for f in self.faults]
        owner = np.array(logic, np.intp)
        mixed = (owner[:, None] == owner) & (owner >= 0) & (set_wrong[:, None] != set_wrong)
        same: NDArray[np.bool_] = (
            (hit @ hit.T > 0) | (moved @ moved.T > 0) | (set_wrong[:, None] & set_wrong) | breaks | mixed
        )
        return same


def sound(job: Job) -> Job:
    """Return the job as it should be, without the faults planted in it."""
    return replace(job, faults=())


def coils_of(circuit: Circuit) -> tuple[str, ...]:
    """Return the coils that are seen or heard to be pulled in; one that is a function itself is looked at as what runs."""
    coils = (name for name, (_, element) in circuit.elements.items() if element.kind == "coil" and not element.hidden)
    return tuple(name for name in coils if name not in circuit.functions)


def apart(job: Job) -> Circuit:
    """Return the circuit of a job with everything that a lead can go to: ends of conductors and of fuses."""
    circuit = build(job, apart=True)
    named = {**circuit.network.node_of, **fuse_ends(circuit)}
    return replace(circuit, network=replace(circuit.network, node_of=named))


def places_of(job: Job, faults: Sequence[Fault]) -> Places:
    """Return the network of a job with a place for each of the faults.

    Parameters
    ----------
    job : Job
        The job as it should be.
    faults : sequence of Fault
        Faults that the job can have.
    """
    circuit = apart(sound(job))
    added: dict[str, Branch] = {}
    for fault in faults:
        for branch in _places_for(circuit, fault):
            added.setdefault(branch.name, branch)
    network = replace(circuit.network, branches=(*circuit.network.branches, *added.values()))
    circuit = replace(circuit, network=network)
    variants = [circuit]
    effects = []
    for fault in faults:
        if fault.kind == "setting":
            effects.append(Effect(variant=len(variants)))
            variants.append(build(replace(sound(job), faults=(fault,)), apart=True))
        else:
            effects.append(_effect(circuit, fault))
    return Places(circuit, tuple(faults), tuple(effects), tuple(variants))


# -- where -----------------------------------------------------------------------------------------------------


def _places_for(circuit: Circuit, fault: Fault) -> Iterable[Branch]:
    """Yield the open branches that a fault would close."""
    network, node = circuit.network, circuit.network.node_of
    match fault.kind:
        case "short":
            one, two = _touching(circuit, fault)
            yield _open(_short(fault), node[one], node[two])
        case "extra":
            one, two = fault.where
            yield _open(f"extra:{one}+{two}", node[one], node[two])
        case "shorted" | "burned":
            across = network.branches[network.index[fault.where[0]]]
            yield _open(f"{fault.kind}:{fault.where[0]}", across.a, across.b)
        case "loose":
            end = f"{fault.where[0]}@{_end_at(circuit, fault)}"
            yield Branch(f"stray:{end}", "probe", node[end], EARTH, complex(math.inf))
        case "swapped":
            for one, two in (fault.where, fault.where[::-1]):
                where = circuit.job.landings[two][1]
                if where is not None:
                    yield _open(f"swap:{one}>{two}", node[where], node[f"{one}@2"])


def _end_at(circuit: Circuit, fault: Fault) -> int:
    """Return which end of a conductor a loose landing is at."""
    conductor, where = fault.where
    return 1 if circuit.job.landings[conductor][0] == where else 2


def _open(name: str, a: int, b: int) -> Branch:
    return Branch(name, "probe", a, b, complex(math.inf))


def _short(fault: Fault) -> str:
    return f"short:{'+'.join(fault.where)}"


def _touching(circuit: Circuit, fault: Fault) -> tuple[str, str]:
    """Return the points that a short joins, as the builder has it: the first ends, or the end nearest the metal."""
    job = circuit.job
    conductors = [where for where in fault.where if where in job.landings]
    if len(conductors) == 2:
        return f"{conductors[0]}@1", f"{conductors[1]}@1"
    (metal,) = (where for where in fault.where if where not in job.landings)
    at = job.equipment[metal.partition(".")[0]].at
    end = 2 if job.cable_of(conductors[0]).between[1] == at else 1
    return f"{conductors[0]}@{end}", metal


# -- what ------------------------------------------------------------------------------------------------------


def _effect(circuit: Circuit, fault: Fault) -> Effect:
    network, small = circuit.network, physics()
    index = network.index

    def joined(name: str, ohms: float) -> Change:
        return Change(index[name], math.nan, complex(1 / ohms), 1 / ohms)

    def broken(name: str, ohms: float = math.inf) -> Change:
        return Change(index[name], ohms)

    match fault.kind:
        case "open" | "tripped":
            return Effect((broken(fault.where[0]),))
        case "high-resistance":
            return Effect((broken(fault.where[0], fault.ohms or 0.0),))
        case "loose":
            # The bare end leaks over its surface as any capped end does.
            end = f"{fault.where[0]}@{_end_at(circuit, fault)}"
            stray = Change(index[f"stray:{end}"], math.nan, complex(1 / small["leak-ohms"]))
            return Effect((broken(f"landing:{end}"), stray))
        case "missing":
            (name,) = (
                n for n in (f"jumper:{one}+{two}" for one, two in (fault.where, fault.where[::-1])) if n in index
            )
            return Effect((broken(name),))
        case "short":
            return Effect((joined(_short(fault), small["short-ohms"]),))
        case "extra":
            return Effect((joined(f"extra:{'+'.join(fault.where)}", small["jumper-ohms"]),))
        case "shorted":
            return Effect((joined(f"shorted:{fault.where[0]}", small["short-ohms"]),))
        case "burned":
            coil = network.branches[index[fault.where[0]]]
            return Effect((Change(index[f"burned:{coil.name}"], math.nan, 1 / coil.ohms, 1 / coil.dc_ohms),))
        case "stuck" if circuit.elements[fault.where[0]][1].kind == "coil":
            return Effect(held=(network.bit_index[fault.where[0]],))
        case "stuck":
            contact = network.branches[index[fault.where[0]]]
            closed = complex(contact.driven_ohms or 0).real
            return Effect((joined(contact.name, closed),))
        case "dead" | "tapped":
            place = circuit.source_names.index(fault.where[0])
            usual = abs(network.sources[place].emf_volts)
            return Effect(sources=((place, (fault.volts or 0.0) / usual if fault.kind == "tapped" else 0.0),))
        case "swapped":
            return Effect(tuple(_swapped(circuit, fault)))
        case "idle":
            return Effect(drives=_held_back(circuit, fault.where[0]))
    raise AssertionError(fault.kind)


def _held_back(circuit: Circuit, function: str) -> dict[str, Drive]:
    """Return what still drives a function that is dead, and those that wait for it: nothing, or what else they have."""
    equipment = circuit.job.equipment[function.partition(".")[0]]
    lost = {f"{equipment.id}.{name}" for name, _ in held_back(equipment, [function])}
    drives = function_drives(equipment, circuit.network.bit_index, [function])
    return {name: drives[name] for name in lost}


def _swapped(circuit: Circuit, fault: Fault) -> Iterable[Change]:
    """Yield the second landings of two conductors taken off, and each conductor put where the other was."""
    index, small, job = circuit.network.index, physics(), circuit.job
    for one, two in (fault.where, fault.where[::-1]):
        if job.landings[one][1] is not None:
            yield Change(index[f"landing:{one}@2"], math.inf)
        where = job.landings[two][1]
        if where is not None:
            ohms = small["splice-ohms" if where in job.splices else "screw-ohms"]
            yield Change(index[f"swap:{one}>{two}"], math.nan, complex(1 / ohms), 1 / ohms)


@dataclass(frozen=True)
class Table:
    """The effects of all faults as arrays, the last row of which is that of no fault.

    ``branch``, ``series_ohms``, ``siemens`` and ``dc_siemens`` are (faults + 1, changes), padded with branch −1; ``width`` counts
    the changes; ``live`` (faults + 1, sources) multiplies every source's volts; ``variant`` tells which circuit's logic holds;
    ``held`` (faults + 1, bits) are bits that stay true.
    """

    branch: Ints
    series_ohms: NDArray[np.float64]
    siemens: NDArray[np.complex128]
    dc_siemens: NDArray[np.float64]
    width: Ints
    live: NDArray[np.float64]
    variant: Ints
    held: NDArray[np.bool_]

    def changes(self, one: Ints, two: Ints, *, dc: bool = False) -> Changes:
        """Return the changes of two faults (or −1) for each state, as narrow as they can be."""
        first, second = int(self.width[one].max(initial=0)), int(self.width[two].max(initial=0))

        def both(values: NDArray[Any]) -> NDArray[Any]:
            return np.concatenate([values[one, :first], values[two, :second]], axis=1)

        siemens = self.dc_siemens.astype(complex) if dc else self.siemens
        return Changes(both(self.branch), both(self.series_ohms), both(siemens))


def table_of(places: Places) -> Table:
    """Return the effects of a job's faults as arrays."""
    effects = [*places.effects, Effect()]
    width = np.array([len(effect.changes) for effect in effects], np.intp)
    shape = (len(effects), int(width.max()))
    branch, series = np.full(shape, -1, np.intp), np.zeros(shape)
    siemens, dc_siemens = np.zeros(shape, complex), np.zeros(shape)
    live = np.ones((len(effects), len(places.circuit.network.sources)))
    for row, effect in enumerate(effects):
        for k, change in enumerate(effect.changes):
            branch[row, k], series[row, k] = change.branch, change.series_ohms
            siemens[row, k], dc_siemens[row, k] = change.siemens, change.dc_siemens
        for source, fraction in effect.sources:
            live[row, source] = fraction
    variant = np.array([effect.variant for effect in effects], np.intp)
    held = np.zeros((len(effects), len(places.circuit.network.bits)), bool)
    for row, effect in enumerate(effects):
        held[row, list(effect.held)] = True
    return Table(branch, series, siemens, dc_siemens, width, live, variant, held)
