"""What is landed where: ends that disagree, crowded terminals, colours, spares, ways back through metal, the fan lead."""

from __future__ import annotations

import pytest

from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, codes, has, having, only, proof_of

# ---- ends-disagree -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("landing", "name", "other"),
    [
        ("{wall.white: [stat.W, board.G], wall.green: [stat.G, null]}", "stat.W", "board.G"),
        ("{wall.white: [stat.W, board.C]}", "stat.W", "board.C"),
        ("{wall.white: [stat.W, board.chassis]}", "stat.W", "board.chassis"),
        ("{wall.blue: [stat.Y, board.C], wall.yellow: [stat.C, null]}", "stat.Y", "board.C"),
    ],
)
def test_ends_disagree(landing: str, name: str, other: str) -> None:
    proof = proof_of(HOUSE, landings=landing, settings="{stat: {power: battery}}")
    found = only(proof, "ends-disagree")
    assert found.severity == "fault"
    assert found.where[1:] == (name, other)
    assert found.path == (name, found.where[0], other)


def test_ends_beyond_a_splice_disagree_by_the_whole_way() -> None:
    proof = proof_of(PUMP, landings="{wall.orange: [stat.O/B, heat], wall.white: [stat.W2, valve]}")
    found = only(proof, "ends-disagree")
    assert found.where == ("wall.orange", "stat.O/B", "air.W")
    assert has(found.path, "stat.O/B wall.orange heat strip.white air.W")


def test_ends_that_share_a_meaning_agree() -> None:
    """The air handler's W is auxiliary and emergency heat in one; W2 and E may both lead there."""
    both = {
        "cables": "{more: {between: [parlour, cupboard], conductors: [brown]}}",
        "landings": "{more.brown: [stat.E, heat]}",
    }
    assert proof_of(PUMP, **both).verdict == "clean"


def test_only_thermostat_and_indoor_equipment_can_disagree() -> None:
    """The board's Y to the outdoor unit's C: the coil has no polarity."""
    assert (
        proof_of(COTTAGE, landings="{outside.red: [board.C, cond.Y], outside.white: [board.Y, cond.C]}").verdict
        == "clean"
    )


def test_swapped_ends_are_two_conductors_that_disagree() -> None:
    proof = proof_of(HOUSE, faults="[{swapped: [wall.white, wall.green]}]")
    assert has(having(proof, "ends-disagree", "wall.white").path, "stat.W wall.white board.G")
    assert has(having(proof, "ends-disagree", "wall.green").path, "stat.G wall.green board.W")


@pytest.mark.parametrize(
    ("conductor", "ends", "loads"),
    [
        ("heating.white", "[stat.Y, boiler.W]", {"boiler.gas-valve"}),
        ("heating.white", "[stat.Rc, boiler.W]", {"boiler.gas-valve"}),
        ("cooling.green", "[stat.Rh, air.G]", {"air.fan-input"}),
        ("cooling.yellow", "[stat.W, air.Y]", {"air.cool-input", "cond.contactor"}),
    ],
)
def test_a_load_that_hangs_on_a_lead_whose_ends_disagree_is_told_with_it(
    conductor: str, ends: str, loads: set[str]
) -> None:
    """Kirchhoff: over the one joint between two sources no current flows. What brings the voltage there is that one lead."""
    proof = proof_of(MANOR, landings=f"{{{conductor}: {ends}}}")
    assert set(codes(proof)) == {"dead-call", "ends-disagree"}
    found = only(proof, "ends-disagree")
    assert found.where[0] == conductor
    assert set(found.where[3:]) == loads
    assert "no way back" in found.message


def test_a_load_without_any_return_is_told_beside_a_lead_whose_ends_disagree() -> None:
    """Two causes: the yellow lead comes from W, and the outdoor unit has no way back wherever it comes from."""
    proof = proof_of(COTTAGE, landings="{wall.yellow: [stat.G, board.Y], wall.green: null, outside.white: null}")
    assert {"ends-disagree", "no-return"} <= set(codes(proof))


# ---- crowded-terminal --------------------------------------------------------------------------------------


def test_three_conductors_on_one_terminal() -> None:
    more = {
        "cables": "{second: {between: [cellar, yard], conductors: [blue]}}",
        "landings": "{second.blue: [board.C, cond.C]}",
    }
    crowded = proof_of(HOUSE, **more)
    found = only(crowded, "crowded-terminal")
    assert found.severity == "weak"
    assert set(found.where) == {"board.C", "wall.blue", "outside.white", "second.blue"}
    assert codes(crowded) == ["crowded-terminal"]
    two = proof_of(HOUSE, cables=more["cables"])
    assert two.verdict == "clean"


def test_a_chassis_takes_more() -> None:
    landed = {
        "settings": "{board: {bonded-common: true}}",
        "cables": "{metal: {between: [cellar, yard], conductors: [brown, black, blue]}}",
        "landings": "{metal.brown: [board.chassis, cond.chassis], metal.black: [board.chassis, cond.chassis],"
        " metal.blue: [board.chassis, cond.chassis]}",
    }
    assert "crowded-terminal" not in codes(proof_of(COTTAGE, **landed))


def test_splices_and_jumpers_are_not_counted() -> None:
    assert "crowded-terminal" not in codes(proof_of(PUMP))
    assert "crowded-terminal" not in codes(proof_of(HOUSE, jumpers="[[board.C, board.chassis]]"))


# ---- off-colour, spare -------------------------------------------------------------------------------------


def test_a_colour_against_custom_is_a_note() -> None:
    proof = proof_of(
        COTTAGE,
        cables="{wall: {between: [hall, cellar], conductors: [red, white, green]}}",
        landings="{wall.yellow: null, wall.white: [stat.Y, board.Y]}",
    )
    assert proof.verdict == "clean"
    found = only(proof, "off-colour")
    assert found.severity == "note"
    assert found.where == ("wall.white", "stat.Y")
    assert "yellow" in found.message
    assert found.remedy == "right, but label it at both ends"


def test_colours_by_custom_and_an_outdoor_pair_have_nothing_to_tell() -> None:
    for base in (COTTAGE, HOUSE, MANOR):
        assert "off-colour" not in codes(proof_of(base), notes=True)


def test_a_conductor_on_the_wrong_terminal_is_not_right_but_for_its_colour() -> None:
    proof = proof_of(HOUSE, landings="{wall.red: [stat.C, board.R], wall.blue: [stat.R, board.C]}")
    assert codes(proof).count("ends-disagree") == 2
    assert "off-colour" not in codes(proof, notes=True)


def test_a_spare_is_a_note() -> None:
    proof = proof_of(
        HOUSE, cables="{wall: {between: [hall, cellar], conductors: [red, blue, white, yellow, green, brown]}}"
    )
    assert proof.verdict == "clean"
    found = only(proof, "spare")
    assert found.severity == "note"
    assert found.where == ("wall.brown",)


def test_a_conductor_landed_at_one_end_is_no_spare() -> None:
    proof = proof_of(HOUSE, landings="{wall.green: [stat.G, null]}")
    assert "spare" not in codes(proof, notes=True)


# ---- relies-on-chassis, relies-on-fan-lead -----------------------------------------------------------------


def test_a_way_back_through_metal_is_a_note() -> None:
    proof = proof_of(MILL)
    assert proof.verdict == "clean"
    found = only(proof, "relies-on-chassis")
    assert found.severity == "note"
    assert found.calls == ("cool",)
    assert found.where == ("cond.contactor",)
    assert has(
        found.path,
        "furnace.R wall.red stat.R stat.Y wall.yellow past outside.red cond.Y cond.C outside.white furnace.chassis",
    )


def test_a_way_back_through_the_metal_of_two_units() -> None:
    proof = proof_of(
        COTTAGE,
        settings="{board: {bonded-common: true}}",
        landings="{outside.white: null}",
        jumpers="[[cond.C, cond.chassis]]",
    )
    assert proof.verdict == "clean"
    assert has(
        only(proof, "relies-on-chassis").path,
        "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C cond.chassis board.chassis board.C",
    )


def test_a_bond_that_carries_nothing_is_not_relied_on() -> None:
    assert "relies-on-chassis" not in codes(proof_of(COTTAGE, settings="{board: {bonded-common: true}}"), notes=True)


def test_a_blower_that_only_the_fan_lead_starts() -> None:
    for base in (MILL, PUMP):
        proof = proof_of(base)
        found = only(proof, "relies-on-fan-lead")
        assert found.severity == "note"
        assert found.calls == ("cool",)
        assert found.where[1] == "stat.G"
    from_g = proof_of(HOUSE, settings="{board: {cooling-blower-from: G}}")
    assert only(from_g, "relies-on-fan-lead").where == ("board.blower", "stat.G")


def test_a_board_that_starts_its_blower_from_y_does_not_need_the_lead() -> None:
    assert "relies-on-fan-lead" not in codes(proof_of(HOUSE), notes=True)


def test_a_broken_cooling_lead_is_not_told_as_a_blower_that_relies_on_the_fan_lead() -> None:
    proof = proof_of(HOUSE, faults="[{open: wall.yellow}]")
    assert "board.blower" in proof.calls["cool"].running
    assert codes(proof, notes=True) == ["dead-call"]
