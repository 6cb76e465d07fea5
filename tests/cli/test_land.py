"""`land` as a user runs it."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.job import load_job
from tests.cli.run import run

JOB = """\
callpath: 1
title: Summer house   # the one by the lake
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], conductors: [COLOURS]}
  outside: {between: [cellar, yard], conductors: [red, white]}
serves: [heat, cool]   # both, if it can be had
"""


@pytest.fixture
def summer(tmp_path: Path) -> Path:
    """A job with three conductors, enough for heating and cooling."""
    path = tmp_path / "summer.job.yaml"
    path.write_text(JOB.replace("COLOURS", "red, white, blue"), encoding="utf-8")
    return path


def test_every_call_served_is_status_0(summer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "land", summer, "--json")
    assert ran.status == 0
    found = ran.document
    assert found["serves"] == ["heat", "cool"]
    assert found["unserved"] == []
    assert found["optimal"] is True
    assert found["verdict"] == "clean"
    assert found["landings"]["wall.blue"] == ["stat.Y", "board.Y"]
    assert {"splices", "jumpers", "ways_out"} <= set(found)
    # What is best is best of what was searched; that is said beside it.
    assert found["not_searched"] == [
        "a joint on a screw that holds something else already",
        "one purpose that meets at more than 2 splices and free terminals",
    ]
    assert "not looked at" not in run(capsys, "land", summer).out
    assert {choice["conductor"] for choice in found["choices"]} == {
        "wall.red",
        "wall.white",
        "wall.blue",
        "outside.red",
        "outside.white",
    }


def test_a_call_given_up_is_status_1_and_told(summer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    summer.write_text(JOB.replace("COLOURS", "red, white"), encoding="utf-8")
    ran = run(capsys, "land", summer)
    assert ran.status == 1
    told = " ".join(ran.out.split())
    assert "serves heat" in told
    assert "not cool: 'cool' beside heat needs 3 conductors between hall and cellar" in told
    assert (
        "not looked at: a joint on a screw that holds something else already; one purpose that meets at more than 2"
        in told
    )
    assert "Power off" in told


def test_output_keeps_the_comments_and_holds_what_is_served(summer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    summer.write_text(JOB.replace("COLOURS", "red, white"), encoding="utf-8")
    completed = summer.with_name("done.job.yaml")
    run(capsys, "land", summer, "-o", completed)
    text = completed.read_text(encoding="utf-8")
    assert "# the one by the lake" in text
    assert load_job(completed).serves == ("heat",)
    assert run(capsys, "prove", completed).status == 0


def test_a_person_reads_terminal_conductor_and_why(summer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "land", summer).out
    for place in ("At hall", "At cellar", "At yard"):
        assert place in out
    assert "Against custom's colours" in out
    assert "wall.blue lands on stat.Y, which custom gives yellow" in out


@pytest.mark.parametrize("arguments", [["--free", "wal"], ["--free", "hall"]])
def test_a_cable_that_is_not_there_is_status_2(
    summer: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    ran = run(capsys, "land", summer, *arguments, "--json")
    assert ran.status == 2
    assert f"the job has no cable '{arguments[1]}'" in ran.document["errors"][0]["message"]


def test_freed_conductors_are_landed_anew(summer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    completed = summer.with_name("done.job.yaml")
    run(capsys, "land", summer, "-o", completed)
    crossed = completed.read_text(encoding="utf-8").replace("[stat.W, board.W]", "[stat.W, board.C]")
    completed.write_text(crossed, encoding="utf-8")
    ran = run(capsys, "land", completed, "--free", "wall", "--json")
    assert ran.status == 0
    assert ran.document["landings"]["wall.white"] == ["stat.W", "board.W"]
    assert ran.document["objective"]["ends_changed"] == 1


def test_a_way_out_is_written_whole(summer: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    summer.write_text(JOB.replace("COLOURS", "red, white"), encoding="utf-8")
    ways = run(capsys, "land", summer, "--json").document["ways_out"]
    assert [way["title"] for way in ways] == [
        "two signals on one conductor of wall, with a pair of diodes",
        "a second cable of 2 from hall to cellar",
        "new cable of 3 from hall to cellar",
    ]
    out = tmp_path / "out.job.yaml"
    run(capsys, "land", summer, "--way", 3, "-o", out)
    assert out.read_text(encoding="utf-8") == ways[2]["job"]
    assert load_job(out).serves == ("heat", "cool")
    ran = run(capsys, "land", summer, "--way", 4, "-o", out)
    assert ran.status == 2
    assert "there is no way out number 4: there are 3" in ran.err
    assert run(capsys, "land", summer, "--way", 1).status == 2
