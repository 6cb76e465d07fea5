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
