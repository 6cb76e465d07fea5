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

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from callpath.errors import FaultDataError, Problem
from callpath.faults.assumed import data_of, text_of

__all__ = ["Priors", "default_priors", "load_priors"]

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


@cache
def default_priors() -> Priors:
    """Return the assumptions that ship with callpath."""
    shipped = resources.files("callpath.faults") / "data" / "priors.yaml"
    return _priors(shipped.read_text(encoding="utf-8"), "priors.yaml", None)


def load_priors(path: str | os.PathLike[str]) -> Priors:
    """Return the assumptions in a file of the same form as ``data/priors.yaml``.

    Raises
    ------
    FaultDataError
        It cannot be read, or lacks something, or holds something else.
    """
    return _priors(text_of(path), os.fsdecode(path), default_priors())


def _priors(text: str, file: str, shipped: Priors | None) -> Priors:
    try:
        found = _File.model_validate(data_of(text, file))
    except ValidationError as error:
        raise FaultDataError(
            [
                Problem(file, 0, 0, f"{'.'.join(map(str, item['loc'])) or 'the file'}: {item['msg']}")
                for item in error.errors(include_url=False, include_context=False, include_input=False)
            ]
        ) from None
    weights = {kind: entry.weight for kind, entry in found.weights.items()}
    if shipped is not None and (odd := weights.keys() ^ shipped.weights.keys()):
        raise FaultDataError(
            [Problem(file, 0, 0, f"weights: {kind} is {'unknown' if kind in weights else 'missing'}") for kind in odd]
        )
    if found.nothing + found.two_faults + found.other >= 1:
        raise FaultDataError([Problem(file, 0, 0, "'nothing', 'two-faults' and 'other' leave nothing for one fault")])
    return Priors(
        weights,
        found.bad_ohms,
        found.tap_volts,
        found.nothing,
        found.two_faults,
        found.other,
        found.misread,
        found.misseen,
    )
