"""Dead calls, unpowered thermostats, loads without a return: the path ends where the current stops."""

from __future__ import annotations

import pytest

from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, codes, has, having, only, proof_of

# ---- dead-call ---------------------------------------------------------------------------------------------

# What is wrong; on which calls; where the path ends; what it stops at.
DEAD_HOUSE = [
    ("{open: wall.red}", "fan cool heat", "board.R", "wall.red"),
    ("{open: wall.yellow}", "cool", "board.R wall.red stat.R stat.Y", "wall.yellow"),
    ("{open: wall.white}", "heat", "board.R wall.red stat.R stat.W", "wall.white"),
    ("{open: wall.green}", "fan", "board.R wall.red stat.R stat.G", "wall.green"),
    ("{open: outside.red}", "cool", "board.R wall.red stat.R stat.Y wall.yellow board.Y", "outside.red"),
    (
        "{open: outside.white}",
        "cool",
        "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C",
        "outside.white",
    ),
    (
        "{open: cond.contactor}",
        "cool",
        "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y",
        "cond.contactor",
    ),
    ("{open: board.heat-input}", "heat", "board.R wall.red stat.R stat.W wall.white board.W", "board.heat-input"),
    ("{open: stat.contact-Y}", "cool", "board.R wall.red stat.R", "stat.contact-Y"),
    ("{open: stat.contact-W}", "heat", "board.R wall.red stat.R", "stat.contact-W"),
    ("{open: board.fuse}", "fan cool heat", "", "board.fuse"),
    ("{dead: board.transformer}", "fan cool heat", "", "board.transformer"),
    ("{open: board.transformer}", "fan cool heat", "", "board.transformer"),
    ("{high-resistance: wall.yellow}", "cool", "board.R wall.red stat.R stat.Y", "wall.yellow"),
]


@pytest.mark.parametrize(("fault", "calls", "path", "stop"), DEAD_HOUSE, ids=[row[0] for row in DEAD_HOUSE])
def test_the_path_of_a_dead_call_ends_where_the_current_stops(fault: str, calls: str, path: str, stop: str) -> None:
    found = only(proof_of(HOUSE, faults=f"[{fault}]"), "dead-call")
    assert found.severity == "fault"
    assert found.calls == tuple(calls.split())
    assert has(found.path, path)
    assert stop in found.where
    assert stop in found.message


def test_what_does_not_run_is_named() -> None:
    found = only(proof_of(HOUSE, faults="[{open: wall.white}]"), "dead-call")
    assert set(found.where) == {"board.heat", "board.blower", "board.heat-input", "wall.white"}
    assert "board.heat" in found.message
    assert "wall.white" in found.remedy


def test_cooling_blows_though_the_blower_lead_is_broken() -> None:
    """CP: an integrated board starts the blower from Y, so that without G only the fan call is dead."""
    found = only(proof_of(HOUSE, faults="[{open: wall.green}]"), "dead-call")
    assert found.calls == ("fan",)
    from_g = proof_of(HOUSE, faults="[{open: wall.green}]", settings="{board: {cooling-blower-from: G}}")
    assert only(from_g, "dead-call").calls == ("fan", "cool")


def test_a_call_that_is_not_served_is_not_dead() -> None:
    assert proof_of(COTTAGE).verdict == "clean"
    assert "heat" in proof_of(COTTAGE).calls
    asked = proof_of(COTTAGE, serves="[cool, fan, heat]")
    found = only(asked, "dead-call")
    assert found.calls == ("heat",)
    assert has(found.path, "board.R wall.red stat.R stat.W")


def test_a_call_that_nothing_in_the_job_can_do() -> None:
    found = only(
        proof_of(
            ZONE,
            equipment="{boiler: null, valve: null}",
            landings="""
      {wall.white: [stat.W, null], patch.blue: [supply.C, null], patch.brown: null, patch.orange: null}""",
            serves="[heat]",
        ),
        "dead-call",
    )
    assert found.calls == ("heat",)
    assert "nothing in this job can do" in found.message


def test_a_tripped_float_stops_cooling_at_the_float() -> None:
    landed = {
        "equipment": "{float: {part: accessory/float-switch, at: cellar}}",
        "cables": "{pan: {between: [cellar, cellar], length: 6 ft, conductors: [red, yellow]}}",
        "landings": "{wall.yellow: [stat.Y, through], pan.yellow: [through, float.1], pan.red: [float.2, board.Y]}",
        "splices": "{through: cellar}",
    }
    assert proof_of(HOUSE, **landed).verdict == "clean"
    for tripped in ({"contacts": "{float.switch: open}"}, {"faults": "[{tripped: float.switch}]"}):
        found = only(proof_of(HOUSE, **landed, **tripped), "dead-call")
        assert found.calls == ("cool",)
        assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow through pan.yellow float.1")
        assert "float.switch" in found.where
        assert "there to stop cond.compressor" in found.remedy


def test_an_open_pressure_switch_stops_at_the_outdoor_unit() -> None:
    fitted = "{cond: {pressure-switches: true}}"
    assert proof_of(HOUSE, settings=fitted).verdict == "clean"
    found = only(proof_of(HOUSE, settings=fitted, contacts="{cond.low-pressure: open}"), "dead-call")
    assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y")
    assert "cond.low-pressure" in found.where


def test_an_end_switch_that_does_not_close() -> None:
    found = only(proof_of(ZONE, faults="[{open: valve.end-switch}]"), "dead-call")
    assert has(found.path, "boiler.T1 patch.brown valve.E1")
    assert {"boiler.heat", "boiler.circulator", "valve.end-switch"} <= set(found.where)


def test_a_valve_that_does_not_open_closes_no_end_switch() -> None:
    proof = proof_of(ZONE, faults="[{open: wall.white}]")
    valve = having(proof, "dead-call", "valve.open")
    assert has(valve.path, "supply.R wall.red stat.R stat.W")
    boiler = having(proof, "dead-call", "boiler.heat")
    assert has(boiler.path, "boiler.T1 patch.brown valve.E1")


def test_one_broken_common_is_one_finding_however_many_coils_it_takes_away() -> None:
    found = only(proof_of(PUMP, faults="[{open: outside.blue}]"), "dead-call")
    assert found.calls == ("cool", "heat", "aux", "defrost")
    assert {"pump.compressor", "pump.reversing-valve", "outside.blue"} <= set(found.where)
    assert found.path[-1] == "pump.C"


def test_defrost_stops_at_the_outdoor_unit_that_cannot_ask_for_heat() -> None:
    no_w = only(proof_of(PUMP, landings="{outside.white: null}"), "dead-call")
    assert no_w.calls == ("defrost",)
    assert has(no_w.path, "air.R outside.red pump.R pump.W")
    no_r = only(proof_of(PUMP, landings="{outside.red: null}"), "dead-call")
    assert no_r.calls == ("defrost",)
    assert has(no_r.path, "air.R")
    assert "pump.R" in no_r.where


# ---- unpowered-thermostat ----------------------------------------------------------------------------------


def test_a_thermostat_without_its_common() -> None:
    proof = proof_of(HOUSE, landings="{wall.blue: null}")
    found = only(proof, "unpowered-thermostat")
    assert found.severity == "fault"
    assert found.calls == ("off", "fan", "cool", "heat")
    assert found.where == ("stat", "stat.electronics")
    assert has(found.path, "board.R wall.red stat.R stat.C")
    dead = only(proof, "dead-call")
    assert dead.calls == ("fan", "cool", "heat")
    assert has(dead.path, "board.R wall.red stat.R")
    assert "stat" in dead.where


def test_a_thermostat_on_cells_needs_no_common() -> None:
    assert proof_of(HOUSE, landings="{wall.blue: null}", settings="{stat: {power: battery}}").verdict == "clean"


def test_a_thermostat_that_steals_lives_through_any_idle_load() -> None:
    stealing = {"settings": "{stat: {power: stealing}}"}
    assert proof_of(HOUSE, landings="{wall.blue: null}", **stealing).verdict == "clean"
    assert (
        proof_of(HOUSE, landings="{wall.blue: null, wall.white: null}", serves="[cool, fan]", **stealing).verdict
        == "clean"
    )
    alone = proof_of(
        HOUSE, landings="{wall.blue: null, wall.white: null, wall.yellow: null}", serves="[fan]", **stealing
    )
    assert codes(alone) == ["dead-call", "unpowered-thermostat"]


def test_a_common_from_the_wrong_source_gives_no_supply() -> None:
    """The single-supply thermostat's R is the air conditioner's; C of the boiler has no way back to that source."""
    wrong = {
        "equipment": """{
          stat: {part: thermostat/single-supply, at: hall, settings: {power: common}},
          boiler: {part: indoor/boiler, at: cellar}}""",
        "landings": "{wall.blue: [stat.C, boiler.C]}",
    }
    proof = proof_of(HOUSE, serves="[cool, fan]", **wrong)
    assert codes(proof) == ["dead-call", "unpowered-thermostat"]
    assert only(proof, "unpowered-thermostat").path[-1] == "stat.C"


@pytest.mark.parametrize(
    ("landings", "lead"),
    [
        ("{wall.blue: [null, null]}", "land wall.blue, which is spare, on stat.C and on board.C"),
        ("{wall.blue: [stat.C, null]}", "land the other end of wall.blue on board.C"),
        ("{wall.blue: [null, null], wall.green: [null, null]}", "land wall.blue, which is spare,"),
        ("{wall.blue: [stat.C, nut]}", "land a conductor on stat.C and on board.C"),
    ],
    ids=["spare", "landed at the thermostat alone", "blue before green", "ends in a splice"],
)
def test_the_conductor_that_can_be_the_common_is_named(landings: str, lead: str) -> None:
    """Common practice, no source: a spare in the wall becomes the common, blue where there is a choice."""
    splices = "{nut: cellar}" if "nut" in landings else "{}"
    assert lead in only(proof_of(HOUSE, landings=landings, splices=splices), "unpowered-thermostat").remedy


def test_a_common_of_another_source_is_told_as_that() -> None:
    bell = {
        "equipment": "{bell: {part: accessory/transformer, at: porch, settings: {transformer-va: 10}}}",
        "cables": "{thin: {between: [hall, porch], conductors: [white]}}",
        "landings": "{wall.blue: null, thin.white: [stat.C, bell.C]}",
    }
    found = only(proof_of(HOUSE, **bell), "unpowered-thermostat")
    assert "stat.C leads to bell.C, the common of another source" in found.message
    # Landed on both commons it would join the two sources.
    assert "take thin.white off bell.C first" in found.remedy


def test_a_split_thermostat_lives_on_either_source() -> None:
    powered = "{stat: {power: common}}"
    cool_c = {
        "cables": "{extra: {between: [salon, attic], conductors: [blue]}}",
        "landings": "{extra.blue: [stat.C, air.C]}",
    }
    heat_c = {
        "cables": "{extra: {between: [salon, boiler room], conductors: [blue]}}",
        "landings": "{extra.blue: [stat.C, boiler.C]}",
    }
    for common in (cool_c, heat_c):
        assert proof_of(MANOR, settings=powered, **common).verdict == "clean"
    assert "unpowered-thermostat" in codes(proof_of(MANOR, settings=powered))


# ---- no-return ---------------------------------------------------------------------------------------------


def test_a_load_without_a_return() -> None:
    proof = proof_of(COTTAGE, landings="{outside.white: null}")
    found = only(proof, "no-return")
    assert found.severity == "fault"
    assert found.calls == ("cool",)
    assert found.where == ("cond.contactor",)
    assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C")
    assert only(proof, "dead-call").path == found.path
    assert codes(proof) == ["dead-call", "no-return"]


def test_a_return_through_metal_is_a_return() -> None:
    assert "no-return" not in codes(proof_of(MILL))
    unbonded = proof_of(COTTAGE, landings="{outside.white: [board.chassis, cond.C]}")
    assert codes(unbonded) == ["dead-call", "no-return"]
    bonded = proof_of(
        COTTAGE, landings="{outside.white: [board.chassis, cond.C]}", settings="{board: {bonded-common: true}}"
    )
    assert bonded.verdict == "clean"


def test_a_broken_return_is_told_by_the_conductor() -> None:
    """One cause, one finding beside the dead call: the copper is there and broken, so that it is not missing."""
    assert codes(proof_of(COTTAGE, faults="[{open: outside.white}]")) == ["dead-call"]


def test_both_leads_of_a_coil_on_fed_terminals() -> None:
    proof = proof_of(COTTAGE, landings="{outside.white: [board.G, cond.C]}")
    found = only(proof, "no-return")
    assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C")
    # What is on board.G must come off first: joined to the common as well it would short the fan call.
    assert "outside.white" in found.remedy
    assert "take it off there" in found.remedy


def test_what_hangs_on_one_lead_of_another_source_is_told_once() -> None:
    """The red lead sits on the relay's contact: all that it feeds belongs to the board's source, and the lead is the cause."""
    proof = proof_of(RELAY, landings="{wall.red: [stat.R, relay.COM]}")
    found = only(proof, "no-return")
    assert set(found.where) == {"board.cool-input", "board.fan-input", "board.heat-input", "relay.coil"}
    assert found.remedy.startswith("take wall.red off relay.COM")
    # What the dead call says to do must not tie the two sources either.
    assert {f.remedy for f in proof.findings if f.code == "dead-call" and "wall.red" in f.path} == {found.remedy}


def test_of_the_leads_to_a_load_the_one_of_the_wrong_source_is_taken_off() -> None:
    """The relay's contact feeds the outdoor unit as it should; what leads back goes to the board's hot side."""
    proof = proof_of(RELAY, landings="{outside.white: [board.R, cond.C]}")
    found = only(proof, "no-return")
    assert found.remedy.startswith("take outside.white off")
    assert "from supply.transformer" in found.remedy


def test_one_conductor_between_two_terminals_of_its_equipment_is_not_exchanged_with_itself() -> None:
    proof = proof_of(ZONE, landings="{patch.blue: [valve.M1, valve.M2]}")
    assert not [finding.remedy for finding in proof.findings if "patch.blue and patch.blue" in finding.remedy]


def test_the_lead_that_serves_its_own_source_too_is_not_the_cause() -> None:
    """Heating's red lead feeds the boiler's valve as it should; what goes astray is what leads on from it to cooling's input."""
    proof = proof_of(
        MANOR,
        cables="{link: {between: [salon, attic], conductors: [blue]}}",
        landings="{cooling.yellow: null, link.blue: [stat.Rh, air.Y]}",
    )
    dead = next(f for f in proof.findings if f.code == "dead-call")
    assert dead.remedy.startswith("take link.blue off stat.Rh")


# Computed by hand: with R on the outdoor C and C on the outdoor R both ends of every outdoor coil that a call feeds are at R, so
# that nothing outdoors runs; defrost would lead C, not R, to the indoor W.
EXCHANGED = "{outside.red: [air.R, pump.C], outside.blue: [air.C, pump.R]}"


def test_power_and_common_exchanged_is_one_finding_that_says_so() -> None:
    proof = proof_of(PUMP, landings=EXCHANGED)
    found = only(proof, "dead-call")
    assert found.calls == ("cool", "heat", "aux", "defrost")
    assert found.path[-1] == "pump.C"
    assert "outside.red brings air.R to pump.C" in found.message
    assert "outside.blue brings air.C to pump.R" in found.message
    assert "exchange outside.blue and outside.red" in found.remedy
    assert proof.verdict == "findings"


# Common practice, no source: two leads on each other's terminals are changed over, whatever shows of it.
@pytest.mark.parametrize(
    ("landings", "leads"),
    [
        ("{outside.yellow: [call, pump.O/B], outside.orange: [valve, pump.Y]}", "outside.orange and outside.yellow"),
        ("{outside.yellow: [call, pump.W], outside.white: [heat, pump.Y]}", "outside.white and outside.yellow"),
        ("{outside.yellow: [call, pump.C], outside.blue: [air.C, pump.Y]}", "outside.blue and outside.yellow"),
        ("{wall.yellow: [stat.O/B, call], wall.orange: [stat.Y, valve]}", "wall.orange and wall.yellow"),
    ],
    ids=["Y and O", "Y and W", "Y and C", "at the thermostat"],
)
def test_two_leads_on_each_others_terminals_are_to_be_exchanged(landings: str, leads: str) -> None:
    proof = proof_of(PUMP, landings=landings)
    told = [f for f in proof.findings if f.code in ("dead-call", "unwanted-run", "no-return")]
    assert told
    for found in told:
        assert f"exchange {leads}" in found.remedy, found


def test_a_common_on_the_hot_side_is_told_by_what_brings_it_there() -> None:
    proof = proof_of(PUMP, landings="{outside.red: [air.R, pump.C], outside.blue: null}")
    found = next(f for f in proof.findings if f.code == "dead-call" and "cool" in f.calls)
    assert "24 V stands on both sides of pump.contactor" in found.message
    assert "take outside.red off air.R" in found.remedy


def test_no_power_is_joined_to_what_the_return_sits_on() -> None:
    proof = proof_of(PUMP, landings="{outside.blue: [air.C, pump.R], outside.red: null}", serves="[defrost]")
    remedies = [f.remedy for f in proof.findings if f.code == "dead-call" and "air.aux-heat" in f.where]
    assert remedies == [
        "power off; outside.blue brings air.C to pump.R, the return: take it off pump.R first, and only then join air.R to pump.R"
    ]


# ---- several thermostats -----------------------------------------------------------------------------------

TWO_ON_ONE = {
    "equipment": "{porch: {part: thermostat/heat-only, at: porch}}",
    "cables": "{far: {between: [porch, cellar], conductors: [red, white]}}",
    "landings": "{far.red: [porch.R, board.R], far.white: [porch.W, board.W]}",
}


def test_each_thermostat_is_asked_alone_too() -> None:
    """The hall's call keeps the burner running while both call; from the porch alone nothing happens."""
    assert proof_of(HOUSE, **TWO_ON_ONE).verdict == "clean"
    broken = proof_of(HOUSE, **TWO_ON_ONE, faults="[{open: far.white}]")
    assert broken.calls["heat"].running == ("board.blower", "board.heat")
    found = only(broken, "dead-call")
    assert found.calls == ("heat",)
    assert has(found.path, "board.R far.red porch.R porch.W")
    assert "far.white" in found.where
    assert "from porch alone" in found.message


def test_what_no_thermostat_can_run_is_told_once() -> None:
    broken = proof_of(HOUSE, **TWO_ON_ONE, faults="[{open: board.heat-input}]")
    found = only(broken, "dead-call")
    assert "alone" not in found.message


def test_the_path_follows_the_thermostat_that_should_run_the_equipment() -> None:
    """Two systems in one house; the second's white is on its board's G."""
    second = {
        "equipment": """{stat2: {part: thermostat/single-supply, at: attic}, board2: {part: indoor/furnace-board, at: loft}}""",
        "cables": "{up: {between: [attic, loft], conductors: [red, white, green]}}",
        "landings": "{up.red: [stat2.R, board2.R], up.white: [stat2.W, board2.G], up.green: [stat2.G, null]}",
        "serves": "[heat]",
    }
    found = only(proof_of(HOUSE, **second), "dead-call")
    assert "board2.heat" in found.where
    assert has(found.path, "board2.R up.red stat2.R stat2.W up.white board2.G")


def test_a_bad_joint_in_the_way_back_is_no_other_load() -> None:
    found = only(proof_of(HOUSE, faults="[{high-resistance: outside.white, ohms: 25}]"), "dead-call")
    assert "lost in outside.white" in found.message
    assert "load" not in found.remedy


def test_a_boiler_called_across_two_terminals_gets_no_foreign_voltage() -> None:
    """CP: what calls such a boiler is a dry contact; a voltage from elsewhere led to it damages it."""
    relay = proof_of(
        ZONE,
        equipment="{valve: null, relay: {part: accessory/relay, at: boiler room}}",
        landings="""
          wall.white: [stat.W, relay.A1]
          patch.blue: [supply.C, relay.A2]
          patch.brown: [supply.R, boiler.T1]
          patch.orange: [relay.NO, boiler.T2]
        """,
    )
    found = only(relay, "dead-call")
    assert "boiler.T1 to boiler.T2 by a dry contact" in found.remedy
