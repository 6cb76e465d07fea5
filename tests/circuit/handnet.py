"""Networks made by hand, element by element, for tests that need no job."""

from __future__ import annotations

import math

import numpy as np

from callpath.circuit.network import EARTH, Bit, Branch, Drive, Network, SourceBranch

LEAK_OHMS = 1.0e7


class Hand:
    """Collects elements between named points; ``earth`` is the reference. Every point gets a leak to earth."""

    def __init__(self) -> None:
        self.points: dict[str, int] = {}
        self.branches: list[Branch] = []
        self.sources: list[SourceBranch] = []
        self.bits: list[Bit] = []
        self.given: list[str] = []
        self._drive_names: dict[int, tuple[str, bool]] = {}

    def _point(self, name: str) -> int:
        return EARTH if name == "earth" else self.points.setdefault(name, len(self.points))

    def branch(
        self,
        name: str,
        kind: str,
        a: str,
        b: str,
        ohms: complex,
        *,
        driven_ohms: complex | None = None,
        by: str | None = None,
        normally: bool = True,
        added_ohms: float = 0.0,
    ) -> int:
        """Add a branch; with ``by`` it is driven while that bit or given is true (or false: ``normally=False``)."""
        index = len(self.branches)
        self.branches.append(
            Branch(name, kind, self._point(a), self._point(b), ohms, driven_ohms, added_ohms=added_ohms)
        )
        if by is not None:
            self._drive_names[index] = (by, normally)
        return index

    def wire(self, name: str, a: str, b: str, ohms: float = 0.3) -> int:
        return self.branch(name, "wire", a, b, ohms)

    def source(self, name: str, a: str, b: str, emf: complex = 27.0, ohms: complex = 1.516 + 3.015j) -> int:
        """A 40 VA transformer that never burns, unless a ``burn`` bit is added."""
        index = self.branch(name, "source", a, b, ohms)
        self.sources.append(SourceBranch(index, emf, 40.0, 24.0))
        return index

    def burning(self, name: str, a: str, b: str, amps: float, emf: complex = 27.0) -> None:
        index = self.branch(name, "source", a, b, 1.516 + 3.015j, driven_ohms=complex(math.inf), by=name)
        self.sources.append(SourceBranch(index, emf, 40.0, 24.0))
        self.bits.append(Bit(name, "burn", index, amps))

    def fuse(self, name: str, a: str, b: str, amps: float) -> None:
        index = self.branch(name, "fuse", a, b, 0.03, driven_ohms=complex(math.inf), by=name)
        self.bits.append(Bit(name, "fuse", index, amps))

    def coil(
        self,
        name: str,
        a: str,
        b: str,
        *,
        open_gap: complex = 8 + 10j,
        sealed: complex = 30 + 70j,
        on: float = 18.0,
        off: float = 10.0,
        added_ohms: float = 0.0,
    ) -> None:
        index = self.branch(name, "coil", a, b, open_gap, driven_ohms=sealed, by=name, added_ohms=added_ohms)
        self.bits.append(Bit(name, "volts", index, on, off))

    def load(self, name: str, a: str, b: str, ohms: complex, *, on: float = 14.0, off: float = 8.0) -> None:
        index = self.branch(name, "load", a, b, ohms)
        self.bits.append(Bit(name, "volts", index, on, off))

    def contact(self, name: str, a: str, b: str, by: str, *, closed: bool = False) -> None:
        """A contact that follows ``by``; ``closed`` when that is false (normally closed)."""
        self.branch(name, "contact", a, b, complex(math.inf), driven_ohms=0.03, by=by, normally=not closed)

    def network(self, *, leak_ohms: float = LEAK_OHMS, hz: float = 60.0) -> Network:
        place = {name: i for i, name in enumerate([*(bit.name for bit in self.bits), *self.given])}
        branches = [
            Branch(**{**branch.__dict__, "drive": _drive(place, *self._drive_names[i])})
            if i in self._drive_names
            else branch
            for i, branch in enumerate(self.branches)
        ]
        leaks = [Branch(f"leak:{name}", "leak", i, EARTH, leak_ohms) for name, i in self.points.items()]
        return Network(
            tuple(self.points),
            (*branches, *leaks),
            tuple(self.sources),
            tuple(self.bits),
            tuple(self.given),
            hz,
            dict(self.points),
        )


def _drive(place: dict[str, int], by: str, normally: bool) -> Drive:
    column = place[by]
    return lambda bits: np.asarray(bits[:, column] == normally)
