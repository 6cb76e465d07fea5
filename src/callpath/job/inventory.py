"""What a job holds: equipment with its part and settings, cables with their conductors, splices.

What is wrong in one entry leaves a gap (None) that later questions step around, so that one mistake is told once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from callpath.errors import CatalogueError
from callpath.job.problems import shown
from callpath.job.shape import CableShape, EquipmentShape, JobShape, read_entry, read_shape, spoken, text
from callpath.job.yamltext import UNREAD, Document, Path
from callpath.parts.catalogue import Catalogue
from callpath.parts.model import Element, Part, Setting, SettingValue, fitted

__all__ = ["Device", "Inventory", "Run", "plain", "take_inventory"]

_LONGEST_ID = 40
_NOT_IN_A_WORD = re.compile(r"""[\s.,:;@#>+|"'\[\]{}]""")


@dataclass(frozen=True)
class Device:
    """One piece of equipment; ``sure`` tells whether all its settings were understood."""

    id: str
    part: Part | None
    at: str | None
    settings: Mapping[str, SettingValue]
    sure: bool

    @cached_property
    def elements(self) -> dict[str, Element]:
        """Elements that are fitted with these settings, or may be where the settings are not sure."""
        if self.part is None:
            return {}
        every = self.part.elements.items()
        return {name: element for name, element in every if not self.sure or fitted(element.when, self.settings)}


@dataclass(frozen=True)
class Run:
    """One cable; ``sure`` tells whether all its colours were understood."""

    id: str
    between: tuple[str | None, str | None]
    conductors: tuple[str, ...]
    sure: bool
    shape: CableShape


@dataclass
class Inventory:
    """Everything that has an id; ``odd_ids`` are those that no name could refer to."""

    devices: dict[str, Device] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)
    splices: dict[str, str | None] = field(default_factory=dict)
    odd_ids: list[str] = field(default_factory=list)


def take_inventory(top: JobShape, document: Document, catalogue: Catalogue) -> Inventory:
    """Return everything that has an id, and note what is wrong with it.

    Parameters
    ----------
    top : JobShape
        The top of the job file.
    document : Document
        Knows the place of everything, and takes what is wrong.
    catalogue : Catalogue
        Has the parts.
    """
    found = Inventory()
    for section, entries in (("equipment", top.equipment), ("cables", top.cables), ("splices", top.splices)):
        for name, data in (entries or {}).items():
            path = (section, name)
            _check_id(name, path, found, document)
            if section == "equipment":
                found.devices[name] = _device(name, data, path, document, catalogue)
            elif section == "cables":
                found.runs[name] = _run(name, data, path, document)
            else:
                found.splices[name] = read_shape(text, data, path, document)
    _check_locations(found, document)
    return found


def _check_id(name: str, path: Path, found: Inventory, document: Document) -> None:
    if problem := _word_problem(name):
        document.tell(path, f"{shown(name)} is no id: {problem}", key=True)
        found.odd_ids.append(name)
    for section, others in (("equipment", found.devices), ("cables", found.runs)):
        if name in others and section != path[0]:
            line = document.key(section, name).line
            document.tell(path, f"the id {shown(name)} is taken: {section} has it on line {line}", key=True)


def _word_problem(word: str) -> str | None:
    """Return what keeps a word from being an id or a colour."""
    if not word:
        return "it is empty"
    if len(word) > _LONGEST_ID:
        return f"it is longer than {_LONGEST_ID} characters"
    if odd := _NOT_IN_A_WORD.search(word):
        return f"it holds {shown(odd.group())}; write one word, such as hall-stat"
    return None if word.isprintable() else "it holds a character that cannot be seen"


def _device(name: str, data: Any, path: Path, document: Document, catalogue: Catalogue) -> Device:
    shape = read_entry(EquipmentShape, path, data, document)
    part = _part(shape.part, (*path, "part"), document, catalogue)
    given: dict[str, SettingValue] = {}
    told = len(document.problems)
    if part is not None:
        for word, value in (shape.settings or {}).items():
            where = (*path, "settings", word)
            if word not in part.settings:
                message = f"{shown(part.part)} has no setting {shown(word)}"
                document.tell(where, message, word=word, valid=part.settings, key=True)
            elif value is not UNREAD:
                setting = part.settings[word]
                if problem := setting.problem(value):
                    document.tell(where, f"{spoken(where)} {problem}, not {shown(value)}")
                else:
                    given[word] = plain(value, setting)
    understood = shape.settings is not None or not _holds(data, path, document)
    sure = understood and len(document.problems) == told and UNREAD not in (shape.settings or {}).values()
    return Device(name, part, shape.at, part.settle_settings(given) if part else {}, sure)


def _holds(data: Any, path: Path, document: Document) -> bool:
    """Tell whether an entry holds settings, however misspelt."""
    return isinstance(data, dict) and data.get(document.spelled.get((*path, "settings"), "settings")) is not None


def plain(value: Any, setting: Setting) -> SettingValue:
    """Return a good value in the type that the setting has."""
    if value is None or isinstance(value, bool):
        return value
    if setting.type == "choice":
        return next(choice for choice in setting.choices if choice == value)
    return int(value) if setting.type == "integer" else float(value)


def _part(name: str | None, path: Path, document: Document, catalogue: Catalogue) -> Part | None:
    if name is None:
        return None
    if name not in catalogue.names:
        document.tell(path, f"the catalogue has no part {shown(name)}", word=name, valid=catalogue.names)
        return None
    try:
        return catalogue.part(name)
    except CatalogueError as error:
        for problem in error.problems:
            document.tell(path, f"the catalogue's data for {shown(name)} is wrong: {problem}")
        return None


def _run(name: str, data: Any, path: Path, document: Document) -> Run:
    shape = read_entry(CableShape, path, data, document)
    colours: dict[str, int] = {}
    for position, colour in enumerate(shape.conductors or ()):
        where = (*path, "conductors", position)
        if colour is None:
            continue
        if colour in colours:
            first = document.value(*path, "conductors", colours[colour])
            document.tell(
                where,
                f"the colour {shown(colour)} is in cable {shown(name)} twice; the first is in column"
                f" {first.column} of line {first.line}",
            )
        elif problem := _word_problem(colour):
            document.tell(where, f"{shown(colour)} is no colour: {problem}")
        colours.setdefault(colour, position)
    sure = shape.conductors is not None and None not in shape.conductors
    return Run(name, shape.between or (None, None), tuple(colours), sure, shape)


def _check_locations(found: Inventory, document: Document) -> None:
    """Tell of cable ends at a location where nothing is; stay silent while a location is missing somewhere."""
    spots = [*(device.at for device in found.devices.values()), *found.splices.values()]
    if None in spots or document.lost & {"equipment", "splices"}:
        return
    known = {spot for spot in spots if spot is not None}
    for run in list(found.runs.values()):
        for end, spot in enumerate(run.between):
            if spot is not None and spot not in known:
                message = f"cable {shown(run.id)} ends in {shown(spot)}, where no equipment and no splice is"
                document.tell(("cables", run.id, "between", end), message, word=spot, valid=known)
        one, other = (spot if spot in known else None for spot in run.between)
        found.runs[run.id] = replace(run, between=(one, other))
