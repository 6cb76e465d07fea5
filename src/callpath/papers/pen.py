"""The pen that all drawings share: elements of an SVG tree, labels with their measured length, paragraphs."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as ET

from callpath.papers.drawing import Label, Point
from callpath.papers.imprint import CAUTIONS, Imprint
from callpath.papers.text import wrapped

__all__ = [
    "EDGE",
    "FONT",
    "INK",
    "PAPER",
    "SMALL",
    "Lines",
    "add",
    "cautions",
    "headed",
    "height",
    "paragraph",
    "sheet",
    "way",
    "write",
]

FONT = "DejaVu Sans Mono, Menlo, Consolas, monospace"
INK = "#1a1a1a"
PAPER = "#ffffff"
EDGE = 8.0
SMALL = 7.5
Lines = list[tuple[str, float, bool]]
"""Lines of text with their size and whether they are bold."""


def sheet(width: float, height: float) -> ET.Element:
    """Return an empty white drawing of a size in points."""
    return ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {width:g} {height:g}",
            "width": f"{width:g}pt",
            "height": f"{height:g}pt",
            "role": "img",
            "font-family": FONT,
        },
    )


def headed(imprint: Imprint, what: str, width: float) -> Lines:
    """Return the lines above a drawing that goes out on its own: title, what it is, date and revision."""
    room = width - 2 * EDGE
    lines: Lines = [(line, 12.0, True) for line in wrapped(imprint.title, room / 12, 4)]
    return lines + [(line, SMALL, False) for line in wrapped(f"{what}, {imprint.line}", room / SMALL, 3)]


def cautions(width: float) -> Lines:
    """Return the cautions that stand below it."""
    return [(line, SMALL, False) for each in CAUTIONS for line in wrapped(each, (width - 2 * EDGE) / SMALL, 12)]


def height(lines: Lines) -> float:
    """Return how much room some lines take [pt]."""
    return sum(size * 1.35 for _, size, _ in lines) + (EDGE if lines else 0.0)


def paragraph(root: ET.Element, lines: Lines, y: float) -> None:
    """Write lines one below the other, from a height."""
    y += EDGE / 2
    for text, size, bold in lines:
        y += size * 1.35
        write(root, Label(text, EDGE, y - 0.3 * size, size, bold=bold))


def add(parent: ET.Element, tag: str, text: str = "", /, **attributes: object) -> ET.Element:
    """Add an element; numbers are written with two decimals at most."""

    def written(value: object) -> str:
        return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)

    made = ET.SubElement(parent, tag, {key.replace("_", "-"): written(value) for key, value in attributes.items()})
    if text:
        made.text = text
    return made


def way(points: Sequence[Point]) -> str:
    """Return points as a path."""
    return "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in points)


def write(root: ET.Element, label: Label, ink_of: str = INK) -> None:
    """Write a label; whatever face it is shown in, it takes the room that it was measured to take."""
    made = add(
        root,
        "text",
        x=label.x,
        y=label.y,
        font_size=label.size,
        textLength=label.width,
        lengthAdjust="spacingAndGlyphs",
        fill=ink_of,
    )
    made.set("class", f"label-{label.kind}")
    if label.anchor != "start":
        made.set("text-anchor", label.anchor)
    if label.bold:
        made.set("font-weight", "bold")
    made.text = label.text
    if label.whole:
        add(made, "title", label.whole)
