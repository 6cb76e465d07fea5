"""What a diagram is made of: boxes, terminals, lines and labels, each with its place on paper. Plain data, nothing drawn yet.

Lengths are points, 72 to the inch; x runs to the right and y down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from callpath.job.model import Job
from callpath.papers.text import ASCENT_EM, DESCENT_EM, width_em

__all__ = ["Block", "Diagram", "Frame", "Label", "Line", "Link", "Manner", "Point", "Rect", "Symbol", "Terminal"]

Point = tuple[float, float]
Manner = Literal["iec", "ansi"]
"""How symbols are drawn: as in IEC 60617, or as in IEEE 315 (ANSI Y32.2)."""


@dataclass(frozen=True)
class Rect:
    """A rectangle, by its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.y + self.height

    def overlaps(self, other: Rect) -> bool:
        """Tell whether the two share more than an edge."""
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom


@dataclass(frozen=True)
class Label:
    """A line of text.

    ``x``, ``y`` are where it stands on its base line: its start, middle or end by ``anchor``. ``whole`` is what it was cut from;
    ``of`` names what it belongs to.
    """

    text: str
    x: float
    y: float
    size: float
    anchor: str = "start"
    kind: str = "note"
    of: str = ""
    whole: str = ""
    bold: bool = False

    @property
    def width(self) -> float:
        """How much room the text takes."""
        return width_em(self.text) * self.size

    @property
    def rect(self) -> Rect:
        """The room that the text takes."""
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * self.width
        return Rect(left, self.y - ASCENT_EM * self.size, self.width, (ASCENT_EM + DESCENT_EM) * self.size)


@dataclass(frozen=True)
class Frame:
    """A location, drawn around all that hangs there."""

    location: str
    rect: Rect


@dataclass(frozen=True)
class Block:
    """What conductors land on: a piece of equipment with its strip, a splice, or a bundle of capped ends (by ``kind``)."""

    id: str
    kind: str
    location: str
    rect: Rect


@dataclass(frozen=True)
class Terminal:
    """One row of a block: a screw of the strip, a splice, or a capped end; conductors come to its left or right edge."""

    name: str
    block: str
    rect: Rect


@dataclass(frozen=True)
class Line:
    """A conductor or a jumper from the edge of one terminal to that of another, in straight pieces.

    ``points`` run from ``ends[0]`` to ``ends[1]``. ``colour`` is the conductor's, empty for a jumper.
    """

    name: str
    kind: str
    colour: str
    ends: tuple[str, str]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Link:
    """A bond inside equipment, from terminal to terminal."""

    name: str
    ends: tuple[str, str]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Symbol:
    """An element inside equipment: ``name`` is ``equipment.element``, ``at`` the middle of its symbol."""

    name: str
    kind: str
    at: Point


@dataclass(frozen=True)
class Diagram:
    """A job's wiring diagram; ``crossings`` counts how often a line crosses another.

    ``symbols`` are the elements inside equipment, where they were asked for, to be drawn in ``manner``.
    """

    job: Job
    width: float
    height: float
    frames: tuple[Frame, ...]
    blocks: tuple[Block, ...]
    terminals: Mapping[str, Terminal]
    lines: tuple[Line, ...]
    links: tuple[Link, ...]
    labels: tuple[Label, ...]
    crossings: int
    symbols: tuple[Symbol, ...] = ()
    manner: Manner | None = None
