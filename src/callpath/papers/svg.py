"""A diagram as SVG: every conductor with a dark edge, so that white shows and a black-and-white printer can follow it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from xml.etree import ElementTree as ET

from callpath.circuit.build import build
from callpath.papers.colour import ink
from callpath.papers.drawing import Diagram, Label, Line, Point
from callpath.papers.imprint import CAUTIONS, Imprint
from callpath.papers.layout import TEXT
from callpath.papers.live import Loop, live
from callpath.papers.marks import Mark, badges, marks
from callpath.papers.text import plain, wrapped
from callpath.proof.finding import Finding

__all__ = ["svg"]

_FONT = "DejaVu Sans Mono, Menlo, Consolas, monospace"
_INK = "#1a1a1a"
_PAPER = "#ffffff"
_LIVE = "#ffb000"
_WRONG = "#8e0019"
_EDGE = 8.0
_MARKED = "Marked with numbers and dashes: what the proof found wrong, told below. ✗ is where the current stops."


def svg(
    diagram: Diagram,
    call: str | None = None,
    *,
    findings: Sequence[Finding] = (),
    imprint: Imprint | None = None,
) -> str:
    """Draw a diagram.

    Parameters
    ----------
    diagram : Diagram
        What to draw, and where.
    call : str, optional
        A call whose live loops are lit: source, switch, load and way back.
    findings : sequence of Finding
        What a proof found; what is worse than a note is numbered and its path marked.
    imprint : Imprint, optional
        Title, date and revision to write above, with the cautions below, for a drawing that goes out on its own.

    Returns
    -------
    str
        A whole SVG document, fit to stand in HTML too; nothing in it is fetched from anywhere.

    Notes
    -----
    Every conductor and jumper is a group with ``data-line``, ``data-ends`` and a tooltip, every terminal one with
    ``data-terminal``. What a call energises has the class ``live``, a broad band beneath, and arrows the way the current goes.

    Raises
    ------
    QuestionError
        No thermostat of the job can make the call.
    """
    job = diagram.job
    loops = live(build(job), call) if call is not None else []
    found = marks(findings)
    head, foot = _words(diagram.width, call, loops, found, imprint)
    above, below = _height(head), _height(foot)
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {diagram.width:g} {above + diagram.height + below:g}",
            "width": f"{diagram.width:g}pt",
            "height": f"{above + diagram.height + below:g}pt",
            "role": "img",
            "class": "wiring",
            "font-family": _FONT,
        },
    )
    title = plain(job.title) or "Wiring diagram"
    told = _told(diagram)
    if call is not None:
        ways = "; ".join(f"{loop.title}: {' '.join(loop.path)}" for loop in loops)
        told += f" On '{call}' current flows: {ways}." if ways else f" On '{call}' no current leaves any equipment."
    root.set("aria-label", f"{title}. {told}")
    _add(root, "title", title)
    _add(root, "desc", told)
    _add(root, "rect", width=diagram.width, height=above + diagram.height + below, fill=_PAPER)
    _paragraph(root, head, 0.0)
    drawing = _add(root, "g", transform=f"translate(0 {above:g})")
    _frames(drawing, diagram)
    lit = _directions(diagram, [loop.path for loop in loops])
    wrong = _directions(diagram, [mark.steps for mark in found])
    for line in diagram.lines:
        _line(drawing, line, lit.get(line.name), wrong=line.name in wrong)
    _blocks(drawing, diagram, {step for loop in loops for step in loop.path})
    for label in diagram.labels:
        _label(drawing, label)
    for plate, label in badges(diagram, found):
        _add(drawing, "rect", x=plate.x, y=plate.y, width=plate.width, height=plate.height, rx=3, fill=_WRONG)
        _label(drawing, label, _PAPER)
    _paragraph(root, foot, above + diagram.height)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode") + "\n"


_Lines = list[tuple[str, float, bool]]


def _words(
    width: float, call: str | None, loops: Sequence[Loop], found: Sequence[Mark], imprint: Imprint | None
) -> tuple[_Lines, _Lines]:
    """Return the lines of text above and below the diagram: text, size, bold."""
    room = width - 2 * _EDGE
    head: _Lines = []
    foot: _Lines = []
    if imprint is not None:
        head += [(line, 12.0, True) for line in wrapped(imprint.title, room / 12, 4)]
        head += [(line, TEXT, False) for line in wrapped(f"Wiring diagram, {imprint.line}", room / TEXT, 3)]
    if call is not None:
        said = f"Lit: where current flows on '{call}'." if loops else f"On '{call}' no current leaves any equipment."
        head += [(line, TEXT, True) for line in wrapped(said, room / TEXT, 2)]
    if imprint is not None:
        if found:
            head += [(line, TEXT, True) for line in wrapped(_MARKED, room / TEXT, 4)]
        for mark in found:
            foot += [(line, TEXT, True) for line in wrapped(mark.head, room / TEXT, 2)]
            foot += [(line, TEXT, False) for line in wrapped(mark.told, room / TEXT, 12)]
        for caution in CAUTIONS:
            foot += [(line, TEXT, False) for line in wrapped(caution, room / TEXT, 12)]
    return head, foot


def _height(lines: _Lines) -> float:
    return sum(size * 1.35 for _, size, _ in lines) + (_EDGE if lines else 0.0)


def _paragraph(root: ET.Element, lines: _Lines, y: float) -> None:
    y += _EDGE / 2
    for text, size, bold in lines:
        y += size * 1.35
        _label(root, Label(text, _EDGE, y - 0.3 * size, size, bold=bold))


def _told(diagram: Diagram) -> str:
    """Return the wiring in words, for who cannot see it."""
    job = diagram.job
    ends = [f"{plain(line.name)} from {_end(line.ends[0])} to {_end(line.ends[1])}" for line in diagram.lines]
    places = {frame.location for frame in diagram.frames}
    return (
        f"Wiring diagram with {len(job.equipment)} pieces of equipment in {len(places)} locations. "
        + ("; ".join(ends) or "No conductors")
        + "."
    )


def _end(name: str) -> str:
    return "a capped end" if "@" in name else plain(name)


def _directions(diagram: Diagram, paths: Sequence[Sequence[str]]) -> dict[str, bool]:
    """Return the lines on some paths, and whether the current runs from their first end to their second."""
    ends = {line.name: line.ends for line in diagram.lines}
    jumper = {frozenset(line.ends): line.name for line in diagram.lines if line.kind == "jumper"}
    found: dict[str, bool] = {}
    for path in paths:
        for before, name in pairwise(path):
            if name in ends:
                found.setdefault(name, ends[name][0] == before)
            elif before in ends:
                found.setdefault(before, ends[before][1] == name)
            elif frozenset((before, name)) in jumper:
                line = jumper[frozenset((before, name))]
                found.setdefault(line, ends[line][0] == before)
    return found


def _add(parent: ET.Element, tag: str, text: str = "", /, **attributes: object) -> ET.Element:
    def written(value: object) -> str:
        return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)

    made = ET.SubElement(parent, tag, {key.replace("_", "-"): written(value) for key, value in attributes.items()})
    if text:
        made.text = text
    return made


def _frames(root: ET.Element, diagram: Diagram) -> None:
    for frame in diagram.frames:
        group = _add(root, "g", **{"class": "location", "data-location": plain(frame.location)})
        at = frame.rect
        _add(
            group,
            "rect",
            x=at.x,
            y=at.y,
            width=at.width,
            height=at.height,
            rx=4,
            fill="#f4f4f1",
            stroke="#8a8a84",
            stroke_width=0.75,
            stroke_dasharray="4 2.5",
        )


def _way(points: Sequence[Point]) -> str:
    return "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in points)


def _line(root: ET.Element, line: Line, forward: bool | None, *, wrong: bool) -> None:
    lit = forward is not None
    group = _add(
        root,
        "g",
        **{
            "class": f"{line.kind}{' live' if lit else ''}{' wrong' if wrong else ''}",
            "data-line": plain(line.name),
            "data-ends": " ".join(map(plain, line.ends)),
            "fill": "none",
            "stroke-linejoin": "round",
        },
    )
    _add(group, "title", f"{plain(line.name)}: {_end(line.ends[0])} to {_end(line.ends[1])}")
    way = _way(line.points)
    if wrong:
        _add(group, "path", d=way, stroke=_WRONG, stroke_width=8.6, stroke_dasharray="2.5 2.5", opacity=0.45)
    if lit:
        _add(group, "path", **{"class": "band", "d": way, "stroke": _LIVE, "stroke-width": 6.4})
    # The white beneath breaks whatever the line crosses, so that it is seen to pass over.
    _add(group, "path", d=way, stroke=_LIVE if lit else _PAPER, stroke_width=4.6)
    _add(group, "path", d=way, stroke=_INK, stroke_width=3.0 if line.kind == "conductor" else 1.6)
    if line.kind == "conductor":
        _add(group, "path", d=way, stroke=ink(line.colour), stroke_width=1.7)
    if forward is not None:
        _add(
            group,
            "path",
            **{
                "class": "arrows",
                "d": _arrows(line.points, forward),
                "fill": _INK,
                "stroke": _PAPER,
                "stroke-width": 0.5,
            },
        )


def _arrows(points: Sequence[Point], forward: bool) -> str:
    """Return arrow heads in the middle of the longer pieces of a line."""
    way = list(points) if forward else list(points)[::-1]
    pieces = [(a, b) for a, b in pairwise(way) if abs(a[0] - b[0]) + abs(a[1] - b[1]) > 24]
    heads = []
    for (ax, ay), (bx, by) in pieces:
        length = abs(ax - bx) + abs(ay - by)
        dx, dy = (bx - ax) / length, (by - ay) / length
        mx, my = (ax + bx) / 2, (ay + by) / 2
        tip = (mx + 4 * dx, my + 4 * dy)
        wings = [(mx - 3 * dx + side * 2.8 * dy, my - 3 * dy + side * 2.8 * dx) for side in (1, -1)]
        heads.append(_way([wings[0], tip, wings[1]]) + "Z")
    return " ".join(heads)


def _blocks(root: ET.Element, diagram: Diagram, lit: set[str]) -> None:
    for block in diagram.blocks:
        at = block.rect
        group = _add(root, "g", **{"class": block.kind, "data-block": plain(block.id)})
        edge = {"fill": _PAPER, "stroke": _INK, "stroke_width": 1.0}
        radius = 2 if block.kind == "equipment" else 6
        _add(group, "rect", x=at.x, y=at.y, width=at.width, height=at.height, rx=radius, **edge)
    for terminal in diagram.terminals.values():
        at = terminal.rect
        live_here = " live" if terminal.name in lit else ""
        group = _add(root, "g", **{"class": f"terminal{live_here}", "data-terminal": plain(terminal.name)})
        _add(group, "title", plain(terminal.name))
        fill = "#ffe3a3" if live_here else _PAPER
        _add(group, "rect", x=at.x, y=at.y, width=at.width, height=at.height, fill=fill, stroke=_INK, stroke_width=0.6)
    for link in diagram.links:
        group = _add(root, "g", **{"class": "bond", "fill": _INK})
        _add(group, "title", plain(link.name))
        _add(group, "path", d=_way(link.points), fill="none", stroke=_INK, stroke_width=1.4)
        for x, y in link.points:
            _add(group, "circle", cx=x, cy=y, r=2)


def _label(root: ET.Element, label: Label, ink_of: str = _INK) -> None:
    made = _add(
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
        _add(made, "title", label.whole)
