"""A safety that is wired and stops nothing is said to.

Common practice, no source: a float must be in series with what it stops.
"""

from __future__ import annotations

import pytest

from callpath.job import read_job
from callpath.parts.catalogue import default_catalogue
from callpath.proof.finding import CODES, Finding
from callpath.proof.prove import prove
from tests.jobs import HOUSE, proof_of

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
        assert found[0].calls == ("cool",)


def test_a_float_with_nothing_landed_is_no_finding() -> None:
    lines = [line for line in JOB.replace("FLOAT", "null").splitlines() if not line.lstrip().startswith("pan.")]
    job = "\n".join(lines).replace("out.red: [joint,", "out.red: [board.Y,").replace("splices: {joint: loft}", "")
    assert not [f for f in prove(read_job(job)).findings if f.code == "idle-safety"]


def test_a_float_that_is_stuck_is_to_be_replaced() -> None:
    proof = prove(read_job(JOB.replace("FLOAT", "float.2") + "faults: [{stuck: float.switch}]\n"))
    found = [f for f in proof.findings if f.code == "idle-safety"]
    assert [f.remedy for f in found] == ["replace float.switch"]


IN_FAN = {"pan.red": "[board.G, float.1]", "pan.white": "[joint, float.2]", "out.red": "[board.Y, cond.Y]"}


def _landed(**ends: str) -> str:
    return "\n".join(
        next((f"  {name}: {at}" for name, at in ends.items() if line.startswith(f"  {name}:")), line)
        for line in JOB.replace("FLOAT", "float.2").splitlines()
    )


def _idle(job: str) -> list[Finding]:
    return [f for f in prove(read_job(job)).findings if f.code.startswith("idle")]


def test_a_float_that_stops_only_the_fan_lets_the_compressor_make_water() -> None:
    """Common practice, no source: the coil makes the water, so the float has to stop the compressor."""
    found = _idle(_landed(**IN_FAN, **{"wall.green": "[stat.G, joint]"}))
    assert [(f.code, f.calls) for f in found] == [("idle-safety", ("cool",))]
    assert "stops only board.blower when it opens: cond.compressor goes on running on 'cool'" in found[0].message
    assert "what energises cond.compressor has to go through float.1 and float.2" in found[0].remedy


def test_a_safety_that_stops_its_function_on_some_calls_says_so() -> None:
    """Common practice, no source: a smoke detector's contact in the fan lead stops the fan call; cooling and heating blow on."""
    smoke = {
        "equipment": "{smoke: {part: accessory/smoke-shutdown-relay, at: cellar}}",
        "landings": "{wall.green: [stat.G, smoke.COM]}",
        "jumpers": "[[smoke.NC, board.G]]",
    }
    (found,) = [f for f in proof_of(HOUSE, **smoke).findings if f.code == "idle-safety"]
    assert (
        "stops board.blower on some calls only when it opens: board.blower goes on running on 'cool', 'heat'"
        in found.message
    )


def test_a_float_in_the_thermostats_feed_stops_the_compressor_with_all_else() -> None:
    lands = {"wall.red": "[stat.R, joint]", "pan.red": "[board.R, float.1]", "pan.white": "[joint, float.2]"}
    assert not _idle(_landed(**lands, **{"out.red": "[board.Y, cond.Y]"}))


def test_of_a_compressor_that_does_not_run_nothing_is_said() -> None:
    """A bad joint starves the thermostat, the compressor never starts, and the float in its lead has nothing to stop."""
    starved = _landed().replace("thermostat/single-supply, at: office", POWERED).replace("green]}", "green, blue]}")
    starved = starved.replace("  pan.red:", "  wall.blue: [stat.C, board.C]\n  pan.red:") + STARVED
    assert "cond.compressor" not in prove(read_job(starved)).calls["cool"].running
    assert not _idle(starved)


POWERED = "thermostat/single-supply, at: office, settings: {power: common}"
STARVED = "\nfaults: [{high-resistance: wall.red, ohms: 12}]\n"


def test_a_limit_inside_equipment_that_does_not_open_is_found() -> None:
    """Common practice, no source: a boiler's limit stops its burner."""
    assert not _idle(HEATER)
    found = _idle(HEATER + "faults: [{stuck: hot.high-limit}]\n")
    assert [(f.code, f.remedy) for f in found] == [("idle-safety", "replace hot.high-limit")]


HEATER = """
callpath: 1
title: Dairy, a heater
equipment:
  stat: {part: thermostat/heat-only, at: office}
  hot:  {part: indoor/aquastat-boiler, at: loft}
cables:
  wall: {between: [office, loft], conductors: [red, white]}
landings:
  wall.red:   [stat.R, hot.T1]
  wall.white: [stat.W, hot.T2]
serves: [heat]
"""


def test_a_sail_switch_that_stops_only_the_fan_lets_the_heat_go_on() -> None:
    """Common practice, no source: what must have air stands behind the switch that proves it, not the fan itself."""
    job = SAIL.replace("WHITE", "joint").replace("GREEN", "board.G").replace("SAIL", "board.W")
    assert not _idle(job)
    found = _idle(SAIL.replace("WHITE", "board.W").replace("GREEN", "joint").replace("SAIL", "board.G"))
    assert [f.code for f in found] == ["idle-safety"]
    assert "board.heat goes on running on 'heat'" in found[0].message


SAIL = """
callpath: 1
title: Dairy, a sail switch
equipment:
  stat:  {part: thermostat/single-supply, at: office, settings: {fan-with-heat: true}}
  board: {part: indoor/furnace-board, at: loft}
  sail:  {part: accessory/sail-switch, at: loft}
cables:
  wall: {between: [office, loft], conductors: [red, white, green]}
  duct: {between: [loft, loft], length: 5 ft, conductors: [red, white]}
landings:
  wall.red:   [stat.R, board.R]
  wall.white: [stat.W, WHITE]
  wall.green: [stat.G, GREEN]
  duct.red:   [joint, sail.1]
  duct.white: [SAIL, sail.2]
splices: {joint: loft}
serves: [heat, fan]
contacts: {sail.switch: closed}
"""


@pytest.mark.parametrize("stands", ["open", "closed"])
def test_a_control_that_current_goes_past_governs_nothing_and_is_no_safety(stands: str) -> None:
    job = HUMID.replace("AT", "hs.1") + f"contacts: {{hs.switch: {stands}}}\n"
    assert not _idle(job)
    found = _idle(job.replace("board.HUM, hs.1", "board.HUM, hs.2"))
    assert [f.code for f in found] == ["idle-control"]
    assert "stop" not in found[0].message


def test_an_open_humidistat_is_told_as_a_control() -> None:
    dead = [f for f in prove(read_job(HUMID.replace("AT", "hs.1"))).findings if f.code == "dead-call"]
    assert [f.calls for f in dead] == [("humidify",)]
    assert dead[0].remedy.startswith("hs.switch (humidistat) is a control and stands open")
    assert "stop" not in dead[0].remedy


HUMID = """
callpath: 1
title: Dairy, a humidistat
equipment:
  stat:  {part: thermostat/humidity, at: office}
  board: {part: indoor/humidity-board, at: loft}
  hs:    {part: accessory/humidistat, at: loft}
  hum:   {part: accessory/humidifier, at: loft}
cables:
  wall: {between: [office, loft], conductors: [red, blue, white, green]}
  h:    {between: [loft, loft], length: 3 ft, conductors: [red, white, blue]}
landings:
  wall.red:   [stat.R, board.R]
  wall.blue:  [stat.C, board.C]
  wall.white: [stat.W, board.W]
  wall.green: [stat.G, board.G]
  h.red:      [board.HUM, AT]
  h.white:    [hs.2, hum.H]
  h.blue:     [hum.C, board.C]
serves: [humidify, heat, fan]
"""


def test_every_safety_of_the_catalogue_names_functions_that_some_part_has() -> None:
    catalogue = default_catalogue()
    parts = [catalogue.part(name) for name in catalogue.names]
    known = {function for part in parts for function in part.functions}
    for part in parts:
        for name, element in part.elements.items():
            assert set(element.stops) <= known, (part.part, name)


def test_the_page_of_findings_has_it() -> None:
    assert {"idle-safety", "idle-control"} <= CODES.keys()
