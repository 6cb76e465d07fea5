"""Shorts, sources joined, over-voltage: each with a job that has it, one that nearly has it, and the way of the current."""

from __future__ import annotations

import pytest

from tests.jobs import COTTAGE, HOUSE, MANOR, RELAY, ZONE, codes, data, has, only, proof_of

BONDED = "{boiler: {bonded-common: true}, air: {bonded-common: true}}"

# ---- short -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "calls", "path"),
    [
        pytest.param(
            {"landings": "{wall.green: [stat.G, board.C]}"},
            "fan cool",
            "board.R wall.red stat.R stat.G wall.green board.C",
            id="green on the common",
        ),
        pytest.param(
            {"landings": "{outside.white: [board.R, cond.C], outside.red: [board.C, cond.C]}"},
            "off fan cool heat",
            "board.R outside.white cond.C outside.red board.C",
            id="both outdoor leads on one terminal",
        ),
        pytest.param(
            {"faults": "[{short: [outside.red, outside.white]}]"},
            "cool",
            "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red outside.white board.C",
            id="outdoor cable crushed",
        ),
        pytest.param(
            {"faults": "[{short: [wall.red, board.chassis]}]", "settings": "{board: {bonded-common: true}}"},
            "off fan cool heat",
            "board.R wall.red board.chassis board.C",
            id="red on the metal of a bonded board",
        ),
        pytest.param(
            {"faults": "[{short: [outside.red, cond.chassis]}]", "settings": "{board: {bonded-common: true}}"},
            "cool",
            "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.chassis board.chassis board.C",
            id="outdoor lead on the metal of a bonded board",
        ),
    ],
)
def test_short(changes: dict[str, str], calls: str, path: str) -> None:
    found = only(proof_of(COTTAGE, **changes), "short")
    assert found.severity == "danger"
    assert found.calls == tuple(calls.split())
    assert found.where == ("board.transformer", "board.fuse")
    assert has(found.path, path)
    assert "board.fuse opens" in found.message


def test_metal_that_is_not_bonded_closes_no_loop() -> None:
    touching = "[{short: [wall.red, board.chassis]}]"
    assert "short" in codes(proof_of(COTTAGE, faults=touching, settings="{board: {bonded-common: true}}"))
    assert codes(proof_of(COTTAGE, faults=touching)) == ["hot-on-metal"]


def test_a_short_is_found_though_it_starves_the_thermostat_that_closed_it() -> None:
    """C: the electronics drop out as the voltage collapses, but a fuse at twice its rating does not wait for that to settle."""
    proof = proof_of(HOUSE, faults="[{short: [outside.red, outside.white]}]")
    assert only(proof, "short").calls == ("cool",)
    assert "chatter" not in codes(proof)
    assert only(proof, "dead-call").calls == ("cool",)


def test_without_a_fuse_the_transformer_burns() -> None:
    found = only(proof_of(RELAY, settings="{supply: {fuse-amps: null}}", jumpers="[[supply.R, supply.C]]"), "short")
    assert found.where == ("supply.transformer",)
    assert has(found.path, "supply.R supply.C")
    assert "supply.transformer burns, no fuse opens first" in found.message


def test_a_fuse_too_large_for_its_transformer_lets_it_burn() -> None:
    """C: 20 VA behind twice the impedance of 40 VA gives 4.00 A into a short, less than 135 % of 3 A."""
    settings = "{board: {transformer-va: 20, fuse-amps: 3}}"
    found = only(proof_of(COTTAGE, settings=settings, jumpers="[[board.R, board.C]]"), "short")
    assert found.where == ("board.transformer",)
    assert "burns" in found.message


def test_too_many_loads_open_the_fuse_as_a_short_does_but_are_told_as_loads() -> None:
    outdoor = range(2, 9)
    proof = proof_of(
        COTTAGE,
        equipment={f"cond{i}": {"part": "outdoor/condenser", "at": "yard"} for i in outdoor},
        jumpers=[pair for i in outdoor for pair in ([f"cond{i}.Y", "cond.Y"], [f"cond{i}.C", "cond.C"])],
    )
    found = only(proof, "short")
    assert "overloaded" in found.message
    assert "cond.contactor" in found.message
    assert "cond8.contactor" in found.message


def test_one_more_load_is_no_short() -> None:
    both = {
        "equipment": "{cond2: {part: outdoor/condenser, at: yard}}",
        "jumpers": "[[cond2.Y, cond.Y], [cond2.C, cond.C]]",
        "settings": "{board: {transformer-va: 75}}",
    }
    assert "short" not in codes(proof_of(COTTAGE, **both))


def test_two_shorts_are_two_findings() -> None:
    proof = proof_of(
        COTTAGE,
        landings="{wall.green: [stat.G, board.C]}",
        faults="[{short: [outside.red, outside.white]}]",
        serves="[cool, fan]",
    )
    shorts = [finding for finding in proof.findings if finding.code == "short"]
    assert {finding.path[-2] for finding in shorts} <= {"wall.green", "outside.white"}
    assert any("wall.green" in finding.path for finding in shorts)


# ---- sources-tied ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("phase", [0, 180], ids=["in phase", "opposed"])
def test_a_loop_through_two_sources_is_a_danger_in_phase_or_not(phase: int) -> None:
    found = only(
        proof_of(
            MANOR,
            settings=f"{{boiler: {{bonded-common: true, phase: {phase}}}, air: {{bonded-common: true}}}}",
            jumpers="[[stat.Rc, stat.Rh]]",
        ),
        "sources-tied",
    )
    assert found.severity == "danger"
    assert found.where == ("boiler.transformer", "air.transformer")
    assert found.calls == ("off", "fan", "cool", "heat")
    assert has(
        found.path,
        "boiler.R heating.red stat.Rh stat.Rc cooling.red air.R air.C air.chassis boiler.chassis boiler.C",
    )


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        pytest.param(
            {"settings": BONDED}, "boiler.C boiler.chassis air.chassis air.C", id="both commons bonded to metal"
        ),
        pytest.param(
            {"jumpers": "[[stat.Rc, stat.Rh]]"},
            "boiler.R heating.red stat.Rh stat.Rc cooling.red air.R",
            id="the jumper left in, commons apart",
        ),
        pytest.param(
            {
                "settings": "{stat: {power: common}}",
                "cables": "{tie: {between: [salon, attic], conductors: [blue]},"
                " tie2: {between: [salon, boiler room], conductors: [blue]}}",
                "landings": "{tie.blue: [stat.C, air.C], tie2.blue: [stat.C, boiler.C]}",
            },
            "boiler.C tie2.blue stat.C tie.blue air.C",
            id="both commons on the thermostat's C",
        ),
    ],
)
def test_sources_that_meet_at_one_point_are_weak(changes: dict[str, str], path: str) -> None:
    found = only(proof_of(MANOR, **changes), "sources-tied")
    assert found.severity == "weak"
    assert found.where == ("boiler.transformer", "air.transformer")
    assert has(found.path, path)


def test_the_jumper_of_a_thermostat_that_ties_two_sources_is_named() -> None:
    """P, CP: with two sources the jumper between Rc and Rh comes out."""
    jumpered = {"jumpers": "[[stat.Rc, stat.Rh]]"}
    met = only(proof_of(MANOR, **jumpered), "sources-tied")
    bonded = "{boiler: {bonded-common: true}, air: {bonded-common: true}}"
    driven = only(proof_of(MANOR, **jumpered, settings=bonded), "sources-tied")
    assert (met.severity, driven.severity) == ("weak", "danger")
    for found in (met, driven):
        assert "take out the jumper from stat.Rh to stat.Rc" in found.remedy


def test_two_sources_apart_are_as_they_should_be() -> None:
    for changes in ({}, {"settings": "{boiler: {bonded-common: true}}"}, {"settings": "{boiler: {phase: 180}}"}):
        assert proof_of(MANOR, **changes).verdict == "clean"


def test_an_isolating_relay_keeps_sources_apart() -> None:
    assert proof_of(RELAY).verdict == "clean"
    tied = proof_of(RELAY, jumpers="[[board.R, supply.R], [board.C, supply.C]]")
    assert only(tied, "sources-tied").severity == "danger"


def test_two_sources_tied_only_while_a_valve_stands_open() -> None:
    """The zone's 24 V carried into T1 and T2: the end switch closes the loop, so it shows on heat alone."""
    found = only(
        proof_of(
            ZONE,
            landings="{patch.brown: [supply.C, boiler.T1], patch.orange: [valve.E2, boiler.T2]}",
            jumpers="[[supply.R, valve.E1]]",
        ),
        "sources-tied",
    )
    assert found.severity == "danger"
    assert found.calls == ("heat",)
    assert has(found.path, "supply.R valve.E1 valve.E2 patch.orange boiler.T2 boiler.T1 patch.brown supply.C")


DAMP = data("""
    callpath: 1
    equipment:
      stat:   {part: thermostat/humidity, at: hall}
      board:  {part: indoor/humidity-board, at: closet}
      cond:   {part: outdoor/condenser, at: yard}
      lone:   {part: thermostat/heat-only, at: bath}
      boiler: {part: indoor/boiler, at: closet}
    cables:
      wall: {between: [hall, closet], conductors: [red, blue, green, white, yellow, brown]}
      out:  {between: [closet, yard], conductors: [red, white]}
      two:  {between: [bath, closet], conductors: [red, white, blue]}
    landings:
      wall.red:    [stat.R, board.R]
      wall.blue:   [stat.C, board.C]
      wall.green:  [stat.G, board.G]
      wall.white:  [stat.W, board.W]
      wall.yellow: [stat.Y, board.Y]
      wall.brown:  [stat.DH, board.DH]
      out.red:     [board.Y, cond.Y]
      out.white:   [board.C, cond.C]
      two.red:     [lone.R, boiler.R]
      two.white:   [lone.W, boiler.W]
    """)


def test_another_sources_lead_on_an_input_is_told_once() -> None:
    """Kirchhoff: no current flows over a single joint, so the input is fed and has no return."""
    assert proof_of(DAMP).verdict == "clean"
    proof = proof_of(DAMP, landings="{wall.brown: null, two.blue: [lone.R, board.DH]}")
    found = only(proof, "ends-disagree")
    assert not {"sources-tied", "no-return"} & set(codes(proof))
    assert found.where == ("two.blue", "lone.R", "board.DH", "board.dehumidify-input")
    assert "one more joint would tie the two" in found.message
    tied = only(proof_of(DAMP, landings="{two.blue: [lone.R, board.DH]}"), "sources-tied")
    assert "at one point" in tied.message


def test_another_sources_lead_that_comes_back_through_metal_still_ties() -> None:
    """Kirchhoff: over a single joint no current flows; where some does there is a second one, here 27 V over 1500 ohms."""
    bonded = "{board: {bonded-common: true}, boiler: {bonded-common: true}}"
    found = only(proof_of(DAMP, settings=bonded), "sources-tied")
    assert found.where == ("board.transformer", "boiler.transformer")
    assert "no current flows" in found.message
    changed = proof_of(DAMP, settings=bonded, landings="{wall.brown: null, two.blue: [lone.R, board.DH]}")
    found = only(changed, "sources-tied")
    assert found.severity == "weak"
    assert found.where == ("board.transformer", "boiler.transformer", "board.dehumidify-input")
    assert "0.02 A" in found.message


def test_a_thermostat_made_for_two_sources_may_look_at_both() -> None:
    """CP: its electronics live from Rc, else from Rh, and come back over the one C."""
    common = {
        "settings": "{stat: {power: common}}",
        "cables": "{cooling: {between: [salon, attic], conductors: [red, yellow, green, blue]}}",
        "landings": "{cooling.blue: [stat.C, air.C]}",
    }
    assert proof_of(MANOR, **common).verdict == "clean"


# ---- over-voltage ------------------------------------------------------------------------------------------

FED = {
    "landings": "{patch.brown: [supply.C, boiler.T1], patch.orange: [valve.E2, boiler.T2]}",
    "jumpers": "[[supply.R, valve.E1]]",
}


def test_two_transformers_in_series_over_one_coil() -> None:
    """C: 27 V and 27 V add up over the boiler's relay, about 50 V once loaded; opposed they cancel and it sees nothing."""
    found = only(proof_of(ZONE, **FED), "over-voltage")
    assert found.severity == "danger"
    assert found.calls == ("heat",)
    assert found.where == ("boiler.control-relay",)
    assert has(found.path, "supply.R valve.E1 valve.E2 patch.orange boiler.T2 boiler.T1 patch.brown supply.C")
    opposed = proof_of(ZONE, settings="{boiler: {phase: 180}}", **FED)
    assert "over-voltage" not in codes(opposed)
    assert "sources-tied" in codes(opposed)


def test_an_unloaded_transformer_is_no_over_voltage() -> None:
    """CP: 27 V with nothing connected is what a 24 V coil is made for."""
    for base in (COTTAGE, HOUSE, MANOR, ZONE):
        assert "over-voltage" not in codes(proof_of(base))


@pytest.mark.parametrize(("phase", "volts"), [("0", 27.0), ("180", 54.0)])
def test_sources_turned_against_each_other_drive_both_voltages_round(phase: str, volts: float) -> None:
    """Ohm's law: 40 VA sources behind 1.516 + 3.015j ohm each and a few feet of copper; the fuse of one opens."""
    proof = proof_of(
        MANOR,
        settings=f"{{boiler: {{bonded-common: true, phase: {phase}}}, air: {{bonded-common: true}}}}",
        jumpers="[[stat.Rc, stat.Rh]]",
    )
    found = only(proof, "sources-tied")
    if volts > 50:
        assert "turned against each other" in found.message
        amps = float(found.message.split("drive ")[1].split(" A")[0])
        assert amps == pytest.approx(54 / abs(2 * complex(1.516, 3.015) + 0.6), rel=0.07)
        assert "air.fuse opens" in found.message
        assert all("air.fuse" in result.opened for result in proof.calls.values())
        assert proof.as_json()["calls"]["off"]["opened"] == ["air.fuse"]
    else:
        assert "alone drives" in found.message
        assert all(result.opened == () for result in proof.calls.values())


def test_a_fuse_that_one_call_opens_ends_the_others_too() -> None:
    """Every call is settled with a whole fuse; what runs on the others runs no longer than the fuse does."""
    proof = proof_of(HOUSE, landings="{wall.green: [stat.G, board.C]}", settings="{stat: {fan-with-heat: false}}")
    found = only(proof, "short")
    assert "heat" not in found.calls
    assert "board.heat" in proof.calls["heat"].running
    assert "replace board.fuse: until that is done nothing that it feeds runs, on any call" in found.remedy
    assert proof.until("heat") == ("board.fuse",)
    assert proof.until("fan") == proof.until("off") == ()
