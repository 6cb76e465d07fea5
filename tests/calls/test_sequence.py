"""The sequence of operation: when things happen, why, by which way, and what an interruption stops.

Times are typical component data, published and seen (P), unless marked.
"""

from __future__ import annotations

import math

import pytest

from callpath.calls.sequence import Event, Interruption, safeties, sequence
from callpath.circuit.build import build
from callpath.errors import QuestionError
from tests.jobs import BUZZER, COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, amended, has, job_of, proof_of

FITTED = {"settings": "{cond: {pressure-switches: true}}"}


def events_of(
    base: dict[str, object], call: str, *interruptions: Interruption, ago: float = math.inf, **changes: str
) -> list[Event]:
    return sequence(build(job_of(base, **changes)), call, interruptions=interruptions, stopped_ago_s=ago)


def told(events: list[Event]) -> list[tuple[float, str, str]]:
    return [(event.at_s, event.where, event.what) for event in events]


def at(events: list[Event], where: str, what: str) -> float:
    (found,) = [event.at_s for event in events if event.where == where and what in event.what]
    return found


# ---- a furnace -----------------------------------------------------------------------------------------------


def test_a_furnace_lights_and_then_blows() -> None:
    """P: prepurge 15 to 30 s, igniter 5 to 30 s, blower 30 to 60 s after the flame, off 60 to 180 s after the call."""
    events = events_of(HOUSE, "heat", Interruption(600))
    assert told(events) == [
        (0, "thermostat", "the call is 'heat'"),
        (0, "stat.W", "stat closes W"),
        (0, "board.heat-input", "heating input energised"),
        (0, "board.heat", "draught inducer starts and proves air"),
        (20, "board.heat", "igniter heats"),
        (40, "board.heat", "gas valve opens and flame is proved"),
        (40, "board.heat", "the burner is lit"),
        (85, "board.blower", "the indoor blower runs"),
        (600, "thermostat", "the call 'heat' ends"),
        (600, "board.heat-input", "heating input de-energised"),
        (600, "board.heat", "the burner is out"),
        (720, "board.blower", "the indoor blower stops"),
    ]
    purge, ignition = at(events, "board.heat", "igniter"), at(events, "board.heat", "gas valve")
    assert 15 <= purge <= 30
    assert 5 <= ignition - purge <= 30
    assert 30 <= at(events, "board.blower", "runs") - ignition <= 60
    assert 60 <= at(events, "board.blower", "stops") - 600 <= 180


def test_every_event_says_why_and_what_energises_by_which_way() -> None:
    events = events_of(HOUSE, "heat")
    assert all(event.because for event in events)
    (energised,) = [event for event in events if event.where == "board.heat-input"]
    assert has(energised.path, "board.R wall.red stat.R stat.W wall.white board.W board.C")
    assert energised.because.startswith("the call 'heat'")
    (lit,) = [event for event in events if event.what == "the burner is lit"]
    assert lit.path == energised.path
    assert "board.heat-input" in lit.because


def test_a_call_that_ends_during_the_purge_lights_nothing() -> None:
    events = events_of(HOUSE, "heat", Interruption(10))
    assert max(event.at_s for event in events) == 10
    assert not any(event.what in ("the burner is lit", "igniter heats", "the indoor blower runs") for event in events)


def test_a_call_that_ends_before_the_blower_starts() -> None:
    events = events_of(HOUSE, "heat", Interruption(60))
    assert at(events, "board.heat", "the burner is out") == 60
    assert not any(event.where == "board.blower" for event in events)


def test_two_stages_of_one_board() -> None:
    two = amended(
        HOUSE,
        equipment="""{board: {part: indoor/two-stage-furnace-board, at: cellar},
                      stat: {part: thermostat/heat-pump, at: hall, settings: {power: battery}}}""",
        landings="{wall.white: [stat.W2, board.W2], wall.blue: null}",
        jumpers="[[board.W1, board.Y]]",
    )
    events = events_of(two, "aux")
    assert at(events, "board.heat", "the burner is lit") == 40
    assert at(events, "board.heat-2", "high fire") == 45


# ---- cooling -------------------------------------------------------------------------------------------------


def test_cooling_starts_at_once_and_the_blower_runs_on() -> None:
    """P: cooling blower on after 1 s from Y, at once from G; off 60 to 90 s after the call."""
    events = events_of(HOUSE, "cool", Interruption(600))
    assert at(events, "cond.contactor", "pulls in") == 0
    assert at(events, "cond.compressor", "runs") == 0
    assert at(events, "board.blower", "runs") == 0
    assert at(events, "cond.compressor", "stops") == 600
    assert 60 <= at(events, "board.blower", "stops") - 600 <= 90
    no_fan_lead = events_of(HOUSE, "cool", landings="{wall.green: null}")
    assert at(no_fan_lead, "board.blower", "runs") == 1


def test_a_compressor_rests_before_it_starts_again() -> None:
    """P: 3 to 5 minutes between starts."""
    events = events_of(HOUSE, "cool", ago=60)
    start = at(events, "cond.compressor", "the compressor runs")
    assert 180 <= start + 60 <= 300
    (held,) = [event for event in events if "short-cycle" in event.what]
    assert held.at_s == 0
    assert "60 s ago" in held.because
    assert at(events_of(HOUSE, "cool", ago=400), "cond.compressor", "runs") == 0
    assert at(events_of(HOUSE, "cool"), "cond.compressor", "runs") == 0


def test_a_call_that_ends_while_the_compressor_is_held_starts_nothing() -> None:
    events = events_of(HOUSE, "cool", Interruption(100), ago=60)
    assert not any(event.what == "the compressor runs" for event in events)


# ---- zones and relays ------------------------------------------------------------------------------------------


def test_a_zone_valve_opens_its_end_switch_closes_and_the_boiler_follows() -> None:
    """P: thermostat, valve motor, dry end switch, the boiler's T1 and T2, a circuit of its own. CP: 10 to 20 s to open."""
    events = events_of(ZONE, "heat", Interruption(600))
    opens = at(events, "valve.end-switch", "closes")
    assert 10 <= opens <= 20
    assert at(events, "boiler.control-relay", "pulls in") == opens
    assert at(events, "boiler.circulator", "runs") == opens
    assert at(events, "boiler.heat", "the burner is lit") == opens + 30
    assert at(events, "boiler.heat", "the burner is out") > 600
    assert at(events, "boiler.heat", "the burner is out") == at(events, "valve.end-switch", "opens")
    (relay,) = [event for event in events if "pulls in" in event.what]
    assert has(relay.path, "boiler.T1 patch.brown valve.E1 valve.E2 patch.orange boiler.T2")
    assert "valve.end-switch" in relay.because


def test_a_call_that_ends_before_the_valve_is_open_starts_no_boiler() -> None:
    events = events_of(ZONE, "heat", Interruption(10))
    assert not any(event.where.startswith("boiler.") for event in events)
    assert not any("end switch" in event.what for event in events)


def test_a_relay_passes_the_call_on() -> None:
    events = events_of(RELAY, "cool")
    order = [event.where for event in events if "pulls in" in event.what]
    assert set(order) == {"relay.coil", "cond.contactor"}
    (outdoor,) = [event for event in events if event.where == "cond.contactor"]
    assert has(outdoor.path, "supply.R patch.red relay.COM relay.NO outside.red cond.Y cond.C outside.white supply.C")


# ---- heat pumps ------------------------------------------------------------------------------------------------


def test_defrost_feeds_the_valve_and_the_heat_from_outdoors() -> None:
    events = events_of(PUMP, "defrost")
    (heat,) = [event for event in events if event.where == "air.sequencer"]
    assert has(heat.path, "air.R outside.red pump.R pump.W outside.white heat strip.white air.W air.C")
    assert at(events, "pump.reversing-valve", "shifted") == 0
    assert 10 <= at(events, "air.aux-heat", "is on") <= 30  # CP: a sequencer closes after 10 to 30 s


# ---- interruptions ---------------------------------------------------------------------------------------------


def test_a_safety_that_opens_stops_what_it_must_and_nothing_else() -> None:
    events = events_of(HOUSE, "cool", Interruption(300, "cond.high-pressure"), **FITTED)
    after = [event for event in told(events) if event[0] >= 300]
    assert after == [
        (300, "cond.high-pressure", "high-pressure switch opens"),
        (300, "cond.contactor", "contactor coil drops out"),
        (300, "cond.compressor", "the compressor stops"),
    ]


def test_a_safety_that_closes_again_finds_the_compressor_resting() -> None:
    trip = (Interruption(300, "cond.high-pressure"), Interruption(320, "cond.high-pressure", closed=True))
    events = events_of(HOUSE, "cool", *trip, **FITTED)
    starts = [event.at_s for event in events if event.what == "the compressor runs"]
    assert starts == [0, 540]
    assert any("short-cycle" in event.what and event.at_s == 320 for event in events)


def test_a_float_switch_in_r_stops_everything_mid_way() -> None:
    in_r = {
        "equipment": "{float: {part: accessory/float-switch, at: cellar}}",
        "cables": "{pan: {between: [cellar, cellar], conductors: [red]}}",
        "landings": "{wall.red: [stat.R, float.1], pan.red: [float.2, board.R]}",
    }
    events = events_of(HOUSE, "heat", Interruption(60, "float.switch"), **in_r)
    assert at(events, "board.heat", "the burner is out") == 60
    assert not any(event.where == "board.blower" for event in events)


def test_an_interruption_before_the_flame_is_proved() -> None:
    in_w = {
        "equipment": "{limit: {part: accessory/float-switch, at: cellar}}",
        "cables": "{patch: {between: [cellar, cellar], conductors: [white]}}",
        "landings": "{wall.white: [stat.W, limit.1], patch.white: [limit.2, board.W]}",
    }
    events = events_of(
        HOUSE, "heat", Interruption(30, "limit.switch"), Interruption(50, "limit.switch", closed=True), **in_w
    )
    lit = [event.at_s for event in events if event.what == "the burner is lit"]
    assert lit == [90], "a fresh trial, from its purge on"


def test_what_each_safety_stops() -> None:
    circuit = build(job_of(HOUSE, **FITTED))
    assert {guard.contact: guard.stops for guard in safeties(circuit, "cool")} == {
        "cond.high-pressure": ("cond.compressor",),
        "cond.low-pressure": ("cond.compressor",),
    }
    assert {guard.stops for guard in safeties(circuit, "heat")} == {()}
    assert safeties(build(job_of(COTTAGE)), "cool") == []


# ---- what goes wrong -------------------------------------------------------------------------------------------


def test_a_thermostat_without_its_supply_closes_nothing() -> None:
    events = events_of(HOUSE, "cool", landings="{wall.blue: null}")
    assert told(events) == [(0, "thermostat", "the call is 'cool'"), (0, "stat", "stat closes nothing")]


def test_a_short_opens_the_fuse_and_that_is_the_end() -> None:
    events = events_of(COTTAGE, "fan", landings="{wall.green: [stat.G, board.C]}")
    assert told(events)[-1] == (0, "board.fuse", "low-voltage fuse opens")
    assert "too much current" in events[-1].because


def test_a_circuit_without_rest_still_comes_to_an_end() -> None:
    assert len(events_of(BUZZER, "heat", Interruption(100))) < 50


@pytest.mark.parametrize(
    ("base", "call"),
    [
        (MANOR, "heat"),
        (MANOR, "cool"),
        (MILL, "cool"),
        (MILL, "heat"),
        (PUMP, "aux"),
        (PUMP, "emergency"),
        (ZONE, "heat"),
    ],
)
def test_in_the_end_the_same_runs_as_in_the_steady_state(base: dict[str, object], call: str) -> None:
    running: set[str] = set()
    proof = proof_of(base)
    for event in events_of(base, call):
        if event.where in proof.calls["off"].running or "." not in event.where:
            continue
        equipment, _, name = event.where.partition(".")
        function = job_of(base).equipment[equipment].part.functions.get(name)
        if function is not None and event.what == function.runs:
            running.add(event.where)
    assert running == set(proof.calls[call].running)


def test_events_are_in_order_of_time() -> None:
    for base, call in ((HOUSE, "heat"), (ZONE, "heat"), (PUMP, "aux")):
        times = [event.at_s for event in events_of(base, call, Interruption(500))]
        assert times == sorted(times)


@pytest.mark.parametrize(
    ("call", "interruption", "message"),
    [
        ("cold", Interruption(1), "'cold'; did you mean 'cool'"),
        ("cool", Interruption(1, "cond.high-presure"), "'cond.high-presure'; did you mean 'cond.high-pressure'"),
        ("cool", Interruption(1, "cond.contactor"), "no field contact 'cond.contactor'"),
    ],
)
def test_wrong_questions(call: str, interruption: Interruption, message: str) -> None:
    with pytest.raises(QuestionError, match=message):
        events_of(HOUSE, call, interruption, **FITTED)
