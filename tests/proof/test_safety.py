"""A safety that is wired and stops nothing is said to.

Common practice, no source: a float must be in series with what it stops.
"""

from __future__ import annotations

import pytest

from callpath.job import read_job
from callpath.proof.finding import CODES
from callpath.proof.prove import prove

JOB = """
callpath: 1
title: Dairy, a float switch
equipment:
  stat:  {part: thermostat/single-supply, at: office}
  board: {part: indoor/furnace-board, at: loft}
  float: {part: accessory/float-switch, at: loft}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall: {between: [office, loft], conductors: [red, yellow, green]}
  pan:  {between: [loft, loft], length: 5 ft, conductors: [red, white]}
  out:  {between: [loft, yard], conductors: [red, white]}
landings:
  wall.red: [stat.R, board.R]
  wall.yellow: [stat.Y, board.Y]
  wall.green: [stat.G, board.G]
  pan.red: [board.Y, float.1]
  pan.white: [FLOAT, joint]
  out.red: [joint, cond.Y]
  out.white: [board.C, cond.C]
splices: {joint: loft}
serves: [cool, fan]
"""


@pytest.mark.parametrize(("lands", "idle"), [("float.2", False), ("float.1", True)])
def test_a_float_that_is_gone_past(lands: str, idle: bool) -> None:
    found = [f for f in prove(read_job(JOB.replace("FLOAT", lands))).findings if f.code == "idle-safety"]
    assert bool(found) is idle
    if idle:
        assert found[0].severity == "weak"
        assert found[0].where[0] == "float.switch"
        assert found[0].calls == ("cool", "fan")


def test_a_float_with_nothing_landed_is_no_finding() -> None:
    lines = [line for line in JOB.replace("FLOAT", "null").splitlines() if not line.lstrip().startswith("pan.")]
    job = "\n".join(lines).replace("out.red: [joint,", "out.red: [board.Y,").replace("splices: {joint: loft}", "")
    assert not [f for f in prove(read_job(job)).findings if f.code == "idle-safety"]


def test_a_float_that_is_stuck_is_to_be_replaced() -> None:
    proof = prove(read_job(JOB.replace("FLOAT", "float.2") + "faults: [{stuck: float.switch}]\n"))
    found = [f for f in proof.findings if f.code == "idle-safety"]
    assert [f.remedy for f in found] == ["replace float.switch"]


def test_the_page_of_findings_has_it() -> None:
    assert "idle-safety" in CODES
