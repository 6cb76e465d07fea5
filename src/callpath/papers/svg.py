"""A diagram as SVG: every conductor with a dark edge, so that white shows and a black-and-white printer can follow it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from xml.etree import ElementTree as ET

from callpath.circuit.build import build
from callpath.faults.asked import Check
from callpath.papers.colour import ink
from callpath.papers.drawing import Diagram, Line, Point
from callpath.papers.imprint import Imprint
from callpath.papers.layout import TEXT
from callpath.papers.live import Loop, live
from callpath.papers.marks import Mark, badges, marks
from callpath.papers.pen import EDGE, INK, PAPER, Lines, add, cautions, headed, height, paragraph, sheet, way, write
from callpath.papers.probe import clamped, plates
from callpath.papers.symbol import strokes
from callpath.papers.text import plain, wrapped
from callpath.proof.finding import Finding

__all__ = ["directions", "svg"]

_LIVE = "#ffb000"
_WRONG = "#8e0019"
_PLATES = {"red": "#b00020", "call": "#0b4f6c", "look": "#0b4f6c"}
_MANNERS = {
    "iec": "Symbols in the manner of IEC 60617, drawn from memory of the standard.",
    "ansi": "Symbols in the manner of IEEE 315 (ANSI Y32.2), drawn from memory of the standard.",
}
_MARKED = "Marked with numbers and dashes: what the proof found wrong, told below. ✗ is where the current stops."


def svg(
    diagram: Diagram,
    call: str | None = None,
    *,
    lit: Sequence[Loop] = (),
    test: Check | None = None,
    findings: Sequence[Finding] = (),
    imprint: Imprint | None = None,
    switchable: bool = False,
    tappable: float = 0.0,
) -> str:
    """Draw a diagram.

    Parameters
    ----------
    diagram : Diagram
        What to draw, and where.
    call : str, optional
        A call whose live loops are lit: source, switch, load and way back.
    lit : sequence of Loop
        Without a call: the loops of some settled state, to be lit; whoever shows the drawing tells which state that is.
    test : Check, optional
        A test to be made: where the leads go, what is clamped, lifted or jumped, which call, and where to look.
    findings : sequence of Finding
        What a proof found; what is worse than a note is numbered and its path marked.
    imprint : Imprint, optional
        Title, date and revision to write above, with the cautions below, for a drawing that goes out on its own.
    switchable : bool
        Put a band (``band``) and arrows both ways (``ahead``, ``astern``) with every line, hidden, for a page to show.
    tappable : float
        Put an unseen line (``hit``) of this breadth [pt] beneath all lines for every conductor, so that a finger finds it.

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
    loops = live(build(job), call) if call is not None else lit
    found = marks(findings)
    head, foot = _words(diagram, call, loops, found, imprint)
    above, below = height(head), height(foot)
    root = sheet(diagram.width, above + diagram.height + below)
    root.set("class", "wiring")
    title = plain(job.title) or "Wiring diagram"
    told = _told(diagram)
    if call is not None:
        ways = "; ".join(f"{loop.title}: {' '.join(loop.path)}" for loop in loops)
        told += f" On '{call}' current flows: {ways}." if ways else f" On '{call}' no current leaves any equipment."
    root.set("aria-label", f"{title}. {told}")
    add(root, "title", title)
    add(root, "desc", told)
    add(root, "rect", width=diagram.width, height=above + diagram.height + below, fill=PAPER)
    paragraph(root, head, 0.0)
    drawing = add(root, "g", transform=f"translate(0 {above:g})")
    _frames(drawing, diagram)
    ahead = directions(diagram, [loop.path for loop in loops])
    wrong = directions(diagram, [mark.steps for mark in found])
    if tappable:
        _hits(drawing, diagram, tappable)
    for line in diagram.lines:
        _line(drawing, line, ahead.get(line.name), wrong=line.name in wrong, switchable=switchable)
    _blocks(drawing, diagram, {step for loop in loops for step in loop.path})
    for label in diagram.labels:
        write(drawing, label)
    for plate, label in badges(diagram, found):
        add(drawing, "rect", x=plate.x, y=plate.y, width=plate.width, height=plate.height, rx=3, fill=_WRONG)
        write(drawing, label, PAPER)
    if test is not None:
        _probe(drawing, diagram, test)
    paragraph(root, foot, above + diagram.height)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode") + "\n"


def _words(
    diagram: Diagram, call: str | None, loops: Sequence[Loop], found: Sequence[Mark], imprint: Imprint | None
) -> tuple[Lines, Lines]:
    """Return the lines of text above and below the diagram: text, size, bold."""
    room = diagram.width - 2 * EDGE
    head: Lines = []
    foot: Lines = []
    if imprint is not None:
        head += headed(imprint, "Wiring diagram", diagram.width)
    if call is not None:
        said = f"Lit: where current flows on '{call}'." if loops else f"On '{call}' no current leaves any equipment."
        head += [(line, TEXT, True) for line in wrapped(said, room / TEXT, 2)]
    if imprint is not None:
        if found:
            head += [(line, TEXT, True) for line in wrapped(_MARKED, room / TEXT, 4)]
        if diagram.manner is not None:
            foot += [(line, TEXT, False) for line in wrapped(_MANNERS[diagram.manner], room / TEXT, 3)]
        for mark in found:
            foot += [(line, TEXT, True) for line in wrapped(mark.head, room / TEXT, 2)]
            foot += [(line, TEXT, False) for line in wrapped(mark.told, room / TEXT, 12)]
        foot += cautions(diagram.width)
    return head, foot


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


def directions(diagram: Diagram, paths: Sequence[Sequence[str]]) -> dict[str, bool]:
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


def _probe(root: ET.Element, diagram: Diagram, test: Check) -> None:
    """Mark a test: what it is about with a broad dashed line, and a plate with a word wherever something is to be done."""
    group = add(root, "g", **{"class": "probe"})
    for line in diagram.lines:
        if line.name in clamped(test):
            add(
                group,
                "path",
                d=way(line.points),
                fill="none",
                stroke=INK,
                stroke_width=7.0,
                stroke_dasharray="2 3",
                opacity=0.55,
            )
    for plate in plates(diagram, test):
        made = add(group, "g", **{"class": f"plate-{plate.kind}"})
        at = plate.rect
        add(
            made,
            "rect",
            x=at.x,
            y=at.y,
            width=at.width,
            height=at.height,
            rx=2.5,
            fill=_PLATES.get(plate.kind, INK),
            stroke=PAPER,
        )
        write(made, plate.label, PAPER)


def _frames(root: ET.Element, diagram: Diagram) -> None:
    for frame in diagram.frames:
        group = add(root, "g", **{"class": "location", "data-location": plain(frame.location)})
        at = frame.rect
        add(
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


def _hits(root: ET.Element, diagram: Diagram, breadth: float) -> None:
    group = add(root, "g", fill="none", stroke_width=breadth, pointer_events="stroke")
    for line in diagram.lines:
        if line.kind == "conductor":
            add(group, "path", **{"class": "hit", "data-hit": plain(line.name), "d": way(line.points)})


def _line(root: ET.Element, line: Line, forward: bool | None, *, wrong: bool, switchable: bool) -> None:
    lit = forward is not None
    group = add(
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
    add(group, "title", f"{plain(line.name)}: {_end(line.ends[0])} to {_end(line.ends[1])}")
    run = way(line.points)
    if wrong:
        add(group, "path", d=run, stroke=_WRONG, stroke_width=8.6, stroke_dasharray="2.5 2.5", opacity=0.45)
    hidden = {} if lit else {"display": "none"}
    if lit or switchable:
        add(group, "path", **{"class": "band", "d": run, "stroke": _LIVE, "stroke-width": 6.4, **hidden})
    # The white beneath breaks whatever the line crosses, so that it is seen to pass over.
    add(group, "path", **{"class": "edge", "d": run, "stroke": _LIVE if lit else PAPER, "stroke-width": 4.6})
    add(group, "path", d=run, stroke=INK, stroke_width=3.0 if line.kind == "conductor" else 1.6)
    if line.kind == "conductor":
        add(group, "path", d=run, stroke=ink(line.colour), stroke_width=1.7)
    for name, ahead in (("ahead", True), ("astern", False)):
        if switchable or forward is ahead:
            heads = {"fill": INK, "stroke": PAPER, "stroke-width": 0.5}
            heads |= {} if forward is ahead else {"display": "none"}
            add(group, "path", **{"class": name, "d": _arrows(line.points, ahead), **heads})


def _arrows(points: Sequence[Point], forward: bool) -> str:
    """Return arrow heads in the middle of the longer pieces of a line."""
    along = list(points) if forward else list(points)[::-1]
    pieces = [(a, b) for a, b in pairwise(along) if abs(a[0] - b[0]) + abs(a[1] - b[1]) > 24]
    heads = []
    for (ax, ay), (bx, by) in pieces:
        length = abs(ax - bx) + abs(ay - by)
        dx, dy = (bx - ax) / length, (by - ay) / length
        mx, my = (ax + bx) / 2, (ay + by) / 2
        tip = (mx + 4 * dx, my + 4 * dy)
        wings = [(mx - 3 * dx + side * 2.8 * dy, my - 3 * dy + side * 2.8 * dx) for side in (1, -1)]
        heads.append(way([wings[0], tip, wings[1]]) + "Z")
    return " ".join(heads)


def _blocks(root: ET.Element, diagram: Diagram, lit: set[str]) -> None:
    for block in diagram.blocks:
        at = block.rect
        group = add(root, "g", **{"class": block.kind, "data-block": plain(block.id)})
        edge = {"fill": PAPER, "stroke": INK, "stroke_width": 1.0}
        radius = 2 if block.kind == "equipment" else 6
        add(group, "rect", x=at.x, y=at.y, width=at.width, height=at.height, rx=radius, **edge)
    for terminal in diagram.terminals.values():
        at = terminal.rect
        live_here = " live" if terminal.name in lit else ""
        group = add(root, "g", **{"class": f"terminal{live_here}", "data-terminal": plain(terminal.name)})
        add(group, "title", plain(terminal.name))
        fill = "#ffe3a3" if live_here else PAPER
        add(group, "rect", x=at.x, y=at.y, width=at.width, height=at.height, fill=fill, stroke=INK, stroke_width=0.6)
    for symbol in diagram.symbols:
        x, y = symbol.at
        group = add(root, "g", transform=f"translate({x:.2f} {y:.2f})", fill="none", stroke=INK, stroke_width=0.9)
        group.set("data-element", plain(symbol.name))
        add(group, "title", plain(symbol.name))
        for stroke in strokes(symbol.kind, diagram.manner or "iec"):
            add(group, "path", d=stroke)
    for link in diagram.links:
        group = add(root, "g", **{"class": "bond", "fill": INK})
        add(group, "title", plain(link.name))
        add(group, "path", d=way(link.points), fill="none", stroke=INK, stroke_width=1.4)
        for x, y in link.points:
            add(group, "circle", cx=x, cy=y, r=2)
