"""Reading the catalogue's data files into frozen models, each checked against itself and the table of sources.

A part ``indoor/boiler`` lives in ``indoor/boiler.yaml`` of a catalogue folder. Folders named in the
environment variable ``CALLPATH_PARTS`` come before the folder that ships with callpath, so that a new part
needs a data file and no code.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from callpath.errors import CatalogueError, Problem, QuestionError, nearest
from callpath.parts.model import Condition, Part

__all__ = [
    "Catalogue",
    "Source",
    "Tolerance",
    "custom_colours",
    "default_catalogue",
    "physics",
    "sources",
    "tolerances",
]

_DATA = Path(__file__).parent / "data"
_NEEDED_DATA: Mapping[str, frozenset[str]] = {
    "source": frozenset({"rated-volts", "rated-va", "open-volts", "ohms", "reactance-ohms", "winding-ohms"}),
    "fuse": frozenset({"amps", "ohms"}),
    "coil": frozenset(
        {
            "rated-volts",
            "inrush-va",
            "inrush-watts",
            "sealed-va",
            "sealed-watts",
            "pull-in-volts",
            "drop-out-volts",
            "dc-ohms",
        }
    ),
    "input": frozenset({"ohms", "on-volts", "off-volts"}),
    "load": frozenset({"on-volts", "off-volts"}),
    "contact": frozenset({"ohms"}),
    "link": frozenset({"ohms"}),
}


class Source(BaseModel):
    """Where values of the catalogue come from; ``mark`` is P, M, C or CP (see the data file)."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    mark: str
    text: str


class Tolerance(BaseModel):
    """The spread that sound equipment shows, as a fraction and, for a meter, its last digits."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    fraction: float = 0.0
    digits: float = 0.0
    nominal: float = 0.0
    low: float = 0.0
    high: float = 0.0
    source: str


def _load(path: Path) -> Any:
    try:
        return YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    except (YAMLError, OSError, UnicodeDecodeError) as error:
        raise CatalogueError([Problem(str(path), 0, 0, f"cannot be read: {error}")]) from None


@cache
def sources() -> dict[str, Source]:
    """Return the table of sources that the catalogue's values name."""
    return {key: Source(**row) for key, row in _load(_DATA / "sources.yaml").items()}


@cache
def tolerances() -> dict[str, Tolerance]:
    """Return the spread of supply, components and meters, by kind."""
    return {key: Tolerance(**row) for key, row in _load(_DATA / "tolerance.yaml").items()}


@cache
def physics() -> dict[str, float]:
    """Return the small quantities beside the equipment: screws, splices, leakage, meters, fuse and burn-out factors."""
    return {key: float(row["value"]) for key, row in _load(_DATA / "physics.yaml").items()}


@cache
def custom_colours() -> dict[str, str]:
    """Return the colour that custom gives each purpose."""
    return {str(key): str(value) for key, value in _load(_DATA / "custom.yaml")["colours"].items()}


class Catalogue:
    """The parts found in one or more folders; the first folder that has a part wins."""

    def __init__(self, folders: Sequence[Path] = ()) -> None:
        self.folders: tuple[Path, ...] = (*folders, _DATA)
        self._parts: dict[str, Part] = {}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of all parts, sorted; no data file is read for it."""
        found = {
            f"{path.parent.name}/{path.stem}"
            for folder in self.folders
            if folder.is_dir()
            for path in folder.glob("*/*.yaml")
        }
        return tuple(sorted(found))

    def part(self, name: str) -> Part:
        """Return one part.

        Raises
        ------
        QuestionError
            No folder of the catalogue has it.
        CatalogueError
            Its data file is wrong.
        """
        if name not in self._parts:
            path = next(
                (
                    folder / f"{name}.yaml"
                    for folder in self.folders
                    if name in self.names and (folder / f"{name}.yaml").is_file()
                ),
                None,
            )
            if path is None:
                raise QuestionError(f"the catalogue has no part '{name}'; {nearest(name, self.names)}")
            self._parts[name] = read_part(path, name)
        return self._parts[name]


def read_part(path: Path, name: str) -> Part:
    """Read and check one part's data file.

    Raises
    ------
    CatalogueError
        With every problem of the file at once.
    """
    try:
        part = Part.model_validate(_load(path))
    except ValidationError as error:
        raise CatalogueError(
            [
                Problem(str(path), 0, 0, f"{'.'.join(str(step) for step in item['loc'])}: {item['msg']}")
                for item in error.errors()
            ]
        ) from None
    problems = [*_inner_problems(part)]
    if part.part != name:
        problems.append(f"says 'part: {part.part}' but its place makes it '{name}'")
    if problems:
        raise CatalogueError([Problem(str(path), 0, 0, message) for message in problems])
    return part


def _inner_problems(part: Part) -> Iterable[str]:
    outputs = {rule.output for call in part.calls.values() for rule in call.closes}
    for name, element in part.elements.items():
        place = f"elements.{name}"
        for key in sorted(_NEEDED_DATA[element.kind] - element.data.keys()):
            yield f"{place}: a {element.kind} needs '{key}' in its data"
        for key, value in element.data.items():
            if value.source not in sources():
                yield f"{place}.{key}: no source '{value.source}'; {nearest(value.source, sources())}"
            if value.setting is not None and value.setting not in part.settings:
                yield f"{place}.{key}: no setting '{value.setting}'; {nearest(value.setting, part.settings)}"
        for key in element.when or {}:
            if key not in part.settings:
                yield f"{place}.when: no setting '{key}'; {nearest(key, part.settings)}"
        if element.kind == "contact" and element.field == (element.closed_when is not None):
            yield f"{place}: a contact is either 'field: true' or has 'closed-when'"
        yield from _condition_problems(part, place, element.closed_when, outputs)
    for name, function in part.functions.items():
        for trigger in function.triggers:
            yield from _condition_problems(part, f"functions.{name}", trigger.runs_when, outputs)
            for step in trigger.steps:
                if step.source not in sources():
                    yield f"functions.{name}: no source '{step.source}'; {nearest(step.source, sources())}"
    for supply in part.supply:
        yield from _condition_problems(part, "supply", supply.needs, outputs)
    for output in sorted(outputs - part.terminals.keys()):
        yield f"calls: no terminal '{output}'; {nearest(output, part.terminals)}"


def _condition_problems(part: Part, place: str, condition: Condition | None, outputs: set[str]) -> Iterable[str]:
    if condition is None:
        return
    for element in sorted(condition.elements() - part.elements.keys()):
        yield f"{place}: no element '{element}'; {nearest(element, part.elements)}"
    if condition.output is not None and condition.output not in outputs:
        yield f"{place}: no call closes '{condition.output}'; {nearest(condition.output, outputs)}"


@cache
def default_catalogue() -> Catalogue:
    """Return the catalogue that ships with callpath, after the folders named in ``CALLPATH_PARTS``."""
    extra = os.environ.get("CALLPATH_PARTS", "")
    return Catalogue([Path(folder) for folder in extra.split(os.pathsep) if folder])
