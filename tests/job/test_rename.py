"""Another name for something in a job file: everywhere it is meant, nowhere else, and everything else of the text stays."""

from __future__ import annotations

import pytest

from callpath.errors import QuestionError
from callpath.job import edit
from callpath.job.read import read_job
from callpath.proof.prove import prove
from tests.web.site import EXAMPLES

HOUSE = """\
callpath: 1
title: "board, wall and cellar"   # board stands here too
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}   # the board
  float: {part: accessory/float-switch, at: cellar}
cables:
  wall: {between: [hall, cellar], conductors: [red, white, blue]}
landings:
  wall.red:   [stat.R, "board.R"]
  wall.white: [stat.W, joint]
  wall.blue:  [joint-2, board.W]
splices: {joint: cellar, joint-2: hall}
jumpers: [[board.C, float.1]]
contacts: {float.switch: open}
faults:
  - open: wall.red
  - swapped: [wall.red, wall.white]
  - dead: board.transformer
"""


@pytest.mark.parametrize(
    ("kind", "old", "new", "lines"),
    [
        (
            "equipment", "board", "furnace",
            {
                "  furnace: {part: indoor/furnace-board, at: cellar}   # the board", '  wall.red:   [stat.R, "furnace.R"]',
                "  wall.blue:  [joint-2, furnace.W]", "jumpers: [[furnace.C, float.1]]", "  - dead: furnace.transformer",
            },
        ),
        ("equipment", "float", "pan", {"  pan: {part: accessory/float-switch, at: cellar}", "jumpers: [[board.C, pan.1]]",
                                       "contacts: {pan.switch: open}"}),
        (
            "cable", "wall", "w2",
            {
                "  w2: {between: [hall, cellar], conductors: [red, white, blue]}", '  w2.red:   [stat.R, "board.R"]',
                "  w2.white: [stat.W, joint]", "  w2.blue:  [joint-2, board.W]", "  - open: w2.red",
                "  - swapped: [w2.red, w2.white]",
            },
        ),
        ("splice", "joint", "past", {"  wall.white: [stat.W, past]", "splices: {past: cellar, joint-2: hall}"}),
        (
            "location", "cellar", "under: the stairs",
            {
                "  board: {part: indoor/furnace-board, at: 'under: the stairs'}   # the board",
                "  float: {part: accessory/float-switch, at: 'under: the stairs'}",
                "  wall: {between: [hall, 'under: the stairs'], conductors: [red, white, blue]}",
                "splices: {joint: 'under: the stairs', joint-2: hall}",
            },
        ),
    ],
)  # fmt: skip
def test_a_name_changes_wherever_it_is_meant(kind: str, old: str, new: str, lines: set[str]) -> None:
    after = edit.rename(HOUSE, kind, old, new)
    assert set(after.splitlines()) - set(HOUSE.splitlines()) == lines
    read_job(after)
    assert edit.rename(after, kind, new, old).replace("'", "") == HOUSE


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.job.yaml"))[::5], ids=lambda path: path.name.partition(".")[0])
def test_a_job_is_as_good_under_other_names(path: object) -> None:
    """Names mean nothing to the circuit: verdict and number of findings stay."""
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    job, after = read_job(text), text
    for kind, names in (("equipment", job.equipment), ("cable", job.cables), ("splice", job.splices)):
        for name in names:
            after = edit.rename(after, kind, name, f"x-{name}")
    for place in {device.at for device in job.equipment.values()}:
        after = edit.rename(after, "location", place, f"the {place}")
    one, two = prove(job), prove(read_job(after))
    assert [(f.severity, f.code) for f in one.findings] == [(f.severity, f.code) for f in two.findings]


@pytest.mark.parametrize(
    ("kind", "old", "new", "told"),
    [
        ("equipment", "board", "wall", "'wall' is taken"),
        ("equipment", "bored", "x", "did you mean 'board'"),
        ("cable", "wall", "two words", "is no id"),
        ("location", "cellar", "hall", "there is a hall already"),
        ("location", "cellar", "  ", "shall be called"),
    ],
)
def test_a_name_that_cannot_be_is_told(kind: str, old: str, new: str, told: str) -> None:
    with pytest.raises(QuestionError, match=told):
        edit.rename(HOUSE, kind, old, new)


def test_what_hangs_elsewhere_keeps_what_comes_there() -> None:
    """The float switch leaves the board behind: its jumper comes out; the board takes only what reaches the hall with it."""
    moved = read_job(edit.move_equipment(HOUSE, "float", "attic"))
    assert (moved.equipment["float"].at, moved.jumpers) == ("attic", ())
    moved = read_job(edit.move_equipment(HOUSE, "board", "attic"))
    assert moved.landings["wall.red"] == ("stat.R", None)
    assert edit.move_equipment(HOUSE, "board", "cellar") == HOUSE
    alone = HOUSE.replace(", joint-2: hall", "").replace("joint-2, ", "stat.Y, ")
    assert edit.only_for(read_job(alone), "stat") == ("wall",)
    moved = read_job(edit.move_equipment(alone, "stat", "attic"))
    assert (moved.cables["wall"].between, moved.landings["wall.red"]) == (("attic", "cellar"), ("stat.R", "board.R"))
    assert read_job(edit.drop_equipment(alone.partition("faults:")[0], "stat")).cables == {}


def test_a_cable_is_changed_and_doubled() -> None:
    after = edit.set_cable(HOUSE, "wall", length="14 m", conductors="20/2")
    cable = read_job(after.partition("faults:")[0]).cables["wall"]
    assert (cable.awg, cable.conductors) == (20, ("red", "white"))
    assert cable.length_ft == pytest.approx(45.93, abs=0.01)
    assert "wall.blue" not in after
    assert edit.set_cable(HOUSE, "wall", length="50 ft", conductors="red white blue") == HOUSE
    after, name = edit.copy_cable(HOUSE, "wall")
    assert name == "wall-2"
    assert read_job(after).cables["wall-2"].conductors == ("red", "white", "blue")
    assert read_job(after).landings["wall-2.red"] == (None, None)
