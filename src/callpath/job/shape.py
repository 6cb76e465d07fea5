"""The shape of each entry of a job file, before anything is asked about what its words mean.

Every entry is validated on its own; what is wrong in it is told, taken out, and the rest validated again, so that one
mistake hides no other. A field that is absent, or wrong and told, reads None.
"""

from __future__ import annotations

import copy
import difflib
import math
import re
from collections.abc import Callable
from typing import Annotated, Any, ClassVar, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator, TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from callpath.job.problems import SHOWN, shown
from callpath.job.yamltext import UNREAD, Document, Path, Unread, WrittenFloat, WrittenInt
from callpath.units import AWG_RANGE, UnitError, celsius, length_ft

__all__ = [
    "CableShape",
    "Entries",
    "EquipmentShape",
    "FaultShape",
    "Items",
    "JobShape",
    "Shape",
    "Text",
    "Words",
    "ends",
    "pair",
    "read_entry",
    "read_shape",
    "spoken",
    "state",
    "text",
    "two",
    "value_of",
    "wrong",
]

T = TypeVar("T")
AnyShape = TypeVar("AnyShape", bound="Shape")

_LIKENESS = 0.7
_LONGEST_QUANTITY = 40


def wrong(message: str) -> PydanticCustomError:
    """Return the error of a value that is not what its key wants; the key's name goes before the message."""
    return PydanticCustomError("wrong", "{message}", {"message": message})


def value_of(read: Callable[[Any], Any]) -> PlainValidator:
    """Return the validator of one value, which lets pass what was told before."""
    return PlainValidator(lambda value: None if value is UNREAD else read(value))


def _text(value: Any) -> str:
    if isinstance(value, (WrittenInt, WrittenFloat)):
        return value.written
    if isinstance(value, str) and value.strip():
        return value
    quotes = "; write it in quotes" if isinstance(value, bool) else ""
    raise wrong(f"must be text, not {shown(value)}{quotes}")


def _prose(value: Any) -> str:
    return "" if value == "" else _text(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _version(value: Any) -> int:
    if value != 1 or not _is_number(value):
        raise wrong(f"must be 1, the version of the format that is read here, not {shown(value)}")
    return 1


def _hertz(value: Any) -> float:
    if value not in (50, 60) or not _is_number(value):
        raise wrong(f"must be 50 or 60, not {shown(value)}")
    return float(value)


def _gauge(value: Any) -> int:
    if not _is_number(value) or value not in AWG_RANGE:
        raise wrong(f"must be a whole number from {AWG_RANGE[0]} to {AWG_RANGE[-1]}, not {shown(value)}")
    return int(value)


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise wrong(f"must be true or false, not {shown(value)}")
    return value


def _scalar(value: Any) -> Any:
    if isinstance(value, (list, dict)):
        raise wrong(f"must be one value, not {shown(value)}")
    return value


def _above_nothing(value: Any) -> float:
    if not _is_number(value) or not 0 < value < math.inf:
        raise wrong(f"must be a number above 0, not {shown(value)}")
    return float(value)


def _quantity(parse: Callable[[str], float], example: str) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        written = value.written if isinstance(value, (WrittenInt, WrittenFloat)) else value
        if not isinstance(written, str) or len(written) > _LONGEST_QUANTITY:
            raise wrong(f"must be a number and its unit, such as {example}, not {shown(value)}")
        try:
            return parse(written)
        except UnitError as error:
            raise wrong(f": {error}") from None

    return read


def _state(value: Any) -> bool:
    if value not in ("open", "closed"):
        raise wrong(f"must be open or closed, not {shown(value)}")
    return bool(value == "closed")


def _end(value: Any) -> str | Unread | None:
    return value if value is None or value is UNREAD else _text(value)


def _list(value: Any) -> Any:
    if value is not UNREAD and not isinstance(value, list):
        raise wrong(f"must be a list, such as [one, other], not {shown(value)}")
    return None if value is UNREAD else value


def _some(value: Any) -> Any:
    if value == []:
        raise wrong("must name at least one")
    return _list(value)


def two(value: Any) -> Any:
    """Return a list of exactly two, untouched otherwise."""
    if isinstance(value, list) and len(value) != 2:
        raise wrong(f"must name exactly two, with a comma between, not {len(value)}")
    return _list(value)


def _mapping(value: Any) -> Any:
    if not isinstance(value, dict):
        raise wrong(f"must hold keys with values, such as key: value, not {shown(value)}")
    return value


Text = Annotated[str | None, value_of(_text)]
Prose = Annotated[str | None, value_of(_prose)]
End = Annotated[str | Unread | None, PlainValidator(_end)]
Pair = Annotated[tuple[Text, Text] | None, BeforeValidator(two)]
Ends = Annotated[tuple[End, End] | None, BeforeValidator(two)]
Words = Annotated[tuple[Text, ...] | None, BeforeValidator(_some)]
Items = Annotated[list[Any] | None, value_of(_list)]
Entries = Annotated[dict[str, Any] | None, value_of(_mapping)]

text: Callable[[Any], str | None] = TypeAdapter(Text).validate_python
state: Callable[[Any], bool | None] = TypeAdapter(Annotated[bool | None, value_of(_state)]).validate_python
pair: Callable[[Any], tuple[str | None, str | None] | None] = TypeAdapter(Pair).validate_python
ends: Callable[[Any], tuple[str | Unread | None, str | Unread | None] | None] = TypeAdapter(Ends).validate_python


class Shape(BaseModel):
    """An entry: which keys it can have, and which it needs."""

    model_config = ConfigDict(frozen=True, extra="forbid", alias_generator=lambda name: name.replace("_", "-"))
    needed: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def known(cls) -> tuple[str, ...]:
        """Return the keys that an entry can have."""
        return tuple(info.alias or name for name, info in cls.model_fields.items())


class JobShape(Shape):
    """The top of a job file."""

    needed = ("callpath", "equipment")
    callpath: Annotated[int | None, value_of(_version)] = None
    title: Prose = None
    note: Prose = None
    hz: Annotated[float | None, value_of(_hertz)] = None
    equipment: Entries = None
    cables: Entries = None
    landings: Entries = None
    splices: Entries = None
    jumpers: Items = None
    serves: Items = None
    contacts: Entries = None
    faults: Items = None


class EquipmentShape(Shape):
    """One device."""

    needed = ("part", "at")
    part: Text = None
    at: Text = None
    settings: Entries = None


class CableShape(Shape):
    """One cable."""

    needed = ("between", "conductors")
    between: Pair = None
    conductors: Words = None
    length: Annotated[float | None, value_of(_quantity(length_ft, "'45 ft' or '14 m'"))] = None
    awg: Annotated[int | None, value_of(_gauge)] = None
    stranded: Annotated[bool | None, value_of(_flag)] = None
    temperature: Annotated[float | None, value_of(_quantity(celsius, "'40 C' or '104 F'"))] = None


class FaultShape(Shape):
    """One line of ``faults``."""

    open: Text = None
    short: Pair = None
    dead: Text = None
    stuck: Text = None
    tripped: Text = None
    high_resistance: Text = None
    swapped: Pair = None
    missing: Pair = None
    loose: Pair = None
    extra: Pair = None
    shorted: Text = None
    burned: Text = None
    tapped: Text = None
    setting: Text = None
    ohms: Annotated[float | None, value_of(_above_nothing)] = None
    volts: Annotated[float | None, value_of(_above_nothing)] = None
    to: Annotated[Any, value_of(_scalar)] = None


def spoken(path: Path) -> str:
    """Return a path as a message names it: ``cables.wall.between[2]``."""
    words = ""
    for step in path:
        words += f"[{step + 1}]" if isinstance(step, int) else f".{shown(step)[1:-1]}"
    return words.removeprefix(".")


def read_shape(validate: Callable[[Any], T], data: Any, path: Path, document: Document) -> T | None:
    """Return a value in its shape, None where it has none, and note what is wrong with it.

    Parameters
    ----------
    validate : callable
        A pydantic validator of the shape.
    data : object
        The value as read.
    path : tuple
        Where in the document it stands.
    document : Document
        Knows the place of everything in it, and takes what is wrong.
    """
    try:
        return validate(data)
    except ValidationError as error:
        for item in error.errors(include_url=False, include_context=False, include_input=False):
            where = (*path, *item["loc"])
            gap = "" if item["msg"].startswith(":") else " "
            document.tell(where, f"{spoken(where)}{gap}{item['msg']}")
            data = _without(data, item["loc"])
    return None if data is UNREAD else validate(data)


def read_entry(shape: type[AnyShape], path: Path, data: Any, document: Document) -> AnyShape:
    """Return an entry in its shape; what is wrong in it is told and left out.

    A key that is nearly one that the entry lacks is told, and taken for it, so that what it holds is looked at too.
    """
    if not isinstance(data, dict):
        if data is not UNREAD:
            document.tell(path, f"{spoken(path)} must hold keys with values, not {shown(data)}", valid=shape.known())
        return shape()
    entry = {key: value for key, value in data.items() if key in shape.known() and value is not None}
    for key in [key for key in data if key not in shape.known()]:
        inside = f" in {spoken(path)}" if path else ""
        start = re.split("[: ]", key)[0]
        if start in shape.known() and start not in data:
            document.tell((*path, key), f"{shown(key)}{inside} lacks ': ' after {shown(start)}", key=True)
            entry[start] = UNREAD
            continue
        document.tell((*path, key), f"unknown key {shown(key)}{inside}", word=key, valid=shape.known(), key=True)
        free = [word for word in shape.known() if word not in data and word not in entry]
        if len(document.problems) > SHOWN:
            continue
        for meant in difflib.get_close_matches(key.casefold(), free, n=1, cutoff=_LIKENESS):
            entry[meant] = data[key]
            document.spelled[*path, meant] = key
    for key in shape.needed:
        if key not in entry and not (path == () and document.lost):
            document.tell(
                (*path, key) if key in data else path, f"{spoken(path) or 'the job'} has no '{key}'", key=True
            )
    return read_shape(shape.model_validate, entry, path, document) or shape()


def _without(data: Any, way: tuple[int | str, ...]) -> Any:
    """Return data without the value at a path: a key is left out, an item of a list is marked as told."""
    if not way:
        return UNREAD
    step, rest = way[0], way[1:]
    kept = copy.copy(data)
    if isinstance(kept, dict) and not rest:
        del kept[step]
    else:
        kept[step] = _without(kept[step], rest)
    return kept
