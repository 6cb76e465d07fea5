"""What the trade knows, one test for each fact.

Marks: P published and seen; M from memory of the named source; C computed here from a named formula; CP common practice, no
source. Nobody has read the paid standards' own text here.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import pytest

from callpath.calls.reading import amps_in, ohms_between, volts_between
from callpath.calls.sequence import Interruption, sequence
from callpath.circuit.build import Circuit, build
from callpath.parts.catalogue import physics, tolerances
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, ZONE, amended, codes, job_of, only, proof_of

FLOAT = {
    "equipment": "{float: {part: accessory/float-switch, at: cellar}}",
    "cables": "{pan: {between: [cellar, cellar], length: 6 ft, conductors: [red, yellow]}}",
    "landings": "{wall.yellow: [stat.Y, through], pan.yellow: [through, float.1], pan.red: [float.2, board.Y]}",
    "splices": "{through: cellar}",
}


def circuit(base: dict[str, object], **changes: str) -> Circuit:
    return build(job_of(base, **changes))


def volts(of: Circuit, call: str, one: str, other: str, *, low_z: bool = False) -> float:
    return volts_between(of, call, one, other, low_z=low_z).value


# ---- behaviour -------------------------------------------------------------------------------------------------


def test_a_thermostat_joins_r_to_its_outputs_and_the_current_comes_back_to_the_source_that_sent_it() -> None:  # CP
    manor = circuit(MANOR)
    assert amps_in(manor, "heat", "heating.red").value == pytest.approx(
        amps_in(manor, "heat", "heating.white").value, rel=1e-6
    )
    assert amps_in(manor, "heat", "cooling.red").value < 1e-3
    loads = proof_of(MANOR).calls["heat"].sources
    assert loads["boiler.transformer"].amps > 0.3
    assert loads["air.transformer"].amps < 0.01


def test_the_ends_of_a_conductor_decide_what_it_does_and_its_colour_decides_nothing() -> None:  # CP
    painted = amended(
        HOUSE,
        cables="{wall: {between: [hall, cellar], length: 45 ft, conductors: [brown, black, orange, tan, pink]}}",
        landings="""{wall.red: null, wall.blue: null, wall.white: null, wall.yellow: null, wall.green: null,
          wall.brown: [stat.R, board.R], wall.black: [stat.C, board.C], wall.orange: [stat.W, board.W],
          wall.tan: [stat.Y, board.Y], wall.pink: [stat.G, board.G]}""",
    )
    plain, odd = proof_of(HOUSE), proof_of(painted)
    assert {call: result.running for call, result in plain.calls.items()} == {
        c: r.running for c, r in odd.calls.items()
    }
    assert odd.verdict == "clean"


def test_an_integrated_board_starts_the_blower_itself() -> None:  # CP
    no_g = proof_of(HOUSE, landings="{wall.green: null}", serves="[cool, heat]")
    assert no_g.verdict == "clean"
    assert "board.blower" in no_g.calls["cool"].running
    assert "board.blower" in no_g.calls["heat"].running


def test_an_older_fan_control_does_not_know_that_the_outdoor_unit_runs() -> None:  # CP
    assert proof_of(MILL).verdict == "clean"
    no_g = proof_of(MILL, landings="{wall.green: null}")
    assert no_g.calls["cool"].running == ("cond.compressor",)
    assert no_g.calls["heat"].running == ("furnace.blower", "furnace.heat")
    assert only(proof_of(MILL), "relies-on-chassis").where == ("cond.contactor",)


def test_one_source_on_a_split_thermostat_needs_the_jumper() -> None:  # P, CP
    one = amended(
        HOUSE,
        equipment="{stat: {part: thermostat/split-supply, at: hall}}",
        landings="{wall.red: [stat.Rc, board.R], wall.blue: null}",
    )
    assert proof_of(one, jumpers="[[stat.Rc, stat.Rh]]").verdict == "clean"
    without = proof_of(one)
    assert only(without, "dead-call").calls == ("heat",)
    on_rh = proof_of(one, landings="{wall.red: [stat.Rh, board.R]}")
    assert set(only(on_rh, "dead-call").calls) == {"fan", "cool"}


def test_two_sources_need_the_jumper_out() -> None:  # P, CP
    assert proof_of(MANOR).verdict == "clean"
    assert codes(proof_of(MANOR, jumpers="[[stat.Rc, stat.Rh]]")) == ["sources-tied"]


def test_an_outdoor_coil_has_no_polarity_and_its_pairs_colours_mean_nothing() -> None:  # CP
    turned = "{outside.red: [board.C, cond.Y], outside.white: [board.Y, cond.C]}"
    assert codes(proof_of(COTTAGE, landings=turned), notes=True) == codes(proof_of(COTTAGE), notes=True) == []


def test_o_valves_are_fed_in_cooling_and_b_valves_in_heating() -> None:  # P
    o = proof_of(PUMP)
    b = proof_of(PUMP, settings="{stat: {changeover: B}, pump: {changeover: B}}")
    assert o.verdict == b.verdict == "clean"
    fed = [[c for c, r in proof.calls.items() if "pump.reversing-valve" in r.running] for proof in (o, b)]
    assert fed == [["cool", "defrost"], ["heat", "aux"]]


def test_defrost_puts_the_valve_in_cooling_and_feeds_w() -> None:  # P
    for changeover in "OB":
        proof = proof_of(PUMP, settings=f"{{stat: {{changeover: {changeover}}}, pump: {{changeover: {changeover}}}}}")
        valve = {call: "pump.reversing-valve" in result.running for call, result in proof.calls.items()}
        assert valve["defrost"] == valve["cool"] != valve["heat"]
        assert "air.aux-heat" in proof.calls["defrost"].running


def times(base: dict[str, object], call: str, **changes: str) -> dict[str, float]:
    return {e.what: e.at_s for e in sequence(circuit(base, **changes), call, interruptions=[Interruption(900)])}


def test_furnace_timing() -> None:  # P, typical component data
    at = times(HOUSE, "heat")
    lit = at["the burner is lit"]
    assert 15 <= at["igniter heats"] - at["draught inducer starts and proves air"] <= 30
    assert 5 <= lit - at["igniter heats"] <= 30
    assert 30 <= at["the indoor blower runs"] - lit <= 60
    assert 60 <= at["the indoor blower stops"] - 900 <= 180


def test_cooling_timing() -> None:  # P, typical component data
    at = times(HOUSE, "cool", landings="{wall.green: null}")
    assert at["the indoor blower runs"] == 1
    assert 60 <= at["the indoor blower stops"] - 900 <= 90


def test_a_compressor_rests_three_to_five_minutes() -> None:  # P, typical component data
    events = sequence(circuit(HOUSE), "cool", stopped_ago_s=0)
    assert 180 <= next(e.at_s for e in events if e.what == "the compressor runs") <= 300


def test_hydronic_zone() -> (
    None
):  # P: thermostat, valve motor, dry end switch, the boiler's TT pair, a circuit of its own
    order = [e.where for e in sequence(circuit(ZONE), "heat")]
    steps = ["stat.W", "valve.motor", "valve.end-switch", "boiler.control-relay", "boiler.circulator"]
    assert [order.index(step) for step in steps] == sorted(order.index(step) for step in steps)
    loads = proof_of(ZONE).calls["heat"].sources
    assert loads["supply.transformer"].amps > 0.2
    assert loads["boiler.transformer"].amps > 0.1


def test_a_heat_anticipator_is_set_to_the_current_of_its_circuit() -> None:
    """P that it is. C: P = I² R with R made for 0.1 W at the set current; at the valve's own current it takes just that."""
    two_wire = {
        "equipment": "{hot: {part: thermostat/heat-only, at: hall, settings: {anticipator-amps: %g}},"
        " boiler: {part: indoor/boiler, at: cellar}}",
        "cables": "{heating: {between: [hall, cellar], conductors: [red, white]}}",
        "landings": "{heating.red: [hot.R, boiler.R], heating.white: [hot.W, boiler.W]}",
    }

    def watts(set_amps: float) -> float:
        of = circuit(COTTAGE, **{**two_wire, "equipment": two_wire["equipment"] % set_amps})
        return 0.1 / set_amps**2 * amps_in(of, "heat", "heating.white").value ** 2

    drawn = amps_in(
        circuit(COTTAGE, **{**two_wire, "equipment": two_wire["equipment"] % 0.4}), "heat", "heating.white"
    ).value
    assert 0.3 <= drawn <= 0.6  # M: gas valve
    assert watts(drawn) == pytest.approx(0.1, rel=0.02)
    assert watts(drawn / 2) > 0.3, "set too low it heats the thermostat too much, and the calls are short"
    assert watts(2 * drawn) < 0.03


# ---- the meter ---------------------------------------------------------------------------------------------------


def test_across_a_closed_switch_nothing_across_the_only_open_one_about_24_volts() -> None:  # P, C
    shut = circuit(HOUSE, **FLOAT)
    assert volts(shut, "cool", "float.1", "float.2") < 0.1
    assert volts(shut, "cool", "stat.R", "stat.Y") < 0.1
    opened = circuit(HOUSE, **FLOAT, contacts="{float.switch: open}")
    assert volts(opened, "cool", "float.1", "float.2") == pytest.approx(26.5, abs=1)
    assert volts(opened, "cool", "stat.R", "stat.Y") < 0.1


def test_with_two_opens_in_series_neither_reading_can_be_trusted() -> None:  # P, C
    """The piece between the two floats, and what it floats at comes from the cable: neither open shows its 24 V."""
    both = circuit(HOUSE, **FLOAT, contacts="{float.switch: open}", faults="[{open: wall.yellow}]")
    across = [volts(both, "cool", *pair) for pair in (("float.1", "float.2"), ("stat.Y", "through"))]
    one = circuit(HOUSE, **FLOAT, contacts="{float.switch: open}")
    assert volts(one, "cool", "float.1", "float.2") > 25
    assert min(across) < 15
    loaded = [volts(both, "cool", *pair, low_z=True) for pair in (("float.1", "float.2"), ("stat.Y", "through"))]
    assert max(loaded) < 0.2, "a low-impedance meter shows nothing across either"


def test_ghost_voltage_on_an_open_conductor_beside_a_live_one() -> None:  # P
    ghost = circuit(HOUSE, faults="[{open: wall.white}]", landings="{wall.white: [stat.W, null]}")
    assert volts(ghost, "cool", "wall.white@2", "board.C") > 3
    assert volts(ghost, "cool", "wall.white@2", "board.C", low_z=True) < 0.1
    assert volts(ghost, "cool", "board.Y", "board.C", low_z=True) == pytest.approx(
        volts(ghost, "cool", "board.Y", "board.C"), rel=0.01
    ), "where there is a source behind it both meters agree"


def test_the_ghost_is_what_the_cables_capacitance_makes_of_it() -> None:
    """C: V = V_live · j(ωC R) / (1 + jωC R) for one live neighbour among grounded ones, R the meter's 10 MΩ; M: 25 pF/ft."""
    two = amended(
        COTTAGE,
        cables="{wall: {between: [hall, cellar], length: 100 ft, conductors: [red, yellow]}}",
        landings="{wall.green: null, wall.yellow: null}",
    )
    ghost = circuit(two, faults="[]")
    x = 2 * math.pi * 60 * 25e-12 * 100 * 10e6
    # The open conductor hangs on the live one alone, on leakage of 100 MΩ at either end, and on the meter.
    beside = 1 / (1 / 10e6 + 2 / 100e6)
    expected = volts(ghost, "off", "stat.R", "board.C") * abs(1j * x * beside / 10e6 / (1 + 1j * x * beside / 10e6))
    assert volts(ghost, "off", "wall.yellow@1", "board.C") == pytest.approx(expected, rel=0.02)


def test_with_power_off_r_to_c_reads_the_transformers_winding() -> None:  # CP, M: 0.3 to 2 Ω
    of = circuit(COTTAGE)
    reading = ohms_between(of, "board.R", "board.C")
    assert 0.3 <= reading.value <= 2
    lone = circuit(COTTAGE, faults="[{open: board.fuse}]")
    assert ohms_between(lone, "board.R", "board.C").value > 1000, "with the winding out of the way it is no short"


def test_lift_a_lead_to_know() -> None:  # CP
    """R to C at the thermostat's end of a shorted cable: an ohm either way, until R is lifted at the board."""
    sound, shorted = circuit(HOUSE), circuit(HOUSE, faults="[{short: [wall.red, wall.blue]}]")
    for of, low, high in ((sound, 100, 400), (shorted, 0, 1.5)):
        lifted = ohms_between(of, "stat.R", "stat.C", lifted=[]).value
        assert lifted < 3
        alone = circuit_without(of, "wall.red")
        assert low <= ohms_between(alone, "stat.R", "stat.C").value <= high


def circuit_without(of: Circuit, conductor: str) -> Circuit:
    landings = dict(of.job.landings)
    landings[conductor] = (landings[conductor][0], None)
    return build(replace(of.job, landings=landings))


def test_a_coil_reads_its_dc_resistance_with_parallel_paths_until_a_lead_is_lifted() -> None:  # C
    of = circuit(HOUSE)
    beside = ohms_between(of, "cond.Y", "cond.C").value
    alone = ohms_between(of, "cond.Y", "cond.C", lifted=["outside.red"]).value
    assert 8 <= alone <= 16  # M: two-pole contactor
    assert beside < alone


@pytest.mark.parametrize(
    "changes",
    [
        {"landings": "{wall.green: [stat.G, board.C]}"},  # miswiring
        {"faults": "[{short: [wall.yellow, board.chassis]}]", "settings": "{board: {bonded-common: true}}"},  # on metal
        {"faults": "[{short: [outside.red, outside.white]}]"},  # cable damage
    ],
)
def test_what_opens_a_low_voltage_fuse(changes: dict[str, str]) -> None:  # P, one opinion
    assert "board.fuse" in only(proof_of(COTTAGE, **changes), "short").where


# ---- sources and fuses ---------------------------------------------------------------------------------------------


def test_class_2_overcurrent_protection() -> None:
    """M: NEC chapter 9 table 11(A), 100/Vmax A over 20 to 30 V. C: 28 V allows 3.57 A, and what is above is told."""
    at_28_volts = 100 / 28
    assert at_28_volts == pytest.approx(3.57, abs=0.005)
    highest = 27 * tolerances()["supply-volts"].high / tolerances()["supply-volts"].nominal
    limit = 100 / highest
    below, above = (
        proof_of(COTTAGE, settings=f"{{board: {{fuse-amps: {limit + step:.3f}}}}}") for step in (-0.01, 0.01)
    )
    assert below.verdict == "clean"
    assert codes(above) == ["fuse-size"]


@pytest.mark.parametrize(("va", "amps"), [(40, 1.67), (75, 3.13), (100, 4.17)])
def test_full_load_amps(va: int, amps: float) -> None:  # C
    source = circuit(COTTAGE, settings=f"{{board: {{transformer-va: {va}}}}}").network.sources[0]
    assert source.rated_amps == pytest.approx(amps, abs=0.005)


def test_open_circuit_voltage() -> None:  # CP: 26 to 29 V
    assert 26 <= volts(circuit(ZONE), "off", "supply.R", "supply.C") <= 29


def test_a_3_amp_fuse_stops_a_short_and_not_an_overload() -> None:  # C: 180 % of 40 VA
    share = 3 / (40 / 24)
    assert share == pytest.approx(1.8)
    valves = range(5)
    overloaded = proof_of(
        ZONE,
        equipment={f"v{i}": {"part": "accessory/zone-valve", "at": "boiler room"} for i in valves},
        jumpers=[pair for i in valves for pair in ([f"v{i}.M1", "valve.M1"], [f"v{i}.M2", "valve.M2"])],
    )
    assert codes(overloaded) == ["over-va"]
    assert 40 < overloaded.calls["heat"].sources["supply.transformer"].va < 72
    assert "short" in codes(proof_of(ZONE, jumpers="[[supply.R, supply.C]]"))


def test_a_5_amp_fuse_protects_equipment_and_proves_no_class_2_source() -> None:  # C
    settings = "{board: {fuse-amps: 5}}"
    assert codes(proof_of(COTTAGE, settings=settings)) == ["fuse-size"]
    shorted = proof_of(COTTAGE, settings=settings, jumpers="[[board.R, board.C]]")
    assert only(shorted, "short").where == ("board.transformer", "board.fuse"), "it does open into a dead short"


def test_a_coil_whose_armature_is_kept_from_closing_stays_at_inrush_current() -> None:  # P: and burns
    thin = "{outside: {between: [cellar, yard], length: 150 ft, awg: 22, conductors: [red, white]}}"
    weak, good = (
        amps_in(circuit(COTTAGE, **changes), "cool", "outside.red").value for changes in ({"cables": thin}, {})
    )
    assert weak > 3 * good
    assert codes(proof_of(COTTAGE, cables=thin)) == ["dead-call", "weak-pull-in"]


# ---- a worked example ------------------------------------------------------------------------------------------------


def test_the_cottage_worked_by_hand() -> None:
    """C: series and parallel impedances of the cooling call, by Ohm's law alone; 6.385 Ω per 1000 ft of 18 AWG at 20 °C (C)."""

    def beside(*ohms: complex) -> complex:
        return 1 / sum(1 / z for z in ohms)

    def conductor(feet: float) -> float:
        return feet * 6.385e-3 + 2 * physics()["screw-ohms"]

    size, watts = 24**2 / 7, 3 / (7 / 24) ** 2
    coil = complex(watts, math.sqrt(size**2 - watts**2))
    outdoors = conductor(30) + 0.02 + coil + conductor(30)
    at_board_y = beside(1500, outdoors)
    y, g = 0.03 + conductor(45) + at_board_y, 0.03 + conductor(45) + 1500
    at_stat = beside(y, g)
    at_board_r = beside(5000, conductor(45) + at_stat)
    source = 1.516 + 3.015j + 0.03

    board_r = 27 * at_board_r / (at_board_r + source)
    stat_r = board_r * at_stat / (at_stat + conductor(45))
    board_y = stat_r * at_board_y / y
    across_coil = board_y * (coil + 0.02) / outdoors

    of = circuit(COTTAGE)
    assert volts(of, "cool", "board.R", "board.C") == pytest.approx(abs(board_r), rel=1e-4)
    assert volts(of, "cool", "stat.R", "board.C") == pytest.approx(abs(stat_r), rel=1e-4)
    assert volts(of, "cool", "board.Y", "board.C") == pytest.approx(abs(board_y), rel=1e-4)
    assert volts(of, "cool", "cond.Y", "cond.C") == pytest.approx(abs(across_coil), rel=1e-4)
    assert amps_in(of, "cool", "outside.red").value == pytest.approx(abs(board_y / outdoors), rel=1e-4)
    assert amps_in(of, "cool", "wall.green").value == pytest.approx(abs(stat_r / g), rel=1e-3)
    load = proof_of(COTTAGE).calls["cool"].sources["board.transformer"]
    delivered = (27 - board_r) / source
    assert load.amps == pytest.approx(abs(delivered), rel=1e-4)
    assert load.volts == pytest.approx(abs(board_r + 0.03 * delivered), rel=1e-4)
    assert math.degrees(cmath.phase(delivered)) < -30, "the coil lags"
