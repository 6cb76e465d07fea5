"""How likely every fault is before anything was seen: assumptions, kept as data.

No published rates exist. The numbers stand in ``data/priors.yaml``; a file of the same form may take its place.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from callpath.faults.assumed import contents_of, read_assumption
from callpath.job.problems import shown
from callpath.job.yamltext import Document, Path

__all__ = ["Priors", "default_priors", "load_priors", "read_priors", "shipped_priors"]

Weight = Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, lt=0.5, allow_inf_nan=False)]
Values = Annotated[tuple[Weight, ...], Field(min_length=1, max_length=6)]


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    weight: Weight
    why: str


class _File(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=lambda name: name.replace("_", "-"))
    weights: dict[str, _Entry]
    bad_ohms: Values
    tap_volts: Values
    nothing: Share
    two_faults: Share
    other: Annotated[float, Field(gt=0, lt=0.5, allow_inf_nan=False)]
    misread: Annotated[float, Field(gt=0, lt=0.2, allow_inf_nan=False)]
    misseen: Annotated[float, Field(gt=0, lt=0.2, allow_inf_nan=False)]


@dataclass(frozen=True)
class Priors:
    """Assumed rates.

    Parameters
    ----------
    weights : mapping
        By kind of fault, the weight of one such fault against others.
    bad_ohms : tuple of float
        Resistances that a bad connection may have [Ω].
    tap_volts : tuple of float
        Open-circuit voltages of a secondary whose primary sits on a wrong tap [V].
    nothing, two_faults, other : float
        Probability that nothing is wrong, that two of the faults are there at once, and of all that is not enumerated.
    misread, misseen : float
        Probability that a reading, or a look at what runs, was taken down wrong.
    """

    weights: Mapping[str, float]
    bad_ohms: tuple[float, ...]
    tap_volts: tuple[float, ...]
    nothing: float
    two_faults: float
    other: float
    misread: float
    misseen: float


def shipped_priors() -> str:
    """Return the text of the assumptions that ship with callpath."""
    return (resources.files("callpath.faults") / "data" / "priors.yaml").read_text(encoding="utf-8")


@cache
def default_priors() -> Priors:
    """Return the assumptions that ship with callpath."""
    return _priors(read_assumption(_File, shipped_priors(), "priors.yaml", _valid, lambda found, document: None))


def load_priors(path: str | os.PathLike[str]) -> Priors:
    """Return the assumptions in a file of the same form as ``data/priors.yaml``.

    Raises
    ------
    FaultDataError
        It cannot be read, or lacks something, or holds something else.
    """
    raw, file = contents_of(path)
    return read_priors(raw, file=file)


def read_priors(text: str | bytes, *, file: str = "priors.yaml") -> Priors:
    """Return the assumptions in a text of the same form as ``data/priors.yaml``.

    Raises
    ------
    FaultDataError
        It lacks something, or holds something else; with every problem at once.
    """
    return _priors(read_assumption(_File, text, file, _valid, _check))


def _valid(path: Path) -> tuple[str, ...]:
    if len(path) == 1:
        return tuple(name.replace("_", "-") for name in _File.model_fields)
    return ("weight", "why")


# Kinds that files of before do not have; they get the shipped weight.
_LATER = ("dead-function", "welded-coil")


def _check(found: _File, document: Document) -> None:
    known = default_priors().weights
    for kind in found.weights.keys() - known.keys():
        document.tell(("weights", kind), f"weights: {shown(kind)} is unknown", word=kind, valid=tuple(known), key=True)
    for kind in known.keys() - found.weights.keys() - set(_LATER):
        document.tell(("weights",), f"weights: '{kind}' is missing")
    if found.nothing + found.two_faults + found.other >= 1:
        document.tell(("nothing",), "'nothing', 'two-faults' and 'other' leave nothing for one fault")


def _priors(found: _File) -> Priors:
    later = {kind: default_priors().weights[kind] for kind in _LATER if kind not in found.weights}
    return Priors(
        {kind: entry.weight for kind, entry in found.weights.items()} | later,
        found.bad_ohms,
        found.tap_volts,
        found.nothing,
        found.two_faults,
        found.other,
        found.misread,
        found.misseen,
    )
