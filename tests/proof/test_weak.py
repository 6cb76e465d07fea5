"""Weaknesses: starved coils and loads, sources and fuses of the wrong size."""

from __future__ import annotations

import pytest

from tests.jobs import COTTAGE, HOUSE, PUMP, ZONE, codes, has, only, proof_of

LOOP = "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.C outside.white board.C"


def thin(feet: int, awg: int = 22) -> dict[str, str]:
    return {
        "cables": f"{{outside: {{between: [cellar, yard], length: {feet} ft, awg: {awg}, conductors: [red, white]}}}}"
    }


def test_a_long_thin_cable_does_not_let_the_contactor_pull_in() -> None:
    proof = proof_of(COTTAGE, **thin(200))
    found = only(proof, "weak-pull-in")
    assert found.severity == "weak"
    assert found.calls == ("cool",)
    assert found.where == ("cond.contactor",)
    assert has(found.path, LOOP)
    assert codes(proof) == ["dead-call", "weak-pull-in"]


def test_half_the_length_does() -> None:
    assert proof_of(COTTAGE, **thin(90)).verdict == "clean"


def test_heavier_wire_does() -> None:
    assert proof_of(COTTAGE, **thin(200, awg=16)).verdict == "clean"


def test_the_volts_that_a_coil_lacks_are_told_by_what_takes_them() -> None:
    """C, by hand: 250 ft of 24 AWG at 25.67 Ω/1000 ft (ASTM B258, from memory) are 6.4 Ω each way; with the open gap's
    10.24 + j7.68 Ω (45 VA, 36 W), 40 ft of 18 AWG between board and yard twice and the transformer's 1.516 + j3.015 Ω about 1.0 A
    flow: 6.4 V in each lead and 3.4 V in the transformer.
    """
    far = "{wall: {between: [hall, cellar], length: 250 ft, awg: 24, conductors: [red, yellow, green]}}"
    proof = proof_of(COTTAGE, cables=far)
    for found in (only(proof, "weak-pull-in"), only(proof, "dead-call")):
        assert "wall.red (250 ft of 24 AWG)" in found.remedy
        assert "6.4 V in wall.yellow (250 ft of 24 AWG)" in found.remedy
        assert "3.4 V inside board.transformer" in found.remedy
        assert "heavier or shorter wire" in found.remedy
        # A sound conductor is not to be rung out, and a larger transformer would hardly help.
        assert "ring it out" not in found.remedy
        assert "larger transformer" not in found.remedy
        # The load sits by its source, and only the thermostat is far: a relay beside it needs no other source.
        assert "whose contact feeds cond.contactor" in found.remedy
        assert "source of its own" not in found.remedy
    assert "from a source of its own over there" in only(proof_of(COTTAGE, **thin(200)), "weak-pull-in").remedy
    broken = proof_of(COTTAGE, faults="[{high-resistance: wall.yellow}]")
    assert "ring it out" in only(broken, "dead-call").remedy


def two_units(feet: int, awg: int, va: int = 40) -> dict[str, str]:
    return {
        "equipment": "{second: {part: outdoor/condenser, at: yard}}",
        "cables": f"{{outside: {{between: [cellar, yard], length: {feet} ft, awg: {awg}, conductors: [red, yellow, white]}}}}",
        "landings": "{outside.red: [board.Y, cond.Y], outside.yellow: [board.Y, second.Y], outside.white: [board.C, cond.C]}",
        "jumpers": "[[cond.C, second.C]]",
        "settings": f"{{board: {{transformer-va: {va}}}}}",
    }


@pytest.mark.parametrize(("feet", "smaller", "size"), [(20, 40, 50), (60, 50, 75)])
def test_the_transformer_that_is_advised_pulls_everything_in(feet: int, smaller: int, size: int) -> None:
    assert f"fit a transformer of {size} VA" in only(proof_of(COTTAGE, **two_units(feet, 18)), "over-va").remedy
    assert "weak-pull-in" in codes(proof_of(COTTAGE, **two_units(feet, 18, smaller)))
    assert "weak-pull-in" not in codes(proof_of(COTTAGE, **two_units(feet, 18, size)))


def test_no_transformer_is_advised_where_none_pulls_everything_in() -> None:
    """C, by hand: two open gaps of 12.8 Ω behind 120 ft of 20 AWG at 10.15 Ω/1000 ft with a shared return see 14.9 V from 40 VA
    (1.516 + j3.015 Ω) and 17.9 V from 100 VA (0.606 + j1.206 Ω); they need 18 V.
    """
    assert "nor does a larger transformer by itself" in only(proof_of(COTTAGE, **two_units(120, 20)), "over-va").remedy
    assert "weak-pull-in" in codes(proof_of(COTTAGE, **two_units(120, 20, 100)))


def test_a_bad_joint_starves_the_contactor() -> None:
    """C: 20 Ω beside a coil of 13 Ω at inrush leaves it well under half."""
    proof = proof_of(HOUSE, faults="[{high-resistance: outside.red}]")
    assert only(proof, "weak-pull-in").where == ("cond.contactor",)
    assert "dead-call" in codes(proof)
    slight = proof_of(HOUSE, faults="[{high-resistance: outside.red, ohms: 0.5}]")
    assert slight.verdict == "clean"


def test_two_coils_in_series_share_the_voltage() -> None:
    proof = proof_of(
        COTTAGE,
        equipment="{cond2: {part: outdoor/condenser, at: yard}}",
        landings="{outside.white: [board.C, cond2.C]}",
        jumpers="[[cond.C, cond2.Y]]",
    )
    found = only(proof, "weak-pull-in")
    assert found.where == ("cond.contactor",)
    assert "take cond2.contactor out of its way" in found.remedy
    series = LOOP.replace("cond.C", "cond.C cond2.Y cond2.C")
    assert has(found.path, series)
    dead = only(proof, "dead-call")
    assert has(dead.path, series)
    assert "another load" in dead.message


def test_a_load_that_sees_less_than_85_percent_hardly_holds() -> None:
    """P: coils work from 85 % of rated, 20.4 V of 24. C: 20 Ω in series with a gas valve of 60 Ω leaves less, 6 Ω more."""
    held = "{high-resistance: heating.white, ohms: %g}"
    job = {
        "equipment": "{boiler: {part: indoor/boiler, at: cellar}, hot: {part: thermostat/heat-only, at: hall}}",
        "cables": "{heating: {between: [hall, cellar], conductors: [red, white]}}",
        "landings": "{heating.red: [hot.R, boiler.R], heating.white: [hot.W, boiler.W]}",
    }
    found = only(proof_of(COTTAGE, faults=f"[{held % 20}]", **job), "low-hold")
    assert found.severity == "weak"
    assert found.calls == ("heat",)
    assert found.where == ("boiler.gas-valve",)
    assert has(found.path, "boiler.R heating.red hot.R hot.W heating.white boiler.W boiler.C")
    assert proof_of(COTTAGE, faults=f"[{held % 6}]", **job).verdict == "clean"


def test_four_valves_overload_a_small_transformer() -> None:
    """C: 4 × 0.5 A × 24 V = 48 VA on 40; three of them are 36."""

    def valves(count: int) -> dict[str, object]:
        return {
            "equipment": {f"v{i}": {"part": "accessory/zone-valve", "at": "boiler room", "settings": {"motor-amps": 0.5}}
                          for i in range(count - 1)},
            "jumpers": [pair for i in range(count - 1) for pair in ([f"v{i}.M1", "valve.M1"], [f"v{i}.M2", "valve.M2"])],
            "settings": "{valve: {motor-amps: 0.5}}",
        }  # fmt: skip

    proof = proof_of(ZONE, **valves(4))
    found = only(proof, "over-va")
    assert found.severity == "weak"
    assert found.calls == ("heat",)
    assert found.where == ("supply.transformer",)
    assert found.path[0] == "supply.R"
    assert found.path[-1] == "supply.C"
    load = proof.calls["heat"].sources["supply.transformer"]
    assert load.va > load.rated_va == 40
    assert proof_of(ZONE, **valves(3)).verdict == "clean"


def test_inrush_alone_is_no_overload() -> None:
    """C: the contactor takes 45 VA at inrush and 7 VA sealed; the nameplate is for what it goes on carrying."""
    assert "over-va" not in codes(proof_of(PUMP))


@pytest.mark.parametrize(
    ("va", "amps", "wrong", "word"),
    [
        (40, 3, False, ""),
        (40, 3.5, False, ""),
        (40, 5, True, "Class 2 limit of 3.53 A"),
        (75, 5, True, "Class 2 limit"),
        (20, 3, True, "does not open even into a dead short"),
        (20, 2, False, ""),
        (40, 20, True, "does not open even into a dead short"),
    ],
)
def test_fuse_size(va: int, amps: float, wrong: bool, word: str) -> None:
    """M: at most 100/Vmax amperes for Class 2, NEC chapter 9 table 11(A); 27 V at 126 V of 120 is 28.35 V, so 3.53 A.
    C: 20 VA feeds 4.0 A into a short, less than 135 % of 3 A."""
    proof = proof_of(COTTAGE, settings=f"{{board: {{transformer-va: {va}, fuse-amps: {amps}}}}}")
    found = [finding for finding in proof.findings if finding.code == "fuse-size"]
    assert bool(found) is wrong
    for finding in found:
        assert finding.severity == "weak"
        assert finding.where == ("board.fuse",)
        assert word in finding.message


def test_a_source_without_a_fuse_has_no_fuse_of_the_wrong_size() -> None:
    assert "fuse-size" not in codes(proof_of(ZONE, settings="{supply: {fuse-amps: null}}"))
