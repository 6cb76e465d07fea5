"""What each call must run, by what the thermostat reaches; and the calls that a job serves by default."""

from __future__ import annotations

import pytest

from callpath.calls.need import Needs
from callpath.calls.reach import Joins
from callpath.circuit.build import build
from tests.jobs import COTTAGE, FUEL, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, amended, job_of, proof_of

TWO_STAGE = amended(
    HOUSE,
    equipment="{board: {part: indoor/two-stage-furnace-board, at: cellar}}",
    landings="{wall.white: [stat.W, board.W1]}",
)
O_PUMP = {
    "fan": "air.blower",
    "cool": "air.blower pump.compressor pump.reversing-valve",
    "heat": "air.blower pump.compressor",
    "aux": "air.blower pump.compressor air.aux-heat",
    "emergency": "air.blower air.aux-heat",
    "defrost": "air.blower pump.compressor pump.reversing-valve air.aux-heat",
}
B_PUMP = {
    "cool": "air.blower pump.compressor",
    "heat": "air.blower pump.compressor pump.reversing-valve",
    "aux": "air.blower pump.compressor pump.reversing-valve air.aux-heat",
    "emergency": "air.blower air.aux-heat",
    "defrost": "air.blower pump.compressor air.aux-heat",
}

# Common practice, no source: a heat pump added to a furnace has its coil above the burner, and the thermostat's auxiliary heat is
# the furnace, before which the heat pump is let go; only defrost is tempered by it.
FUEL_PUMP = {
    "fan": "air.blower",
    "cool": "air.blower pump.compressor pump.reversing-valve",
    "heat": "air.blower pump.compressor",
    "aux": "air.blower air.heat",
    "emergency": "air.blower air.heat",
    "defrost": "air.blower pump.compressor pump.reversing-valve air.heat",
}

NEEDS = [
    pytest.param(COTTAGE, {}, {"fan": "board.blower", "cool": "board.blower cond.compressor"}, id="cottage"),
    pytest.param(
        HOUSE,
        {},
        {"off": "", "fan": "board.blower", "cool": "board.blower cond.compressor", "heat": "board.heat board.blower"},
        id="house",
    ),
    pytest.param(TWO_STAGE, {}, {"heat": "board.heat board.blower"}, id="one stage of a two-stage board"),
    pytest.param(MANOR, {}, {"heat": "boiler.heat", "cool": "air.blower cond.compressor"}, id="boiler has no blower"),
    pytest.param(
        MILL, {}, {"cool": "furnace.blower cond.compressor", "heat": "furnace.heat furnace.blower"}, id="mill"
    ),
    pytest.param(ZONE, {}, {"heat": "boiler.heat boiler.circulator valve.open"}, id="through the valve's end switch"),
    pytest.param(RELAY, {}, {"cool": "board.blower cond.compressor"}, id="through an isolating relay"),
    pytest.param(PUMP, {}, O_PUMP, id="O"),
    pytest.param(PUMP, {"settings": "{stat: {changeover: B}, pump: {changeover: B}}"}, B_PUMP, id="B"),
    pytest.param(FUEL, {}, FUEL_PUMP, id="a furnace is the auxiliary heat where there is no electric heat"),
    pytest.param(
        FUEL,
        {"landings": "{wall.white: null}"},
        {"aux": "air.blower air.heat pump.compressor"},
        id="a furnace that nothing calls lets nothing go",
    ),
    pytest.param(PUMP, {"settings": "{stat: {changeover: B}}"}, O_PUMP, id="the outdoor unit's setting decides"),
    pytest.param(
        HOUSE,
        {"faults": "[{open: wall.yellow}]"},
        {"cool": "board.blower cond.compressor"},
        id="a broken conductor changes no need",
    ),
    pytest.param(
        HOUSE,
        {"landings": "{outside.red: [board.W, cond.Y]}"},
        {"cool": "board.blower cond.compressor", "heat": "board.heat board.blower"},
        id="what should have been reached is needed",
    ),
]


@pytest.mark.parametrize(("base", "changes", "needs"), NEEDS)
def test_must_run(base: dict[str, object], changes: dict[str, str], needs: dict[str, str]) -> None:
    found = Needs(build(job_of(base, **changes)))
    for call, functions in needs.items():
        assert found.must_run(call) == set(functions.split()), call


def test_a_coil_has_no_polarity_for_what_is_needed_either() -> None:
    pair = amended(
        HOUSE,
        equipment="{second: {part: outdoor/condenser, at: yard}}",
        jumpers="[[cond.Y, second.C], [cond.C, second.Y]]",
        settings="{board: {transformer-va: 75}}",
    )
    assert Needs(build(job_of(pair))).must_run("cool") == {"board.blower", "cond.compressor", "second.compressor"}
    assert proof_of(pair).verdict == "clean"


def test_electric_heat_is_heat_though_an_unconnected_boiler_stands_beside() -> None:
    electric = amended(
        HOUSE,
        equipment="{board: {part: indoor/air-handler, at: cellar}}",
        landings="{wall.yellow: [stat.Y, past], outside.red: [past, cond.Y]}",
        splices="{past: cellar}",
    )
    beside = amended(electric, equipment="{boiler: {part: indoor/boiler, at: cellar}}")
    for job in (electric, beside):
        assert Needs(build(job_of(job))).must_run("heat") == {"board.aux-heat", "board.blower"}
        assert proof_of(job).verdict == "clean"


def test_two_zones_need_their_own_valves_and_the_boiler_both() -> None:
    two = amended(
        ZONE,
        equipment="{attic: {part: thermostat/heat-only, at: attic}, valve2: {part: accessory/zone-valve, at: boiler room}}",
        cables="{up: {between: [attic, boiler room], conductors: [red, white]}}",
        landings="{up.red: [attic.R, supply.R], up.white: [attic.W, valve2.M1]}",
        jumpers="[[valve.M2, valve2.M2], [valve.E1, valve2.E1], [valve.E2, valve2.E2]]",
    )
    needs = Needs(build(job_of(two)))
    boiler = {"boiler.heat", "boiler.circulator"}
    assert needs.must_run("heat") == boiler | {"valve.open", "valve2.open"}
    assert needs.must_run("heat", ["stat"]) == boiler | {"valve.open"}
    assert needs.must_run("heat", ["attic"]) == boiler | {"valve2.open"}
    assert needs.must_run("off") == set()


@pytest.mark.parametrize(
    ("base", "serves"),
    [
        (amended(COTTAGE, serves=None), "fan cool heat"),
        (MANOR, "fan cool heat"),
        (PUMP, "fan cool heat aux emergency defrost"),
        (FUEL, "fan cool heat aux emergency defrost"),
        (ZONE, "heat"),
        (MILL, "fan cool heat"),
    ],
)
def test_serves_by_default(base: dict[str, object], serves: str) -> None:
    base = {key: value for key, value in base.items() if value is not None}
    assert Needs(build(job_of(base))).serves() == tuple(serves.split())


def test_a_job_serves_what_it_says() -> None:
    assert Needs(build(job_of(COTTAGE))).serves() == ("cool", "fan")
    assert Needs(build(job_of(HOUSE, serves="[]"))).serves() == ()


def test_without_outdoor_unit_cooling_is_not_served() -> None:
    no_cond = {
        "equipment": "{cond: null}",
        "cables": "{outside: null}",
        "landings": "{outside.red: null, outside.white: null}",
    }
    assert Needs(build(job_of(HOUSE, **no_cond))).serves() == ("fan", "heat")


# ---- what is reached -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("base", "output", "reached"),
    [
        (HOUSE, "stat.Y", "board cond"),
        (HOUSE, "stat.W", "board"),
        (HOUSE, "stat.G", "board"),
        (MILL, "stat.Y", "cond"),
        (PUMP, "stat.W2", "air pump"),
        (PUMP, "stat.Y", "pump"),
        (PUMP, "stat.E", ""),
        (ZONE, "stat.W", "valve boiler"),
        (RELAY, "stat.Y", "board relay cond"),
    ],
)
def test_reached(base: dict[str, object], output: str, reached: str) -> None:
    assert Joins(build(job_of(base))).reached(output) == set(reached.split())


def test_a_net_is_what_copper_joins_whatever_the_contacts_do() -> None:
    joins = Joins(build(job_of(PUMP)))
    assert joins.net("stat.W2") == {"stat.W2", "heat", "air.W", "pump.W"}
    assert joins.net("stat.E") == {"stat.E"}


def test_a_part_says_which_calls_must_run_its_functions_and_beside_which_they_may() -> None:
    staged = amended(
        PUMP,
        equipment="""{stat: {part: thermostat/heat-pump, at: parlour, settings: {compressor-stages: 2}},
                      pump: {part: outdoor/two-stage-heat-pump, at: orchard}}""",
        landings="{outside.yellow: [call, pump.Y1]}",
    )
    needs = Needs(build(job_of(staged)))
    assert "pump.compressor-2" in needs.must_run("cool-2")
    assert "pump.compressor-2" not in needs.may_run("cool")
    assert "pump.compressor-2" in needs.may_run("aux") - needs.must_run("aux")
    # P: defrost stops the outdoor fan.
    assert "pump.outdoor-fan" in needs.must_run("heat")
    assert "pump.outdoor-fan" not in needs.may_run("defrost")


def test_only_a_fault_lets_a_fault_light_run() -> None:
    lit = amended(
        PUMP,
        equipment="""{pump: {part: outdoor/heat-pump-defrost-board, at: orchard},
                      light: {part: accessory/fault-light, at: cupboard}}""",
        cables="{extra: {between: [cupboard, orchard], length: 60 ft, conductors: [brown]}}",
        landings="{extra.brown: [light.L, pump.L]}",
        jumpers="[[air.C, light.C]]",
        settings="{air: {transformer-va: 75}}",
    )
    needs = Needs(build(job_of(lit)))
    assert needs.tell_of_a_fault == {"light.light"}
    assert "light.light" not in needs.may_run("heat")
    assert proof_of(lit).verdict == "clean"
    tripped = proof_of(lit, contacts="{pump.high-pressure: open}")
    assert "light.light" in tripped.calls["heat"].running
