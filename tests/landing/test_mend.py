"""Repairs that every technician knows (CP), and that a repair is whole, proved and the smallest there is."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job import Fault, Job, load_job
from callpath.landing.mend import Mended, mend
from callpath.landing.moves import Move, all_moves, moved
from callpath.landing.repair import Repairs
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, data, job_of
from tests.parts.test_rigs import RIGS, joined, rigged

EXAMPLES = sorted((ROOT / "examples").glob("*.job.yaml"), key=str)
EVERY = {"cottage": COTTAGE, "house": HOUSE, "manor": MANOR, "pump": PUMP, "mill": MILL, "zone": ZONE, "relay": RELAY}


def done(found: Mended) -> set[tuple[str, str, str | None, str | None]]:
    return {(move.do, move.what, move.before, move.after) for move in found.moves}


def wrongly(job: Job, rng: random.Random, count: int) -> tuple[Job, list[Move]]:
    """Return a job after some random moves, and the moves."""
    moves = all_moves(job, metal=False)
    chosen: list[Move] = []
    while len(chosen) < count:
        move = rng.choice(moves)
        if all(move.thing != other.thing for other in chosen):
            chosen.append(move)
    return moved(job, chosen), chosen


# -- facts of the trade: common practice, no source -------------------------------------------------------


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


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ({"open": "cond.contactor"}, "cond.contactor is open: replace it"),
        ({"dead": "board.transformer"}, "board.transformer gives nothing"),
        ({"stuck": "stat.contact-Y"}, "stat.contact-Y does not open any more"),
        ({"high-resistance": "wall.white", "ohms": 3000}, "wall.white has a bad connection of 3000 Ω"),
    ],
)
def test_what_is_broken_is_said_and_not_wired_round(fault: dict[str, Any], told: str) -> None:
    found = mend(job_of(HOUSE, faults=[fault]))
    assert not found.moves
    assert len(found.broken) == 1
    assert told in found.broken[0]
    assert found.verdict == "findings"
    assert found.wiring.verdict == "clean"


def test_a_float_switch_that_has_tripped_is_never_bridged() -> None:
    floated = data("""
        equipment:
          float: {part: accessory/float-switch, at: cellar}
        cables:
          pan: {between: [cellar, cellar], conductors: [red, yellow]}
        landings:
          wall.yellow: [stat.Y, over]
          pan.yellow:  [over, float.1]
          pan.red:     [float.2, board.Y]
        splices: {over: cellar}
        contacts: {float.switch: open}
        """)
    found = mend(job_of(HOUSE, **floated))
    assert not found.moves
    assert found.broken == ("float.switch stands open: find out what moved it, and never bridge it",)


ATTIC = data("""
    callpath: 1
    equipment:
      stat:  {part: thermostat/single-supply, at: hall, settings: {power: common}}
      board: {part: indoor/furnace-board, at: attic}
      float: {part: accessory/float-switch, at: attic}
      cond:  {part: outdoor/condenser, at: pad}
    cables:
      wall: {between: [hall, attic], conductors: [red, white, yellow, green, blue]}
      out:  {between: [attic, pad], conductors: [red, white]}
      pan:  {between: [attic, attic], length: 4 ft, conductors: [red, black]}
    landings:
      wall.red:    [stat.R, board.R]
      wall.white:  [stat.W, board.W]
      wall.yellow: [stat.Y, over]
      wall.green:  [stat.G, board.G]
      wall.blue:   [stat.C, board.C]
      pan.red:     [board.Y, float.1]
      pan.black:   [over, float.2]
      out.red:     [board.Y, cond.Y]
      out.white:   [board.C, cond.C]
    splices: {over: attic}
    """)


@pytest.mark.parametrize(
    "landings",
    [
        pytest.param(
            {"wall.yellow": ["stat.Y", "board.G"], "wall.green": ["stat.G", "over"]}, id="Y and G changed over"
        ),
        pytest.param(
            {
                "wall.white": ["stat.W", "board.G"],
                "wall.yellow": ["stat.Y", "board.W"],
                "wall.green": ["stat.G", "over"],
            },
            id="W, Y and G mixed up",
        ),
        pytest.param(
            {"pan.red": ["board.G", "float.1"], "wall.yellow": ["stat.Y", "board.Y"], "wall.green": ["stat.G", "over"]},
            id="float in the fan lead",
        ),
        pytest.param({"pan.red": ["board.Y", "float.2"]}, id="both leads of the float on one side"),
        pytest.param({"wall.yellow": ["stat.Y", "board.Y"]}, id="gone past"),
        pytest.param({"pan.red": None, "wall.yellow": ["stat.Y", "board.C"]}, id="one lead off, the other shorted"),
    ],
)
def test_a_float_switch_stops_the_compressor_after_every_repair(landings: dict[str, Any]) -> None:
    """Common practice, no source: the coil makes the water, so an open float has to stop the compressor."""
    assert _stopped_by_the_float(mend(job_of(ATTIC)).job)
    found = mend(job_of(ATTIC, landings=landings))
    assert found.verdict == "clean"
    assert _stopped_by_the_float(found.job)


def _stopped_by_the_float(job: Job) -> bool:
    running = [set(prove(replace(job, contacts={"float.switch": on})).calls["cool"].running) for on in (True, False)]
    return "cond.compressor" in running[0] - running[1]


HUMID = data("""
    callpath: 1
    equipment:
      stat:  {part: thermostat/humidity, at: hall}
      board: {part: indoor/humidity-board, at: closet}
      hs:    {part: accessory/humidistat, at: closet}
      hum:   {part: accessory/humidifier, at: closet}
    cables:
      wall: {between: [hall, closet], conductors: [red, blue, green, white]}
      h:    {between: [closet, closet], length: 3 ft, conductors: [red, white, blue]}
    landings:
      wall.red:   [stat.R, board.R]
      wall.blue:  [stat.C, board.C]
      wall.green: [stat.G, board.G]
      wall.white: [stat.W, board.W]
      h.red:      [board.HUM, hs.1]
      h.white:    [hs.2, hum.H]
      h.blue:     [hum.C, board.C]
    serves: [fan, heat, humidify]
    """)


def test_a_humidistat_that_stands_open_is_not_wired_past() -> None:
    """Common practice, no source: it is a control that waits for dry air; past it, water runs whenever the burner does."""
    found = mend(job_of(HUMID))
    assert not found.moves
    assert found.broken == ("hs.switch stands open, as it rests: see what it waits for, and never bridge it",)
    assert found.wiring.verdict == "clean"
    assert found.verdict == "findings"


@pytest.mark.parametrize("stands", ["open", "closed"])
def test_a_humidistat_stays_in_its_circuit_when_other_things_are_put_right(stands: str) -> None:
    wrong = {"wall.green": ["stat.G", "board.W"], "wall.white": ["stat.W", "board.G"]}
    found = mend(job_of(HUMID, landings=wrong, contacts={"hs.switch": stands}))
    assert len(found.moves) == 2
    assert len(found.broken) == (stands == "open")
    water = [
        "hum.water" in prove(replace(found.job, contacts={"hs.switch": on})).calls["heat"].running for on in (0, 1)
    ]
    assert water == [False, True]


def test_what_the_conductors_cannot_serve_is_told_and_the_rest_put_right() -> None:
    cables = {"wall": {**HOUSE["cables"]["wall"], "conductors": ["red", "blue", "white", "yellow"]}}
    landings = {"wall.green": None, "wall.white": ["stat.W", "board.C"], "wall.blue": ["stat.C", "board.W"]}
    found = mend(job_of(HOUSE, cables=cables, landings=landings, serves=["heat", "cool", "fan"]))
    assert list(found.unserved) == ["fan"]
    assert "5 conductors" in found.unserved["fan"]
    assert found.job.serves == ("heat", "cool")
    assert len(found.moves) == 2
    assert found.verdict == "clean"


BOILER_AND_AIR = data("""
    callpath: 1
    equipment:
      stat:   {part: thermostat/single-supply, at: hall}
      boiler: {part: indoor/boiler, at: cellar}
      air:    {part: indoor/air-handler, at: attic}
      cond:   {part: outdoor/condenser, at: yard}
    cables:
      wall:    {between: [hall, cellar], conductors: [red, white]}
      up:      {between: [hall, attic], conductors: [red, white, green, yellow]}
      outside: {between: [attic, yard], conductors: [red, white]}
    landings:
      wall.red:      [stat.R, boiler.R]
      wall.white:    [stat.W, boiler.W]
      up.red:        [stat.R, air.R]
      up.green:      [stat.G, air.G]
      up.yellow:     [stat.Y, over]
      outside.red:   [over, cond.Y]
      outside.white: [air.C, cond.C]
    splices: {over: attic}
    serves: [heat, cool, fan]
    """)


@pytest.mark.parametrize(
    "landings", [{}, {"up.green": None}, {"up.red": [None, "air.R"]}, {"wall.red": ["stat.R", None]}]
)
def test_no_repair_lets_two_sources_meet_and_a_call_is_no_price_for_that(landings: dict[str, Any]) -> None:
    """CP: two transformers on a thermostat with one power terminal take an isolating relay, never a joint of their hot sides."""
    found = mend(job_of(BOILER_AND_AIR, landings=landings))
    assert "sources-tied" not in [finding.code for finding in found.proof.findings]
    assert found.verdict == "clean"
    assert found.unserved.keys() == {"heat"}
    assert "no two sources meet" in found.unserved["heat"]


def test_an_input_that_waits_for_voltage_does_not_get_it_from_another_source() -> None:
    """CP: a blower that slows without 24 V on DH gets it from its own board, though both are bonded."""
    bonded = {"bonded-common": True}
    job = job_of(
        HUMID,
        equipment={
            "boiler": {"part": "indoor/boiler", "at": "closet", "settings": bonded},
            "board": {"part": "indoor/humidity-board", "at": "closet", "settings": bonded},
            "cond": {"part": "outdoor/condenser", "at": "closet"},
            "hs": None,
            "hum": None,
        },
        cables={"h": {"between": ["closet", "closet"], "conductors": ["red", "white", "blue", "yellow"]}},
        landings={
            "h.red": ["board.Y", "cond.Y"],
            "h.white": ["board.C", "cond.C"],
            "h.blue": ["boiler.R", "board.DH"],
        },
        serves=["fan", "heat"],
    )
    assert ("sources-tied", "weak", ("board.transformer", "boiler.transformer", "board.dehumidify-input")) in {
        (finding.code, finding.severity, finding.where) for finding in prove(job).findings
    }
    found = mend(job)
    assert [finding.where for finding in found.proof.findings if finding.code == "sources-tied"] == [
        ("board.transformer", "boiler.transformer")
    ]


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


# -- whole, proved, smallest --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_repair_takes_no_more_moves_than_the_mistakes(name: str, count: int) -> None:
    rng = random.Random(f"{name} {count}")
    for _ in range(4):
        found_right = job_of(EVERY[name])
        wrong, made = wrongly(found_right, rng, count)
        found = mend(wrong)
        assert len(found.moves) <= count, made
        assert found.fewest, made
        assert found.verdict == "clean", made
        again = prove(found.job)
        assert again.findings == found.proof.findings
        assert moved(wrong, found.moves).landings.keys() == found.job.landings.keys()


@pytest.mark.parametrize("name", EVERY)
def test_whatever_yes_and_no_refuse_the_proof_refuses_and_every_repair_meets_every_set(name: str) -> None:
    """What makes the search exact: taking the mistakes back is a repair, so it must meet every necessary set on its way."""
    rng = random.Random(name)
    right = job_of(EVERY[name])
    for _ in range(12):
        wrong, made = wrongly(right, rng, rng.randint(1, 4))
        # A splice that has lost its ends is still there to come back to.
        wrong = replace(wrong, splices={**right.splices, **wrong.splices})
        moves = all_moves(wrong)
        needs = Needs(build(wrong))
        repairs = Repairs(wrong, moves, needs, needs.serves())
        back = [i for i, move in enumerate(moves) if any(_takes_back(move, mistake) for mistake in made)]
        assert prove(moved(wrong, [moves[i] for i in back])).verdict == "clean"
        for size in range(len(back)):
            some = rng.sample(back, size)
            necessary = repairs.look(some)
            rest = sum(1 << i for i in back if i not in some)
            assert all(moves_ & rest for moves_ in necessary.sets())
            if not necessary.right():
                assert prove(moved(wrong, [moves[i] for i in some])).verdict == "findings"


def _takes_back(move: Move, mistake: Move) -> bool:
    if mistake.end >= 0:
        return (move.what, move.end, move.after) == (mistake.what, mistake.end, mistake.before)
    if mistake.do == "set":
        return (move.what, move.after) == (mistake.what, mistake.before)
    return move.thing == mistake.thing and move.do != mistake.do


TINY: dict[str, Any] = {
    "a boiler on two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [red, white]}
        landings:
          wall.red:   [stat.R, hot.R]
          wall.white: [stat.W, hot.W]
        """),
    "a dry contact": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler-tt, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [red, white, blue]}
        landings:
          wall.red:   [stat.R, hot.T1]
          wall.white: [stat.W, hot.T2]
        """),
}


@pytest.mark.parametrize("name", TINY)
def test_no_smaller_repair_is_found_by_trying_all(name: str) -> None:
    """Every set of one and of two moves proved, one by one."""
    rng = random.Random(name)
    for _ in range(5):
        wrong, _ = wrongly(job_of(TINY[name]), rng, rng.randint(1, 2))
        assert len(mend(wrong).moves) == _smallest(wrong, 2)


def _smallest(wrong: Job, most: int) -> int | None:
    moves = all_moves(wrong, metal=False)
    for size in range(most + 1):
        for made in itertools.combinations(moves, size):
            if len({move.thing for move in made}) == size and _clean(wrong, made):
                return size
    return None


def _clean(wrong: Job, made: Sequence[Move]) -> bool:
    return prove(moved(wrong, made)).verdict == "clean"


def test_a_contact_that_asks_is_not_taken_for_tripped() -> None:
    """A contact that stands away from its rest and makes the job work, such as a flow switch that sees flow, stays so."""
    job = job_of(
        data("""
            callpath: 1
            equipment:
              stat:  {part: thermostat/heat-only, at: hall}
              prove: {part: accessory/air-proving-switch, at: cellar}
              hot:   {part: indoor/boiler, at: cellar}
            cables:
              wall:  {between: [hall, cellar], conductors: [red, white]}
              short: {between: [cellar, cellar], conductors: [white]}
            landings:
              wall.red:    [stat.R, hot.R]
              wall.white:  [stat.W, prove.1]
              short.white: [prove.2, hot.W]
            contacts: {prove.switch: closed}
            """)
    )
    assert prove(job).verdict == "clean"
    found = mend(job)
    assert not found.moves
    assert not found.broken
    assert found.job.contacts == job.contacts


@pytest.mark.parametrize("part", RIGS)
def test_whatever_the_proof_finds_clean_yes_and_no_find_right(part: str) -> None:
    """Every part of the wider catalogue; where they disagreed, a repair could be overlooked."""
    job = job_of(joined(rigged(RIGS[part])))
    needs = Needs(build(job))
    assert Repairs(job, all_moves(job), needs, needs.serves()).look(()).right()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name.removesuffix(".job.yaml"))
def test_every_clean_example_is_right_beforehand_too(example: Path) -> None:
    job = load_job(example)
    if prove(job).verdict == "clean":
        needs = Needs(build(job))
        assert Repairs(job, all_moves(job), needs, needs.serves()).look(()).right()


def test_one_mistake_among_many_devices_takes_one_move() -> None:
    """Three zones and a hot-water tank on one panel, over a thousand moves to choose from."""
    job = load_job(ROOT / "examples" / "bathhouse-three-zones.job.yaml")
    wrong = replace(job, jumpers=(*job.jumpers, ("panel.T3-R", "panel.T3-W")))
    found = mend(wrong)
    assert done(found) == {("unjumper", "panel.T3-R", "panel.T3-W", None)}
    assert found.fewest
    assert found.verdict == "clean"
