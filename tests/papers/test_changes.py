"""What is different between two versions of a job, in words and in one drawing."""

from __future__ import annotations

import random
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from callpath.job import edit, load_job
from callpath.job.model import Job
from callpath.job.read import known_job
from callpath.papers.changes import changes
from callpath.papers.compared import drawn_together

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXT = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")


def said(before: str, after: str) -> list[str]:
    return [f"{move.at}: {move.said}" for move in changes(known_job(before), known_job(after)).moves]


def classes(before: Job, after: Job) -> dict[str, str]:
    """Return what is marked in a drawing of both, by name."""
    root = ET.fromstring(drawn_together(before, after))
    groups = [group for group in root.iter() if {"came", "went"} & set(group.get("class", "").split())]
    return {
        group.get("data-line") or group.get("data-block") or "": group.get("class", "").split()[-1] for group in groups
    }


def test_moves_are_told_where_they_are_made() -> None:
    after = edit.land_ends(TEXT, {"wall.green": ("stat.W", None), "wall.white": ("stat.Y", "board.W")})
    assert said(TEXT, after) == [
        "hall: wall.green: take it off stat.G and land it on stat.W",
        "cellar: wall.white: take it off board.Y and land it on board.W",
        "cellar: wall.green: take it off board.G and cap it",
    ]
    assert said(after, TEXT)[-1] == "cellar: wall.green: uncap it and land it on board.G"


def test_everything_that_can_be_changed_is_told() -> None:
    text, _ = edit.add_equipment(TEXT, "accessory/float-switch", "cellar", "float")
    text, _ = edit.add_cable(text, ("cellar", "yard"), "red white", "14 m", "second")
    text, _ = edit.add_splice(text, "hall", "past")
    text = edit.add_jumper(text, "board.R", "board.W")
    text = edit.set_settings(text, "board", {"transformer-va": "75", "bonded-common": "true"})
    text = edit.set_serves(text, ["fan"])
    text = edit.set_contacts(text, {"float.switch": False})
    text = edit.land_ends(text, {"second.red": ("board.R", None), "wall.green": ("past", "board.G")})
    found = changes(known_job(TEXT), known_job(text))
    assert said(TEXT, text) == [
        "hall: splice: put in past",
        "hall: wall.green: take it off stat.G and put it into the splice past",
        "cellar: second.red: land it on board.R",
        "cellar: jumper: put one in from board.R to board.W",
    ]
    assert [(d.what, d.was, d.now) for d in found.settings] == [
        ("board transformer-va", "40", "75"),
        ("board bonded-common", "false", "true"),
    ]
    assert [d.what for d in found.equipment] == ["float", "second"]
    assert "45.9 ft (14 m)" in found.equipment[1].now
    assert [(d.what, d.now) for d in found.other] == [("serves", "fan"), ("contact float.switch", "open")]
    marked = classes(known_job(TEXT), known_job(text))
    assert marked == {
        "float": "came", "past": "came", "second.red": "came", "second.white": "came", "wall.green": "came",
        "wall.green (was)": "went", "jumper:board.R+board.W": "came",
    }  # fmt: skip
    there = classes(known_job(text), known_job(TEXT))
    assert {name for name, word in there.items() if word == "went"} == {
        "float", "past", "second.red (was)", "wall.green (was)", "jumper:board.R+board.W",
    }  # fmt: skip


def test_the_same_job_has_nothing_marked() -> None:
    job = known_job(TEXT)
    assert changes(job, job).none
    assert classes(job, job) == {}


def test_a_thing_that_became_another_is_drawn_as_it_is(tmp_path: Path) -> None:
    """A part replaced by one with other terminals, a cable that runs elsewhere: what cannot be drawn is told in words."""
    other = TEXT.replace("outdoor/condenser, at: yard", "accessory/float-switch, at: yard")
    other = other.replace("cond.Y]", "cond.1]").replace("cond.C]", "cond.2]").replace("hall", "landing")
    before, after = known_job(TEXT), known_job(other.replace("serves: [cool, fan]", ""))
    found = changes(before, after)
    assert {"stat", "cond", "wall"} <= {d.what for d in found.equipment}
    assert classes(before, after)["wall.red"] == "came"
    assert "wall.red: land it on stat.R" in [move.said for move in found.moves]


@pytest.mark.parametrize("seed", range(6))
def test_any_two_jobs_can_be_drawn_together(seed: int) -> None:
    paths = random.Random(seed).sample(sorted(EXAMPLES.glob("*.job.yaml")), 2)
    before, after = (load_job(path) for path in paths)
    assert classes(before, after) != {}
