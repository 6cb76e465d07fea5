"""What each thermostat closes on each call, as the contract has it, and what one without its supply closes."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.calls.closing import call_rules, calls_of_job, given_for, outputs_for, thermostats
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.errors import QuestionError
from tests.jobs import COTTAGE, HOUSE, MANOR, PUMP, ZONE, job_of

# Part, its settings, and per call the outputs that it closes.
CLOSES = [
    ("thermostat/single-supply", {}, {"fan": "G", "cool": "Y G", "heat": "W"}),
    ("thermostat/single-supply", {"fan-with-heat": True}, {"fan": "G", "cool": "Y G", "heat": "W G"}),
    ("thermostat/split-supply", {}, {"fan": "G", "cool": "Y G", "heat": "W"}),
    ("thermostat/split-supply", {"fan-with-heat": True}, {"fan": "G", "cool": "Y G", "heat": "W G"}),
    ("thermostat/heat-only", {}, {"heat": "W"}),
    (
        "thermostat/heat-pump",
        {},
        {"fan": "G", "cool": "Y G O/B", "heat": "Y G", "aux": "Y G W2", "emergency": "W2 E G", "defrost": "Y G"},
    ),
    (
        "thermostat/heat-pump",
        {"changeover": "B"},
        {
            "fan": "G",
            "cool": "Y G",
            "heat": "Y G O/B",
            "aux": "Y G O/B W2",
            "emergency": "W2 E G",
            "defrost": "Y G O/B",
        },
    ),
    (
        "thermostat/heat-pump",
        {"compressor-stages": 2},
        {
            "fan": "G",
            "cool": "Y G O/B",
            "cool-2": "Y Y2 G O/B",
            "heat": "Y G",
            "heat-2": "Y Y2 G",
            "aux": "Y G W2",
            "emergency": "W2 E G",
            "defrost": "Y G",
        },
    ),
]


@pytest.mark.parametrize(("part", "settings", "closes"), CLOSES)
def test_closes(part: str, settings: dict[str, object], closes: dict[str, str]) -> None:
    job = job_of({
        "callpath": 1,
        "equipment": {
            "stat": {"part": part, "at": "hall", "settings": settings},
            "pump": {"part": "outdoor/heat-pump", "at": "yard"},
        },
    })  # fmt: skip
    assert calls_of_job(build(job)) == ("off", *closes)
    for call, outputs in closes.items():
        assert set(outputs_for(job, call)["stat"]) == set(outputs.split()), call
    assert outputs_for(job, "off") == {}


def test_defrost_is_a_call_only_where_something_defrosts() -> None:
    alone = job_of({"callpath": 1, "equipment": {"stat": {"part": "thermostat/heat-pump", "at": "hall"}}})
    assert "defrost" not in calls_of_job(build(alone))
    assert "defrost" in calls_of_job(build(job_of(PUMP)))


def test_defrost_is_heat_with_the_outdoor_contacts_changed_over() -> None:
    circuit = build(job_of(PUMP))
    heat, defrost = (given_for(circuit, call) for call in ("heat", "defrost"))
    differ = [circuit.network.given[i] for i in np.flatnonzero(heat != defrost)]
    assert differ == ["defrost"]


def test_calls_are_those_of_all_thermostats_in_one_order() -> None:
    both = job_of(PUMP, equipment="{porch: {part: thermostat/heat-only, at: orchard}}")
    assert calls_of_job(build(both)) == ("off", "fan", "cool", "heat", "aux", "emergency", "defrost")
    assert [stat.id for stat in thermostats(both)] == ["stat", "porch"]
    assert set(call_rules(both.equipment["porch"])) == {"heat"}
    assert set(outputs_for(both, "heat")) == {"stat", "porch"}
    assert set(outputs_for(both, "heat", ["porch"])) == {"porch"}


@pytest.mark.parametrize(
    ("word", "told"), [("cold", "did you mean 'cool'"), ("COOL", "did you mean 'cool'"), ("defrost", "valid: ")]
)
def test_a_call_that_nobody_can_make(word: str, told: str) -> None:
    with pytest.raises(QuestionError, match=f"can call '{word}'; {told}"):
        given_for(build(job_of(HOUSE)), word)


@pytest.mark.parametrize("call", ["fan", "cool", "heat"])
def test_a_thermostat_without_its_supply_closes_nothing(call: str) -> None:
    dead = build(job_of(HOUSE, landings="{wall.blue: null}"))
    state = snapshot(dead, given_for(dead, call))
    assert state.running == ()
    assert all(abs(state.amps[dead.network.index[f"stat.contact-{output}"]]) == 0 for output in "WYG")
    alive = build(job_of(HOUSE))
    assert snapshot(alive, given_for(alive, call)).running != ()


@pytest.mark.parametrize("base", [COTTAGE, ZONE])
def test_a_thermostat_on_cells_closes_though_its_source_is_dead(base: dict[str, object]) -> None:
    circuit = build(job_of(base))
    call = calls_of_job(circuit)[-1]
    state = snapshot(circuit, given_for(circuit, call), np.zeros(len(circuit.network.sources)))
    assert state.running == ()
    closed = [name for name in circuit.elements if name.startswith("stat.contact")
              and state.siemens[circuit.network.index[name]] != 0]  # fmt: skip
    assert closed == ["stat.contact-W"]


def test_a_split_thermostat_closes_each_mode_from_its_own_supply() -> None:
    circuit = build(job_of(MANOR))
    cool = snapshot(circuit, given_for(circuit, "cool"), np.array([0.0, 1.0]))
    assert cool.running == ("air.blower", "cond.compressor")
    heat = snapshot(circuit, given_for(circuit, "heat"), np.array([0.0, 1.0]))
    assert heat.running == ()
