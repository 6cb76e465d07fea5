"""The circuit as a network: nodes, branches and the discrete things that switch them.

Everything that the solver needs stands here as arrays, so that many states of one network can be settled at once.
Nothing here knows of thermostats or boards; the builder makes a network from a job, and tests make them from nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["EARTH", "Bit", "Branch", "Drive", "Network", "SourceBranch", "impedance"]

EARTH = -1
"""Node index of the building's earth, the reference of every potential."""

Drive = Callable[[NDArray[np.bool_]], NDArray[np.bool_]]
"""From bits, shape (states, bits), to closed or driven, shape (states,)."""


@dataclass(frozen=True)
class Branch:
    """One two-ended element of the network.

    Parameters
    ----------
    name : str
        ``cable.colour``, ``equipment.element``, ``jumper:a+b`` …; unique.
    kind : str
        ``wire``, ``jumper``, ``splice``, ``contact``, ``fuse``, ``source``, ``coil``, ``input``, ``load``, ``link``,
        ``earthing``, ``leak``, ``capacitance`` or ``probe``.
    a, b : int
        Node indices; EARTH is the reference.
    ohms, driven_ohms : complex
        Impedance [Ω] at the network's frequency at rest, and while its drive is true; infinite where open.
    dc_ohms : float
        DC resistance [Ω] at rest, for readings with the sources off; infinite where driven and resting differ and it is open.
    added_ohms : float
        A bad connection in series with the element [Ω], infinite where it is broken. What the element itself
        senses is what this leaves of the voltage.
    """

    name: str
    kind: str
    a: int
    b: int
    ohms: complex
    driven_ohms: complex | None = None
    drive: Drive | None = None
    dc_ohms: float = np.inf
    added_ohms: float = 0.0


@dataclass(frozen=True)
class SourceBranch:
    """A transformer's secondary: an EMF behind its impedance, which stands in ``branches[branch]`` from a (+) to b.

    ``emf_volts`` is the open-circuit phasor [V RMS], ``rated_va`` and ``rated_volts`` the nameplate.
    """

    branch: int
    emf_volts: complex
    rated_va: float
    rated_volts: float

    @property
    def rated_amps(self) -> float:
        """Nameplate current [A]."""
        return self.rated_va / self.rated_volts


@dataclass(frozen=True)
class Bit:
    """One discrete thing that the circuit itself decides.

    ``sense`` tells by what: ``volts`` across its branch, with hysteresis (a coil, an input, a load); or amperes through it,
    for a ``fuse`` or a source that would ``burn``, which once true stay true.
    """

    name: str
    sense: str
    branch: int
    on_at: float
    off_at: float = 0.0


@dataclass(frozen=True)
class Network:
    """A network and its discrete parts.

    ``bits`` come first in every state vector, in order, then ``given``: field contacts, thermostat outputs, states. A state
    vector is therefore ``len(bits) + len(given)`` booleans. ``drives`` see the whole vector.
    """

    nodes: tuple[str, ...]
    branches: tuple[Branch, ...]
    sources: tuple[SourceBranch, ...]
    bits: tuple[Bit, ...]
    given: tuple[str, ...]
    hz: float = 60.0
    node_of: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def index(self) -> dict[str, int]:
        """Branch index by name."""
        return {branch.name: i for i, branch in enumerate(self.branches)}

    @cached_property
    def bit_index(self) -> dict[str, int]:
        """Place in the state vector of every bit and every given, by name."""
        names = [bit.name for bit in self.bits] + list(self.given)
        return {name: i for i, name in enumerate(names)}

    @cached_property
    def incidence(self) -> NDArray[np.float64]:
        """Branch-node incidence, shape (branches, nodes): +1 at a, −1 at b, nothing for earth."""
        matrix = np.zeros((len(self.branches), len(self.nodes)))
        for i, branch in enumerate(self.branches):
            if branch.a != EARTH:
                matrix[i, branch.a] += 1
            if branch.b != EARTH:
                matrix[i, branch.b] -= 1
        return matrix

    @cached_property
    def admittance(self) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        """Admittances [S] of all branches at rest and driven, each of shape (branches,)."""
        return self._admittance([branch.added_ohms for branch in self.branches])

    @cached_property
    def own_admittance(self) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        """The same without the bad connections."""
        return self._admittance([0.0] * len(self.branches))

    def _admittance(self, added: list[float]) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        rest = [_siemens(branch.ohms + extra) for branch, extra in zip(self.branches, added, strict=True)]
        driven = [
            _siemens((branch.ohms if branch.driven_ohms is None else branch.driven_ohms) + extra)
            for branch, extra in zip(self.branches, added, strict=True)
        ]
        return np.array(rest, complex), np.array(driven, complex)

    @cached_property
    def driven(self) -> tuple[int, ...]:
        """Indices of the branches that have a drive, in order; columns of every drive matrix."""
        return tuple(i for i, branch in enumerate(self.branches) if branch.drive is not None)

    def drive_rows(self, bits: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which driven branches are driven, shape (states, driven), from state vectors."""
        rows = np.empty((len(bits), len(self.driven)), dtype=bool)
        for column, i in enumerate(self.driven):
            drive = self.branches[i].drive
            assert drive is not None
            rows[:, column] = drive(bits)
        return rows


def _siemens(ohms: complex) -> complex:
    return 0j if not np.isfinite(ohms) else 1 / complex(ohms)


def impedance(volts: float, va: float, watts: float) -> complex:
    """Return the series impedance [Ω] of a coil that takes ``va`` and ``watts`` at ``volts``.

    Notes
    -----
    |Z| = V²/S and R = P/I² with I = S/V.
    """
    magnitude = volts**2 / va
    resistance = watts / (va / volts) ** 2
    return complex(resistance, np.sqrt(max(magnitude**2 - resistance**2, 0.0)))
