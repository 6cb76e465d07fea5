"""Reading the catalogue's data files into frozen models, each checked against itself and the table of sources.

A part ``indoor/boiler`` lives in ``indoor/boiler.yaml`` of a catalogue folder. Folders named in the
environment variable ``CALLPATH_PARTS`` come before the folder that ships with callpath, so that a new part
needs a data file and no code.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError
from ruamel.yaml.error import YAMLError

from callpath.errors import CatalogueError, Problem, QuestionError, nearest
from callpath.parts.check import part_problems, shape_problems
from callpath.parts.model import Part
from callpath.parts.parsed import DATA as _DATA
from callpath.parts.parsed import parse

__all__ = [
    "Catalogue",
    "Meaning",
    "Source",
    "Tolerance",
    "custom_colours",
    "default_catalogue",
    "letters",
    "physics",
    "sources",
    "tolerances",
]


class Source(BaseModel):
    """Where values of the catalogue come from; ``mark`` is P, M, C or CP (see the data file)."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    mark: str
    text: str


class Meaning(BaseModel):
    """One thing that a terminal letter has meant: purposes, in words, when, and where that is known from."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    means: tuple[str, ...]
    said: str
    era: str
    source: str


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
        return parse(path)
    except (YAMLError, OSError, UnicodeDecodeError, RecursionError) as error:
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


@cache
def letters() -> dict[str, tuple[Meaning, ...]]:
    """Return what each terminal letter has meant across makes and decades."""
    rows = _load(_DATA / "letters.yaml")
    return {letter: tuple(Meaning(**row) for row in found) for letter, found in rows.items()}


class Catalogue:
    """The parts found in one or more folders; the first folder that has a part wins.

    Raises
    ------
    CatalogueError
        A folder is not there.
    """

    def __init__(self, folders: Sequence[Path] = ()) -> None:
        if absent := [folder for folder in folders if not folder.is_dir()]:
            raise CatalogueError([Problem(str(folder), 0, 0, "there is no such folder of parts") for folder in absent])
        self.folders: tuple[Path, ...] = (*folders, _DATA)
        self._parts: dict[str, Part] = {}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of all parts, sorted; no data file is read for it."""
        found = {f"{path.parent.name}/{path.stem}" for folder in self.folders for path in folder.glob("*/*.yaml")}
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
        problems = list(part_problems(part, sources()))
    except ValidationError as error:
        problems = list(shape_problems(error, Part))
    else:
        if part.part != name:
            problems.append(f"part: says '{part.part}', but its place makes it '{name}'")
    if problems:
        raise CatalogueError([Problem(str(path), 0, 0, message) for message in problems])
    return part


@cache
def default_catalogue() -> Catalogue:
    """Return the catalogue that ships with callpath, after the folders named in ``CALLPATH_PARTS``."""
    extra = os.environ.get("CALLPATH_PARTS", "")
    return Catalogue([Path(folder) for folder in extra.split(os.pathsep) if folder])
