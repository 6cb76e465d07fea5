"""Every fault that a job can have, from the job itself: singly, and two at once.

A fault is written as a job file writes it, so that every suspect can be planted. What touches nothing is left out: a conductor
that is capped at both ends can break, and two such can touch, without anybody ever noticing. So is what would be
no fault: a contact held closed that the job has closed. Everything else that is not here is part of ``other``.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.build import Circuit
from callpath.circuit.solve import Ints
from callpath.faults.prior import Priors
from callpath.job.model import Cable, Equipment, Fault
from callpath.parts.model import Element, SettingValue, fitted

__all__ = ["Universe", "Weighed", "repair_of", "single_faults", "universe_of"]


@dataclass(frozen=True)
class Weighed:
    """A fault and its weight against others; ``paired`` tells whether it is also looked for beside a second fault."""

    fault: Fault
    weight: float
    paired: bool = True


def single_faults(circuit: Circuit, priors: Priors) -> list[Weighed]:
    """Return every single fault that the job of a circuit can have, each once.

    Parameters
    ----------
    circuit : Circuit
        The job as it should be.
    priors : Priors
        Gives the weights.
    """
    found = [*_of_cables(circuit, priors), *_of_elements(circuit, priors), *_of_links(circuit, priors)]
    found += [*_of_settings(circuit, priors), *_of_functions(circuit, priors)]
    return list({weighed.fault: weighed for weighed in found}.values())


def _of_cables(circuit: Circuit, priors: Priors) -> Iterator[Weighed]:
    job, weight = circuit.job, priors.weights
    for cable in job.cables.values():
        names = [f"{cable.id}.{colour}" for colour in cable.conductors]
        landed = [name for name in names if job.landings[name] != (None, None)]
        for name in landed:
            yield from _of_conductor(circuit, cable, name, priors)
        shorts = [
            Fault("short", pair)
            for pair in itertools.combinations(landed, 2)
            if job.landings[pair[0]][0] is None or job.landings[pair[0]][0] != job.landings[pair[1]][0]
        ]
        yield from (Weighed(fault, weight["short-conductors"] / len(shorts)) for fault in shorts)
        swaps = [
            Fault("swapped", (one, two))
            for one, two in itertools.combinations(names, 2)
            if (one in landed or two in landed)
            and all(job.landings[one][end] != job.landings[two][end] for end in (0, 1))
        ]
        for fault in swaps:
            # A spare in the place of another is looked for alone.
            yield Weighed(fault, weight["swapped"] / len(swaps), all(name in landed for name in fault.where))


def _of_conductor(circuit: Circuit, cable: Cable, name: str, priors: Priors) -> Iterator[Weighed]:
    job, weight = circuit.job, priors.weights
    landing = job.landings[name]
    if None not in landing:
        yield Weighed(Fault("open", (name,)), weight["open-conductor"])
        yield from _resistive(name, weight["high-resistance"], priors)
        for end in dict.fromkeys(landing):
            if end is not None:
                yield Weighed(Fault("loose", (name, end)), weight["open-landing"])
    metal = [end for end in landing if end is not None and end.endswith(".chassis")]
    if metal:
        return
    for at in dict.fromkeys(cable.between):
        here = [e.id for e in job.equipment.values() if e.at == at and "chassis" in e.part.terminals]
        if here:
            owners = [owner for end in landing if end for owner in here if end.partition(".")[0] == owner]
            chassis = f"{(owners or here)[0]}.chassis"
            yield Weighed(Fault("short", (name, chassis)), weight["short-chassis"])


def _resistive(name: str, weight: float, priors: Priors) -> Iterator[Weighed]:
    """Yield a bad connection with each of its resistances; beside a second fault only the first of them is told apart."""
    for ohms in priors.bad_ohms:
        fault = Fault("high-resistance", (name,), ohms=ohms)
        yield Weighed(fault, weight / len(priors.bad_ohms), ohms == priors.bad_ohms[0])


def _of_elements(circuit: Circuit, priors: Priors) -> Iterator[Weighed]:
    for name, (_, element) in circuit.elements.items():
        if not element.hidden:
            yield from _of_element(circuit, name, element, priors)


def _of_element(circuit: Circuit, name: str, element: Element, priors: Priors) -> Iterator[Weighed]:
    weight = priors.weights
    broken = Fault("open", (name,))
    match element.kind:
        case "coil":
            yield Weighed(broken, weight["open-coil"])
            yield Weighed(Fault("shorted", (name,)), weight["shorted-coil"])
            yield Weighed(Fault("burned", (name,)), weight["burned-coil"])
            # Where only contacts of its own follow, each of them sticks by itself.
            if name.partition(".")[2] in circuit.elements[name][0].part.driving:
                yield Weighed(Fault("stuck", (name,)), weight["welded-coil"])
        case "load" | "input":
            yield Weighed(broken, weight["open-input"])
            if element.kind == "load":
                yield Weighed(Fault("shorted", (name,)), weight["shorted-coil"])
        case "fuse":
            yield Weighed(broken, weight["open-fuse"])
        case "source":
            yield Weighed(Fault("dead", (name,)), weight["dead-source"])
            yield Weighed(broken, weight["open-source"])
            for volts in priors.tap_volts:
                yield Weighed(Fault("tapped", (name,), volts=volts), weight["tapped"] / len(priors.tap_volts))
        case "contact":
            closed = circuit.field_contacts.get(name)
            if closed is not False:
                yield Weighed(broken, weight["open-contact"])
                yield from _resistive(name, weight["resistive-contact"], priors)
            if closed:
                yield Weighed(Fault("tripped", (name,)), weight["tripped"])
            else:
                yield Weighed(Fault("stuck", (name,)), weight["stuck-contact"])


def _of_links(circuit: Circuit, priors: Priors) -> Iterator[Weighed]:
    """Yield jumpers that may be missing, and those that may be there too many: from a supply to what it feeds."""
    job, weight = circuit.job, priors.weights
    for pair in job.jumpers:
        yield Weighed(Fault("missing", pair), weight["missing-jumper"])
    there = {frozenset(pair) for pair in job.jumpers}
    for equipment in job.equipment.values():
        letters = {
            name: terminal.means for name, terminal in equipment.part.terminals.items() if "metal" not in terminal.means
        }
        if equipment.part.role not in ("thermostat", "indoor"):
            continue
        for one, two in itertools.combinations(letters, 2):
            pair = (f"{equipment.id}.{one}", f"{equipment.id}.{two}")
            if any("power" in letters[name] for name in (one, two)) and frozenset(pair) not in there:
                yield Weighed(Fault("extra", pair), weight["extra-jumper"])


def _of_functions(circuit: Circuit, priors: Priors) -> Iterator[Weighed]:
    """Yield functions that may not run though the circuit drives them: what trouble there is lies beyond 24 V."""
    for equipment in circuit.job.equipment.values():
        for name, function in equipment.part.functions.items():
            if any(t.runs_when.makers() for t in function.triggers if fitted(t.when, equipment.settings)):
                yield Weighed(Fault("idle", (f"{equipment.id}.{name}",)), priors.weights["dead-function"])


def _of_settings(circuit: Circuit, priors: Priors) -> Iterator[Weighed]:
    for equipment in circuit.job.equipment.values():
        for name in _settings_of_logic(equipment):
            wrong = _wrong_values(equipment, name)
            for value in wrong:
                fault = Fault("setting", (f"{equipment.id}.{name}",), to=value)
                yield Weighed(fault, priors.weights["setting"] / len(wrong))


def _settings_of_logic(equipment: Equipment) -> Iterator[str]:
    """Yield settings that decide what is asked for or what runs, but no element, so that the copper stays as it is."""
    electrical = {
        key
        for element in equipment.part.elements.values()
        for key in (*(element.when or {}), element.phase, *(value.setting for value in element.data.values()))
    }
    for name, setting in equipment.part.settings.items():
        if setting.type in ("boolean", "choice") and name not in electrical:
            yield name


def _wrong_values(equipment: Equipment, name: str) -> list[SettingValue]:
    setting, right = equipment.part.settings[name], equipment.settings[name]
    choices = (True, False) if setting.type == "boolean" else setting.choices
    return [value for value in choices if value != right]


def repair_of(fault: Fault) -> tuple[str, ...]:
    """Return what the repair of a fault is about: faults with the same repair need not be told apart."""
    match fault.kind:
        case "open" | "high-resistance" | "loose" | "shorted" | "burned" | "tripped" | "stuck":
            return (fault.where[0],)
        # A transformer without line voltage, or on the wrong tap, is not mended by another transformer.
        case "dead" | "idle" | "tapped" | "short" | "swapped" | "missing" | "extra" | "setting":
            return (fault.kind, *sorted(fault.where))
    raise AssertionError(fault.kind)


@dataclass(frozen=True)
class Universe:
    """Every hypothesis about a job: nothing wrong, one fault, two faults.

    Parameters
    ----------
    faults : tuple of Fault
        The single faults.
    one, two : (hypotheses,) int
        Which faults each hypothesis holds; −1 for none. The first hypothesis is that nothing is wrong.
    prior : (hypotheses,) float
        Probability of each before anything was seen; with ``other`` they sum to 1.
    other : float
        Probability of all that is not enumerated.
    """

    faults: tuple[Fault, ...]
    one: Ints
    two: Ints
    prior: NDArray[np.float64]
    other: float

    def __len__(self) -> int:
        return len(self.one)

    def faults_of(self, hypothesis: int) -> tuple[Fault, ...]:
        """Return the faults that a hypothesis holds."""
        held = (int(self.one[hypothesis]), int(self.two[hypothesis]))
        return tuple(self.faults[i] for i in held if i >= 0)

    def repairs(self) -> Ints:
        """Return for every hypothesis the number of the repair that it calls for."""
        names: dict[tuple[str, ...], int] = {}
        single = np.array([names.setdefault(repair_of(fault), len(names)) for fault in self.faults], np.intp)
        count = len(names)
        one = np.where(self.one < 0, count, single[self.one])
        two = np.where(self.two < 0, count, single[self.two])
        low, high = np.minimum(one, two), np.maximum(one, two)
        # Two faults of one thing are mended together.
        high = np.where(low == high, count, high)
        return np.unique(low * (count + 1) + high, return_inverse=True)[1].astype(np.intp)


def universe_of(singles: list[Weighed], exclude: NDArray[np.bool_], priors: Priors) -> Universe:
    """Return the hypotheses of single faults and of all pairs.

    Parameters
    ----------
    singles : list of Weighed
        The single faults.
    exclude : (faults, faults) bool
        Pairs that cannot be together because both change the same place; they are part of ``other``.
    priors : Priors
        Gives the shares.
    """
    count = len(singles)
    weight = np.array([weighed.weight for weighed in singles])
    paired = np.array([weighed.paired for weighed in singles], bool)
    i, j = np.triu_indices(count, 1)
    together = ~exclude[i, j] & paired[i] & paired[j]
    i, j = i[together], j[together]
    none = np.full(1, -1, np.intp)
    one = np.concatenate([none, np.arange(count), i])
    two = np.concatenate([none, np.full(count, -1), j])
    both = weight[i] * weight[j]
    one_fault = 1 - priors.nothing - priors.two_faults - priors.other
    # Where no two faults can be together, or there are none at all, their share is part of what is not enumerated.
    single = one_fault * weight / weight.sum() if count else weight
    pairs = priors.two_faults * both / both.sum() if len(both) else both
    prior = np.concatenate([[priors.nothing], single, pairs])
    return Universe(tuple(weighed.fault for weighed in singles), one, two, prior, float(1 - prior.sum()))
