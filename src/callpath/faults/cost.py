"""What a test takes in minutes: the walk there, a cover off, leads lifted, the reading itself.

No published times exist. The numbers stand in ``data/minutes.yaml``; a file of the same form may take its place.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Literal, get_args

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from callpath.faults.assumed import contents_of, read_assumption
from callpath.faults.question import Floats, Integers
from callpath.job.yamltext import Document, Path

__all__ = ["Kind", "Minutes", "Work", "default_minutes", "load_minutes", "priced", "read_minutes", "shipped_minutes"]

Kind = Literal["running", "volts", "amps", "ohms"]
Time = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Some = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=lambda name: name.replace("_", "-"))


class _Told(_Shape):
    minutes: Time
    why: str = ""


class _Test(_Shape):
    minutes: Some
    why: str = ""


class _Way(_Shape):
    between: tuple[str, str]
    minutes: Time


class Minutes(_Shape):
    """Assumed times [min], in the form of ``data/minutes.yaml``."""

    walk: Time
    hard_to_reach: dict[str, _Told]
    ways: tuple[_Way, ...] = ()
    panel: Time
    tests: dict[Kind, _Test]
    lift: Time
    jump: Time
    low_z: Time
    # As it ships; files of before do not have it.
    wrong_repair: Time = 15.0

    def way(self, one: str, other: str) -> float:
        """Return the walk from one location to another [min]."""
        if one == other:
            return 0.0
        for known in self.ways:
            if {one, other} == set(known.between):
                return known.minutes
        return self.walk + self._reach(one) + self._reach(other)

    def _reach(self, location: str) -> float:
        words = set(re.findall(r"\w+", location.casefold()))
        return max((told.minutes for word, told in self.hard_to_reach.items() if word.casefold() in words), default=0.0)

    def of(self, work: Work, at: str) -> float:
        """Return what a test takes from a location [min].

        Parameters
        ----------
        work : Work
            What there is to do.
        at : str
            Where the technician stands, with the cover off.
        """
        base = self.tests[work.kind].minutes
        look = work.kind == "running"
        total = base * (len(work.places) if look else 1)
        total += self.lift * work.lifted + self.jump * work.jumped + self.low_z * work.low_z
        hands = not look or work.jumped
        for n, place in enumerate(work.places):
            if place != at:
                # To jump and look, the cover comes off where the jumper goes on: at the first place.
                total += self.way(at, place) + (self.panel if hands and (n == 0 or not look) else 0.0)
            at = place
        return total


@dataclass(frozen=True)
class Work:
    """What there is to do for a test.

    Parameters
    ----------
    kind : str
        ``running``, ``volts``, ``amps`` or ``ohms``.
    places : tuple of str
        The locations to go to, in this order; the technician is left standing at the last.
    lifted : int
        How many leads are taken off and put back.
    jumped, low_z : bool
        Whether two terminals are jumped meanwhile, at the first place; whether the meter's other range is used.
    """

    kind: Kind
    places: tuple[str, ...]
    lifted: int = 0
    jumped: bool = False
    low_z: bool = False


def priced(minutes: Minutes, tests: Sequence[Work], locations: Sequence[str]) -> tuple[Floats, Integers]:
    """Return what every test takes from every location, and where it leaves the technician.

    Parameters
    ----------
    minutes : Minutes
    tests : sequence of Work
        Each with at least one place; all places are among the locations.
    locations : sequence of str

    Returns
    -------
    minutes : ndarray [locations, tests]
        [min].
    place : ndarray of int [tests]
        Index of a location.
    """
    index = {location: n for n, location in enumerate(locations)}
    taken = {work: [minutes.of(work, at) for at in locations] for work in set(tests)}
    table = np.array([taken[work] for work in tests], dtype=np.float64).reshape(len(tests), len(locations)).T
    return table, np.array([index[work.places[-1]] for work in tests], dtype=np.intp)


def shipped_minutes() -> str:
    """Return the text of the assumptions that ship with callpath."""
    return (resources.files("callpath.faults") / "data" / "minutes.yaml").read_text(encoding="utf-8")


@cache
def default_minutes() -> Minutes:
    """Return the assumptions that ship with callpath."""
    return read_minutes(shipped_minutes())


def load_minutes(path: str | os.PathLike[str]) -> Minutes:
    """Return the assumptions in a file of the same form as ``data/minutes.yaml``.

    Raises
    ------
    FaultDataError
        It cannot be read, or lacks something, or holds something else.
    """
    raw, file = contents_of(path)
    return read_minutes(raw, file=file)


def read_minutes(text: str | bytes, *, file: str = "minutes.yaml") -> Minutes:
    """Return the assumptions in a text of the same form as ``data/minutes.yaml``.

    Raises
    ------
    FaultDataError
        It lacks something, or holds something else; with every problem at once.
    """
    return read_assumption(Minutes, text, file, _valid, _check)


_KINDS: tuple[str, ...] = get_args(Kind)
_TOP = tuple(name.replace("_", "-") for name in Minutes.model_fields)


def _valid(path: Path) -> tuple[str, ...]:
    if len(path) == 1:
        return _TOP
    if path[0] == "tests" and len(path) == 2:
        return _KINDS
    return ("between", "minutes") if path[0] == "ways" else ("minutes", "why")


def _check(found: Minutes, document: Document) -> None:
    for kind in _KINDS:
        if kind not in found.tests:
            document.tell(("tests",), f"tests: '{kind}' is missing")
