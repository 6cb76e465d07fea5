"""From an arrangement to places on paper: every box, line and label, at the heights and in the lanes that were found for them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from callpath.job.model import Equipment, Job
from callpath.papers.arrange import GAP, HEAD, Arrangement, Row, Stack, heights
from callpath.papers.channel import Lanes
from callpath.papers.drawing import Block, Diagram, Frame, Label, Line, Link, Manner, Point, Rect, Symbol, Terminal
from callpath.papers.height import aligned, drawn_lanes
from callpath.papers.measure import MARGIN, PAPER_MEASURE, Measure
from callpath.papers.order import arranged
from callpath.papers.symbol import HALF
from callpath.papers.text import cut, plain, width_em
from callpath.parts.model import Element, fitted

__all__ = ["TEXT", "diagram", "placed", "symbol_kind"]

TEXT = PAPER_MEASURE.text
"""Size of the smallest text on paper [pt]."""
_PAD = 6.0
_GUTTER = 30.0
_NARROWEST = 84.0
_WITH_SYMBOLS = 136.0
_LONGEST_LABEL = 22
_LONGEST_COLOUR = 14


def diagram(
    job: Job,
    *,
    columns: int = 3,
    symbols: Manner | None = None,
    measure: Measure = PAPER_MEASURE,
    like: Diagram | None = None,
) -> Diagram:
    """Lay out a job's wiring as a diagram.

    Parameters
    ----------
    job : Job
        A checked job.
    columns : int
        How many columns of equipment stand side by side at most: 3 for paper and a wide screen, 1 for a telephone.
    symbols : {"iec", "ansi"}, optional
        Draw what stands inside each piece of equipment, in this manner.
    measure : Measure
        How tall rows and how large letters are; other than the paper's only in one column, without symbols.
    like : Diagram, optional
        An earlier drawing in as many columns: what stands in both keeps its order, unless that costs many crossings.

    Returns
    -------
    Diagram
        Boxes, terminals, lines and labels with their places [pt]; no two labels overlap, no line runs through a block or upon
        another line.
    """
    room = {id_: 2 * len(_elements(device)) for id_, device in job.equipment.items()} if symbols else {}
    return placed(job, arranged(job, columns, room, like), symbols, measure)


def placed(
    job: Job, arrangement: Arrangement, symbols: Manner | None = None, measure: Measure = PAPER_MEASURE
) -> Diagram:
    """Lay out a job in the order of an arrangement."""
    top = aligned(arrangement)
    pins = heights(arrangement, top)
    found = drawn_lanes(arrangement, pins)
    if not all(channel.sound for channel, _ in found.values()):
        # Lines from both sides want the same height and would lie on one another: every other column moves by half a row.
        top = {row: y + 0.5 * (row.column % 2) for row, y in top.items()}
        pins = heights(arrangement, top)
        found = drawn_lanes(arrangement, pins)
    return _Drawn(job, arrangement, top, pins, found, symbols, measure).diagram()


class _Drawn:
    """A diagram being drawn, column by column from the left."""

    def __init__(
        self,
        job: Job,
        arrangement: Arrangement,
        top: dict[Row, float],
        pins: NDArray[np.float64],
        found: dict[int, tuple[Lanes, list[int]]],
        manner: Manner | None,
        measure: Measure,
    ) -> None:
        self.job, self.arrangement, self.top, self.pins, self.found = job, arrangement, top, pins, found
        self.manner, self.measure = manner, measure
        self._y = measure.heights((row_top, row.height) for row, row_top in top.items())
        self.symbols: list[Symbol] = []
        self.frames: list[Frame] = []
        self.blocks: list[Block] = []
        self.terminals: dict[str, Terminal] = {}
        self.links: list[Link] = []
        self.labels: list[Label] = []
        self.lane_x: dict[int, float] = {}
        self.edges: dict[int, tuple[float, float]] = {}

    def diagram(self) -> Diagram:
        x = MARGIN
        last = len(self.arrangement.columns)
        for channel in range(last + 1):
            x = self._channel(channel, x, outer=channel in (0, last))
            if channel < last:
                x = self._column(channel, x)
        lines = [self._line(name) for name in self.arrangement.ways]
        for line in lines:
            self._end_labels(line)
        bottom = max((frame.rect.bottom for frame in self.frames), default=0.0)
        bottom = max([bottom, *(y for line in lines for _, y in line.points)])
        return Diagram(
            self.job,
            x + MARGIN,
            bottom + MARGIN,
            tuple(self.frames),
            tuple(self.blocks),
            self.terminals,
            tuple(lines),
            tuple(self.links),
            tuple(self.labels),
            sum(channel.crossings for channel, _ in self.found.values()),
            tuple(self.symbols),
            self.manner,
        )

    def _channel(self, channel: int, x: float, *, outer: bool) -> float:
        """Give every lane of a channel its place and return where the channel ends."""
        found, chosen = self.found[channel]
        if not chosen:
            return x if outer else x + _GUTTER
        runs = self.arrangement.runs
        zone = [0.0, 0.0]
        for i in chosen:
            for end in (0, 1):
                if self._text(runs[i].line) and "|" not in runs[i].rows[end].name:
                    zone[1 - runs[i].sides[end]] = max(
                        zone[1 - runs[i].sides[end]], width_em(self._text(runs[i].line)) * self.measure.text + 6.5
                    )
        start = x + zone[0]
        for i, lane in zip(chosen, found.lane, strict=True):
            if lane is not None:
                self.lane_x[i] = start + self.measure.lane * (lane + 0.75)
        return start + self.measure.lane * (found.count + 0.5) + zone[1]

    def _column(self, column: int, x: float) -> float:
        groups = self.arrangement.columns[column]
        width = _NARROWEST if self.manner is None else _WITH_SYMBOLS
        for group in groups:
            for stack in group.stacks:
                width = max(width, *(size + 12 for size in self._wants(stack)))
        width = min(width, self.measure.widest)
        left = x + _PAD
        self.edges[column] = (left, left + width)
        for group in groups:
            rects = [self._stack(stack, group.location or "", left, width) for stack in group.stacks]
            if group.location is None:
                continue
            above = rects[0].y - GAP * self.measure.gap
            rect = Rect(x, above - 1, width + 2 * _PAD, rects[-1].bottom - above + 1 + self.measure.gap / 2)
            self.frames.append(Frame(group.location, rect))
            size = min(self.measure.letters, self.measure.gap - 2)
            text = cut(group.location, (width + _PAD) / size)
            base = above + self.measure.gap - 3.5
            label = Label(text, x + _PAD, base, size, kind="location", of=group.location, bold=True)
            self.labels.append(_whole(label, group.location))
        return x + width + 2 * _PAD

    def _wants(self, stack: Stack) -> list[float]:
        sizes = [width_em(self._letters(stack, row)) * self.measure.letters for row in stack.rows]
        if stack.kind == "equipment":
            part = self._part(self.job.equipment[stack.id])
            sizes += [width_em(stack.id) * self.measure.name, width_em(part) * self.measure.text]
        return sizes

    def _stack(self, stack: Stack, location: str, left: float, width: float) -> Rect:
        first, last = stack.rows[0], stack.rows[-1]
        y = self._y(self.top[first] - HEAD[stack.kind])
        rect = Rect(left, y, width, self._y(self.top[last] + last.height + stack.inside) - y)
        if stack.kind == "pass":
            return rect
        self.blocks.append(Block(stack.id, stack.kind, location, rect))
        for row in stack.rows:
            y_row = self._y(self.top[row])
            at = Rect(left, y_row, width, self._y(self.top[row] + row.height) - y_row)
            self.terminals[row.name] = Terminal(row.name, stack.id, at)
            text = self._letters(stack, row)
            # A splice's long name is written smaller before it is cut.
            size = max(self.measure.text, min(self.measure.letters, (width - 4) / width_em(text)))
            label = Label(
                cut(text, (width - 4) / size),
                left + width / 2,
                at.y + at.height / 2 + 0.36 * size,
                size,
                "middle",
                "terminal",
                row.name,
                bold=stack.kind == "equipment",
            )
            self.labels.append(_whole(label, text))
        if stack.kind == "equipment":
            device = self.job.equipment[stack.id]
            for text, down, size, bold in (
                (device.id, self.measure.gap - 2, self.measure.name, True),
                (self._part(device), 2 * self.measure.gap - 4, self.measure.text, False),
            ):
                label = Label(
                    cut(text, (width - 8) / size), left + 4, y + down, size, "start", "block", device.id, bold=bold
                )
                self.labels.append(_whole(label, text))
            self.links += self._bonds(device, left + width)
            if self.manner is not None:
                self._inside(device, left, width, self._y(self.top[last] + last.height))
        return rect

    def _inside(self, device: Equipment, left: float, width: float, y: float) -> None:
        """Place the elements of a piece of equipment below its strip, each between the names of its two points."""
        text_size = self.measure.text
        for k, (name, element) in enumerate(_elements(device)):
            middle, base = left + width / 2, y + 2 * self.measure.gap * k + 9
            kind = symbol_kind(element)
            full = f"{device.id}.{name}"
            self.symbols.append(Symbol(full, kind, (middle, base)))
            room = (width / 2 - HALF - 6) / text_size
            for point, x, anchor in ((0, left + 4, "start"), (1, left + width - 4, "end")):
                text = element.between[point]
                label = Label(cut(text, room), x, base + 0.36 * text_size, text_size, anchor, "point", full)
                self.labels.append(_whole(label, text))
            title = element.title if element.title and width_em(element.title) * text_size <= width - 8 else name
            label = Label(cut(title, (width - 8) / text_size), middle, base + 12, text_size, "middle", "element", full)
            self.labels.append(_whole(label, element.title or title))

    def _part(self, device: Equipment) -> str:
        return device.part.part if self.measure.role else device.part.part.partition("/")[2]

    def _letters(self, stack: Stack, row: Row) -> str:
        if stack.kind != "equipment":
            return row.text
        bonded = [
            one if row.text == two else two
            for one, two in _bonds(self.job.equipment[stack.id])
            if row.text == "chassis" and row.text in (one, two)
        ]
        return f"{row.text} = {bonded[0]}" if bonded else row.text

    def _bonds(self, device: Equipment, right: float) -> list[Link]:
        links = []
        for k, pair in enumerate(_bonds(device)):
            ends = (f"{device.id}.{pair[0]}", f"{device.id}.{pair[1]}")
            x = right - 7 - 6 * k
            points = tuple((x, self.terminals[end].rect.y + self.terminals[end].rect.height / 2) for end in ends)
            links.append(Link(f"{device.id}: {pair[0]} bonded to {pair[1]}", ends, points))
        return links

    def _line(self, name: str) -> Line:
        points: list[Point] = []
        way = self.arrangement.ways[name]
        for i in way:
            run = self.arrangement.runs[i]
            (one, two), (a, b) = run.rows, run.sides
            ya, yb = (self._y(float(self.pins[i, end])) for end in (0, 1))
            xa, xb = self.edges[one.column][a], self.edges[two.column][b]
            bend = self.lane_x.get(i)
            points += [(xa, ya), *([(bend, ya), (bend, yb)] if bend is not None else []), (xb, yb)]
        ends = (self.arrangement.runs[way[0]].rows[0].name, self.arrangement.runs[way[-1]].rows[1].name)
        conductor = name in self.job.landings
        colour = name.partition(".")[2] if conductor else ""
        return Line(name, "conductor" if conductor else "jumper", colour, ends, _corners(points))

    def _text(self, line: str) -> str:
        """Return what is written at both ends of a line: the cable's name and the colour's."""
        if line not in self.job.landings:
            return "jumper"
        cable, _, colour = line.partition(".")
        # At least one letter of either is always left.
        colour = cut(colour, _LONGEST_COLOUR * width_em("m"))
        room = _LONGEST_LABEL * width_em("m") - width_em(colour) - width_em(" ")
        return f"{cut(cable, room)} {colour}"

    def _end_labels(self, line: Line) -> None:
        text = self._text(line.name)
        whole = line.name.replace(".", " ", 1) if line.kind == "conductor" else "jumper"
        for (x, y), (towards, _) in (line.points[:2], line.points[:-3:-1]):
            right = towards > x
            at = x + _PAD + 3 if right else x - _PAD - 3
            label = Label(text, at, y - 3.4, self.measure.text, "start" if right else "end", "conductor", line.name)
            self.labels.append(_whole(label, whole))


def _whole(label: Label, text: str) -> Label:
    return label if plain(text) == label.text else Label(**{**label.__dict__, "whole": plain(text)})


def _elements(device: Equipment) -> list[tuple[str, Element]]:
    """Return what a person would name of what stands inside a piece of equipment, with its settings."""
    elements = device.part.elements.items()
    return [(name, each) for name, each in elements if not each.hidden and fitted(each.when, device.settings)]


def symbol_kind(element: Element) -> str:
    """Return the symbol of an element; a contact's is ``break`` where it is closed while nothing drives it, else ``make``."""
    if element.kind != "contact":
        return element.kind
    rests = element.rest == "closed" if element.closed_when is None else element.closed_when.negated is not None
    return "break" if rests else "make"


def _bonds(device: Equipment) -> list[tuple[str, str]]:
    """Return the pairs of terminals that a piece of equipment joins inside by a link."""
    terminals = device.part.terminals
    return [
        element.between
        for element in device.part.elements.values()
        if element.kind == "link" and fitted(element.when, device.settings) and set(element.between) <= set(terminals)
    ]


def _corners(points: Sequence[Point]) -> tuple[Point, ...]:
    """Return a line's points without those that it passes straight."""
    kept: list[Point] = []
    for point in points:
        if kept and point == kept[-1]:
            continue
        if len(kept) > 1 and (kept[-2][0] == kept[-1][0] == point[0] or kept[-2][1] == kept[-1][1] == point[1]):
            kept.pop()
        kept.append(point)
    return tuple(kept)
