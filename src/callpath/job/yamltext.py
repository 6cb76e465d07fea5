"""YAML text to plain data that knows where every key and value was written; safe against hostile text.

The parser's events are walked without recursion, with limits on their number and depth. Job files need no anchors,
aliases or tags, so these are refused, and with them every bomb that can be made of them. Scalars are those of YAML
1.2: ``off``, ``on``, ``yes`` and ``Y`` are text.
"""

from __future__ import annotations

import enum
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml import events as yaml_event
from ruamel.yaml.error import YAMLError

from callpath.job.decode import ODD_IN_VALUE, Lines
from callpath.job.problems import Place, Problems, shown
from callpath.job.syntax import explain

__all__ = ["UNREAD", "Document", "Path", "Unread", "WrittenFloat", "WrittenInt", "parse"]

MAXIMUM_DEPTH = 16
# A cable with its landings takes about 40 events; fifteen thousand of them take less than a second.
MAXIMUM_EVENTS = 15_000

_NULL = re.compile(r"~|null|Null|NULL|")
_BOOLEAN = re.compile(r"true|True|TRUE|false|False|FALSE")
_WHOLE = re.compile(r"[-+]?[0-9]{1,18}|0o[0-7]{1,18}|0x[0-9a-fA-F]{1,15}")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NO_NUMBER = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")

# Broken text makes the parser raise some of these besides its own.
_PARSER_ERRORS = (YAMLError, ValueError, ArithmeticError, LookupError, AttributeError, TypeError, RecursionError)

Path = tuple[str | int, ...]
"""The way from the top of the document to a value: keys, and positions in lists."""


class Unread(enum.Enum):
    """Stands for a value whose problem has been told; nothing more is said about it."""

    UNREAD = "unread"


UNREAD = Unread.UNREAD


class WrittenInt(int):
    """A whole number that remembers how it was written, for where text was wanted."""

    written: str


class WrittenFloat(float):
    """A number that remembers how it was written, for where text was wanted."""

    written: str


@dataclass
class Document:
    """What a file says.

    ``lost`` names the top-level keys that could not be read to their end, so that nothing is called unknown which may
    well stand there. ``spelled`` tells how a key was written that was taken for the one at its path.
    """

    problems: Problems
    data: Any = UNREAD
    keys: dict[Path, Place] = field(default_factory=dict)
    values: dict[Path, Place] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    spelled: dict[Path, str] = field(default_factory=dict)

    def key(self, *path: str | int) -> Place:
        """Return the place of the last key of a path."""
        return self.keys.get(self._written(path)) or self.value(*path)

    def value(self, *path: str | int) -> Place:
        """Return the place of the value at a path, or of the nearest thing above it that was written."""
        written = self._written(path)
        while written and written not in self.values:
            written = written[:-1]
        return self.values.get(written) or Place(1, 1)

    def tell(self, path: Path, message: str, *, word: str = "", valid: Collection[str] = (), key: bool = False) -> None:
        """Note a problem of the value at a path, or of its key."""
        self.problems.add(self.key(*path) if key else self.value(*path), message, word=word, valid=valid)

    def _written(self, path: Path) -> Path:
        return tuple(self.spelled.get(path[: depth + 1], step) for depth, step in enumerate(path))


def parse(text: str, problems: Problems, sections: Collection[str]) -> Document | None:
    """Return what a text says, and note every problem of its YAML.

    A syntax error spoils only the top-level section that it stands in: from there on the text is read section by
    section, so that the error hides nothing after it.

    Parameters
    ----------
    text : str
        The whole file.
    problems : Problems
        Takes what is wrong.
    sections : collection of str
        The top-level keys that a job can have.

    Returns
    -------
    Document or None
        None where the text goes on beyond a limit.
    """
    lines = Lines(text)
    reading = _Reading(problems, lines)
    try:
        fault = reading.read(text, 0)
        if fault is not None:
            told = len(problems)
            pieces = list(_pieces(text, sections, lines, reading.last_key()))
            reading.forget(lines.place(pieces[0][0]))
            for start, piece, section in pieces:
                error = reading.read(piece, start) or reading.no_mapping()
                if error is not None:
                    problems.add(*error)
                    reading.document.lost.add(section)
            if len(problems) == told:
                problems.add(*fault)
                reading.document.lost.update(sections)
    except _TooMuchError as limit:
        problems.add(limit.place, f"{limit}; nothing from here on was read")
        return None
    return reading.document


def _pieces(text: str, sections: Collection[str], lines: Lines, start: Place) -> Iterator[tuple[int, str, str]]:
    """Cut a text where a section's key stands at the start of a line; yield start, text and key of those from a place on."""
    heads = list(re.finditer(rf"^({'|'.join(sections)})[ \t]*:(?=\s|$)", text, re.MULTILINE))
    cuts = [(0, ""), *((head.start(), head.group(1)) for head in heads), (len(text), "")]
    for (begin, section), (end, _) in pairwise(cuts):
        if end > begin and lines.place(end - 1) >= start:
            yield begin, text[begin:end], section


class _TooMuchError(Exception):
    def __init__(self, place: Place, message: str) -> None:
        super().__init__(message)
        self.place = place


@dataclass(slots=True)
class _Open:
    """A mapping or list that is still being filled; a mapping is ``waiting`` for the value of its ``key``, None if refused."""

    items: Any
    path: Path
    flow: bool
    key: str | None = None
    waiting: bool = False

    @property
    def wants_key(self) -> bool:
        return isinstance(self.items, dict) and not self.waiting


class _Reading:
    """A walk over the events of a text, or of its pieces one after the other, that fills one document."""

    def __init__(self, problems: Problems, lines: Lines) -> None:
        self.document = Document(problems)
        self._problems = problems
        self._lines = lines
        self._events_left = MAXIMUM_EVENTS
        self._start = 0
        self._root: Any = None
        self._stack: list[_Open] = []

    def read(self, text: str, start: int) -> tuple[Place, str] | None:
        """Read a text that begins at an index of the file; return the syntax error that ended it, if one did."""
        self._start, self._root, self._stack = start, None, []
        documents, event = 0, None
        try:
            for event in YAML(typ="safe", pure=True).parse(text):
                self._events_left -= 1
                place = self._at(event.start_mark.index)
                if self._events_left < 0:
                    raise _TooMuchError(place, "more keys and values than a job can have")
                if isinstance(event, yaml_event.DocumentStartEvent):
                    documents += 1
                    if event.version not in (None, (1, 2)):
                        self._problems.add(place, "job files are YAML 1.2; leave out the line that says otherwise")
                    if documents > 1:
                        self._problems.add(place, "a second document starts here; one file holds one job")
                        break
                else:
                    self._take(event, place)
        except _PARSER_ERRORS as error:
            ran_on = self._drop_half_read(event)
            return explain(error, text, ran_on, self._at)
        return None

    def no_mapping(self) -> tuple[Place, str] | None:
        """Return what is wrong with the piece just read where it held something other than keys with values."""
        if self._root is None or isinstance(self._root, dict):
            return None
        return self._at(0), f"{shown(self._root)} stands alone here, without a key"

    def last_key(self) -> Place:
        """Return the place of the top-level key that was being read when a syntax error came."""
        data = self.document.data
        return self.document.keys[next(reversed(data)),] if isinstance(data, dict) and data else Place(1, 1)

    def forget(self, start: Place) -> None:
        """Forget the top-level keys that stand at a place or after it."""
        if isinstance(data := self.document.data, dict):
            for key in [key for key in data if self.document.keys[key,] >= start]:
                del data[key]

    def _drop_half_read(self, last: Any) -> int | None:
        """Take out what a syntax error cut short, so that nothing is called missing from it or wrong in it.

        Returns the index of a text that ran on over several lines up to the error, where there was one: most likely its
        first line lacks a ':'.
        """
        if len(self._stack) > 1:
            root, section, *inner = self._stack
            if section.flow and section.path[0] in root.items:
                root.items[section.path[0]] = UNREAD
            elif inner and len(inner[0].path) > 1:
                del section.items[inner[0].path[1]]
        if not isinstance(last, yaml_event.ScalarEvent) or last.end_mark.line == last.start_mark.line or last.style:
            return None
        if self._stack and self._stack[-1].items:
            items = self._stack[-1].items
            items[next(reversed(items)) if isinstance(items, dict) else -1] = UNREAD
        return int(last.start_mark.index)

    def _at(self, index: int) -> Place:
        return self._lines.place(self._start + index)

    def _take(self, event: Any, place: Place) -> None:
        match event:
            case yaml_event.ScalarEvent():
                self._refuse_marks(event, place)
                if event.start_mark.index == event.end_mark.index and self._stack:
                    # A value that is not there has no place of its own; the parser gives it that of what comes next.
                    key = (*self._stack[-1].path, self._stack[-1].key or "")
                    place = self.document.keys.get(key, place)
                self._value(_scalar(event.value) if event.implicit[0] else event.value, place)
            case yaml_event.MappingStartEvent() | yaml_event.SequenceStartEvent():
                self._refuse_marks(event, place)
                if len(self._stack) >= MAXIMUM_DEPTH:
                    raise _TooMuchError(place, "nested deeper than a job can be")
                items: Any = {} if isinstance(event, yaml_event.MappingStartEvent) else []
                self._value(items, place, flow=event.flow_style)
            case yaml_event.MappingEndEvent() | yaml_event.SequenceEndEvent():
                self._stack.pop()
            case yaml_event.AliasEvent():
                word = shown(f"*{event.anchor}")
                self._problems.add(
                    place, f"{word} is an alias, which job files do not use; write out what it stands for"
                )
                self._value(UNREAD, place)
            case _:
                pass

    def _refuse_marks(self, event: Any, place: Place) -> None:
        if event.anchor is not None:
            self._problems.add(place, f"{shown(f'&{event.anchor}')} is an anchor, which job files do not use")
        if event.tag is not None:
            self._problems.add(place, f"{shown(str(event.tag))} is a tag, which job files do not use")

    def _value(self, value: Any, place: Place, *, flow: bool = False) -> None:
        if self._stack and self._stack[-1].wants_key:
            self._key(self._stack[-1], value, place)
            if isinstance(value, (dict, list)):
                self._stack.append(_Open(value, ("?",), flow))
            return
        if isinstance(value, str) and (odd := ODD_IN_VALUE.search(value)):
            self._problems.add(place, f"{shown(value)} holds {shown(odd.group())}, a character that no text here needs")
            value = UNREAD
        value, path = self._attach(value)
        if path or not self.document.values:
            self.document.values[path] = place
        if isinstance(value, (dict, list)):
            self._stack.append(_Open(value, path, flow))

    def _key(self, mapping: _Open, key: Any, place: Place) -> None:
        mapping.key, mapping.waiting = None, True
        if not isinstance(key, str):
            if key is not UNREAD:
                self._problems.add(place, f"a key must be text, not {shown(key)}; if it is text, write it in quotes")
        elif ODD_IN_VALUE.search(key):
            self._problems.add(place, f"the key {shown(key)} holds a character that no text here needs")
        elif key in mapping.items:
            first = self.document.keys[*mapping.path, key]
            self._problems.add(place, f"the key {shown(key)} stands here again; the first is on line {first.line}")
            # The second half of a section is read too, so that what refers to it is not called unknown.
            mapping.key = key if mapping.path == () else None
        else:
            self.document.keys[*mapping.path, key] = place
            mapping.key = key

    def _attach(self, value: Any) -> tuple[Any, Path]:
        """Put a value where it belongs; return it, or the half of it that stands there already, and its path."""
        if not self._stack:
            whole = self.document.data
            self._root = whole if isinstance(whole, dict) and isinstance(value, dict) else value
            if not isinstance(whole, dict):
                self.document.data = self._root
            return self._root, ()
        parent = self._stack[-1]
        if isinstance(parent.items, list):
            parent.items.append(value)
            return value, (*parent.path, len(parent.items) - 1)
        key, parent.key, parent.waiting = parent.key, None, False
        if key is None:
            return value, ("?",)
        if key not in parent.items:
            parent.items[key] = value
        elif not isinstance(value, (dict, list)) or type(value) is not type(parent.items[key]):
            return value, ("?",)
        return parent.items[key], (*parent.path, key)


def _scalar(text: str) -> Any:
    """Return what a plain scalar stands for in the core schema of YAML 1.2."""
    if _NULL.fullmatch(text):
        return None
    if _BOOLEAN.fullmatch(text):
        return text[0] in "tT"
    if _WHOLE.fullmatch(text):
        whole = WrittenInt(text, 0) if text[:2] in ("0o", "0x") else WrittenInt(text)
        whole.written = text
        return whole
    if _NUMBER.fullmatch(text) or _NO_NUMBER.fullmatch(text):
        number = WrittenFloat(text.lower().replace(".inf", "inf").replace(".nan", "nan"))
        number.written = text
        return number
    return text
