"""Repairs that every technician knows: common practice, no source, where nothing else is said."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from callpath.job import Fault, load_job
from callpath.landing.mend import mend
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, ZONE, job_of
from tests.landing.repairs import EVERY, done


@pytest.mark.parametrize("name", EVERY)
def test_what_is_right_stays(name: str) -> None:
    found = mend(job_of(EVERY[name]))
    assert not found.moves
    assert found.fewest
    assert found.verdict == "clean"


def test_two_conductors_changed_over_at_one_end_are_changed_back_there() -> None:
    found = mend(job_of(HOUSE, landings={"wall.white": ["stat.W", "board.Y"], "wall.yellow": ["stat.Y", "board.W"]}))
    assert done(found) == {("land", "wall.white", "board.Y", "board.W"), ("land", "wall.yellow", "board.W", "board.Y")}
    assert {move.at for move in found.moves} == {"cellar"}
    assert found.fewest
    assert found.verdict == "clean"


def test_a_fan_lead_on_the_common_is_moved() -> None:
    found = mend(job_of(COTTAGE, landings={"wall.green": ["stat.G", "board.C"]}))
    assert done(found) == {("land", "wall.green", "board.C", "board.G")}
    assert "into a short" in found.cures[0]


def test_a_jumper_left_in_with_two_sources_comes_out() -> None:
    found = mend(job_of(MANOR, jumpers=[["stat.Rc", "stat.Rh"]]))
    assert done(found) == {("unjumper", "stat.Rc", "stat.Rh", None)}


def test_a_jumper_missing_with_one_source_goes_in() -> None:
    equipment = {"stat": {"part": "thermostat/split-supply", "at": "hall", "settings": {"power": "common"}}}
    landings = {"wall.red": ["stat.Rc", "board.R"]}
    found = mend(job_of(HOUSE, equipment=equipment, landings=landings))
    assert done(found) == {("jumper", "stat.Rc", None, "stat.Rh")}


def test_a_thermostat_set_for_the_other_valve_is_set_right() -> None:
    found = mend(job_of(PUMP, settings="stat: {changeover: B}"))
    assert done(found) == {("set", "stat.changeover", "B", "O")}
    assert found.job.equipment["stat"].settings["changeover"] == "O"


def test_a_conductor_pulled_out_of_a_splice_goes_back_in() -> None:
    found = mend(job_of(MILL, landings={"wall.yellow": ["stat.Y", None]}))
    assert done(found) == {("splice", "wall.yellow", None, "past")}


def test_a_broken_conductor_is_passed_by_on_a_spare() -> None:
    cables = {"wall": {**HOUSE["cables"]["wall"], "conductors": [*HOUSE["cables"]["wall"]["conductors"], "brown"]}}
    found = mend(job_of(HOUSE, cables=cables, faults=[{"open": "wall.white"}]))
    assert {move.what for move in found.moves if move.after} == {"wall.brown"}
    assert found.job.landings["wall.brown"] == ("stat.W", "board.W")
    assert found.job.faults == (Fault("open", ("wall.white",)),)
    assert found.verdict == "clean"


def test_what_was_swapped_or_is_missing_is_how_it_stands() -> None:
    found = mend(job_of(HOUSE, faults=[{"swapped": ["wall.white", "wall.green"]}]))
    assert len(found.moves) == 2
    assert not found.broken
    assert not found.job.faults
    assert found.job.landings == job_of(HOUSE).landings


def test_what_the_conductors_cannot_serve_is_told_and_the_rest_put_right() -> None:
    cables = {"wall": {**HOUSE["cables"]["wall"], "conductors": ["red", "blue", "white", "yellow"]}}
    landings = {"wall.green": None, "wall.white": ["stat.W", "board.C"], "wall.blue": ["stat.C", "board.W"]}
    found = mend(job_of(HOUSE, cables=cables, landings=landings, serves=["heat", "cool", "fan"]))
    assert list(found.unserved) == ["fan"]
    assert "5 conductors" in found.unserved["fan"]
    assert found.job.serves == ("heat", "cool")
    assert len(found.moves) == 2
    assert found.verdict == "clean"


def test_heat_and_cool_are_kept_before_the_fan_alone_where_the_job_does_not_say() -> None:
    """CP: nobody gives up cooling for the fan; with four conductors the board's G takes its voltage from Y."""
    cables = {"wall": {**HOUSE["cables"]["wall"], "conductors": ["red", "blue", "white", "yellow"]}}
    changes = {"cables": cables, "landings": {"wall.green": None}, "settings": "board: {cooling-blower-from: G}"}
    found = mend(job_of(HOUSE, **changes))
    assert done(found) == {("jumper", "board.Y", None, "board.G")}
    assert list(found.unserved) == ["fan"]
    assert found.ways_out
    assert all(prove(way.job).verdict == "clean" for way in found.ways_out)


@pytest.mark.parametrize(
    ("example", "setting"),
    [
        ("creamery-humidity-reversed", "stat.dehumidify-output"),
        ("vicarage-two-fuels", "stat.changeover"),
    ],
)
def test_a_setting_that_somebody_turned_is_turned_back(example: str, setting: str) -> None:
    job = load_job(ROOT / "examples" / f"{example}.job.yaml")
    if prove(job).verdict == "clean":
        stat = job.equipment["stat"]
        job = replace(
            job, equipment={**job.equipment, "stat": replace(stat, settings={**stat.settings, "changeover": "B"})}
        )
    assert [(move.do, move.what) for move in mend(job).moves] == [("set", setting)]


LONG = {
    "equipment": {"stat": {"part": "thermostat/single-supply", "at": "hall"}},
    "landings": {"wall.blue": None},
    "cables": {
        "outside": {
            "between": ["cellar", "yard"],
            "length": "55 m",
            "awg": 22,
            "conductors": ["red", "white", "green", "blue"],
        }
    },
}


def test_a_cable_too_long_and_thin_is_no_matter_of_moves_and_the_ways_out_are_told() -> None:
    """Ohm's law: the contactor sees 16 V at inrush over 55 m of AWG 22; half the ohms, or AWG 18, and it pulls in."""
    found = mend(job_of(HOUSE, **LONG))
    assert list(found.unserved) == ["cool"]
    assert "16.2 V" in found.unserved["cool"]
    told = {way.title: way for way in found.ways_out}
    assert list(told) == [
        "spare conductors of outside in parallel with those that lose too much",
        "new cable of 18 AWG from cellar to yard",
    ]
    for way in told.values():
        assert prove(way.job).verdict == "clean"
        assert set(way.serves) == {"heat", "cool", "fan"}
    pair = next(iter(told.values())).job
    assert pair.landings["outside.blue"] == pair.landings["outside.white"] == ("board.C", "cond.C")
    assert pair.landings["outside.green"] == pair.landings["outside.red"] == ("pair-1", "cond.Y")


def test_what_ran_as_found_and_will_not_any_more_is_told() -> None:
    """The job asks for cool alone, and its yellow lies on what heats; the repair takes it from there."""
    landings = {"wall.yellow": ["stat.W", "board.W"], "wall.white": None, "wall.green": None, "wall.blue": None}
    cables = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "yellow"]}}
    found = mend(job_of(HOUSE, cables=cables, landings=landings, settings="stat: {power: battery}", serves=["cool"]))
    assert found.verdict == "clean"
    assert found.given_up == ("heat",)
    assert found.as_json()["given_up"] == ["heat"]


@pytest.mark.parametrize("order", list(itertools.permutations(["fan", "cool", "heat"])))
def test_the_fan_is_given_up_in_whatever_order_the_calls_are_written(order: tuple[str, ...]) -> None:
    """Three conductors for power, heat, cool and fan: a technician gives up the fan (common practice, no source)."""
    cables = {"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "yellow"]}}
    landings = {"wall.yellow": ["stat.G", "board.G"], "wall.blue": None, "wall.green": None}
    found = mend(job_of(HOUSE, cables=cables, landings=landings, settings="stat: {power: battery}", serves=[*order]))
    assert list(found.unserved) == ["fan"]
    assert set(found.job.serves or ()) == {"heat", "cool"}


def test_no_repair_puts_a_thermostats_power_on_the_common() -> None:
    """Three red leads crowd one screw; exchanging the source's two sides, which a floating circuit bears, is no way out."""
    zones = {
        "equipment": {
            **{f"t{i}": {"part": "thermostat/heat-only", "at": f"room {i}"} for i in (1, 2)},
            **{f"v{i}": {"part": "accessory/zone-valve", "at": "boiler room"} for i in (1, 2)},
        },
        "cables": {f"c{i}": {"between": [f"room {i}", "boiler room"], "conductors": ["red", "white"]} for i in (1, 2)},
        "landings": {
            f"c{i}.{colour}": ends
            for i in (1, 2)
            for colour, ends in (("red", [f"t{i}.R", "supply.R"]), ("white", [f"t{i}.W", f"v{i}.M1"]))
        },
        "jumpers": [
            pair
            for i in (1, 2)
            for pair in (["valve.M2", f"v{i}.M2"], ["valve.E1", f"v{i}.E1"], ["valve.E2", f"v{i}.E2"])
        ],
    }
    found = mend(job_of(ZONE, **zones), ways=False)
    reds = [ends for name, ends in found.job.landings.items() if name.endswith(".red")]
    assert not any("supply.C" in ends or "valve.M2" in ends for ends in reds)


def test_equal_repairs_at_one_location_come_first() -> None:
    """Both conductors could each be put right at either end; done at one place it takes one trip."""
    wrong = {"wall.white": ["stat.G", "board.W"], "wall.green": ["stat.W", "board.G"]}
    assert len({move.at for move in mend(job_of(HOUSE, landings=wrong)).moves}) == 1


def test_no_repair_within_the_bound_falls_back_on_a_landing_from_scratch() -> None:
    landings = {
        "wall.red": ["stat.C", "board.R"],
        "wall.blue": ["stat.R", "board.C"],
        "wall.white": ["stat.Y", "board.G"],
        "wall.yellow": ["stat.G", "board.W"],
        "wall.green": ["stat.W", "board.Y"],
        "outside.red": ["board.R", "cond.Y"],
    }
    found = mend(job_of(HOUSE, landings=landings), most_moves=2)
    assert found.verdict == "clean"
    assert found.ruled_out == 2
    assert not found.fewest
    better = mend(job_of(HOUSE, landings=landings))
    assert better.verdict == "clean"
    assert better.fewest
    assert len(better.moves) == 6 < len(found.moves)
