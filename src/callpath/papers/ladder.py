"""The ladder diagram: for every source two rails, and between them a rung for every way in which a load is energised.

Rungs are read off the settled circuit: in every call, the loop of every load that is energised, with the fuses, contacts and
loads that its current passes, in that order. What is never energised has no rung and is named below.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from callpath.circuit.path import branches
from callpath.circuit.snapshot import Snapshot
from callpath.papers.drawing import Label, Manner, Rect
from callpath.papers.imprint import Imprint
from callpath.papers.layout import symbol_kind
from callpath.papers.pen import INK, PAPER, SMALL, Lines, add, cautions, headed, height, paragraph, sheet, write
from callpath.papers.symbol import HALF, strokes
from callpath.papers.text import cut, plain, width_em, wrapped

__all__ = ["Ladder", "Rung", "Step", "labels", "ladder", "ladder_size", "ladder_svg", "ladder_words", "plates"]

_SHOWN = ("fuse", "contact", "coil", "input", "load")
_LOADS = ("coil", "input", "load")
_EDGE, _RAIL, _PITCH, _HEAD = 8.0, 10.0, 46.0, 24.0
_NARROWEST, _LONGEST = 56.0, 26
_CALLS = 112.0


@dataclass(frozen=True)
class Step:
    """One element on a rung, by its name and the kind of its symbol."""

    name: str
    kind: str


@dataclass(frozen=True)
class Rung:
    """A load with everything in series with it, from the source's hot side, and when current flows there: on which calls."""

    source: str
    load: str
    steps: tuple[Step, ...]
    wires: tuple[str, ...]
    when: str


@dataclass(frozen=True)
class Ladder:
    """All rungs, source by source, and the loads that no call energises."""

    rungs: tuple[Rung, ...]
    idle: tuple[str, ...]


def ladder(states: Mapping[str, Snapshot], alone: Mapping[tuple[str, str], Snapshot] | None = None) -> Ladder:
    """Return the ladder of a job.

    Parameters
    ----------
    states : mapping of str to Snapshot
        The settled state of each call, all calling who can.
    alone : mapping of (str, str) to Snapshot, optional
        The same by call and thermostat, that one calling alone: of several contacts side by side a current is told of one.
    """
    found: dict[tuple[str, str, tuple[Step, ...], tuple[str, ...]], list[str]] = {}
    loads: list[str] = []
    by_one = {f"{call} from {stat}": (call, state) for (call, stat), state in (alone or {}).items()}
    for said, (call, state) in ({call: (call, state) for call, state in states.items()} | by_one).items():
        network, elements = state.circuit.network, state.circuit.elements
        loads = [name for name, (_, element) in elements.items() if element.kind in _LOADS and not element.hidden]
        for load in loads:
            way = branches(state, network.index[load]) if state.bit(load) else ()
            if not way:
                continue
            names = [network.branches[i].name for i in way]
            steps = tuple(
                Step(name, symbol_kind(elements[name][1]))
                for name in names
                if name in elements and elements[name][1].kind in _SHOWN
            )
            wires = tuple(name for name in names if name in state.circuit.job.landings)
            calls = found.setdefault((_source(state, way[0]), load, steps, wires), [])
            if call not in calls:
                calls.append(said)
    rungs = sorted(
        (
            Rung(source, load, steps, wires, _when(calls, states))
            for (source, load, steps, wires), calls in found.items()
        ),
        key=lambda rung: rung.source,
    )
    return Ladder(tuple(rungs), tuple(load for load in loads if load not in {rung.load for rung in rungs}))


def _when(calls: Sequence[str], every: Collection[str]) -> str:
    return "always" if set(every) <= set(calls) else f"on {', '.join(calls)}"


def _source(state: Snapshot, first: int) -> str:
    """Return the source that a loop begins at: the one whose hot side its first branch touches."""
    network = state.circuit.network
    ends = {network.branches[first].a, network.branches[first].b}
    hot = [s.branch for s in network.sources if network.branches[s.branch].a in ends]
    back = [s.branch for s in network.sources if network.branches[s.branch].b in ends]
    return network.branches[(hot or back)[0]].name if hot or back else ""


def ladder_svg(found: Ladder, *, manner: Manner = "ansi", imprint: Imprint | None = None) -> str:
    """Draw a ladder.

    Parameters
    ----------
    found : Ladder
        The rungs.
    manner : {"iec", "ansi"}
        How symbols are drawn.
    imprint : Imprint, optional
        Title, date and revision to write above, with the cautions below.

    Returns
    -------
    str
        A whole SVG document.
    """
    width, tall = ladder_size(found)
    middles, right = _middles(found)[0], width - _CALLS
    head = headed(imprint, "Ladder diagram", width) if imprint is not None else []
    foot = _idle(found, width) + (cautions(width) if imprint is not None else [])
    above = height(head)
    tall += height(head) + (height(cautions(width)) if imprint is not None else 0)
    root = sheet(width, tall)
    root.set("class", "ladder")
    told = ladder_words(found)
    root.set("aria-label", told)
    add(root, "title", "Ladder diagram")
    add(root, "desc", told)
    add(root, "rect", width=width, height=tall, fill=PAPER)
    paragraph(root, head, 0.0)
    y = above
    for source in dict.fromkeys(rung.source for rung in found.rungs):
        rungs = [rung for rung in found.rungs if rung.source == source]
        write(root, Label(cut(source, (right - _EDGE) / 9), _EDGE, y + 14, 9.0, kind="source", of=source, bold=True))
        bottom = y + _HEAD + _PITCH * len(rungs)
        for x in (_EDGE + 2, right):
            add(root, "path", d=f"M{x:g} {y + _HEAD - 4:g} V{bottom:g}", stroke=INK, stroke_width=2.0)
        for k, rung in enumerate(rungs):
            _rung(root, rung, y + _HEAD + _PITCH * k, middles, right, manner)
        y = bottom + 8
    paragraph(root, foot, y)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode") + "\n"


def ladder_size(found: Ladder) -> tuple[float, float]:
    """Return the width and height of a ladder without title and cautions [pt]."""
    width = max(_middles(found)[1], 300.0) + _CALLS
    sources = {rung.source for rung in found.rungs}
    return width, len(sources) * (_HEAD + 8) + _PITCH * len(found.rungs) + height(_idle(found, width)) + 2


def _middles(found: Ladder) -> tuple[list[float], float]:
    """Return the middle of every column of symbols, each as wide as its longest name, and where the last one ends [pt]."""
    middles, x = [], _EDGE + _RAIL
    for k in range(max((len(rung.steps) for rung in found.rungs), default=1)):
        names = [_name(rung.steps[k]) for rung in found.rungs if k < len(rung.steps)]
        wide = max([_NARROWEST, *(width_em(name) * SMALL + 12 for name in names)])
        middles.append(x + wide / 2)
        x += wide
    return middles, x + _RAIL


def _name(step: Step) -> str:
    return cut(step.name, _LONGEST * width_em("m"))


def _idle(found: Ladder, width: float) -> Lines:
    if not found.idle:
        return []
    told = f"Energised in no call: {', '.join(map(plain, found.idle))}."
    return [(line, SMALL, False) for line in wrapped(told, (width - 2 * _EDGE) / SMALL, 20)]


def labels(rung: Rung, y: float, middles: Sequence[float], right: float) -> list[Label]:
    """Return what is written at a rung: over every symbol its name, below the line the conductors, at the right the calls."""
    made = []
    for x, step in zip(middles, rung.steps, strict=False):
        made.append(Label(_name(step), x, y + 9, SMALL, "middle", "step", step.name))
    wires = " · ".join(wire.replace(".", " ", 1) for wire in rung.wires)
    room = (right - _EDGE - _RAIL) / SMALL
    made.append(Label(cut(wires, room), _EDGE + _RAIL, y + 34, SMALL, "start", "wires", rung.load))
    for k, line in enumerate(wrapped(rung.when, (_CALLS - 16) / SMALL, 3)):
        made.append(Label(line, right + 6, y + 15 + 9.5 * k, SMALL, "start", "calls", rung.load))
    return [label for label in made if width_em(label.text)]


def plates(rung: Rung, y: float, middles: Sequence[float]) -> list[Rect]:
    """Return the room that the symbols of a rung take."""
    return [Rect(x - HALF, y + 12, 2 * HALF, 12) for x in middles[: len(rung.steps)]]


def _rung(root: ET.Element, rung: Rung, y: float, middles: Sequence[float], right: float, manner: Manner) -> None:
    group = add(root, "g", **{"class": "rung", "data-load": plain(rung.load), "fill": "none", "stroke": INK})
    line = y + 19
    here = _EDGE + 2
    for x, step in zip(middles, rung.steps, strict=False):
        add(group, "path", d=f"M{here:g} {line:g} H{x - HALF:g}", stroke_width=1.0)
        made = add(group, "g", transform=f"translate({x:g} {line:g})", stroke_width=1.0)
        made.set("data-element", plain(step.name))
        for stroke in strokes(step.kind, manner):
            add(made, "path", d=stroke)
        here = x + HALF
    add(group, "path", d=f"M{here:g} {line:g} H{right:g}", stroke_width=1.0)
    for label in labels(rung, y, middles, right):
        write(root, label)


def ladder_words(found: Ladder) -> str:
    """Return the ladder in words, for who cannot see it."""
    told = [
        f"{plain(rung.load)} from {plain(rung.source)} through {', '.join(plain(step.name) for step in rung.steps)}"
        f" {rung.when}"
        for rung in found.rungs
    ]
    idle = f" Energised in no call: {', '.join(map(plain, found.idle))}." if found.idle else ""
    return f"Ladder diagram. {'; '.join(told) or 'No load is energised in any call'}.{idle}"
