"""The ladder: a rung for every load that a call energises, with what its current passes in series."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from callpath.job import load_job
from callpath.papers.ladder import labels, ladder_size, ladder_svg, plates
from tests.jobs import COTTAGE, HOUSE, ZONE
from tests.papers.test_diagram import EXAMPLES
from tests.papers.test_schedule import book_of
from tests.papers.test_svg import SVG


def test_a_contactor_stands_behind_fuse_contact_and_safeties() -> None:
    # As any ladder of such equipment is drawn: fuse, thermostat, safeties, coil (common practice, no source).
    book = book_of(COTTAGE, settings="{cond: {pressure-switches: true}}")
    (rung,) = [rung for rung in book.ladder.rungs if rung.load == "cond.contactor"]
    names = [step.name for step in rung.steps]
    assert names == ["board.fuse", "stat.contact-Y", "cond.high-pressure", "cond.low-pressure", "cond.contactor"]
    assert [step.kind for step in rung.steps] == ["fuse", "make", "break", "break", "coil"]
    assert rung.wires == ("wall.red", "wall.yellow", "outside.red", "outside.white")
    assert (rung.source, rung.when) == ("board.transformer", "on cool")


# Common practice, no source: end switches side by side, any of which calls the boiler.
TWO_ZONES = {
    "equipment": "{up: {part: thermostat/heat-only, at: attic}, second: {part: accessory/zone-valve, at: boiler room}}",
    "cables": "{long: {between: [attic, boiler room], conductors: [red, white]}}",
    "landings": "{long.red: [up.R, supply.R], long.white: [up.W, second.M1]}",
    "jumpers": "[[valve.M2, second.M2], [valve.E1, second.E1], [valve.E2, second.E2]]",
}


def test_every_end_switch_that_calls_the_boiler_has_its_rung() -> None:
    book = book_of(ZONE, **TWO_ZONES)
    rungs = {rung.steps[0].name: rung.when for rung in book.ladder.rungs if rung.load == "boiler.control-relay"}
    assert rungs == {"valve.end-switch": "on heat", "second.end-switch": "on heat from up"}
    carried = {landed.why for place in book.schedule.places for point in place.points for landed in point.lands}
    assert not any("carries no load's current" in why for why in carried)
    assert "feeds boiler.control-relay on heat from up" in carried


def test_what_no_call_energises_is_named() -> None:
    assert set(book_of(COTTAGE).ladder.idle) == {"board.heat-input"}
    assert "cond.contactor" in book_of(COTTAGE, landings="{outside.red: [board.Y, null]}").ladder.idle
    assert "stat.electronics" not in book_of(HOUSE).ladder.idle


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_every_energised_load_has_a_rung_and_nothing_overlaps(file: Path) -> None:
    book = book_of(load_job(file))
    live = {loop.load for loops in book.loops.values() for loop in loops}
    assert live <= {rung.load for rung in book.ladder.rungs}
    root = ET.fromstring(ladder_svg(book.ladder))
    assert len([group for group in root.iter(f"{SVG}g") if group.get("class") == "rung"]) == len(book.ladder.rungs)
    width, tall = ladder_size(book.ladder)
    texts = list(root.iter(f"{SVG}text"))
    for text in texts:
        assert float(text.get("font-size", "0")) >= 7
        assert 0 < float(text.get("y", "0")) <= tall
    spans = [(_left(text), float(text.get("textLength", "0")), float(text.get("y", "0"))) for text in texts]
    for (x, wide, y), (other, broad, below) in combinations(spans, 2):
        assert abs(y - below) >= 7.5 or x + wide <= other or other + broad <= x, (x, other)
    assert all(x >= 0 and x + wide <= width for x, wide, _ in spans)


def _left(text: ET.Element) -> float:
    x, wide = float(text.get("x", "0")), float(text.get("textLength", "0"))
    return x - wide / 2 if text.get("text-anchor") == "middle" else x


def test_names_keep_off_the_symbols() -> None:
    rung = book_of(HOUSE).ladder.rungs[0]
    middles = [100.0, 200.0, 300.0]
    for label in labels(rung, 0.0, middles, 400.0):
        assert not any(label.rect.overlaps(plate) for plate in plates(rung, 0.0, middles))
