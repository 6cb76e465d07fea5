"""What a technician reads: the cause by its name, the remedy that mends it. Facts of the trade: common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from callpath.job import load_job
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import HOUSE, PUMP, data, having, only, proof_of

BOILER = data("""
    callpath: 1
    equipment:
      stat:   {part: thermostat/single-supply, at: hall}
      board:  {part: indoor/furnace-board, at: cellar}
      boiler: {part: indoor/boiler-tt, at: cellar}
    cables:
      wall: {between: [hall, cellar], conductors: [red, white, green]}
      tt:   {between: [cellar, cellar], conductors: [red, white]}
    landings:
      wall.red:   [stat.R, board.R]
      wall.white: [stat.W, boiler.T1]
      wall.green: [stat.G, board.G]
      tt.white:   [boiler.T2, board.C]
    serves: [heat, fan]
    """)


@pytest.mark.parametrize(
    ("fault", "code", "named"),
    [
        ({"open": "cond.contactor"}, "dead-call", "cond.contactor"),
        ({"open": "stat.contact-Y"}, "dead-call", "stat"),
        ({"stuck": "stat.contact-Y"}, "unwanted-run", "stat.contact-Y"),
    ],
)
def test_what_is_broken_is_replaced_and_no_lead_is_moved(fault: dict[str, Any], code: str, named: str) -> None:
    remedy = only(proof_of(HOUSE, faults=[fault]), code).remedy
    assert "replace" in remedy
    assert named in remedy
    assert "no lead has to move" in remedy


def test_a_transformer_too_small_names_the_volt_amperes_and_the_next_usual_size() -> None:
    """C: the sealed loads of heat at 24 V take less than 40 VA, which the same job carries without a finding."""
    proof = proof_of(PUMP, settings="{air: {transformer-va: 20, fuse-amps: 1.5}}")
    found = [finding for finding in proof.findings if finding.code in ("over-va", "short")]
    assert found
    assert all("40 VA, the next usual size" in finding.remedy for finding in found)
    assert proof_of(PUMP).verdict == "clean"


@pytest.mark.parametrize(("stat", "pump"), [("O", "B"), ("B", "O")])
def test_a_changeover_set_the_other_way_is_told_as_what_it_does(stat: str, pump: str) -> None:
    proof = proof_of(PUMP, settings=f"{{stat: {{changeover: {stat}}}, pump: {{changeover: {pump}}}}}")
    for code in ("dead-call", "unwanted-run"):
        found = having(proof, code, "pump.reversing-valve")
        assert f"stat.changeover is {stat} and pump.changeover is {pump}: it heats when asked to cool" in found.message
        assert found.remedy.startswith(f"set stat.changeover to {pump}")


def test_a_blower_that_a_setting_keeps_still_names_the_settings() -> None:
    air = data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/single-supply, at: hall}
          air:  {part: indoor/air-handler, at: closet, settings: {heat-runs-blower: false}}
        cables:
          wall: {between: [hall, closet], conductors: [red, white, green]}
        landings:
          wall.red:   [stat.R, air.R]
          wall.white: [stat.W, air.W]
          wall.green: [stat.G, air.G]
        """)
    found = only(proof_of(air), "dead-call")
    assert "air.heat-runs-blower is false and stat.fan-with-heat is false" in found.message
    assert found.remedy == "set air.heat-runs-blower to true or set stat.fan-with-heat to true"


def test_both_fuels_at_once_are_told_as_that() -> None:
    proof = prove(load_job(ROOT / "examples" / "vicarage-both-fuels-at-once.job.yaml"))
    found = only(proof, "unwanted-run")
    assert "heat pump and furnace heat at the same time" in found.message
    assert "take turns" in found.remedy


@pytest.mark.parametrize("landings", [{}, {"tt.white": None}], ids=["both leads", "one lead"])
def test_voltage_on_a_boilers_call_terminals_takes_an_isolating_relay(landings: dict[str, Any]) -> None:
    remedy = only(proof_of(BOILER, landings=landings), "sources-tied").remedy
    assert "isolating relay" in remedy
    assert "boiler.T1" in remedy


def test_an_input_that_acts_without_voltage_is_not_told_to_see_too_little() -> None:
    example = ROOT / "examples" / "creamery-humidity-reversed.job.yaml"
    found = having(prove(load_job(example)), "dead-call", "board.dehumidify-input")
    assert "must be without voltage" in found.message
    # The terminal is where the voltage comes in, not where it goes home; and there are two settings that put it right.
    assert "voltage at board.DH " in found.remedy
    assert "set board.dehumidify-when to closes or set stat.dehumidify-output to opens" in found.remedy
