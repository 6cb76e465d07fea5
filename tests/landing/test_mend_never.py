"""What a repair must never do: wire round what is broken, bridge what guards or governs, let two sources meet."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from callpath.job import Job
from callpath.landing.mend import mend
from callpath.proof.prove import prove
from tests.jobs import HOUSE, data, job_of


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ({"open": "cond.contactor"}, "cond.contactor is open: replace it"),
        ({"dead": "board.transformer"}, "board.transformer gives nothing"),
        ({"stuck": "stat.contact-Y"}, "stat.contact-Y does not open any more"),
        ({"high-resistance": "wall.white", "ohms": 3000}, "wall.white has a bad connection of 3000 Ω"),
    ],
)
def test_what_is_broken_is_said_and_not_wired_round(fault: dict[str, Any], told: str) -> None:
    found = mend(job_of(HOUSE, faults=[fault]))
    assert not found.moves
    assert len(found.broken) == 1
    assert told in found.broken[0]
    assert found.verdict == "findings"
    assert found.wiring.verdict == "clean"


def test_a_float_switch_that_has_tripped_is_never_bridged() -> None:
    floated = data("""
        equipment:
          float: {part: accessory/float-switch, at: cellar}
        cables:
          pan: {between: [cellar, cellar], conductors: [red, yellow]}
        landings:
          wall.yellow: [stat.Y, over]
          pan.yellow:  [over, float.1]
          pan.red:     [float.2, board.Y]
        splices: {over: cellar}
        contacts: {float.switch: open}
        """)
    found = mend(job_of(HOUSE, **floated))
    assert not found.moves
    assert found.broken == ("float.switch stands open: find out what moved it, and never bridge it",)


ATTIC = data("""
    callpath: 1
    equipment:
      stat:  {part: thermostat/single-supply, at: hall, settings: {power: common}}
      board: {part: indoor/furnace-board, at: attic}
      float: {part: accessory/float-switch, at: attic}
      cond:  {part: outdoor/condenser, at: pad}
    cables:
      wall: {between: [hall, attic], conductors: [red, white, yellow, green, blue]}
      out:  {between: [attic, pad], conductors: [red, white]}
      pan:  {between: [attic, attic], length: 4 ft, conductors: [red, black]}
    landings:
      wall.red:    [stat.R, board.R]
      wall.white:  [stat.W, board.W]
      wall.yellow: [stat.Y, over]
      wall.green:  [stat.G, board.G]
      wall.blue:   [stat.C, board.C]
      pan.red:     [board.Y, float.1]
      pan.black:   [over, float.2]
      out.red:     [board.Y, cond.Y]
      out.white:   [board.C, cond.C]
    splices: {over: attic}
    """)


@pytest.mark.parametrize(
    "landings",
    [
        pytest.param(
            {"wall.yellow": ["stat.Y", "board.G"], "wall.green": ["stat.G", "over"]}, id="Y and G changed over"
        ),
        pytest.param(
            {
                "wall.white": ["stat.W", "board.G"],
                "wall.yellow": ["stat.Y", "board.W"],
                "wall.green": ["stat.G", "over"],
            },
            id="W, Y and G mixed up",
        ),
        pytest.param(
            {"pan.red": ["board.G", "float.1"], "wall.yellow": ["stat.Y", "board.Y"], "wall.green": ["stat.G", "over"]},
            id="float in the fan lead",
        ),
        pytest.param({"pan.red": ["board.Y", "float.2"]}, id="both leads of the float on one side"),
        pytest.param({"wall.yellow": ["stat.Y", "board.Y"]}, id="gone past"),
        pytest.param({"pan.red": None, "wall.yellow": ["stat.Y", "board.C"]}, id="one lead off, the other shorted"),
    ],
)
def test_a_float_switch_stops_the_compressor_after_every_repair(landings: dict[str, Any]) -> None:
    """Common practice, no source: the coil makes the water, so an open float has to stop the compressor."""
    assert _stopped_by_the_float(mend(job_of(ATTIC)).job)
    found = mend(job_of(ATTIC, landings=landings))
    assert found.verdict == "clean"
    assert _stopped_by_the_float(found.job)


def _stopped_by_the_float(job: Job) -> bool:
    running = [set(prove(replace(job, contacts={"float.switch": on})).calls["cool"].running) for on in (True, False)]
    return "cond.compressor" in running[0] - running[1]


HUMID = data("""
    callpath: 1
    equipment:
      stat:  {part: thermostat/humidity, at: hall}
      board: {part: indoor/humidity-board, at: closet}
      hs:    {part: accessory/humidistat, at: closet}
      hum:   {part: accessory/humidifier, at: closet}
    cables:
      wall: {between: [hall, closet], conductors: [red, blue, green, white]}
      h:    {between: [closet, closet], length: 3 ft, conductors: [red, white, blue]}
    landings:
      wall.red:   [stat.R, board.R]
      wall.blue:  [stat.C, board.C]
      wall.green: [stat.G, board.G]
      wall.white: [stat.W, board.W]
      h.red:      [board.HUM, hs.1]
      h.white:    [hs.2, hum.H]
      h.blue:     [hum.C, board.C]
    serves: [fan, heat, humidify]
    """)


def test_a_humidistat_that_stands_open_is_not_wired_past() -> None:
    """Common practice, no source: it is a control that waits for dry air; past it, water runs whenever the burner does."""
    found = mend(job_of(HUMID))
    assert not found.moves
    assert found.broken == ("hs.switch stands open, as it rests: see what it waits for, and never bridge it",)
    assert found.wiring.verdict == "clean"
    assert found.verdict == "findings"


@pytest.mark.parametrize("stands", ["open", "closed"])
def test_a_humidistat_stays_in_its_circuit_when_other_things_are_put_right(stands: str) -> None:
    wrong = {"wall.green": ["stat.G", "board.W"], "wall.white": ["stat.W", "board.G"]}
    found = mend(job_of(HUMID, landings=wrong, contacts={"hs.switch": stands}))
    assert len(found.moves) == 2
    assert len(found.broken) == (stands == "open")
    water = [
        "hum.water" in prove(replace(found.job, contacts={"hs.switch": on})).calls["heat"].running for on in (0, 1)
    ]
    assert water == [False, True]


BOILER_AND_AIR = data("""
    callpath: 1
    equipment:
      stat:   {part: thermostat/single-supply, at: hall}
      boiler: {part: indoor/boiler, at: cellar}
      air:    {part: indoor/air-handler, at: attic}
      cond:   {part: outdoor/condenser, at: yard}
    cables:
      wall:    {between: [hall, cellar], conductors: [red, white]}
      up:      {between: [hall, attic], conductors: [red, white, green, yellow]}
      outside: {between: [attic, yard], conductors: [red, white]}
    landings:
      wall.red:      [stat.R, boiler.R]
      wall.white:    [stat.W, boiler.W]
      up.red:        [stat.R, air.R]
      up.green:      [stat.G, air.G]
      up.yellow:     [stat.Y, over]
      outside.red:   [over, cond.Y]
      outside.white: [air.C, cond.C]
    splices: {over: attic}
    serves: [heat, cool, fan]
    """)


@pytest.mark.parametrize(
    "landings", [{}, {"up.green": None}, {"up.red": [None, "air.R"]}, {"wall.red": ["stat.R", None]}]
)
def test_no_repair_lets_two_sources_meet_and_a_call_is_no_price_for_that(landings: dict[str, Any]) -> None:
    """CP: two transformers on a thermostat with one power terminal take an isolating relay, never a joint of their hot sides."""
    found = mend(job_of(BOILER_AND_AIR, landings=landings))
    assert "sources-tied" not in [finding.code for finding in found.proof.findings]
    assert found.verdict == "clean"
    assert found.unserved.keys() == {"heat"}
    assert "no two sources meet" in found.unserved["heat"]


def test_an_input_that_waits_for_voltage_does_not_get_it_from_another_source() -> None:
    """CP: a blower that slows without 24 V on DH gets it from its own board, though both are bonded."""
    bonded = {"bonded-common": True}
    job = job_of(
        HUMID,
        equipment={
            "boiler": {"part": "indoor/boiler", "at": "closet", "settings": bonded},
            "board": {"part": "indoor/humidity-board", "at": "closet", "settings": bonded},
            "cond": {"part": "outdoor/condenser", "at": "closet"},
            "hs": None,
            "hum": None,
        },
        cables={"h": {"between": ["closet", "closet"], "conductors": ["red", "white", "blue", "yellow"]}},
        landings={
            "h.red": ["board.Y", "cond.Y"],
            "h.white": ["board.C", "cond.C"],
            "h.blue": ["boiler.R", "board.DH"],
        },
        serves=["fan", "heat"],
    )
    assert ("sources-tied", "weak", ("board.transformer", "boiler.transformer", "board.dehumidify-input")) in {
        (finding.code, finding.severity, finding.where) for finding in prove(job).findings
    }
    found = mend(job)
    assert [finding.where for finding in found.proof.findings if finding.code == "sources-tied"] == [
        ("board.transformer", "boiler.transformer")
    ]


def test_a_contact_that_asks_is_not_taken_for_tripped() -> None:
    """A contact that stands away from its rest and makes the job work, such as a flow switch that sees flow, stays so."""
    job = job_of(
        data("""
            callpath: 1
            equipment:
              stat:  {part: thermostat/heat-only, at: hall}
              prove: {part: accessory/air-proving-switch, at: cellar}
              hot:   {part: indoor/boiler, at: cellar}
            cables:
              wall:  {between: [hall, cellar], conductors: [red, white]}
              short: {between: [cellar, cellar], conductors: [white]}
            landings:
              wall.red:    [stat.R, hot.R]
              wall.white:  [stat.W, prove.1]
              short.white: [prove.2, hot.W]
            contacts: {prove.switch: closed}
            """)
    )
    assert prove(job).verdict == "clean"
    found = mend(job)
    assert not found.moves
    assert not found.broken
    assert found.job.contacts == job.contacts


TWO_OUTSIDE = data("""
    callpath: 1
    equipment:
      stat:  {part: thermostat/single-supply, at: hall, settings: {power: common}}
      board: {part: indoor/furnace-board, at: cellar, settings: {transformer-va: 75}}
      yard:  {part: outdoor/condenser, at: yard}
      porch: {part: outdoor/condenser, at: porch}
    cables:
      wall:     {between: [hall, cellar], conductors: [red, white, green, yellow, blue]}
      to-yard:  {between: [cellar, yard], conductors: [red, white]}
      to-porch: {between: [cellar, porch], conductors: [red, white]}
    landings:
      wall.red:       [stat.R, board.R]
      wall.white:     [stat.W, board.W]
      wall.yellow:    [stat.Y, board.Y]
      wall.green:     [stat.G, board.G]
      wall.blue:      [stat.C, board.C]
      to-yard.red:    [board.Y, yard.Y]
      to-yard.white:  [board.C, yard.C]
      to-porch.red:   [board.Y, porch.Y]
      to-porch.white: [board.C, porch.C]
    serves: [cool, fan, heat]
    """)


def test_a_crowded_terminal_costs_no_machine_and_no_input() -> None:
    """Common practice, no source: three leads on one screw want a pigtail. Taking a condenser off, or making the Y screw a second
    common by a jumper, would leave a clean proof and a customer without cooling.
    """
    found = mend(job_of(TWO_OUTSIDE), most_moves=3, ways=False)
    assert not found.moves
    assert {"yard.compressor", "porch.compressor"} <= set(found.proof.calls["cool"].running)
    assert {finding.where[0] for finding in found.proof.findings if finding.code == "crowded-terminal"} == {
        "board.C",
        "board.Y",
    }


def test_a_machine_that_the_calls_come_to_goes_on_doing_something() -> None:
    """Both leads of the second condenser sit wrong; the two moves that put it to work count, not the one that takes it off."""
    wrong = {"to-porch.red": ["board.W", "porch.Y"], "to-porch.white": ["board.Y", "porch.C"], "wall.blue": None}
    stat = {"stat": {"part": "thermostat/single-supply", "at": "hall"}}
    found = mend(job_of(TWO_OUTSIDE, landings=wrong, equipment=stat), ways=False)
    assert "porch.compressor" in found.proof.calls["cool"].running, found.moves
