"""What a meter shows: the table, volts, amps, ohms, a low-impedance meter, lifted conductors, and wrong questions."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from callpath.calls.closing import callers_of
from callpath.calls.common import commons, pairs_in_reach
from callpath.calls.reading import (
    amps_in,
    ohms_between,
    point,
    points_at,
    points_of,
    volts_between,
    volts_table,
)
from callpath.circuit.build import Circuit, build
from callpath.errors import QuestionError
from callpath.faults.asked import Check
from callpath.faults.world import World
from callpath.job import load_job
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, ZONE, amended, data, job_of

EXAMPLES = Path(__file__).parents[2] / "examples"

# A boiler's call terminals led straight to a thermostat that belongs to an air handler.
TT = data("""
callpath: 1
equipment:
  stat:   {part: thermostat/single-supply, at: hall, settings: {power: common}}
  boiler: {part: indoor/boiler-tt, at: cellar}
  air:    {part: indoor/furnace-board, at: attic}
  cond:   {part: outdoor/condenser, at: yard}
cables:
  heating: {between: [hall, cellar], conductors: [red, white]}
  cooling: {between: [hall, attic], conductors: [red, yellow, green, blue]}
  outside: {between: [attic, yard], conductors: [red, white]}
landings:
  heating.red:    [stat.R, boiler.T1]
  heating.white:  [stat.W, boiler.T2]
  cooling.red:    [stat.R, air.R]
  cooling.yellow: [stat.Y, air.Y]
  cooling.green:  [stat.G, air.G]
  cooling.blue:   [stat.C, air.C]
  outside.red:    [air.Y, cond.Y]
  outside.white:  [air.C, cond.C]
""")


def test_the_table_reads_every_terminal_against_its_common() -> None:
    circuit = build(job_of(HOUSE))
    rows = {row.terminal: row for row in volts_table(circuit, "cool")}
    assert {row.against for row in rows.values() if row.terminal.startswith("stat.")} == {"stat.C", "board.C"}
    terminals = {f"{e.id}.{letters}" for e in circuit.job.equipment.values() for letters in e.part.terminals}
    assert set(rows) == terminals - {"board.C"}
    for hot in ("board.R", "board.Y", "board.G", "stat.R", "stat.Y", "stat.G", "cond.Y"):
        assert rows[hot].reading.value == pytest.approx(25.6, abs=0.5), hot
    for cold in ("board.W", "stat.W", "cond.C", "stat.C"):
        assert rows[cold].reading.value < 0.5, cold


@pytest.mark.parametrize(
    ("base", "terminal", "against"),
    [
        (HOUSE, "cond.Y", "cond.C"),
        (HOUSE, "cond.C", "board.C"),
        (HOUSE, "cond.chassis", "cond.C"),
        (HOUSE, "stat.R", "stat.C"),
        (COTTAGE, "stat.R", "board.C"),
        (COTTAGE, "board.Y", "board.C"),
        (MILL, "furnace.R", "furnace.chassis"),
        (MILL, "cond.Y", "cond.C"),
        (MANOR, "stat.Rh", "boiler.C"),
        (MANOR, "stat.Rc", "air.C"),
        (MANOR, "cond.Y", "cond.C"),
        (ZONE, "stat.R", "supply.C"),
        (ZONE, "valve.M1", "valve.M2"),
        (ZONE, "valve.M2", "supply.C"),
        (ZONE, "valve.E1", "boiler.T2"),
        (ZONE, "boiler.T1", "boiler.T2"),
        (TT, "air.G", "air.C"),
        (TT, "cond.Y", "cond.C"),
        (TT, "stat.W", "stat.C"),
        (TT, "boiler.T1", "boiler.T2"),
    ],
)
def test_a_terminal_is_read_against_its_own_common_or_the_return_of_the_nearest_source(
    base: dict[str, object], terminal: str, against: str
) -> None:
    assert commons(build(job_of(base)))[terminal] == against


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, MANOR, MILL, PUMP, TT, ZONE])
def test_both_leads_are_in_reach_of_one_person(base: dict[str, object]) -> None:
    job = job_of(base)
    landed = {end for ends in job.landings.values() for end in ends}
    pairs = pairs_in_reach(build(job))
    sources = {"boiler.C", "air.C", "board.C", "furnace.chassis"}
    for pair in pairs:
        assert len({job.equipment[name.partition(".")[0]].at for name in pair}) == 1
        assert set(pair) - sources <= landed
    assert len({frozenset(pair) for pair in pairs}) == len(pairs)


def test_a_thermostat_without_a_common_is_read_across_its_contacts() -> None:
    """Common practice, no source: the source's volts stand across an open contact, none across a closed one."""
    circuit = build(job_of(COTTAGE))
    pairs = pairs_in_reach(circuit)
    assert [pair for pair in pairs if pair[0].startswith("stat.")] == [("stat.R", "stat.G"), ("stat.R", "stat.Y")]
    source = volts_between(circuit, "off", "board.R", "board.C").value
    assert volts_between(circuit, "off", "stat.R", "stat.Y").value == pytest.approx(source, abs=0.1)
    assert volts_between(circuit, "cool", "stat.R", "stat.Y").value < 0.1
    # An anticipator within the thermostat's own lead is no other end.
    assert ("stat.R", "stat.W") in pairs_in_reach(build(job_of(ZONE)))


def test_one_of_several_thermostats_calls_alone() -> None:
    """Two zones on one source: the valve of who does not call stays without volts."""
    zones = build(load_job(EXAMPLES / "schoolhouse-zone-valves.job.yaml"))
    stats = callers_of(zones.job, "heat")
    assert len(stats) > 1
    valves = [name for name, e in zones.job.equipment.items() if e.part.part == "accessory/zone-valve"]
    opened = {stat: {valve for valve in valves if _opens(zones, valve, [stat])} for stat in stats}
    assert all(len(mine) == 1 for mine in opened.values())
    assert set().union(*opened.values()) == {valve for valve in valves if _opens(zones, valve, [])} == set(valves)
    with pytest.raises(QuestionError, match="no thermostat"):
        volts_table(zones, "heat", by=["nobody"])


def _opens(circuit: Circuit, valve: str, by: list[str]) -> bool:
    return volts_between(circuit, "heat", f"{valve}.M1", f"{valve}.M2", by=by).value > 15


def test_an_open_common_shows_where_the_equipment_is() -> None:
    """The contactor hangs on its lead alone: both its terminals stand at 24 V, and nothing is between them."""
    circuit = build(job_of(HOUSE, faults="[{open: outside.white}]"))
    rows = {row.terminal: row for row in volts_table(circuit, "cool")}
    assert (rows["cond.Y"].against, rows["cond.C"].against) == ("cond.C", "board.C")
    assert rows["cond.Y"].reading.value < 1
    assert rows["cond.C"].reading.value > 20


def test_no_terminal_is_read_against_itself() -> None:
    for base in (HOUSE, MANOR, MILL, PUMP, ZONE):
        circuit = build(job_of(base))
        assert all(row.terminal != row.against for row in volts_table(circuit, "off"))


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, MANOR, PUMP])
def test_low_and_high_enclose_the_value(base: dict[str, object]) -> None:
    for call in ("off", "cool"):
        for row in volts_table(build(job_of(base)), call):
            assert 0 <= row.reading.low <= row.reading.value <= row.reading.high < 40


def test_volts_are_the_same_either_way_round_and_nothing_to_itself() -> None:
    circuit = build(job_of(HOUSE))
    one, other = (volts_between(circuit, "cool", *pair) for pair in (("cond.Y", "cond.C"), ("cond.C", "cond.Y")))
    assert one.value == pytest.approx(other.value, rel=1e-9)
    assert volts_between(circuit, "cool", "cond.Y", "cond.Y").value == 0


def test_amps_in_a_conductor() -> None:
    """C: the sealed contactor is 7 VA at 24 V, 82 Ω, in series with little; at 25.6 V about 0.31 A."""
    circuit = build(job_of(HOUSE))
    outside = amps_in(circuit, "cool", "outside.red")
    assert outside.value == pytest.approx(25.6 / (24**2 / 7), rel=0.01)
    assert outside.low < outside.value < outside.high
    assert amps_in(circuit, "cool", "outside.white").value == pytest.approx(outside.value, rel=1e-6)
    assert amps_in(circuit, "off", "outside.red").value < 1e-3
    assert amps_in(circuit, "heat", "outside.red").value < 1e-3


def test_ohms_of_a_coil_beside_a_board_and_with_a_lead_lifted() -> None:
    """C: the contactor's 10 Ω beside the board's 1.5 kΩ input is 9.94 Ω and two conductors of 30 ft; alone it is 10.0 Ω."""
    circuit = build(job_of(HOUSE))
    beside = ohms_between(circuit, "board.Y", "board.C")
    conductor = 2 * (30 * 6.385e-3 + 2 * 0.01) + 0.02
    coil = 10 + conductor
    assert beside.value == pytest.approx(coil * 1500 / (coil + 1500), rel=0.002)
    lifted = ohms_between(circuit, "cond.Y", "cond.C", lifted=["outside.red"])
    assert lifted.value == pytest.approx(10.02, rel=0.002)
    assert lifted.low < 10.02 < lifted.high


def test_ohms_of_what_is_open() -> None:
    circuit = build(job_of(HOUSE, faults="[{open: cond.contactor}]"))
    open_coil = ohms_between(circuit, "cond.Y", "cond.C", lifted=["outside.red"])
    assert (open_coil.value, open_coil.low, open_coil.high) == (math.inf, math.inf, math.inf)
    assert ohms_between(build(job_of(HOUSE)), "stat.R", "board.chassis").value == math.inf


def test_a_shorted_cable_measures_next_to_nothing() -> None:
    shorted = build(job_of(HOUSE, faults="[{short: [outside.red, outside.white]}]"))
    assert ohms_between(shorted, "cond.Y", "cond.C").value < 0.6


def test_a_contact_that_a_call_closes_measures_closed() -> None:
    """A thermostat on cells keeps its contacts closed with the transformer off; one that lives on the common opens them."""
    battery = build(job_of(HOUSE, settings="{stat: {power: battery}}"))
    assert ohms_between(battery, "stat.R", "stat.Y", call="cool", lifted=["wall.red"]).value < 0.1
    common = build(job_of(HOUSE))
    assert ohms_between(common, "stat.R", "stat.Y", call="cool", lifted=["wall.red"]).value > 100


def test_a_low_impedance_meter_loads_what_it_reads() -> None:
    circuit = build(job_of(HOUSE, landings="{wall.white: [stat.W, null]}"))
    ghost = volts_between(circuit, "cool", "wall.white@2", "board.C")
    real = volts_between(circuit, "cool", "wall.white@2", "board.C", low_z=True)
    assert ghost.value > 3
    assert real.value < 0.1


def test_splices_and_capped_ends_can_be_read() -> None:
    circuit = build(job_of(PUMP, landings="{outside.white: null}"))
    assert volts_between(circuit, "heat", "call", "air.C").value > 20
    assert volts_between(circuit, "heat", "outside.white@1", "air.C").value < 27


@pytest.mark.parametrize(
    "faults",
    [
        "[]",
        "[{open: wall.red}]",
        "[{loose: [wall.red, board.R]}]",
        "[{open: board.fuse}]",
        "[{swapped: [wall.red, wall.blue]}]",
    ],
)
def test_ends_of_conductors_and_fuses_read_as_where_they_are_reckoned_apart(faults: str) -> None:
    """``read`` takes an end for where it is landed; the fault finder's own network has every end apart."""
    job = job_of(HOUSE, faults=faults)
    circuit, world = build(job), World(job, job.faults, np.random.default_rng(0), exact=True)
    for one, two in itertools.combinations(("wall.red@1", "wall.red@2", "board.fuse@1", "board.fuse@2", "board.C"), 2):
        mine = volts_between(circuit, "cool", one, two).value
        assert mine == pytest.approx(world.answer(Check("volts", "cool", between=(one, two))).value, abs=0.05)
    for pair, lifted in ((("wall.red@1", "wall.red@2"), ("wall.red",)), (("wall.red@2", "board.R"), ())):
        shown = world.answer(Check("ohms", between=pair, lifted=lifted)).value
        assert ohms_between(circuit, *pair, lifted=lifted).value == pytest.approx(shown, abs=0.1)


def test_every_point_is_somewhere_and_can_be_read() -> None:
    circuit = build(job_of(PUMP))
    spread = points_at(circuit)
    assert sorted(name for names in spread.values() for name in names) == sorted(points_of(circuit))
    assert all(point(circuit, name) in circuit.network.node_of for name in points_of(circuit))
    assert {"outside.red@1", "air.fuse@2"} <= set(spread[circuit.job.equipment["air"].at])


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (("volts", "board.YY", "board.C"), "'board.YY'; did you mean 'board.Y'"),
        (("volts", "bord.Y", "board.C"), "'bord.Y'; did you mean 'board.Y'"),
        (("volts", "board", "board.C"), "'board'"),
        (("volts", "board/fuse-line", "board.C"), "no terminal, splice, or end of a conductor or fuse"),
        (("volts", "", "board.C"), "''"),
        (("amps", "wall.yelow"), "no conductor 'wall.yelow'; did you mean 'wall.yellow'"),
        (("amps", "board.Y"), "no conductor 'board.Y'"),
        (("ohms", "cond.Y", "cond.C", "wall.white"), "sits on neither cond.Y nor cond.C"),
        (("ohms", "cond.Y", "cond.C", "outside.blue"), "no conductor 'outside.blue'"),
    ],
)
def test_wrong_questions(ask: tuple[str, ...], told: str) -> None:
    kind, *words = ask
    questions = {
        "volts": lambda circuit: volts_between(circuit, "cool", *words),
        "amps": lambda circuit: amps_in(circuit, "cool", *words),
        "ohms": lambda circuit: ohms_between(circuit, *words[:2], lifted=words[2:]),
    }
    with pytest.raises(QuestionError, match=told):
        questions[kind](build(job_of(HOUSE)))


def test_lifting_keeps_the_other_faults() -> None:
    circuit = build(job_of(HOUSE, faults="[{swapped: [wall.white, wall.green]}, {open: cond.contactor}]"))
    assert ohms_between(circuit, "cond.Y", "cond.C", lifted=["outside.red"]).value == math.inf
    assert ohms_between(circuit, "board.G", "board.C", lifted=["wall.white"]).value == pytest.approx(1500, rel=0.01)


def test_a_job_at_50_hz_reads_a_little_more() -> None:
    """C: reactances fall by a sixth, the transformer's too, so that a load takes more and the source drops less."""
    at_50 = build(job_of(amended(HOUSE, hz=50)))
    at_60 = build(job_of(HOUSE))
    assert amps_in(at_50, "cool", "outside.red").value > 1.05 * amps_in(at_60, "cool", "outside.red").value


def test_a_ghost_in_a_long_cable_is_a_ghost_too() -> None:
    """C: 200 ft at 25 pF/ft are 0.53 MΩ at 60 Hz, of which a 10 MΩ meter takes 0.14 % in magnitude, at a right angle."""
    long = {
        "cables": "{wall: {between: [hall, cellar], length: 200 ft, conductors: [red, blue, white, yellow, green]}}"
    }
    circuit = build(job_of(HOUSE, **long, landings="{wall.white: [stat.W, null]}"))
    reading = volts_between(circuit, "cool", "wall.white@2", "board.C")
    assert reading.ghost
    assert (reading.low, reading.value > 3) == (0.0, True)
    # What comes through a load is none: across the open contact stands the source, by way of the idle heating input.
    assert not volts_between(build(job_of(HOUSE, **long)), "off", "stat.R", "stat.W").ghost


def test_a_ghost_is_told_and_may_as_well_be_nothing() -> None:
    """What a floating point shows depends on cable and damp (trade.md, Meter: a ghost on an open conductor)."""
    circuit = build(job_of(COTTAGE))
    floating = ["board.chassis", "cond.chassis", "stat.C", "stat.W"]
    assert sorted(row.terminal for row in volts_table(circuit, "cool") if row.reading.ghost) == floating
    for name in floating:
        assert volts_between(circuit, "cool", name, "board.C").low == 0
        low_z = volts_between(circuit, "cool", name, "board.C", low_z=True)
        assert not low_z.ghost
        assert low_z.value < 0.1
    grounded = build(job_of(COTTAGE, settings="{board: {bonded-common: true}}"))
    assert sorted(row.terminal for row in volts_table(grounded, "cool") if row.reading.ghost) == ["stat.C", "stat.W"]
