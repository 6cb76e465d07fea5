"""What can be asked of a job: a look at what runs, volts, amps, ohms; and what was answered.

A question is one line of a ``seen`` file without its answer, and the form in which the next test is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Answer", "Check", "Pair", "Seen", "Setup"]

Pair = tuple[str, str]


@dataclass(frozen=True)
class Setup:
    """How the job stands while it is asked: a call, perhaps two terminals jumped, perhaps a low-impedance meter in place."""

    call: str
    jumped: Pair | None = None
    low_z: Pair | None = None


@dataclass(frozen=True)
class Check:
    """A test to make.

    ``kind`` is ``running``, ``volts``, ``amps`` or ``ohms``. ``functions`` are looked at, among them perhaps ``coils``, which do
    not run but are pulled in; ``between`` are two points;
    ``conductor`` is clamped; ``lifted`` are taken off the measured terminals; ``jumped`` are joined meanwhile.
    """

    kind: str
    call: str = "off"
    functions: tuple[str, ...] = ()
    between: Pair | None = None
    conductor: str | None = None
    lifted: tuple[str, ...] = ()
    jumped: Pair | None = None
    low_z: bool = False
    coils: frozenset[str] = frozenset()

    @property
    def setup(self) -> Setup:
        """How the job must stand for it."""
        return Setup(self.call, self.jumped, self.between if self.low_z and self.kind == "volts" else None)

    @property
    def powered(self) -> bool:
        """Whether it is made with the power on."""
        return self.kind != "ohms"

    def as_data(self, answer: Answer | None = None) -> dict[str, Any]:
        """Return one line of a ``seen`` file; without an answer, the form of a test to make."""
        data: dict[str, Any] = {}
        if self.kind != "ohms" or self.call != "off":
            data["call"] = self.call
        if self.jumped:
            data["jumped"] = list(self.jumped)
        if self.kind == "running":
            data["running"] = list(self.functions) if answer is None else dict(answer.running)
            return data
        if self.between:
            data["between"] = list(self.between)
        if self.conductor:
            data["conductor"] = self.conductor
        value: float | str | None = None if answer is None else answer.value
        data[self.kind] = "OL" if isinstance(value, float) and math.isinf(value) else value
        if answer is None and self.kind != "ohms":
            del data[self.kind]
        if self.lifted:
            data["lifted"] = list(self.lifted)
        if self.low_z:
            data["meter"] = "low-z"
        return data


@dataclass(frozen=True)
class Answer:
    """What a test showed: which functions run, or a reading (infinite ohms: OL)."""

    running: Mapping[str, bool]
    value: float = math.nan


@dataclass(frozen=True)
class Seen:
    """One test and its answer."""

    test: Check
    answer: Answer

    def as_data(self) -> dict[str, Any]:
        """Return one line of a ``seen`` file."""
        return self.test.as_data(self.answer)
