"""From a job to its network: every element where the job puts it, with the impedance that its data give."""

from __future__ import annotations

import math

import numpy as np
import pytest

from callpath.calls.closing import given_for
from callpath.circuit.build import Circuit, build, end_node, planted
from callpath.circuit.network import EARTH, Branch, impedance
from callpath.circuit.snapshot import Snapshot, snapshot
from callpath.parts.catalogue import physics
from callpath.units import copper_ohms_per_ft
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import COTTAGE, HOUSE, amended, job_of


def circuit(base: dict[str, object] = COTTAGE, **changes: object) -> Circuit:
    return build(job_of(base, **changes))


def branch(of: Circuit, name: str) -> Branch:
    return of.network.branches[of.network.index[name]]


def ends(of: Circuit, name: str) -> set[str]:
    one = branch(of, name)
    return {"earth" if i == EARTH else of.network.nodes[i] for i in (one.a, one.b)}


def solved(of: Circuit, call: str) -> Snapshot:
    state = snapshot(of, given_for(of, call))
    assert_kirchhoff(state)
    return state


def test_a_conductor_is_its_copper_and_its_two_screws() -> None:
    of = circuit()
    # 45 ft of AWG 18 solid at 20 °C, 6.385 Ω/1000 ft (C, trade table), and two screws.
    assert branch(of, "wall.red").ohms == pytest.approx(45 * 6.385e-3 + 2 * physics()["screw-ohms"], rel=1e-3)
    assert ends(of, "wall.red") == {"stat.R", "board.R"}
    stranded = circuit(cables={"wall": {**COTTAGE["cables"]["wall"], "stranded": True, "awg": 20, "length": "14 m"}})
    per_ft = copper_ohms_per_ft(20, stranded=True, temperature_c=20.0)
    expected = 14 / 0.3048 * per_ft + 2 * physics()["screw-ohms"]
    assert branch(stranded, "wall.red").ohms == pytest.approx(expected, rel=1e-9)


def test_a_capped_end_is_a_point_of_its_own_and_no_screw() -> None:
    of = circuit(landings={"wall.yellow": ["stat.Y", None]})
    assert ends(of, "wall.yellow") == {"stat.Y", "wall.yellow@2"}
    assert end_node("wall.yellow", 1, ("stat.Y", None)) == "wall.yellow@2"
    assert branch(of, "wall.yellow").ohms < branch(of, "wall.red").ohms.real


def test_splices_join_and_jumpers_link() -> None:
    of = circuit(
        splices={"joint": "cellar"},
        landings={"wall.yellow": ["stat.Y", "joint"], "outside.red": ["joint", "cond.Y"]},
        jumpers=[["board.Y", "board.G"]],
    )
    assert "joint" in ends(of, "wall.yellow") & ends(of, "outside.red")
    assert ends(of, "jumper:board.Y+board.G") == {"board.Y", "board.G"}
    assert "cond.compressor" in solved(of, "cool").running


def test_what_a_conductor_has_to_its_neighbours_is_shared_among_them() -> None:
    of = circuit()
    pairs = [one for one in of.network.branches if one.name.startswith("capacitance:wall.")]
    assert len(pairs) == 6  # three pairs, at either end
    to_red = sum(1 / one.ohms for one in pairs if "red" in one.name)
    farads = physics()["cable-farads-per-ft"] * 45
    assert to_red == pytest.approx(2j * math.pi * 60 * farads, rel=1e-9)


def test_every_point_leaks_and_every_chassis_is_earthed() -> None:
    of = circuit()
    assert {one.a for one in of.network.branches if one.kind == "leak"} == set(range(len(of.network.nodes)))
    assert ends(of, "earth:board") == {"board.chassis", "earth"}
    assert "board.bond" not in of.network.index
    assert ends(circuit(settings="board: {bonded-common: true}"), "board.bond") == {"board.C", "board.chassis"}


def test_a_source_is_an_emf_behind_its_impedance_scaled_with_its_size() -> None:
    # 27 V behind 1.516 + j3.015 Ω: 24 V into 14.4 Ω (C).
    of = circuit()
    assert branch(of, "board.transformer").ohms == pytest.approx(1.516 + 3.015j)
    assert abs(27 * 14.4 / (14.4 + 1.516 + 3.015j)) == pytest.approx(24.0, abs=0.005)
    larger = circuit(settings="board: {transformer-va: 80}")
    assert branch(larger, "board.transformer").ohms == pytest.approx((1.516 + 3.015j) / 2)
    assert larger.network.sources[0].rated_amps == pytest.approx(80 / 24)


def test_a_coil_takes_its_volt_amperes_open_and_sealed() -> None:
    coil = branch(circuit(), "cond.contactor")
    assert coil.driven_ohms is not None
    assert abs(24**2 / coil.ohms) == pytest.approx(45.0)
    assert abs(24**2 / coil.driven_ohms) == pytest.approx(7.0)
    assert coil.dc_ohms < abs(coil.ohms) < abs(coil.driven_ohms)
    assert impedance(24, 45, 36) == pytest.approx(coil.ohms)  # |Z| = V²/S, R = P V²/S² (C)


def test_what_is_inductive_scales_with_the_frequency() -> None:
    at_60, at_50 = circuit(), build(job_of(COTTAGE, hz=50))
    for name in ("board.transformer", "cond.contactor"):
        assert branch(at_50, name).ohms.imag == pytest.approx(branch(at_60, name).ohms.imag * 50 / 60)
        assert branch(at_50, name).ohms.real == pytest.approx(branch(at_60, name).ohms.real)


def test_contacts_follow_their_call_and_functions_their_inputs() -> None:
    of = circuit()
    assert solved(of, "off").running == ()
    assert solved(of, "fan").running == ("board.blower",)
    assert solved(of, "cool").running == ("board.blower", "cond.compressor")


def test_a_thermostat_without_supply_closes_nothing() -> None:
    alive = circuit(HOUSE)
    dead = circuit(HOUSE, landings={"wall.blue": ["stat.C", None]})
    assert solved(alive, "cool").running == ("board.blower", "cond.compressor")
    assert solved(dead, "cool").running == ()
    assert not dead.alive["stat"](solved(dead, "cool").bits[None])[0]


def faulty(*faults: object) -> Circuit:
    return circuit(faults=list(faults))


def test_an_open_conductor_and_an_open_coil() -> None:
    assert branch(faulty({"open": "wall.yellow"}), "wall.yellow").added_ohms == math.inf
    assert solved(faulty({"open": "wall.yellow"}), "cool").running == ("board.blower",)
    assert solved(faulty({"open": "cond.contactor"}), "cool").running == ("board.blower",)
    assert solved(faulty({"open": "board.fuse"}), "cool").running == ()


def test_a_bad_connection() -> None:
    of = faulty({"high-resistance": "wall.yellow", "ohms": 40})
    assert branch(of, "wall.yellow").added_ohms == 40
    assert branch(faulty({"high-resistance": "wall.yellow"}), "wall.yellow").added_ohms == 20
    assert solved(of, "cool").running == ("board.blower",)


def test_a_short_between_conductors_and_to_metal() -> None:
    of = faulty({"short": ["outside.red", "outside.white"]})
    assert ends(of, "short:outside.red+outside.white") == {"board.Y", "board.C"}
    state = solved(of, "cool")
    assert state.bit("board.fuse")
    metal = faulty({"short": ["outside.red", "cond.chassis"]})
    assert ends(metal, "short:outside.red+cond.chassis") == {"cond.Y", "cond.chassis"}


def test_a_dead_source_a_stuck_contact_and_a_tripped_one() -> None:
    assert solved(faulty({"dead": "board.transformer"}), "cool").running == ()
    assert solved(faulty({"stuck": "stat.contact-Y"}), "off").running == ("board.blower", "cond.compressor")
    tripped = circuit(
        settings="cond: {pressure-switches: true}",
        faults=[{"tripped": "cond.high-pressure"}],
    )
    assert solved(tripped, "cool").running == ("board.blower",)


def test_swapped_conductors_and_a_missing_jumper() -> None:
    of = faulty({"swapped": ["wall.yellow", "wall.green"]})
    assert ends(of, "wall.yellow") == {"stat.Y", "board.G"}
    assert ends(of, "wall.green") == {"stat.G", "board.Y"}
    job = job_of(COTTAGE, jumpers=[["board.Y", "board.G"]], faults=[{"missing": ["board.G", "board.Y"]}])
    assert planted(job).jumpers == ()
    assert job.jumpers


def test_field_contacts_stand_as_the_job_gives_them() -> None:
    of = circuit(settings="cond: {pressure-switches: true}", contacts={"cond.low-pressure": "open"})
    assert of.field_contacts == {"cond.high-pressure": True, "cond.low-pressure": False}
    assert solved(of, "cool").running == ("board.blower",)


def test_given_rows_follow_the_order_of_the_network() -> None:
    of = circuit()
    row = of.given({"stat": ["Y"]})
    assert dict(zip(of.network.given, row.tolist(), strict=True)) == {"stat>G": False, "stat>Y": True, "stat>W": False}


def test_the_order_of_sections_changes_nothing() -> None:
    turned = amended(COTTAGE)
    for section in ("equipment", "cables", "landings"):
        turned[section] = dict(reversed(turned[section].items()))
    one, other = solved(circuit(), "cool"), solved(circuit(turned), "cool")
    for name in circuit().network.nodes:
        assert one.at(name) == pytest.approx(other.at(name), rel=1e-9)
    assert np.isclose(one.sources["board.transformer"].amps, other.sources["board.transformer"].amps, rtol=1e-9)
