"""Where everything of a sound job file stands in its text: each key and item, where it starts and where it ends."""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode
from ruamel.yaml.tokens import BlockEntryToken, ValueToken

from callpath.parts.model import SettingValue

__all__ = ["Entry", "Layout", "says"]

_BREAK = re.compile(r"\r\n?|\n")
_NULLS = ("", "~", "null", "Null", "NULL")


@dataclass(frozen=True)
class Entry:
    """A key with its value, or an item of a list (``name`` is then empty).

    It starts at ``start``; its colon or dash, where it has one, ends at ``after``; it ends at ``end``, before any comment.
    """

    name: str
    value: Any
    start: int
    after: int
    end: int
    has_mark: bool = True

    @property
    def empty(self) -> bool:
        """Whether nothing at all is written for the value."""
        return self.end == self.after and isinstance(self.value, ScalarNode)

    @property
    def in_flow(self) -> bool:
        """Whether the value is a collection in brackets."""
        return bool(getattr(self.value, "flow_style", False))

    @property
    def value_start(self) -> int:
        """Where the value starts."""
        return self.after if self.empty else int(self.value.start_mark.index)


class Layout:
    """A text of one YAML document that holds a mapping, with the place of everything in it."""

    def __init__(self, text: str) -> None:
        self.text = text
        tokens = list(YAML(typ="safe", pure=True).scan(text))
        self._dashes = [token.start_mark for token in tokens if isinstance(token, BlockEntryToken)]
        self._colons = [token.end_mark.index for token in tokens if isinstance(token, ValueToken)]
        self.root: Any = YAML(typ="safe", pure=True).compose(text)
        found = _BREAK.search(text)
        self.line_break = found.group() if found else "\n"

    def entries(self, node: Any) -> list[Entry]:
        """Return the entries of a collection in the order of the text; none for anything else."""
        if isinstance(node, MappingNode):
            ends = [*(key.start_mark.index for key, _ in node.value[1:]), node.end_mark.index]
            return [self._pair(key, value, end) for (key, value), end in zip(node.value, ends, strict=False)]
        if not isinstance(node, SequenceNode):
            return []
        if node.flow_style:
            starts = [(item.start_mark.index, item.start_mark.index) for item in node.value]
        else:
            column, first, last = node.start_mark.column, node.start_mark.index, node.end_mark.index
            dashes = [mark.index for mark in self._dashes if mark.column == column and first <= mark.index <= last]
            starts = [(dash, dash + 1) for dash in dashes[: len(node.value)]]
        return [
            Entry("", item, start, after, self._end(item, after))
            for item, (start, after) in zip(node.value, starts, strict=True)
        ]

    def named(self, node: Any) -> dict[str, Entry]:
        """Return the entries of a mapping by their keys."""
        return {entry.name: entry for entry in self.entries(node)}

    def line(self, index: int) -> tuple[int, int]:
        """Return where the line of an index starts, and where the next one does."""
        start = max(self.text.rfind("\n", 0, index), self.text.rfind("\r", 0, index)) + 1
        found = _BREAK.search(self.text, index)
        return start, found.end() if found else len(self.text)

    def on_one_line(self, start: int, end: int) -> bool:
        """Tell whether a stretch of the text holds no line break."""
        return _BREAK.search(self.text, start, end) is None

    def _pair(self, key: Any, value: Any, bound: int) -> Entry:
        at = bisect_left(self._colons, key.end_mark.index)
        has_colon = at < len(self._colons) and self._colons[at] <= bound
        after = self._colons[at] if has_colon else key.end_mark.index
        return Entry(key.value, value, key.start_mark.index, after, self._end(value, after), has_colon)

    def _end(self, value: Any, after: int) -> int:
        """Return where a value ends; the library calls the start of what follows the end of a block."""
        start, end = value.start_mark.index, value.end_mark.index
        if isinstance(value, ScalarNode):
            # What is empty is said to stand where the next thing stands.
            return after if start == end else int(start) + len(self.text[start:end].rstrip())
        return int(end) if value.flow_style else max(entry.end for entry in self.entries(value))


def says(node: Any, value: SettingValue) -> bool:
    """Tell whether a scalar says a value already, whatever way it is written."""
    if not isinstance(node, ScalarNode):
        return False
    plain, written = node.style is None, str(node.value)
    if value is None or (plain and written in _NULLS):
        return value is None and plain and written in _NULLS
    if isinstance(value, bool):
        return plain and written.casefold() == str(value).casefold()
    if isinstance(value, str):
        return written == value and not (plain and written.casefold() in ("true", "false"))
    try:
        return plain and float(written) == value
    except ValueError:
        return False
