"""Measuring a diagram with nothing but its coordinates: what overlaps, what runs through what, what crosses."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from callpath.papers.drawing import Diagram, Label, Line, Point, Rect

Piece = tuple[Point, Point]


def pieces(line: Line) -> list[Piece]:
    """The straight pieces of a line, each from its left or upper end."""
    return [(min(a, b), max(a, b)) for a, b in itertools.pairwise(line.points)]


def level(piece: Piece) -> bool:
    return piece[0][1] == piece[1][1]


def inside(piece: Piece, rect: Rect) -> bool:
    """Whether a piece shares more than an edge with a rectangle."""
    (ax, ay), (bx, by) = piece
    return ax < rect.right and rect.x < bx + (ax == bx) * 1e-9 and ay < rect.bottom and rect.y < by + (ay == by) * 1e-9


def apart(one: Rect, two: Rect) -> bool:
    return not one.overlaps(two)


def touching(one: Piece, two: Piece) -> bool:
    """Whether two pieces of the same direction lie on one another or meet end to end."""
    if level(one) != level(two):
        return False
    along = 0 if level(one) else 1
    if one[0][1 - along] != two[0][1 - along]:
        return False
    return one[0][along] <= two[1][along] and two[0][along] <= one[1][along]


def crossing(one: Piece, two: Piece) -> bool:
    """Whether a level and an upright piece meet, ends included."""
    if level(one) == level(two):
        return False
    flat, upright = (one, two) if level(one) else (two, one)
    return flat[0][0] <= upright[0][0] <= flat[1][0] and upright[0][1] <= flat[0][1] <= upright[1][1]


def crossings(diagram: Diagram) -> int:
    """How often lines cross, counted piece by piece."""
    return sum(
        crossing(a, b)
        for one, two in itertools.combinations(diagram.lines, 2)
        for a in pieces(one)
        for b in pieces(two)
    )


def corner(label: Label) -> str:
    return f"'{label.text}' of {label.of}"


def wrongs(diagram: Diagram) -> Iterator[str]:
    """Everything about a diagram that should not be so, in words."""
    sheet = Rect(0, 0, diagram.width, diagram.height)
    for label in diagram.labels:
        at = label.rect
        if at.x < sheet.x or at.y < sheet.y or at.right > sheet.right or at.bottom > sheet.bottom:
            yield f"{corner(label)} leaves the sheet"
        if label.size < 7:
            yield f"{corner(label)} is smaller than 7 pt"
    for one, two in itertools.combinations(diagram.labels, 2):
        if one.rect.overlaps(two.rect):
            yield f"{corner(one)} overlaps {corner(two)}"
    for one, two in itertools.combinations(diagram.blocks, 2):
        if one.rect.overlaps(two.rect):
            yield f"block {one.id} overlaps block {two.id}"
    for one, two in itertools.combinations(diagram.frames, 2):
        if one.rect.overlaps(two.rect):
            yield f"location {one.location} overlaps location {two.location}"
    for block in diagram.blocks:
        for label in diagram.labels:
            if label.kind in ("conductor", "location") and label.rect.overlaps(block.rect):
                yield f"{corner(label)} lies on block {block.id}"
    for line in diagram.lines:
        yield from _line_wrongs(diagram, line)
    for one, two in itertools.combinations(diagram.lines, 2):
        if any(touching(a, b) for a in pieces(one) for b in pieces(two)):
            yield f"{one.name} and {two.name} lie on one another"
    if crossings(diagram) != diagram.crossings:
        yield f"{crossings(diagram)} crossings, but {diagram.crossings} are told"


def _line_wrongs(diagram: Diagram, line: Line) -> Iterator[str]:
    for (x, y), end in ((line.points[0], line.ends[0]), (line.points[-1], line.ends[1])):
        at = diagram.terminals[end].rect
        if not (x in (at.x, at.right) and at.y < y < at.bottom):
            yield f"{line.name} does not end at {end}"
    for a, b in itertools.pairwise(line.points):
        if (a[0] == b[0]) == (a[1] == b[1]):
            yield f"{line.name} has a piece that is neither level nor upright"
    for piece in pieces(line):
        for block in diagram.blocks:
            if inside(piece, block.rect):
                yield f"{line.name} runs through block {block.id}"
        for label in diagram.labels:
            if inside(piece, label.rect):
                yield f"{line.name} runs through {corner(label)}"
    if sum(label.of == line.name and label.kind == "conductor" for label in diagram.labels) != 2:
        yield f"{line.name} is not named at both ends"
