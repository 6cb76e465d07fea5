"""A job: equipment, cables, landings, splices and jumpers, resolved against the catalogue and found sound."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from callpath.parts.model import Part, SettingValue

__all__ = ["Cable", "Equipment", "Fault", "Job", "Landing"]


@dataclass(frozen=True)
class Equipment:
    """One device of the job; ``settings`` holds every setting of its part, defaults filled in."""

    id: str
    part: Part
    at: str
    settings: Mapping[str, SettingValue]


@dataclass(frozen=True)
class Cable:
    """One cable; ``conductors`` are colours in the order given."""

    id: str
    between: tuple[str, str]
    conductors: tuple[str, ...]
    length_ft: float = 50.0
    awg: int = 18
    stranded: bool = False
    temperature_c: float = 20.0


Landing = tuple[str | None, str | None]
"""Where the two ends of a conductor sit, in the order of the cable's ``between``: a terminal, a splice, or None (capped)."""


@dataclass(frozen=True)
class Fault:
    """One planted fault.

    ``kind`` is the word of the job file (``open short dead stuck tripped high-resistance swapped missing loose extra
    shorted burned tapped setting``), but ``idle`` where what is ``dead`` there is a function, not a source; ``where`` holds
    the one or two names that it gives; ``ohms`` only stands with ``high-resistance``, ``volts`` (open-circuit) with
    ``tapped``, and ``to`` (the wrong value) with ``setting``.
    """

    kind: str
    where: tuple[str, ...]
    ohms: float | None = None
    volts: float | None = None
    to: SettingValue = None


@dataclass(frozen=True)
class Job:
    """A job file, checked; every name in it resolves.

    ``landings`` holds every conductor of every cable (``cable.colour``), capped ones as ``(None, None)``.
    ``serves`` is None where the file does not say. ``contacts`` maps ``equipment.element`` to closed (True) or open.
    """

    title: str
    equipment: Mapping[str, Equipment]
    cables: Mapping[str, Cable]
    landings: Mapping[str, Landing]
    splices: Mapping[str, str] = field(default_factory=dict)
    jumpers: tuple[tuple[str, str], ...] = ()
    serves: tuple[str, ...] | None = None
    contacts: Mapping[str, bool] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    note: str = ""
    hz: float = 60.0
    file: str = ""

    def cable_of(self, conductor: str) -> Cable:
        """Return the cable that holds a conductor named ``cable.colour``."""
        return self.cables[conductor.partition(".")[0]]

    def terminal(self, name: str) -> tuple[Equipment, str]:
        """Return the equipment and the terminal's letters of a terminal named ``equipment.letters``."""
        equipment, _, letters = name.partition(".")
        return self.equipment[equipment], letters
