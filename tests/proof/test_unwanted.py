"""Functions that run when they must not, by the way that feeds them, and circuits that never come to rest."""

from __future__ import annotations

import pytest

from tests.jobs import BUZZER, COTTAGE, FUEL, HOUSE, MANOR, PUMP, RELAY, ZONE, codes, has, having, only, proof_of

# Common practice, no source: the furnace's W is led to a relay's coil as well, whose opening contact stands in the lead to the
# outdoor unit.
TURNS = {
    "equipment": "{turns: {part: accessory/dual-fuel-interlock, at: cupboard}}",
    "landings": "{outside.yellow: [let, pump.Y], link.yellow: [call, turns.YI], link.orange: [turns.YO, let]}",
    "splices": "{let: cupboard}",
    "cables": "{link: {between: [cupboard, cupboard], length: 2 ft, conductors: [yellow, orange]}}",
    "jumpers": "[[turns.W, air.W], [turns.C, air.C]]",
}

# ---- unwanted-run ------------------------------------------------------------------------------------------

# What is changed in the house; on which calls what runs; the way of the current.
UNWANTED = [
    pytest.param(
        {"landings": "{outside.red: [board.R, cond.Y]}"},
        "off fan heat",
        "cond.compressor cond.contactor",
        "board.R outside.red cond.Y cond.C outside.white board.C",
        id="outdoor pair on R and C",
    ),
    pytest.param(
        {"landings": "{outside.red: [board.G, cond.Y]}"},
        "fan",
        "cond.compressor cond.contactor",
        "board.R wall.red stat.R stat.G wall.green board.G outside.red cond.Y cond.C outside.white board.C",
        id="outdoor pair on G and C",
    ),
    pytest.param(
        {"landings": "{outside.red: [board.W, cond.Y]}", "serves": "[heat, fan]"},
        "cool heat",
        "cond.compressor cond.contactor",
        "board.R wall.red stat.R stat.W wall.white board.W outside.red cond.Y cond.C outside.white board.C",
        id="outdoor pair on W and C",
    ),
    pytest.param(
        {"faults": "[{stuck: stat.contact-W}]"},
        "off fan cool",
        "board.heat board.blower board.heat-input",
        "board.R wall.red stat.R stat.W wall.white board.W board.C",
        id="welded heating contact",
    ),
    pytest.param(
        {"faults": "[{stuck: stat.contact-Y}]"},
        "off fan heat",
        "board.blower cond.compressor board.cool-input cond.contactor",
        "board.R wall.red stat.R stat.Y wall.yellow board.Y board.C",
        id="welded cooling contact, two loads from one cause",
    ),
    pytest.param(
        {"faults": "[{short: [wall.red, wall.green]}]"},
        "off",
        "board.blower board.fan-input",
        "board.R wall.red wall.green board.G board.C",
        id="red touches green",
    ),
    pytest.param(
        {"jumpers": "[[board.R, board.W]]"},
        "off fan cool",
        "board.heat board.blower board.heat-input",
        "board.R board.W board.C",
        id="forgotten test jumper",
    ),
]


@pytest.mark.parametrize(("changes", "calls", "where", "path"), UNWANTED)
def test_unwanted_run(changes: dict[str, str], calls: str, where: str, path: str) -> None:
    found = only(proof_of(HOUSE, **changes), "unwanted-run")
    assert found.severity == "fault"
    assert set(found.calls) <= set(calls.split())
    if "cool" not in found.calls and "serves" not in changes:
        assert found.calls == tuple(calls.split())
    assert set(found.where) == set(where.split())
    assert has(found.path, path)


def test_backfeed_through_a_load_goes_through_the_load() -> None:
    """C: 24 V comes through the contactor's 13 Ω to the board's 1.5 kΩ input, which sees nearly all of it with the call off."""
    proof = proof_of(HOUSE, landings="{outside.white: [board.R, cond.C]}")
    found = only(proof, "unwanted-run")
    assert found.calls == ("off",)
    assert set(found.where) == {"board.blower", "board.cool-input"}
    assert has(found.path, "board.R outside.white cond.C cond.Y outside.red board.Y board.C")


def test_a_sneak_too_weak_to_run_anything_is_no_unwanted_run() -> None:
    """The other way round: a coil behind the input of a board sees almost nothing and does not pull in."""
    sneak = proof_of(HOUSE, landings="{outside.red: [board.Y, cond.Y], outside.white: [board.W, cond.C]}")
    assert "cond.compressor" not in sneak.calls["cool"].running
    assert "board.heat" in sneak.calls["cool"].running
    found = having(sneak, "unwanted-run", "board.heat")
    assert found.calls == ("cool",)
    assert has(
        found.path,
        "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C outside.white board.W board.C",
    )


def test_two_causes_are_two_findings() -> None:
    proof = proof_of(HOUSE, faults="[{swapped: [wall.white, wall.green]}]")
    heat = having(proof, "unwanted-run", "board.heat")
    assert heat.calls == ("fan", "cool")
    assert has(heat.path, "board.R wall.red stat.R stat.G wall.green board.W board.C")
    # The blower may run in heating anyhow: only the burner is wrong.
    assert codes(proof).count("unwanted-run") == 1


def test_a_valve_that_stands_open_and_what_follows_from_it() -> None:
    proof = proof_of(ZONE, faults="[{stuck: stat.contact-W}]")
    valve = having(proof, "unwanted-run", "valve.open")
    assert valve.calls == ("off",)
    assert has(valve.path, "supply.R wall.red stat.R stat.W wall.white valve.M1 valve.M2 patch.blue supply.C")
    boiler = having(proof, "unwanted-run", "boiler.heat")
    assert has(boiler.path, "boiler.T1 patch.brown valve.E1 valve.E2 patch.orange boiler.T2")


def test_a_valve_that_is_fed_in_the_wrong_season() -> None:
    proof = proof_of(PUMP, settings="{stat: {changeover: B}}")
    found = only(proof, "unwanted-run")
    assert found.calls == ("heat", "aux")
    assert found.where == ("pump.reversing-valve",)
    assert has(
        found.path,
        "air.R wall.red stat.R stat.O/B wall.orange valve outside.orange pump.O/B pump.C outside.blue air.C",
    )
    dead = only(proof, "dead-call")
    assert dead.calls == ("cool",)
    assert "pump.reversing-valve" in dead.where
    assert has(dead.path, "air.R wall.red stat.R")


def test_a_furnace_behind_a_heat_pump_is_called_alone() -> None:
    both = proof_of(FUEL)
    found = only(both, "unwanted-run")
    assert (found.calls, found.where[0]) == (("aux",), "pump.compressor")
    assert "heat pump and furnace heat at the same time" in found.message
    assert "ends-disagree" not in codes(both)
    turned = proof_of(FUEL, **TURNS)
    assert turned.calls["aux"].running == turned.calls["emergency"].running == ("air.blower", "air.heat")
    # In defrost the outdoor unit's own W feeds the relay, which lets the compressor go.
    assert codes(turned) == ["dead-call"]
    dead = only(turned, "dead-call")
    assert dead.calls == ("defrost",)
    # The contact is sound: whoever replaces it finds the same again.
    assert "open at turns.contact, which turns.coil holds open" in dead.message
    assert "replace" not in dead.remedy
    assert "fed by air.R → outside.red → pump.R → pump.W → outside.white → heat → strip.white → air.W" in dead.remedy


def test_it_is_looked_for_with_one_source_dead_too() -> None:
    """The boiler's source feeds the outdoor unit through a forgotten jumper; with both live it shows as a tie, alone as a run."""
    proof = proof_of(MANOR, jumpers="[[stat.Rc, stat.Rh], [stat.Rc, stat.Y]]")
    found = having(proof, "unwanted-run", "cond.compressor")
    assert "off" in found.calls


def test_what_a_call_may_run_is_not_unwanted() -> None:
    for base in (COTTAGE, HOUSE, MANOR, PUMP, RELAY, ZONE):
        assert "unwanted-run" not in codes(proof_of(base))


# ---- chatter -----------------------------------------------------------------------------------------------


def test_a_relay_that_feeds_itself_through_its_opening_contact() -> None:
    found = only(proof_of(BUZZER), "chatter")
    assert found.severity == "weak"
    assert found.calls == ("heat",)
    assert found.where == ("relay.coil",)
    assert has(
        found.path,
        "supply.R wall.red stat.R stat.W wall.white relay.COM relay.NC loop.red relay.A1 relay.A2 loop.blue supply.C",
    )


def test_a_relay_that_holds_itself_through_its_closing_contact_rests() -> None:
    assert proof_of(BUZZER, landings="{loop.red: [relay.NO, relay.A1]}").verdict == "clean"
    assert "chatter" not in codes(proof_of(BUZZER, landings="{loop.red: [relay.COM, relay.A1]}"))


def test_a_call_that_chatters_and_is_served_is_dead() -> None:
    """The outdoor unit's contactor is fed through a relay that its own return takes away."""
    proof = proof_of(
        RELAY,
        landings="""{wall.yellow: [stat.Y, relay.COM], patch.yellow: [relay.NC, relay.A1], patch.red: null,
          outside.red: [relay.A1, cond.Y], outside.white: [board.C, cond.C]}""",
        serves="[cool]",
    )
    assert "chatter" in codes(proof)
    dead = only(proof, "dead-call")
    assert dead.calls == ("cool",)
    assert "never comes to rest" in dead.message
