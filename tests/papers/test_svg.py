"""The drawn diagram: whole, harmless, the same every time, lit where the circuit says that current flows."""

from __future__ import annotations

import datetime
import json
from xml.etree import ElementTree as ET

import pytest

from callpath.circuit.build import build
from callpath.errors import QuestionError
from callpath.job import read_job
from callpath.papers import diagram, imprint, svg
from callpath.papers.live import live
from tests.jobs import COTTAGE, HOUSE, job_of

SVG = "{http://www.w3.org/2000/svg}"
DAY = datetime.date(2026, 3, 31)
HOSTILE = "</title><script>alert('x')</script><!-- ]]> & \" ' ملف " * 150


def groups(text: str, key: str) -> dict[str, ET.Element]:
    return {group.get(key, ""): group for group in ET.fromstring(text).iter(f"{SVG}g") if group.get(key)}


def test_every_conductor_and_terminal_can_be_found_by_its_name() -> None:
    job = job_of(HOUSE)
    drawn = svg(diagram(job))
    lines = groups(drawn, "data-line")
    assert set(lines) == set(job.landings)
    assert lines["wall.white"].get("data-ends") == "stat.W board.W"
    assert "board.chassis" in groups(drawn, "data-terminal")


def test_a_colour_is_written_at_both_ends() -> None:
    written = [text.text for text in ET.fromstring(svg(diagram(job_of(HOUSE)))).iter(f"{SVG}text")]
    for colour in ("red", "blue", "white", "yellow", "green"):
        assert written.count(f"wall {colour}") == 2


def test_the_lit_lines_are_those_of_the_live_loops() -> None:
    job = job_of(HOUSE)
    lit = {
        name
        for name, group in groups(svg(diagram(job), "cool"), "data-line").items()
        if "live" in group.get("class", "")
    }
    # By the trade: the call goes up red and down yellow, the fan's down green, and everything comes back on the common.
    assert lit == {"wall.red", "wall.yellow", "wall.green", "wall.blue", "outside.red", "outside.white"}
    steps = {step for loop in live(build(job), "cool") for step in loop.path}
    assert lit == steps & set(job.landings)
    assert "wall.white" not in steps


def test_the_arrow_points_the_way_the_current_goes() -> None:
    def turned(one: str, other: str) -> str:
        return svg(diagram(job_of(COTTAGE, landings=f"{{outside.red: {one}, outside.white: {other}}}")), "cool")

    # Both ends of the pair exchanged: the coil has no polarity, but red now carries the way back.
    assert turned("[board.Y, cond.Y]", "[board.C, cond.C]") != turned("[board.C, cond.Y]", "[board.Y, cond.C]")


def test_a_call_that_nobody_can_make_is_refused() -> None:
    with pytest.raises(QuestionError, match="cool"):
        svg(diagram(job_of(COTTAGE)), "col")


def test_the_paper_says_what_it_is() -> None:
    job = job_of(HOUSE)
    written = " ".join(
        text.text or "" for text in ET.fromstring(svg(diagram(job), imprint=imprint(job, DAY))).iter(f"{SVG}text")
    )
    for words in (
        job.title,
        "2026-03-31",
        imprint(job, DAY).revision,
        "maker's diagram and local code win",
        "Power off",
    ):
        assert words in written


def test_hostile_text_stays_text() -> None:
    data = json.loads(json.dumps(HOUSE).replace("hall", "<svg onload=alert(1)>"))
    job = read_job(json.dumps({**data, "title": HOSTILE}))
    whole = svg(diagram(job), "cool", imprint=imprint(job, DAY))
    root = ET.fromstring(whole)
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg", "title", "desc", "g", "rect", "path", "text", "circle"
    }  # fmt: skip
    assert not [key for element in root.iter() for key in element.keys() if key.startswith("on")]  # noqa: SIM118


def test_the_same_job_gives_the_same_bytes_and_revision() -> None:
    job = job_of(HOUSE)
    again = read_job(json.dumps({**HOUSE, "title": HOUSE["title"]}, indent=3))
    assert svg(diagram(job), "cool", imprint=imprint(job, DAY)) == svg(
        diagram(again), "cool", imprint=imprint(again, DAY)
    )
    assert imprint(job, DAY).revision != imprint(job_of(HOUSE, settings="{board: {fuse-amps: 5}}"), DAY).revision


def test_it_is_told_in_words() -> None:
    root = ET.fromstring(svg(diagram(job_of(COTTAGE)), "cool"))
    assert root.get("role") == "img"
    assert "outside.red from board.Y to cond.Y" in (root.findtext(f"{SVG}desc") or "")
    assert "contactor coil: board.R wall.red stat.R stat.Y wall.yellow" in (root.get("aria-label") or "")
