"""Giving something in a job file another name, wherever it is named; everything else of the text stays."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from ruamel.yaml.nodes import MappingNode, ScalarNode

from callpath.job.layout import Layout
from callpath.job.write import flow

__all__ = ["KINDS", "renamed"]

KINDS = ("equipment", "cable", "splice", "location")
"""What can be given another name."""
_SECTIONS = {"equipment": "equipment", "cable": "cables", "splice": "splices"}


def renamed(text: str, kind: str, old: str, new: str) -> str:
    """Return a sound job file's text in which one thing is called otherwise; that the name is free is for the caller to check.

    Parameters
    ----------
    text : str
        A sound job file.
    kind : str
        One of ``KINDS``.
    old, new : str
        Its name so far, and from now on.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    text = text.removeprefix(mark)
    layout = Layout(text)
    pieces, at = [mark], 0
    for node in sorted(_named(layout, kind, old), key=lambda node: int(node.start_mark.index)):
        word = new + str(node.value)[len(old) :]
        start = int(node.start_mark.index)
        end = start + len(text[start : node.end_mark.index].rstrip())
        pieces += [text[at:start], json.dumps(word, ensure_ascii=False) if node.style == '"' else flow(word)]
        at = end
    return "".join([*pieces, text[at:]])


def _named(layout: Layout, kind: str, old: str) -> Iterator[ScalarNode]:
    """Yield every scalar that is the name, or begins with it and a dot where it stands for what belongs to it."""
    sections = {key.value: value for key, value in layout.root.value}

    def keys(section: str) -> list[ScalarNode]:
        return _keys(sections.get(section))

    def values(*names: str) -> list[ScalarNode]:
        return [node for name in names for node in _values(sections.get(name))]

    if kind == "location":
        spots = [node for name in ("equipment", "cables") for node in _places(sections.get(name))]
        yield from (node for node in (*spots, *values("splices")) if node.value == old)
        return
    yield from (node for node in keys(_SECTIONS[kind]) if node.value == old)
    if kind == "splice":
        yield from (node for node in values("landings") if node.value == old)
        return
    owned = [*values("faults"), *(keys("landings") if kind == "cable" else values("landings", "jumpers"))]
    owned += keys("contacts") if kind == "equipment" else []
    yield from (node for node in owned if str(node.value).startswith(f"{old}."))


def _keys(node: Any) -> list[ScalarNode]:
    return [key for key, _ in node.value] if isinstance(node, MappingNode) else []


def _values(node: Any) -> Iterator[ScalarNode]:
    """Yield every scalar of a collection that is not a key."""
    if isinstance(node, ScalarNode):
        yield node
    elif isinstance(node, MappingNode):
        for _, value in node.value:
            yield from _values(value)
    elif node is not None:
        for item in node.value:
            yield from _values(item)


def _places(section: Any) -> Iterator[ScalarNode]:
    """Yield where devices are, or where cables run."""
    for _, entry in section.value if isinstance(section, MappingNode) else ():
        for key, value in entry.value:
            if key.value in ("at", "between"):
                yield from _values(value)
