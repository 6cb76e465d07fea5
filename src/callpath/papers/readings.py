"""Readings that somebody took, from a file: what a meter showed on a call or with the power off, and what was seen to run."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, TypeAdapter, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from callpath.calls.closing import calls_of_job
from callpath.calls.reading import amps_in, lifted_job, ohms_between, point, volts_between
from callpath.circuit.build import Circuit
from callpath.circuit.meter import Reading
from callpath.errors import InputError, Problem, QuestionError, nearest

__all__ = ["Taken", "load_readings"]

_LARGEST_BYTES = 1 << 18


@dataclass(frozen=True)
class Taken:
    """One thing that was read or seen on a call.

    A reading has its ``points`` (two for volts and ohms, the conductor for amps), ``unit`` (``V``, ``A`` or ``Ω``) and ``value``,
    infinite for an open line in ohms; ``lifted`` conductors were off meanwhile. ``running`` tells what was seen to run or not.
    """

    call: str
    points: tuple[str, ...] = ()
    unit: str = ""
    value: float = 0.0
    lifted: tuple[str, ...] = ()
    low_z: bool = False
    running: Mapping[str, bool] = field(default_factory=dict)

    def expected(self, circuit: Circuit) -> Reading:
        """Return what the circuit says that a meter shows there."""
        if self.unit == "A":
            return amps_in(circuit, self.call, self.points[0])
        one, two = self.points
        if self.unit == "Ω":
            return ohms_between(circuit, one, two, call=self.call, lifted=self.lifted)
        return volts_between(circuit, self.call, one, two, low_z=self.low_z)


def _pair(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
    call: str = "off"
    between: Annotated[tuple[str, str] | None, BeforeValidator(_pair)] = None
    conductor: str | None = None
    volts: float | None = None
    amps: float | None = None
    ohms: float | Literal["OL"] | None = None
    lifted: Annotated[tuple[str, ...], BeforeValidator(_pair)] = ()
    meter: Literal["usual", "low-z"] = "usual"
    running: dict[str, bool] | None = None

    @property
    def taken(self) -> Taken:
        """What the row says."""
        if self.conductor is not None and self.amps is not None:
            return Taken(self.call, (self.conductor,), "A", self.amps)
        if self.between is not None and self.volts is not None:
            return Taken(self.call, self.between, "V", self.volts, low_z=self.meter == "low-z")
        if self.between is not None and self.ohms is not None:
            value = math.inf if self.ohms == "OL" else self.ohms
            return Taken(self.call, self.between, "Ω", value, self.lifted)
        return Taken(self.call, running=self.running or {})

    @property
    def odd(self) -> str:
        """What is wrong with how the keys stand together, empty where nothing is."""
        given = [name for name in ("volts", "amps", "ohms", "running") if getattr(self, name) is not None]
        if len(given) != 1:
            return "holds one of 'volts', 'amps', 'ohms' and 'running'"
        (one,) = given
        pairs = {"volts": ("between",), "ohms": ("between",), "amps": ("conductor",), "running": ()}[one]
        wrong = [name for name in ("between", "conductor") if (getattr(self, name) is not None) != (name in pairs)]
        if wrong:
            return f"'{one}' goes {'with' if pairs else 'without'} {pairs[0] if pairs else wrong[0]!r}"
        if self.lifted and one != "ohms":
            return "'lifted' goes with 'ohms': nothing is lifted while the power is on"
        value = getattr(self, one)
        if isinstance(value, float) and not 0 <= value < 1e9:
            return f"'{one}' must be a number of 0 or more"
        return ""


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    seen: list[Any]


def load_readings(path: Path, circuit: Circuit) -> list[Taken]:
    """Return the readings of a file: ``seen:`` and a list, in the form that ``troubleshoot`` reads.

    Raises
    ------
    InputError
        The file cannot be understood, or names what the job does not have; with every problem at once.
    """
    name = str(path)
    raw = path.read_bytes()
    if len(raw) > _LARGEST_BYTES:
        raise InputError((Problem(name, 0, 0, f"longer than {_LARGEST_BYTES} bytes"),))
    try:
        found = YAML(typ="safe", pure=True).load(raw.decode("utf-8"))
        rows = TypeAdapter(_File).validate_python(found).seen
    except UnicodeDecodeError:
        raise InputError((Problem(name, 0, 0, "not UTF-8 text"),)) from None
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        raise InputError((Problem(name, line, column, str(getattr(error, "problem", error))),)) from None
    except ValidationError:
        raise InputError((Problem(name, 1, 1, "must hold 'seen:' and a list of readings"),)) from None
    problems: list[Problem] = []
    taken = []
    for number, data in enumerate(rows, 1):
        try:
            row = _Row.model_validate(data)
        except ValidationError as error:
            where = ".".join(map(str, error.errors()[0]["loc"]))
            problems.append(Problem(name, 0, 0, f"seen[{number}] {where}: {error.errors()[0]['msg']}"))
            continue
        wrong = _wrong(circuit, row)
        problems += [Problem(name, 0, 0, f"seen[{number}]: {text}") for text in wrong]
        if not wrong:
            taken.append(row.taken)
    if problems:
        raise InputError(tuple(problems))
    return taken


def _wrong(circuit: Circuit, row: _Row) -> list[str]:
    if row.odd:
        return [row.odd]
    told = []
    calls = calls_of_job(circuit)
    if row.call not in calls:
        told.append(f"no thermostat of this job can call '{row.call}'; {nearest(row.call, calls)}")
    for name in row.between or ():
        try:
            point(circuit, name)
        except QuestionError as error:
            told.append(str(error))
    for kind, names, known in (
        ("conductor", [*row.lifted, *([row.conductor] if row.conductor else [])], circuit.job.landings),
        ("function", row.running or (), circuit.functions),
    ):
        told += [f"this job has no {kind} '{name}'; {nearest(name, known)}" for name in names if name not in known]
    if row.lifted and not told:
        try:
            lifted_job(circuit.job, row.lifted, row.between or ())
        except QuestionError as error:
            told.append(str(error))
    return told
