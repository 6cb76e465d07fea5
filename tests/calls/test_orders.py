"""The orders of events that a technician knows: defrost, staging, two fuels, zones that disagree, trials, lockouts, lost power.

Times come from the parts' data; what they are held against here is named at each test.
"""

from __future__ import annotations

from typing import Any

import pytest

from callpath.calls.outside import Interruption
from callpath.calls.sequence import timing
from callpath.calls.timing import Event, Timing
from callpath.circuit.build import build
from callpath.errors import QuestionError
from callpath.job import load_job
from tests.jobs import HOUSE, PUMP, amended, job_of
from tests.parts.test_rigs import RIGS, joined, rigged
from tests.proof.test_examples import EXAMPLES


def played(base: Any, call: str, *interruptions: Interruption, **options: Any) -> Timing:
    job = load_job(EXAMPLES / f"{base}.job.yaml") if isinstance(base, str) else job_of(joined(base))
    return timing(build(job), call, interruptions=interruptions, **options)


def spans(told: Timing, name: str) -> list[tuple[float, float | None]]:
    return [span for lane in told.lanes if lane.name == name for span in lane.spans]


def first(told: Timing, where: str, what: str) -> Event:
    return next(event for event in told.events if event.where == where and what in event.what)


# ---- heat pumps ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("valve", ["O", "B"])
def test_defrost_comes_round_and_goes(valve: str) -> None:
    """P: defrost puts the valve in cooling, stops the outdoor fan and feeds W. CP: after 30, 60 or 90 min, for 10 min."""
    board = amended(
        PUMP,
        equipment="{pump: {part: outdoor/heat-pump-defrost-board, at: orchard}}",
        settings=f"{{air: {{transformer-va: 75}}, stat: {{changeover: {valve}}}, pump: {{changeover: {valve}}}}}",
    )
    told = played(board, "heat", Interruption(6000), frost=True)
    (defrost,) = spans(told, "pump defrost")
    assert defrost[0] in (1800, 3600, 5400)
    assert defrost[1] == defrost[0] + 600
    begins, ends = defrost
    assert spans(told, "pump.compressor") == [(0, 6000)]
    assert spans(told, "pump.outdoor-fan") == [(0, begins), (ends, 6000)]
    # In defrost the valve stands as in cooling: an O valve is fed only then, a B valve at all other times.
    fed = [(begins, ends)] if valve == "O" else [(0, begins), (ends, 6000)]
    assert spans(told, "pump.reversing-valve") == fed
    assert spans(told, "air.sequencer") == [(begins, ends)]
    assert first(told, "pump.outdoor-fan", "stops").because == "defrost has begun"
    assert not spans(played(board, "heat", Interruption(6000)), "pump defrost")
    assert not spans(played(board, "cool", Interruption(6000), frost=True), "pump defrost")


def test_a_call_that_ends_in_defrost_ends_the_defrost() -> None:
    told = played(PUMP, "heat", Interruption(3700), frost=True)
    assert spans(told, "pump defrost") == [(3600, 3700)]
    assert spans(told, "pump.reversing-valve") == [(3600, 3700)]


def test_two_stages_go_up_and_come_down() -> None:
    told = played(
        "brewery-two-stages",
        "cool",
        Interruption(600, call="cool-2"),
        Interruption(900, call="cool"),
        Interruption(1200),
    )
    assert spans(told, "cond.compressor") == [(0, 1200)]
    assert spans(told, "cond.compressor-2") == [(600, 900)]
    assert spans(told, "the call 'cool'") == [(0, 600), (900, 1200)]
    assert spans(told, "the call 'cool-2'") == [(600, 900)]
    assert first(told, "thermostat", "becomes 'cool-2'").at_s == 600
    assert first(told, "stat.Y2", "stat closes Y2").at_s == 600
    assert first(told, "stat.Y2", "stat opens Y2").at_s == 900


def test_two_fuels_never_heat_at_once() -> None:
    """CP: the furnace's coil must not be heated by the heat pump's coil above it."""
    dual = rigged(RIGS["thermostat/dual-fuel"])
    told = played(dual, "heat", Interruption(900, call="aux"), Interruption(1800, call="heat"), Interruption(2700))
    (first_run, second_run), (burner,) = spans(told, "pump.compressor"), spans(told, "board.heat")
    assert first_run[1] == 900
    assert burner[0] >= 900
    assert second_run[0] >= (burner[1] or 0)
    # P: 15 to 30 s of purge, 5 to 30 s of ignition.
    assert 20 <= burner[0] - 900 <= 65


# ---- zones ---------------------------------------------------------------------------------------------------------


def test_a_zone_that_wants_the_other_waits() -> None:
    zones = rigged(RIGS["accessory/zone-damper-panel"])
    told = played(
        zones,
        "cool",
        Interruption(600, call="heat", caller="two"),
        Interruption(1200, call="off", caller="two"),
        Interruption(2400, call="off", caller="one"),
        callers=["one"],
    )
    assert spans(told, "the call 'cool' of one") == [(0, 2400)]
    assert spans(told, "the call 'heat' of two") == [(600, 1200)]
    cooling = spans(told, "cond.compressor")
    (heating,) = spans(told, "board.heat")
    assert cooling[0] == (0, 600)
    assert 600 < heating[0] < 700
    assert heating[1] == 1200
    assert cooling[1][0] >= 1200
    # The zone that calls has its damper open, the other's is driven shut.
    assert spans(told, "d1.open")[0][0] == 45
    assert 600 < spans(told, "d2.open")[0][0] < 660
    assert spans(told, "d1.shut-motor") == [(600, 1200)]
    assert not spans(told, "d3.open")


def test_the_tank_goes_before_the_zones() -> None:
    pumps = rigged(RIGS["accessory/circulator-panel"])
    told = played(
        pumps, "heat", Interruption(300, call="hot-water", caller="tank"), Interruption(900, call="off", caller="tank")
    )
    assert spans(told, "panel.circulator-2") == [(0, 300), (900, None)]
    assert spans(told, "panel.circulator-1") == [(300, 900)]
    assert spans(told, "boiler.heat") == [(30, None)]


# ---- flames --------------------------------------------------------------------------------------------------------


def test_three_trials_and_a_lockout() -> None:
    """CP: three trials about a minute apart, then a lockout of an hour."""
    told = played(HOUSE, "heat", Interruption(0, flame="board.heat"), Interruption(600))
    trials = [event.at_s for event in told.events if "no flame is proved" in event.what]
    assert trials == [40, 140, 240]
    assert first(told, "board.heat", "locks out").at_s == 240
    assert not spans(told, "board.heat")
    assert not spans(told, "board.blower"), "no blower without a flame"
    purges = [event.at_s for event in told.events if "inducer" in event.what]
    assert purges == [0, 100, 200], "every trial begins with its purge"


def test_an_oil_burner_tries_once() -> None:
    oil = rigged(RIGS["indoor/oil-primary"])
    told = played(oil, "heat", Interruption(0, flame="boiler.heat"))
    assert len([event for event in told.events if "no flame is proved" in event.what]) == 1
    assert first(told, "boiler.heat", "locks out").because.startswith("1 trials")


def test_a_flame_that_fails_comes_back() -> None:
    told = played(
        "brewery-two-stages",
        "heat-2",
        Interruption(300, flame="board.heat"),
        Interruption(420, flame="board.heat", closed=True),
        Interruption(900),
    )
    assert spans(told, "board.heat") == [(40, 300), (500, 900)]
    high = spans(told, "board.heat-2")
    assert high[0][1] == 300
    assert high[1][0] > 500, "the second stage waits for the flame"


def test_the_call_interrupted_ends_a_lockout() -> None:
    told = played(
        HOUSE,
        "heat",
        Interruption(0, flame="board.heat"),
        Interruption(300, flame="board.heat", closed=True),
        Interruption(320, call="off"),
        Interruption(330, call="heat"),
    )
    assert spans(told, "board.heat") == [(370, None)]


# ---- safeties and power --------------------------------------------------------------------------------------------


def test_a_lockout_outlasts_the_switch_that_caused_it() -> None:
    """C: the relay across the switches comes into series with the contactor and keeps nearly all the voltage."""
    unit = rigged(RIGS["outdoor/lockout-condenser"])
    trip = (Interruption(300, "cond.high-pressure"), Interruption(310, "cond.high-pressure", closed=True))
    told = played(unit, "cool", *trip, Interruption(1200, call="off"), Interruption(1500, call="cool"))
    assert spans(told, "cond.compressor") == [(0, 300), (1500, None)]
    assert spans(told, "cond.lockout-relay") == [(300, 1200)]


def test_a_limit_that_opens_stops_the_burner_and_leaves_the_blower() -> None:
    limit = amended(
        HOUSE,
        equipment="{limit: {part: accessory/supply-limit, at: cellar}}",
        landings="{wall.white: [stat.W, limit.1]}",
        jumpers="[[limit.2, board.W]]",
    )
    told = played(
        limit,
        "heat",
        Interruption(300, "limit.switch"),
        Interruption(500, "limit.switch", closed=True),
        Interruption(900),
    )
    assert spans(told, "board.heat") == [(40, 300), (540, 900)]
    # P: the blower runs on for 60 to 180 s.
    assert 360 <= (spans(told, "board.blower")[0][1] or 0) <= 480


def test_power_that_fails_and_returns_finds_the_compressor_resting() -> None:
    """P: 3 to 5 minutes between compressor starts."""
    told = played(
        HOUSE, "cool", Interruption(300, power="everything"), Interruption(330, power="everything", closed=True)
    )
    (before, after) = spans(told, "cond.compressor")
    assert before == (0, 300)
    assert 180 <= after[0] - 300 <= 300
    # Without power the blower does not run on; with it, it starts at once.
    assert spans(told, "board.blower") == [(0, 300), (330, None)]
    assert first(told, "cond.compressor", "short-cycle").at_s == 330


def test_one_equipment_without_power_leaves_the_rest() -> None:
    told = played(HOUSE, "cool", Interruption(300, power="cond"), Interruption(700, power="cond", closed=True))
    assert spans(told, "board.blower") == [(0, None)]
    assert spans(told, "cond.compressor") == [(0, 300), (700, None)]


@pytest.mark.parametrize(
    ("item", "message"),
    [
        (Interruption(1, call="col"), "can call 'col'; did you mean 'cool'"),
        (Interruption(1, call="heat", caller="stats"), "no thermostat 'stats'; did you mean 'stat'"),
        (Interruption(1, power="boards"), "no equipment 'boards'; did you mean 'board'"),
        (Interruption(1, flame="board.het"), "'board.het'; did you mean 'board.heat'"),
    ],
)
def test_wrong_words(item: Interruption, message: str) -> None:
    with pytest.raises(QuestionError, match=message):
        played(HOUSE, "heat", item)


def test_who_calls_must_be_able_to() -> None:
    pumps = rigged(RIGS["accessory/circulator-panel"])
    with pytest.raises(QuestionError, match="tank cannot call 'heat'; valid: hot-water"):
        played(pumps, "heat", callers=["tank"])
