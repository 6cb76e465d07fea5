"""A test marked in the wiring diagram: where the leads go, what is clamped, lifted or jumped, which call, and where to look.

Every mark says in words what it is, so that it is read without colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from callpath.calls.closing import call_rules, thermostats
from callpath.faults.asked import Check
from callpath.papers.drawing import Diagram, Label, Point, Rect, Terminal
from callpath.papers.text import width_em

__all__ = ["Plate", "clamped", "plates"]

_SIZE, _LARGEST = 7.0, 10.0


@dataclass(frozen=True)
class Plate:
    """A word on a plate. ``kind`` is ``red``, ``black``, ``jump``, ``lift``, ``clamp``, ``call`` or ``look``."""

    kind: str
    rect: Rect
    label: Label


def plates(diagram: Diagram, test: Check) -> list[Plate]:
    """Return what is written into a diagram to show where a test is made.

    Parameters
    ----------
    diagram : Diagram
        The job's diagram.
    test : Check
        A test of the same job.
    """
    found = list(_at_terminals(diagram, test))
    size = _size(min([terminal.rect.height for terminal in diagram.terminals.values()], default=0.0))
    if test.conductor and (spot := _middle(diagram, test.conductor)):
        found.append(_plate("clamp", "amps", *spot, size))
    corner = {block.id: block.rect for block in diagram.blocks}
    if test.powered:
        for stat in thermostats(diagram.job):
            if test.call == "off" or test.call in call_rules(stat):
                words = "no call" if test.call == "off" else f"calls {test.call}"
                found.append(_flush("call", words, corner[stat.id].right - 2, corner[stat.id].y, size))
    looked = dict.fromkeys(name.partition(".")[0] for name in test.functions)
    found += [_flush("look", "look here", corner[id_].right - 2, corner[id_].bottom, size) for id_ in looked]
    return found


def clamped(test: Check) -> frozenset[str]:
    """Return the lines of what a test is about: clamped, or lifted, conductors and jumpers."""
    lifted = [f"jumper:{name}" if "+" in name else name for name in test.lifted]
    return frozenset([*([test.conductor] if test.conductor else []), *lifted])


def _at_terminals(diagram: Diagram, test: Check) -> Iterator[Plate]:
    """Yield a plate for each lead, and for each end of a jumper, at the terminal where it goes."""
    wanted = [("red", "red"), ("black", "black")] if test.between else []
    names = list(test.between or ())
    if test.jumped:
        wanted += [("jump", "jump"), ("jump", "jump")]
        names += test.jumped
    beside = _Beside(diagram)
    measured = {_sits(diagram, name) for name in test.between or ()}
    for line in diagram.lines:
        if line.name in clamped(test) - {test.conductor}:
            # It is taken off whichever of the measured terminals it sits on, so the word stands on the line beside that.
            both = zip(line.ends, (line.points, line.points[::-1]), strict=True)
            yield from (beside.plate("lift", "lift", points) for end, points in both if end in measured)
    taken: set[str] = set()
    for (kind, word), name in zip(wanted, names, strict=True):
        if (points := _end_of(diagram, name)) is not None:
            # The bare end of a conductor, in the hand: out on its line, off the terminal.
            yield beside.plate(kind, word, points)
            continue
        terminal = _terminal(diagram, name)
        if terminal is None:
            yield _inside(diagram, kind, word, name)
            continue
        at = terminal.rect
        size = _size(at.height)
        # What comes second to a terminal stands at its left edge, so that its letters stay free.
        y = at.y + at.height / 2
        yield (
            _flush(kind, word, at.right - 2, y, size)
            if terminal.name not in taken
            else _start(kind, word, at.x + 2, y, size)
        )
        taken.add(terminal.name)


def _size(row: float) -> float:
    """Return the size of letters beside rows of a height."""
    return min(_LARGEST, max(_SIZE, 0.4 * row))


def _terminal(diagram: Diagram, name: str) -> Terminal | None:
    """Return where a point is drawn: a terminal or splice itself, a conductor's end where it sits."""
    return diagram.terminals.get(_sits(diagram, name))


def _sits(diagram: Diagram, name: str) -> str:
    """Return the terminal that a point is on: itself, or where a conductor's end is landed."""
    conductor, _, side = name.partition("@")
    ends = diagram.job.landings.get(conductor)
    return (ends[int(side) - 1] if ends and side in ("1", "2") else None) or name


def _inside(diagram: Diagram, kind: str, word: str, name: str) -> Plate:
    """Return the plate of a lead on something inside equipment, such as a fuse: on the edge of its block, with its name."""
    device, _, inner = name.partition(".")
    at = next(block.rect for block in diagram.blocks if block.id == device)
    size = _size(min(terminal.rect.height for terminal in diagram.terminals.values()))
    told, edge = f"{word}: {inner}", at.y if kind == "red" else at.bottom
    return _start(kind, told, at.x + 2, edge, size)


def _end_of(diagram: Diagram, name: str) -> Sequence[Point] | None:
    """Return the line of a landed conductor's end, from that end on; None for any other point."""
    conductor, _, side = name.partition("@")
    ends = diagram.job.landings.get(conductor)
    if not ends or side not in ("1", "2") or ends[int(side) - 1] is None:
        return None
    line = next(line for line in diagram.lines if line.name == conductor)
    return line.points if line.ends[0] == ends[int(side) - 1] else line.points[::-1]


class _Beside:
    """Places plates on lines beside the terminals where these begin, one after the other."""

    def __init__(self, diagram: Diagram) -> None:
        self.width = diagram.width
        self.placed: list[Rect] = []

    def plate(self, kind: str, word: str, points: Sequence[Point]) -> Plate:
        """Return a plate on a line, as near to its beginning as there is room."""
        (x, y), (next_x, _) = points[:2]
        width = width_em(word) * _SIZE + 5
        away = 1 if next_x > x else -1
        while True:
            found = _plate(kind, word, x + (width / 2 + 1) * away, y, _SIZE)
            met = [rect for rect in self.placed if rect.overlaps(found.rect)]
            if not met:
                break
            x = max(rect.right for rect in met) if away > 0 else min(rect.x for rect in met)
        self.placed.append(found.rect)
        return found


def _middle(diagram: Diagram, conductor: str) -> Point | None:
    """Return the middle of the longest piece of a line."""
    points = next((line.points for line in diagram.lines if line.name == conductor), ())
    pieces = sorted(pairwise(points), key=lambda ends: -(abs(ends[0][0] - ends[1][0]) + abs(ends[0][1] - ends[1][1])))
    return ((pieces[0][0][0] + pieces[0][1][0]) / 2, (pieces[0][0][1] + pieces[0][1][1]) / 2) if pieces else None


def _flush(kind: str, word: str, right: float, y: float, size: float) -> Plate:
    return _plate(kind, word, right - (width_em(word) * size + 5) / 2, y, size)


def _start(kind: str, word: str, left: float, y: float, size: float) -> Plate:
    return _plate(kind, word, left + (width_em(word) * size + 5) / 2, y, size)


def _plate(kind: str, word: str, x: float, y: float, size: float) -> Plate:
    width, height = width_em(word) * size + 5, 1.4 * size
    rect = Rect(x - width / 2, y - height / 2, width, height)
    return Plate(kind, rect, Label(word, x, y + 0.35 * size, size, "middle", "probe", bold=True))
