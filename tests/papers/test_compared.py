"""Two versions in one drawing stand in the order of the newer one's own, and nothing in it lies over anything else."""

from __future__ import annotations

import itertools
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from callpath.job import Job, load_job
from callpath.papers import diagram
from callpath.papers.compared import _united, drawn_together
from callpath.papers.drawing import Diagram
from callpath.papers.measure import PAPER_MEASURE, THUMB, Measure
from tests.papers.geometry import wrongs

EXAMPLES = Path(__file__).parents[2] / "examples"
PAIRS = (
    ("garden-cottage-green-on-common", "garden-cottage"),
    ("ballroom-banks-swapped", "ballroom-two-banks"),
    ("bakery-split-no-jumper", "bakery-split-one-source"),
    ("orchard-heat-pump-mixed", "orchard-heat-pump-o"),
    ("brewery-two-stages-crossed", "brewery-two-stages"),
    ("guest-house-four-conductors", "guest-house-fan-lead-as-common"),
    ("granary-dampers-crossed", "granary-air-zones"),
)
MEASURES = [(3, PAPER_MEASURE), (1, THUMB)]


def both(older: str, newer: str, columns: int, measure: Measure) -> tuple[Diagram, Diagram]:
    """Return the drawing of the newer one, and of both in its order."""
    before, after = (load_job(EXAMPLES / f"{name}.job.yaml") for name in (older, newer))
    like = diagram(after, columns=columns, measure=measure)
    together: Job = _united(before, after).job
    return like, diagram(together, columns=columns, measure=measure, like=like)


@pytest.mark.parametrize(("columns", "measure"), MEASURES)
@pytest.mark.parametrize(("older", "newer"), [*PAIRS, *((newer, older) for older, newer in PAIRS)])
def test_everything_stands_where_the_newer_has_it(older: str, newer: str, columns: int, measure: Measure) -> None:
    like, together = both(older, newer, columns, measure)
    assert list(wrongs(together)) == []
    for block in like.blocks:
        if block.kind != "equipment":
            continue
        rows = [
            [
                name
                for name, at in sorted(drawn.terminals.items(), key=lambda row: row[1].rect.y)
                if at.block == block.id
            ]
            for drawn in (like, together)
        ]
        assert rows[0] == rows[1]
    places = [
        [frame.location for frame in sorted(drawn.frames, key=lambda frame: (round(frame.rect.x), frame.rect.y))]
        for drawn in (like, together)
    ]
    assert len(places[0]) == len(set(places[0]))
    assert list(itertools.filterfalse(lambda name: name not in places[0], places[1])) == places[0]


def test_the_edge_of_what_came_is_short_of_its_label() -> None:
    before, after = (load_job(EXAMPLES / f"{name}.job.yaml") for name in PAIRS[0])
    root = ET.fromstring(drawn_together(before, after))
    broad = [path for path in root.iter("{http://www.w3.org/2000/svg}path") if path.get("class") == "broad"]
    assert broad
    drawn = diagram(after)
    labels = [(label, line) for line in drawn.lines for label in drawn.labels if label.of == line.name]
    above = min(abs(y - label.y) for label, line in labels for _, y in line.points)
    assert all(float(path.get("stroke-width", "")) / 2 < above for path in broad)
