"""From a job to its network: terminals become nodes, conductors and elements become branches, faults are planted."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from callpath.circuit.drive import (
    alive_drive,
    called,
    column,
    compile_condition,
    function_drives,
    idle_functions,
    never,
)
from callpath.circuit.network import EARTH, Bit, Branch, Drive, Network, SourceBranch, impedance
from callpath.circuit.solve import Bools, Engine
from callpath.job.model import Cable, Equipment, Fault, Job, Landing
from callpath.parts.catalogue import physics
from callpath.parts.model import Element, fitted
from callpath.units import copper_ohms_per_ft

__all__ = ["Circuit", "build", "end_node", "planted"]

# Faults that are another way of wiring or setting the same copper.
_IN_WIRING = ("swapped", "missing", "extra", "setting", "loose")
_INNER_LEAK = 1000.0


@dataclass(frozen=True)
class Circuit:
    """A job's network and where its names are in it.

    ``node`` maps every terminal, splice and capped conductor end to its node's name; ``elements`` maps
    ``equipment.element`` to the catalogue's element, fitted ones only; ``functions`` tells from state vectors whether each
    ``equipment.function`` runs once its delays are over, ``alive`` whether each thermostat has its supply; ``job`` is the
    job with its swapped conductors and missing jumpers carried out.
    """

    job: Job
    network: Network
    elements: Mapping[str, tuple[Equipment, Element]] = field(default_factory=dict)
    functions: Mapping[str, Drive] = field(default_factory=dict)
    alive: Mapping[str, Drive] = field(default_factory=dict)

    @cached_property
    def engine(self) -> Engine:
        """Solver of the network, made once."""
        return Engine(self.network)

    @cached_property
    def source_names(self) -> tuple[str, ...]:
        """``equipment.element`` of every source, in the network's order."""
        return tuple(self.network.branches[source.branch].name for source in self.network.sources)

    @cached_property
    def field_contacts(self) -> dict[str, bool]:
        """Every field contact and whether it is closed as the job gives it."""
        return {
            name: self.job.contacts.get(name, element.rest == "closed")
            for name, (_, element) in self.elements.items()
            if element.field
        }

    def given(self, outputs: Mapping[str, Sequence[str]], states: Sequence[str] = ()) -> Bools:
        """Return one row of given bits: outputs that thermostats call, named states, field contacts as the job has them."""
        on = {called(stat, output) for stat, names in outputs.items() for output in names} | set(states)
        contacts = self.field_contacts
        return np.array([contacts.get(name, name in on) for name in self.network.given], bool)


def end_node(conductor: str, end: int, landing: Landing) -> str:
    """Return the node of a conductor's end: its terminal, its splice, or the capped end itself."""
    return landing[end] or f"{conductor}@{end + 1}"


def planted(job: Job) -> Job:
    """Return the job with the faults of its wiring and settings carried out; those of copper stay for the builder."""
    landings, jumpers, equipment = dict(job.landings), list(job.jumpers), dict(job.equipment)
    for fault in job.faults:
        match fault.kind:
            case "swapped":
                one, two = fault.where
                landings[one], landings[two] = (
                    (landings[one][0], landings[two][1]),
                    (landings[two][0], landings[one][1]),
                )
            case "missing":
                jumpers = [jumper for jumper in jumpers if set(jumper) != set(fault.where)]
            case "extra":
                jumpers.append((fault.where[0], fault.where[1]))
            case "setting":
                owner, _, name = fault.where[0].partition(".")
                device = equipment[owner]
                equipment[owner] = replace(device, settings={**device.settings, name: fault.to})
    for fault in job.faults:
        if fault.kind == "loose":
            conductor, where = fault.where
            near, far = landings[conductor]
            # A lead that touches its screw no more is a capped one.
            landings[conductor] = (None, far) if job.landings[conductor][0] == where else (near, None)
    faults = tuple(fault for fault in job.faults if fault.kind not in _IN_WIRING)
    return replace(job, landings=landings, jumpers=tuple(jumpers), equipment=equipment, faults=faults)


def build(job: Job, *, apart: bool = False) -> Circuit:
    """Build the circuit of a job, its faults planted.

    Parameters
    ----------
    job : Job
        A checked job.
    apart : bool
        Give every conductor two ends of its own, ``cable.colour@1`` and ``@2``, each joined to where it is landed by a
        branch ``landing:cable.colour@1``, so that a landing can come loose and what touches a conductor stays on it.

    Returns
    -------
    Circuit
        Network, engine and the names in them.
    """
    job = planted(job)
    return _Builder(job, apart).circuit()


class _Builder:
    def __init__(self, job: Job, apart: bool) -> None:
        self.job = job
        self.apart = apart
        self.hz = job.hz
        self.small = physics()
        self.nodes: dict[str, int] = {}
        self.branches: list[Branch] = []
        self.sources: list[SourceBranch] = []
        self.bits: list[Bit] = []
        self.elements: dict[str, tuple[Equipment, Element]] = {}
        self.driven: list[tuple[int, Equipment, Element]] = []
        self.landed = list(job.landings) if apart else []
        self.faults = {
            (fault.kind, where): fault
            for fault in job.faults
            for where in (fault.where if fault.kind != "short" else ())
        }

    def circuit(self) -> Circuit:
        for equipment in self.job.equipment.values():
            for letters in equipment.part.terminals:
                self._node(f"{equipment.id}.{letters}")
            for name, element in equipment.part.elements.items():
                if fitted(element.when, equipment.settings):
                    self._element(equipment, name, element)
            if "chassis" in equipment.part.terminals:
                self._add(
                    f"earth:{equipment.id}", "earthing", f"{equipment.id}.chassis", None, self.small["earthing-ohms"]
                )
        for splice in self.job.splices:
            self._node(splice)
        for cable in self.job.cables.values():
            self._cable(cable)
        for one, two in self.job.jumpers:
            self._add(f"jumper:{one}+{two}", "jumper", one, two, self.small["jumper-ohms"])
        for fault in self.job.faults:
            if fault.kind == "short":
                one, two = self._touching(fault)
                self._add(f"short:{'+'.join(fault.where)}", "short", one, two, self.small["short-ohms"])
        inner = {f"{name}@{end + 1}" for name in self.landed for end in (0, 1) if self.job.landings[name][end]}
        for node in list(self.nodes):
            # Apart from its terminal, a landed end must be tied too, but so weakly that it adds nothing to its terminal's leak.
            ohms = self.small["leak-ohms"] * (_INNER_LEAK if node in inner else 1)
            self._add(f"leak:{node}", "leak", node, None, ohms, dc=math.inf)

        given = self._given()
        names = [bit.name for bit in self.bits] + list(given)
        place = {name: i for i, name in enumerate(names)}
        self._drives(place)
        network = Network(
            tuple(self.nodes),
            tuple(self.branches),
            tuple(self.sources),
            tuple(self.bits),
            given,
            self.hz,
            dict(self.nodes),
        )
        everything = self.job.equipment.values()
        idle = idle_functions(self.job)
        functions = {name: drive for e in everything for name, drive in function_drives(e, place, idle).items()}
        alive = {equipment.id: alive_drive(equipment, place) for equipment in everything if equipment.part.calls}
        return Circuit(self.job, network, self.elements, functions, alive)

    # -- nodes and plain branches ------------------------------------------------------------------------

    def _node(self, name: str) -> int:
        return self.nodes.setdefault(name, len(self.nodes))

    def _add(
        self,
        name: str,
        kind: str,
        one: str,
        two: str | None,
        ohms: complex,
        *,
        dc: float | None = None,
        added: float = 0.0,
    ) -> int:
        a, b = self._node(one), EARTH if two is None else self._node(two)
        self.branches.append(Branch(name, kind, a, b, ohms, dc_ohms=ohms.real if dc is None else dc, added_ohms=added))
        return len(self.branches) - 1

    def _broken(self, name: str) -> float:
        """Return the ohms that faults add in series with a conductor or element."""
        if ("open", name) in self.faults:
            return math.inf
        fault = self.faults.get(("high-resistance", name))
        return fault.ohms or 0.0 if fault else 0.0

    def _cable(self, cable: Cable) -> None:
        per_ft = copper_ohms_per_ft(cable.awg, stranded=cable.stranded, temperature_c=cable.temperature_c)
        names = [f"{cable.id}.{colour}" for colour in cable.conductors]
        for name in names:
            ohms = cable.length_ft * per_ft
            for end, where in enumerate(self.job.landings[name]):
                if where is not None:
                    landed = self.small["splice-ohms" if where in self.job.splices else "screw-ohms"]
                    if self.apart:
                        self._add(f"landing:{name}@{end + 1}", "landing", where, self._end(name, end), landed)
                    else:
                        ohms += landed
            self._add(name, "wire", self._end(name, 0), self._end(name, 1), ohms, added=self._broken(name))
        if len(names) < 2:
            return
        # What one conductor has to all its neighbours together is shared among them, half of it at either end.
        farads = self.small["cable-farads-per-ft"] * cable.length_ft / (len(names) - 1) / 2
        ohms_between = 1 / (2j * math.pi * self.hz * farads)
        for end in (0, 1):
            at = [self._end(name, end) for name in names]
            for i, one in enumerate(at):
                for j in range(i):
                    if at[j] != one:
                        self._add(
                            f"capacitance:{names[j]}+{names[i]}@{end + 1}",
                            "capacitance",
                            one,
                            at[j],
                            ohms_between,
                            dc=math.inf,
                        )

    def _touching(self, fault: Fault) -> tuple[str, str]:
        """Return the two nodes that a short joins: the conductors' first ends, or the end nearest the metal."""
        conductors = [where for where in fault.where if where in self.job.landings]
        metal = [where for where in fault.where if where not in self.job.landings]
        if not metal:
            one, two = (self._end(name, 0) for name in conductors)
            return one, two
        at = self.job.equipment[metal[0].partition(".")[0]].at
        end = 1 if self.job.cable_of(conductors[0]).between[1] == at else 0
        return self._end(conductors[0], end), metal[0]

    def _end(self, conductor: str, end: int) -> str:
        return f"{conductor}@{end + 1}" if self.apart else end_node(conductor, end, self.job.landings[conductor])

    # -- elements ----------------------------------------------------------------------------------------

    def _point(self, equipment: Equipment, point: str) -> str:
        return f"{equipment.id}.{point}" if point in equipment.part.terminals else f"{equipment.id}/{point}"

    def _element(self, equipment: Equipment, name: str, element: Element) -> None:
        full = f"{equipment.id}.{name}"
        self.elements[full] = (equipment, element)
        data = {key: value.resolve(equipment.settings) for key, value in element.data.items()}
        value = {key: number for key, number in data.items() if number is not None}
        scale = value["at-size-va"] / value["size-va"] if "size-va" in value else 1.0
        one, two = (self._point(equipment, point) for point in element.between)
        index = self._add(full, element.kind, one, two, math.inf, added=self._broken(full))
        branch = self.branches[index]
        driven: complex | None = None
        match element.kind:
            case "source":
                ohms = self._at_hz(complex(value["ohms"], value["reactance-ohms"]) * scale)
                dc = value["winding-ohms"] * scale
                driven = complex(math.inf)
                self._source(equipment, element, index, value)
            case "fuse":
                ohms, dc, driven = complex(value["ohms"]), value["ohms"], complex(math.inf)
                self.bits.append(Bit(full, "fuse", index, value["amps"] * self.small["fuse-opens-at"]))
            case "coil":
                volts = value["rated-volts"]
                ohms = self._at_hz(impedance(volts, value["inrush-va"], value["inrush-watts"]) * scale)
                driven = self._at_hz(impedance(volts, value["sealed-va"], value["sealed-watts"]) * scale)
                dc = value["dc-ohms"] * scale
                welded = ("stuck", full) in self.faults
                # What is welded stays pulled in at any volts, and at none.
                at = (-1.0, -1.0) if welded else (value["pull-in-volts"], value["drop-out-volts"])
                self.bits.append(Bit(full, "volts", index, *at))
            case "input" | "load":
                ohms = self._at_hz(_load_ohms(value))
                dc = ohms.real
                self.bits.append(Bit(full, "volts", index, value["on-volts"], value["off-volts"]))
            case "contact":
                ohms, dc, driven = complex(math.inf), math.inf, complex(value["ohms"])
                if ("stuck", full) in self.faults:
                    ohms, dc, driven = complex(value["ohms"]), value["ohms"], None
            case _:
                watts, amps = value.get("watts"), value.get("amps")
                resistance = watts / amps**2 if watts and amps else value["ohms"]
                ohms, dc = complex(resistance), resistance
        self.branches[index] = Branch(full, element.kind, branch.a, branch.b, ohms, driven, None, dc, branch.added_ohms)
        if ("shorted", full) in self.faults:
            self._add(f"shorted:{full}", "short", one, two, self.small["short-ohms"])
        if ("burned", full) in self.faults:
            # Half of the turns feed the other half: twice the current at the open gap, half the ohms.
            self._add(f"burned:{full}", "short", one, two, ohms, dc=dc)
        if driven is not None:
            self.driven.append((index, equipment, element))

    def _at_hz(self, ohms: complex) -> complex:
        """Return an impedance given at 60 Hz at the network's frequency; what is inductive scales with it."""
        return complex(ohms.real, ohms.imag * self.hz / 60)

    def _source(self, equipment: Equipment, element: Element, index: int, value: Mapping[str, float]) -> None:
        full = self.branches[index].name
        phase = float(equipment.settings[element.phase] or 0) if element.phase else 0.0
        tapped = self.faults.get(("tapped", full))
        open_volts = value["open-volts"] if tapped is None else tapped.volts or 0.0
        emf = 0j if ("dead", full) in self.faults else complex(open_volts) * (-1 if phase == 180 else 1)
        source = SourceBranch(index, emf, value["rated-va"], value["rated-volts"])
        self.sources.append(source)
        self.bits.append(Bit(full, "burn", index, source.rated_amps * self.small["source-burns-at"]))

    # -- what switches what ------------------------------------------------------------------------------

    def _given(self) -> tuple[str, ...]:
        outputs = [
            called(equipment.id, output)
            for equipment in self.job.equipment.values()
            for output in dict.fromkeys(rule.output for call in equipment.part.calls.values() for rule in call.closes)
        ]
        contacts = [name for name, (_, element) in self.elements.items() if element.field]
        states = {
            state for _, _, element in self.driven if element.closed_when for state in element.closed_when.states()
        }
        return (*outputs, *contacts, *sorted(states))

    def _drives(self, place: Mapping[str, int]) -> None:
        for index, equipment, element in self.driven:
            branch = self.branches[index]
            if element.kind == "contact" and element.closed_when is not None:
                drive = compile_condition(element.closed_when, equipment, place)
            elif branch.name in place:
                drive = column(place[branch.name])
            else:
                raise AssertionError(branch.name)
            if element.kind == "contact" and ("tripped", branch.name) in self.faults:
                drive = never
            self.branches[index] = Branch(**{**branch.__dict__, "drive": drive})


def _load_ohms(value: Mapping[str, float]) -> complex:
    if "ohms" in value:
        return complex(value["ohms"], value.get("reactance-ohms", 0.0))
    if "va" in value:
        return complex(value["rated-volts"] ** 2 / value["va"])
    return complex(value["rated-volts"] / value["amps"])
