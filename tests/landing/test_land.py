"""Landings that every technician knows, and what must hold of any landing. Facts of the trade: CP."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest

from callpath.calls.closing import given_for
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.errors import QuestionError
from callpath.job import load_job
from callpath.landing.land import land
from callpath.landing.landed import Landed
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, data, job_of

BARE: dict[str, Any] = {"landings": {}, "splices": {}, "jumpers": []}


def landed(base: dict[str, Any], **changes: Any) -> Landed:
    """Return the landing chosen for a job without any."""
    return land(job_of({**base, **BARE}, **changes), ways=False)


def ends(found: Landed) -> dict[str, tuple[str | None, str | None]]:
    """Return what is landed, spares left out."""
    return {name: pair for name, pair in found.job.landings.items() if pair != (None, None)}


def codes(found: Landed) -> set[str]:
    """Return the codes of what the proof found in the completed job."""
    return {finding.code for finding in found.proof.findings}


EVERY = {"cottage": COTTAGE, "house": HOUSE, "manor": MANOR, "pump": PUMP, "mill": MILL, "zone": ZONE, "relay": RELAY}


@pytest.mark.parametrize("name", EVERY)
def test_what_comes_out_is_proved_and_best(name: str) -> None:
    found = landed(EVERY[name])
    assert found.optimal
    assert not found.unserved
    assert found.proof.verdict == "clean"
    assert prove(found.job).findings == found.proof.findings
    assert found.job.serves == found.serves
    assert set(found.choices) == set(found.job.landings)


def test_three_conductors_and_cooling_only() -> None:
    """CP: R, Y and G; without a yellow conductor another one takes its part and is marked."""
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "green"]}}
    found = landed(COTTAGE, cables=wall)
    assert ends(found) == {
        "wall.red": ("stat.R", "board.R"),
        "wall.white": ("stat.Y", "board.Y"),
        "wall.green": ("stat.G", "board.G"),
        "outside.red": ("board.Y", "cond.Y"),
        "outside.white": ("board.C", "cond.C"),
    }
    assert found.departures == ("wall.white lands on stat.Y, which custom gives yellow",)
    assert "yellow tape" in found.choices["wall.white"]


def test_equipment_that_a_landing_does_without_is_told() -> None:
    """A relay and a source that stand by are not needed where the board's own source can feed the contactor."""
    beside = "{relay: {part: accessory/relay, at: cellar}, supply: {part: accessory/transformer, at: cellar}}"
    assert landed(COTTAGE, equipment=beside).left_out == (
        "nothing lands on relay, supply: what is asked for is served without",
    )
    assert landed(COTTAGE).left_out == ()


def test_the_leads_of_a_boilers_dry_call_are_told_as_that() -> None:
    """P: a hydronic zone's end switch calls the boiler, a circuit of its own; neither lead is the 24 V feed."""
    found = landed(ZONE)
    legs = [name for name, on in found.job.landings.items() if any(end in ("boiler.T1", "boiler.T2") for end in on)]
    assert len(legs) == 2
    assert {found.choices[name] for name in legs} == {"carries a dry contact's leg"}


def test_four_conductors_without_yellow_serve_heat_and_cooling() -> None:
    """CP: a thermostat on its own cells needs no common, so blue is free for Y."""
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["white", "red", "green", "blue"]}}
    found = landed(HOUSE, settings="stat: {power: battery}", cables=wall, serves=["heat", "cool", "fan"])
    assert found.serves == ("heat", "cool", "fan")
    assert ends(found)["wall.blue"] == ("stat.Y", "board.Y")
    assert found.objective["off_colours"] == 1


def test_four_conductors_and_a_common_wanted_give_up_the_fan() -> None:
    """CP: the board runs the blower itself in heating and cooling, so the fan's own lead is the one to do without."""
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["white", "red", "blue", "yellow"]}}
    found = landed(HOUSE, cables=wall, serves=["heat", "cool", "fan"])
    assert found.serves == ("heat", "cool")
    assert list(found.unserved) == ["fan"]
    assert "needs 5 conductors between hall and cellar" in found.unserved["fan"]
    assert "only 4 are free" in found.unserved["fan"]
    assert found.objective["off_colours"] == 0
    assert found.proof.verdict == "clean"


@pytest.mark.parametrize(("first", "second"), [("heat", "cool"), ("cool", "heat")])
def test_two_conductors_asked_to_do_both_do_the_first(first: str, second: str) -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white"]}}
    found = landed(HOUSE, settings="stat: {power: battery}", cables=wall, serves=[first, second])
    assert found.serves == (first,)
    assert f"'{second}' beside {first} needs 3 conductors between hall and cellar" in found.unserved[second]


def test_an_older_fan_control_passes_yellow_on_and_returns_through_metal() -> None:
    """CP: no C and no Y on the strip: yellow is spliced past it, the way back is the furnace's metal."""
    found = landed(MILL)
    assert ends(found)["wall.yellow"] == ("stat.Y", "cool-splice")
    assert ends(found)["outside.red"] == ("cool-splice", "cond.Y")
    assert ends(found)["outside.white"] == ("furnace.chassis", "cond.C")
    assert found.job.splices == {"cool-splice": "cellar"}
    assert "relies-on-chassis" in codes(found)
    assert any("metal" in caution for caution in found.cautions)


def test_two_sources_stay_apart_on_a_thermostat_with_two_supplies() -> None:
    """P, CP: two sources, jumper out."""
    found = landed(MANOR)
    assert not found.job.jumpers
    assert ends(found)["heating.red"] == ("stat.Rh", "boiler.R")
    assert ends(found)["cooling.red"] == ("stat.Rc", "air.R")
    assert "sources-tied" not in codes(found)


def test_one_source_on_a_thermostat_with_two_supplies_takes_the_jumper() -> None:
    """P, CP: one source, jumper in."""
    equipment = {"stat": {"part": "thermostat/split-supply", "at": "hall", "settings": {"power": "common"}}}
    found = landed(HOUSE, equipment=equipment, serves=["heat", "cool", "fan"])
    assert found.job.jumpers == (("stat.Rc", "stat.Rh"),)
    assert not found.unserved


def test_a_heat_pump_on_eight_conductors_passes_on_what_the_air_handler_has_no_screw_for() -> None:
    """CP: Y and O/B go through on splices, R, C and W from screw to screw, brown and black are spare."""
    wall = ["white", "red", "green", "blue", "yellow", "brown", "orange", "black"]
    found = landed(PUMP, cables={"wall": {"between": ["parlour", "cupboard"], "conductors": wall}, "strip": None})
    assert found.job.splices == {"changeover-splice": "cupboard", "cool-splice": "cupboard"}
    assert ends(found) == {
        "wall.red": ("stat.R", "air.R"),
        "wall.blue": ("stat.C", "air.C"),
        "wall.green": ("stat.G", "air.G"),
        "wall.white": ("stat.W2", "air.W"),
        "wall.yellow": ("stat.Y", "cool-splice"),
        "wall.orange": ("stat.O/B", "changeover-splice"),
        "outside.red": ("air.R", "pump.R"),
        "outside.blue": ("air.C", "pump.C"),
        "outside.white": ("air.W", "pump.W"),
        "outside.yellow": ("cool-splice", "pump.Y"),
        "outside.orange": ("changeover-splice", "pump.O/B"),
    }
    assert {"wall.brown", "wall.black"} == {f.where[0] for f in found.proof.findings if f.code == "spare"}


def test_defrost_is_not_served_without_heat() -> None:
    """P: defrost comes about while it heats; three conductors all the way serve cool alone."""
    wall = {"between": ["parlour", "cupboard"], "conductors": ["red", "green", "blue"]}
    outside = {"between": ["cupboard", "orchard"], "conductors": ["red", "blue", "yellow"]}
    calls = ["fan", "cool", "heat", "aux", "emergency", "defrost"]
    found = landed(PUMP, cables={"wall": wall, "outside": outside, "strip": None}, serves=calls)
    assert found.serves == ("cool",)
    assert found.optimal


def test_a_zone_valve_closes_the_boilers_dry_contact() -> None:
    """P: thermostat to valve motor; the end switch alone joins T1 to T2, a circuit of its own."""
    found = landed(ZONE)
    switch = {end for pair in ends(found).values() if any("boiler.T" in str(end) for end in pair) for end in pair}
    assert switch == {"valve.E1", "valve.E2", "boiler.T1", "boiler.T2"}
    assert "sources-tied" not in codes(found)


def test_a_float_switch_that_lies_free_stops_the_compressor_and_nothing_else() -> None:
    equipment = {"float": {"part": "accessory/float-switch", "at": "cellar"}}
    found = landed(HOUSE, equipment=equipment, serves=["heat", "cool", "fan"])
    assert not found.unserved
    tripped = prove(replace(found.job, contacts={"float.switch": False}))
    assert "cond.compressor" not in tripped.calls["cool"].running
    assert "board.heat" in tripped.calls["heat"].running
    assert "board.blower" in tripped.calls["fan"].running


def test_a_control_that_lies_free_is_not_put_in_the_compressors_way() -> None:
    """Common practice, no source: a dehumidistat asks for less air; a compressor behind it would stop when the air is damp."""
    equipment = {"damp": {"part": "accessory/dehumidistat", "at": "cellar"}}
    found = landed(HOUSE, equipment=equipment, serves=["heat", "cool", "fan"])
    assert not found.unserved
    assert "damp.1" not in {end for pair in ends(found).values() for end in pair}


def test_what_is_landed_stays_and_the_rest_goes_round_it() -> None:
    found = land(job_of({**COTTAGE, **BARE}, landings={"wall.green": ["stat.Y", "board.Y"]}))
    assert ends(found)["wall.green"] == ("stat.Y", "board.Y")
    assert ends(found)["wall.yellow"] == ("stat.G", "board.G")
    assert found.choices["wall.green"] == "as it was landed"
    assert not found.unserved


def test_a_freed_cable_that_was_right_stays_as_it_was() -> None:
    job = job_of({**PUMP, "cables": {k: v for k, v in PUMP["cables"].items() if k != "strip"}, **BARE})
    first = land(job)
    again = land(first.job, free=["wall", "outside"])
    assert again.job.landings == first.job.landings
    assert again.job.splices == first.job.splices
    assert again.objective["ends_changed"] == 0


def test_a_cable_freed_after_a_mistake_is_landed_right() -> None:
    """Red and white changed over at the thermostat; nothing else moves."""
    wrong = {"wall.red": ["stat.Y", "board.R"], "wall.yellow": ["stat.R", "board.Y"]}
    found = land(job_of(COTTAGE, landings=wrong), free=["wall"])
    assert found.proof.verdict == "clean"
    assert ends(found)["wall.red"] == ("stat.R", "board.R")
    assert found.objective["ends_changed"] == 2


def test_fixed_conductors_that_are_wrong_leave_nothing_to_serve() -> None:
    found = land(job_of({**COTTAGE, **BARE}, landings={"outside.red": ["board.R", "cond.Y"]}))
    assert found.serves == ()
    assert set(found.unserved) == {"cool", "fan"}
    assert "what is fixed stays wrong" in found.unserved["cool"]


def test_a_run_too_long_is_told_by_what_fails() -> None:
    """C: 400 ft of 24 AWG drops more at inrush than the contactor leaves."""
    outside = {
        "outside": {"between": ["cellar", "yard"], "length": "400 ft", "awg": 24, "conductors": ["red", "white"]}
    }
    found = landed(COTTAGE, cables=outside)
    assert found.serves == ("fan",)
    assert "cond.contactor sees" in found.unserved["cool"]


def test_a_broken_conductor_is_not_used() -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "yellow", "green", "blue"]}}
    found = landed(COTTAGE, cables=wall, faults=[{"open": "wall.yellow"}])
    assert found.job.landings["wall.yellow"] == (None, None)
    assert not found.unserved


def test_a_cable_that_is_not_there_is_told_with_the_nearest() -> None:
    with pytest.raises(QuestionError, match="no cable 'wal'; did you mean 'wall'"):
        land(job_of(COTTAGE), free=["wal"])


def test_the_same_answer_whatever_the_order_of_sets() -> None:
    """Hashes of words differ from one run of Python to the next; the answer must not."""
    script = (
        "import json; from tests.jobs import PUMP, ZONE; from tests.landing.test_land import landed; "
        "print(json.dumps([landed(base).as_json()['landings'] for base in (PUMP, ZONE)]))"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(answers) == 1
    assert json.loads(answers.pop())


def test_two_zones_are_landed_best_all_at_once() -> None:
    job = load_job(ROOT / "examples" / "schoolhouse-zone-valves.job.yaml")
    found = land(replace(job, landings=dict.fromkeys(job.landings, (None, None)), splices={}, jumpers=()))
    assert found.optimal
    assert found.serves == ("heat",)
    assert found.proof.verdict == "clean"


def test_many_thermostats_are_landed_one_after_the_other_and_proved_together() -> None:
    """CP: every thermostat with what is nearest to it; every float switch still stops its compressor."""
    job = load_job(ROOT / "examples" / "inn-everything.job.yaml")
    found = land(replace(job, landings=dict.fromkeys(job.landings, (None, None)), splices={}, jumpers=()))
    assert not found.optimal
    assert set(found.serves) == {"fan", "cool", "heat"}
    assert found.proof.verdict == "clean"
    assert prove(found.job).verdict == "clean"
    assert set(found.choices) == set(job.landings)
    for stat, compressor in (("stat-n", "cond-n.compressor"), ("stat-s", "cond-s.compressor")):
        circuit = build(replace(found.job, contacts={"float-n.switch": False, "float-s.switch": False}))
        assert compressor not in snapshot(circuit, given_for(circuit, "cool", [stat])).running
        circuit = build(found.job)
        assert compressor in snapshot(circuit, given_for(circuit, "cool", [stat])).running


# -- what goes first where not all can be had (common practice, no source) -----------------


@pytest.mark.parametrize("part", ["indoor/furnace-board", "indoor/three-terminal-board"])
def test_heat_and_cool_come_before_the_fan_alone(part: str) -> None:
    three = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "green"]}}
    equipment = {"board": {"part": part, "at": "cellar"}, "stat": {"part": "thermostat/single-supply", "at": "hall"}}
    found = landed(HOUSE, equipment=equipment, cables=three)
    assert set(found.serves) == {"heat", "cool"}
    assert list(found.unserved) == ["fan"]
    asked = landed(HOUSE, equipment=equipment, cables=three, serves=["fan", "cool", "heat"])
    assert asked.serves == ("cool", "heat"), "serves says which calls, not which of them first"


@pytest.mark.parametrize("stat", ["thermostat/heat-only", "thermostat/single-supply"])
def test_a_boiler_called_by_a_dry_contact_lands_on_two_conductors(stat: str) -> None:
    boiler = data(f"""
        callpath: 1
        equipment:
          stat:   {{part: {stat}, at: hall}}
          boiler: {{part: indoor/aquastat-boiler, at: cellar}}
        cables:
          wall: {{between: [hall, cellar], conductors: [red, white]}}
        """)
    found = landed(boiler)
    assert (found.serves, found.unserved, found.proof.verdict) == (("heat",), {}, "clean")
    assert ends(found) == {"wall.red": ("stat.R", "boiler.T1"), "wall.white": ("stat.W", "boiler.T2")}
    assert not found.job.jumpers


# -- a common where a conductor is to spare (common practice, no source) -----------------------------------------------


@pytest.mark.parametrize(
    ("colours", "lands"), [("red blue white yellow green", "blue"), ("red white yellow green black", "black")]
)
def test_a_thermostat_on_cells_gets_a_common_where_a_conductor_is_to_spare(colours: str, lands: str) -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": colours.split()}}
    asked = ["heat", "cool", "fan"]
    found = land(job_of({**HOUSE, **BARE}, settings="stat: {power: battery}", cables=wall, serves=asked))
    assert found.job.landings[f"wall.{lands}"] == ("stat.C", "board.C")
    assert "so C is landed too" in found.choices[f"wall.{lands}"]
    assert ("with blue tape" in found.choices[f"wall.{lands}"]) == (lands != "blue")
    assert (found.proof.verdict, found.serves, found.optimal) == ("clean", ("heat", "cool", "fan"), True)
    # What the search was after is reached as before.
    assert found.objective["conductors_and_jumpers"] == 6


def test_no_common_without_a_spare_nor_beside_a_second_source() -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "yellow", "green"]}}
    asked = ["heat", "cool", "fan"]
    found = land(job_of({**HOUSE, **BARE}, settings="stat: {power: battery}", cables=wall, serves=asked))
    assert not any("C is landed too" in why for why in found.choices.values())


# -- a conductor landed at one end: whoever landed it means it to be used (common practice, no source) -----------------


@pytest.mark.parametrize(
    ("begun", "whole"),
    [
        ({"wall.black": [None, "board.Y"]}, ("stat.Y", "board.Y")),
        ({"wall.black": ["stat.R", None]}, ("stat.R", "board.R")),
        ({"wall.black": [None, "board.C"]}, ("stat.C", "board.C")),
    ],
)
def test_a_conductor_that_somebody_has_begun_to_land_is_completed(
    begun: dict[str, list[str | None]], whole: tuple[str, str]
) -> None:
    """Custom has other colours for all of these, and the cable has them free."""
    colours = ["red", "blue", "white", "yellow", "green", "black"]
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": colours}}
    found = land(job_of({**HOUSE, **BARE}, cables=wall, landings=begun))
    assert found.job.landings["wall.black"] == whole
    assert "was on" in found.choices["wall.black"]
    assert (found.proof.verdict, found.optimal, found.unserved) == ("clean", True, {})
    assert found.objective["ends_changed"] == 0
    assert len([ends for ends in found.job.landings.values() if ends == (None, None)]) == 1


def test_a_conductor_begun_where_nothing_needs_it_stays_as_it_is() -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "blue", "white", "yellow", "green", "black"]}}
    found = land(job_of({**HOUSE, **BARE}, cables=wall, landings={"wall.black": [None, "board.chassis"]}))
    assert found.job.landings["wall.black"] == (None, "board.chassis")
    assert found.choices["wall.black"] == "left on board.chassis as it was: nothing needs it; cap its other end"
    assert (found.proof.verdict, found.unserved) == ("clean", {})
    assert found.objective["ends_changed"] == 0


def test_a_common_begun_for_a_thermostat_on_cells_is_the_one_completed() -> None:
    wall = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "blue", "white", "yellow", "green", "black"]}}
    changes = {"cables": wall, "landings": {"wall.black": [None, "board.C"]}}
    found = land(job_of({**HOUSE, **BARE}, settings="stat: {power: battery}", **changes))
    assert found.job.landings["wall.black"] == ("stat.C", "board.C")


@pytest.mark.parametrize("conductor", sorted(HOUSE["landings"]))
@pytest.mark.parametrize("end", [0, 1])
def test_a_sound_job_with_one_end_taken_off_comes_back(conductor: str, end: int) -> None:
    ends = [None if i == end else name for i, name in enumerate(HOUSE["landings"][conductor])]
    found = land(job_of(HOUSE, landings={conductor: ends}))
    assert found.job.landings == job_of(HOUSE).landings
