"""Two versions of a job in one drawing: what came is drawn thick, what went is dashed and says so, the rest as ever.

Readable without colour. Both are laid out as one job in which a conductor that was moved stands twice, so that everything else
is drawn once and in its place.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from xml.etree import ElementTree as ET

from callpath.job.model import Cable, Job, Landing
from callpath.papers.drawing import Diagram
from callpath.papers.layout import diagram
from callpath.papers.measure import PAPER_MEASURE, Measure
from callpath.papers.pen import INK
from callpath.papers.svg import svg
from callpath.papers.text import plain

__all__ = ["WAS", "drawn_together"]

WAS = "(was)"
"""Stands behind the colour of a conductor where it is drawn as it was."""

_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class _Both:
    """Two jobs as one, and what in it came and went: lines by name, equipment by id."""

    job: Job
    came: frozenset[str]
    went: frozenset[str]


def drawn_together(
    before: Job, after: Job, *, columns: int = 3, measure: Measure = PAPER_MEASURE, like: Diagram | None = None
) -> str:
    """Draw two versions of a job as one.

    Parameters
    ----------
    before, after : Job
        The older one and the newer one.
    columns : int
        How many columns of equipment stand side by side at most.
    measure : Measure
        How tall rows and how large letters are.
    like : Diagram, optional
        A drawing of ``after`` in as many columns, in whose order everything stands where it can.

    Returns
    -------
    str
        A whole SVG document. What is only in ``after`` has the class ``came``, what is only in ``before`` the class ``went``.
    """
    both = _united(before, after)
    ET.register_namespace("", _SVG[1:-1])
    root = ET.fromstring(svg(diagram(both.job, columns=columns, measure=measure, like=like)))
    for group in root.iter(f"{_SVG}g"):
        name = group.get("data-line") or group.get("data-block") or ""
        if name in both.came:
            _mark(group, "came", stroke_width=2.6)
        elif name in both.went:
            _mark(group, "went", stroke_dasharray="4 3")
    return ET.tostring(root, encoding="unicode") + "\n"


def _united(before: Job, after: Job) -> _Both:
    came = {plain(id_) for id_ in after.equipment if id_ not in before.equipment}
    came |= {plain(id_) for id_ in after.splices if id_ not in before.splices}
    went = {plain(id_) for id_ in before.equipment if id_ not in after.equipment}
    went |= {plain(id_) for id_ in before.splices if id_ not in after.splices}
    equipment = {**before.equipment, **after.equipment}
    splices = {**before.splices, **after.splices}
    spots = {f"{device.id}.{letters}" for device in equipment.values() for letters in device.part.terminals}
    spots |= splices.keys()
    cables: dict[str, Cable] = dict(after.cables)
    landings: dict[str, Landing] = dict(after.landings)
    for conductor, ends in before.landings.items():
        if _same(before, after, conductor):
            continue
        if conductor in after.landings:
            came.add(plain(conductor))
        there: Landing = (ends[0] if ends[0] in spots else None, ends[1] if ends[1] in spots else None)
        if there != (None, None):
            old = _put(cables, before.cable_of(conductor), conductor.partition(".")[2])
            landings[old] = there
            went.add(plain(old))
    came |= {plain(conductor) for conductor in after.landings if conductor not in before.landings}
    held, holds = ({frozenset(pair): pair for pair in job.jumpers} for job in (before, after))
    gone = [pair for key, pair in held.items() if key not in holds and key <= spots]
    came |= {plain(f"jumper:{one}+{two}") for key, (one, two) in holds.items() if key not in held}
    went |= {plain(f"jumper:{one}+{two}") for one, two in gone}
    job = replace(
        after,
        equipment=equipment,
        splices=splices,
        cables=cables,
        landings=landings,
        jumpers=(*after.jumpers, *gone),
    )
    return _Both(job, frozenset(came), frozenset(went))


def _same(before: Job, after: Job, conductor: str) -> bool:
    if after.landings.get(conductor) != before.landings[conductor]:
        return False
    return after.cable_of(conductor).between == before.cable_of(conductor).between


def _put(cables: dict[str, Cable], was: Cable, colour: str) -> str:
    """Put a conductor as it was beside those that are, and return its name."""
    id_ = was.id
    while id_ in cables and cables[id_].between != was.between:
        id_ += WAS
    cable = cables.get(id_, replace(was, id=id_, conductors=()))
    colour = f"{colour} {WAS}"
    while colour in cable.conductors:
        colour += WAS
    cables[id_] = replace(cable, conductors=(*cable.conductors, colour))
    return f"{id_}.{colour}"


def _mark(group: ET.Element, word: str, **manner: object) -> None:
    group.set("class", f"{group.get('class', '')} {word}".strip())
    attributes = {key.replace("_", "-"): str(value) for key, value in manner.items()}
    for box in group.findall(f"{_SVG}rect"):
        box.attrib |= attributes
    ways = group.findall(f"{_SVG}path")
    if word == "came" and ways:
        # An edge on both sides of the line, broader than any other line has, and short of the label above it.
        broad = {"d": ways[0].get("d", ""), "stroke": INK, "stroke-width": "6", "class": "broad"}
        group.insert(list(group).index(ways[0]), ET.Element(f"{_SVG}path", broad))
    for path in ways if word == "went" else ():
        if path.get("class") != "edge":
            path.attrib |= attributes
