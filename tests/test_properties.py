"""Properties of whole jobs, tried on random ones: what must hold for every installation, right, wrong or broken.

``HYPOTHESIS_PROFILE=search`` tries ten times as many, others each time.
"""

from __future__ import annotations

import copy
import json
import math
import random
from collections import Counter
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from callpath.calls.chart import chart
from callpath.calls.closing import calls_of_job, given_for
from callpath.calls.outside import EVERYTHING, burners
from callpath.calls.reading import amps_in, ohms_between, volts_table
from callpath.calls.sequence import Interruption, safeties, sequence, timing
from callpath.circuit.build import build
from callpath.circuit.path import through
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import snapshot, snapshots, states_of
from callpath.circuit.spice import netlist
from callpath.job import read_job
from callpath.parts.catalogue import default_catalogue
from callpath.proof.finding import CODES, Finding, merged, one_by_cause
from callpath.proof.prove import RULES, Proof, prove
from callpath.proof.states import examine
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import Data, job_of
from tests.randomjob import any_equipment, jobs, sound_jobs

MOST = settings.default.max_examples if settings.default is not None else 100
FEW, SOME = settings(max_examples=MOST // 5), settings(max_examples=MOST // 3)


def as_read(job: Data) -> Any:
    """Read a job keeping the order of its keys."""
    return read_job(json.dumps(job))


def summary(proof: Proof, rename: dict[str, str] | None = None) -> tuple[Counter[Any], dict[str, set[str]]]:
    """Return how often each code stands with each severity, and what runs; equipment renamed back."""
    back = {new: old for old, new in (rename or {}).items()}

    def named(function: str) -> str:
        equipment, _, name = function.partition(".")
        return f"{back.get(equipment, equipment)}.{name}"

    running = {call: {named(name) for name in result.running} for call, result in proof.calls.items()}
    return Counter((f.code, f.severity) for f in proof.findings), running


def shown_in(proof: Proof) -> dict[tuple[str, str], set[str]]:
    """Return the calls that each code shows in, with each severity."""
    found: dict[tuple[str, str], set[str]] = {}
    for finding in proof.findings:
        found.setdefault((finding.code, finding.severity), set()).update(finding.calls)
    return found


def plain_volts(job: Any) -> dict[str, float]:
    """Return the voltage between every two neighbouring terminals of every call, by name."""
    examined = examine(build(job))
    found = {}
    for call, state in examined.plain.items():
        for equipment in job.equipment.values():
            letters = sorted(equipment.part.terminals)
            for one in letters:
                found[f"{call} {equipment.id}.{one}"] = state.between(
                    f"{equipment.id}.{one}", f"{equipment.id}.{letters[0]}"
                )
    return found


# ---- nothing ever breaks -------------------------------------------------------------------------------------------


@SOME
@given(jobs())
def test_a_proof_is_always_given_and_well_formed(job: Data) -> None:
    checked = as_read(job)
    proof = prove(checked)
    told = json.loads(json.dumps(proof.as_json(), allow_nan=False))
    assert told["verdict"] in ("clean", "findings")
    served = {call for call in proof.serves if call in proof.calls}
    for finding in proof.findings:
        assert finding.code in CODES
        assert finding.severity in CODES[finding.code][0]
        assert set(finding.calls) <= set(proof.calls)
        assert finding.message
        assert finding.remedy
        assert all(isinstance(name, str) and name for name in (*finding.where, *finding.path))
        for name in finding.path:
            assert name in checked.landings or name in checked.splices or name.partition(".")[0] in checked.equipment
        for one, two in zip(finding.path, finding.path[1:], strict=False):
            assert one != two
    dead = {call for finding in proof.findings if finding.code == "dead-call" for call in finding.calls}
    failing = {
        c for c in served if not proof.calls[c].needed or set(proof.calls[c].needed) - set(proof.calls[c].running)
    }
    # A thermostat that fails alone while another keeps things running is a dead call too.
    several = sum(bool(e.part.calls) for e in checked.equipment.values()) > 1
    assert dead >= failing if several else dead == failing


@SOME
@given(jobs())
def test_one_finding_for_one_cause_loses_nothing(job: Data) -> None:
    """What another finding tells as well is left out; no danger, no fault's call and no load of a fault goes with it."""
    examined = examine(build(as_read(job)))
    every = merged([finding for rule in RULES for finding in rule(examined)])
    kept = one_by_cause(every)

    def told(findings: list[Finding], severity: str) -> set[str]:
        return {call for finding in findings if finding.severity == severity for call in finding.calls}

    assert [f for f in kept if f.severity == "danger"] == [f for f in every if f.severity == "danger"]
    assert told(kept, "fault") == told(every, "fault")
    assert {name for f in every if f.severity == "fault" for name in f.where} == {
        name for f in kept if f.severity == "fault" for name in f.where
    }
    assert any(f.severity != "note" for f in kept) == any(f.severity != "note" for f in every)


@FEW
@given(jobs(), st.data())
def test_every_question_is_answered(job: Data, data: st.DataObject) -> None:
    circuit = build(as_read(job))
    call = data.draw(st.sampled_from(calls_of_job(circuit)))
    for row in volts_table(circuit, call):
        assert 0 <= row.reading.low <= row.reading.value + 1e-9
        assert row.reading.value <= row.reading.high + 1e-9
    conductors = sorted(circuit.job.landings)
    if conductors:
        assert math.isfinite(amps_in(circuit, call, data.draw(st.sampled_from(conductors))).value)
    terminals = sorted(f"{e.id}.{letters}" for e in circuit.job.equipment.values() for letters in e.part.terminals)
    one, two = (data.draw(st.sampled_from(terminals)) for _ in range(2))
    ohms = ohms_between(circuit, one, two, call=call)
    assert ohms.value >= 0
    assert ohms.value == pytest.approx(ohms_between(circuit, two, one, call=call).value, rel=1e-6)
    contact = data.draw(st.sampled_from([*circuit.field_contacts, ""]))
    events = sequence(circuit, call, interruptions=[Interruption(data.draw(st.integers(0, 900)), contact)])
    assert [event.at_s for event in events] == sorted(event.at_s for event in events)
    assert len(safeties(circuit, call)) == len(circuit.field_contacts)
    text = netlist(snapshot(circuit, given_for(circuit, call)), title=call)
    assert all(f"* terminal {name} node n" in text for name in terminals)


@st.composite
def what_comes_between(draw: st.DrawFn, circuit: Any) -> list[Interruption]:
    """Some things from outside, each at some moment."""
    found = []
    for at in sorted(draw(st.lists(st.integers(0, 1500), min_size=1, max_size=4))):
        kind = draw(st.sampled_from(["contact", "call", "power", "flame", "end"]))
        names = {
            "contact": list(circuit.field_contacts),
            "call": list(calls_of_job(circuit)),
            "power": [*circuit.job.equipment, EVERYTHING],
            "flame": list(burners(circuit)),
        }.get(kind)
        closed = draw(st.booleans())
        found.append(
            Interruption(at, closed=closed, **{kind: draw(st.sampled_from(names))}) if names else Interruption(at)
        )
    return found


@FEW
@given(jobs(), st.data())
def test_whatever_comes_between_time_runs_on(job: Data, data: st.DataObject) -> None:
    circuit = build(as_read(job))
    call = data.draw(st.sampled_from(calls_of_job(circuit)))
    between = data.draw(what_comes_between(circuit))
    played = timing(circuit, call, interruptions=between, frost=data.draw(st.booleans()))
    times = [event.at_s for event in played.events]
    assert times == sorted(times)
    for lane in played.lanes:
        ends = [at for span in lane.spans for at in span if at is not None]
        assert ends == sorted(ends)
        assert None not in [end for _, end in lane.spans[:-1]]
    # A chart shows the same lanes, and nothing runs in equipment without power.
    drawn = chart(played)
    assert {track.name for track in drawn.tracks} <= {lane.name for lane in played.lanes}
    if any(item.power == EVERYTHING and not item.closed for item in between[-1:]):
        running = {lane.name for lane in played.lanes if lane.spans[-1][1] is None}
        assert not running & set(circuit.functions)


# ---- physics ---------------------------------------------------------------------------------------------------------


@SOME
@given(jobs())
def test_every_plain_state_keeps_kirchhoffs_law_and_the_balance_of_power(job: Data) -> None:
    examined = examine(build(as_read(job)))
    for state in (*examined.plain.values(), *examined.plain_before_fuse.values()):
        assert_kirchhoff(state)
        if len(state.circuit.network.sources) > 1:
            # What each source drives alone adds up to what all of them drive.
            assert np.abs(state.shares.sum(axis=0) - state.amps).max() <= 1e-5 * max(1.0, np.abs(state.amps).max())


@FEW
@given(jobs())
def test_a_steady_state_is_steady(job: Data) -> None:
    """Everything that pulled in sees at least its drop-out, everything at rest less than its pull-in, no fuse too much."""
    examined = examine(build(as_read(job)))
    network = examined.circuit.network
    for state in examined.plain.values():
        if state.chatter:
            continue
        for i, bit in enumerate(network.bits):
            current = abs(state.amps[bit.branch])
            if bit.sense != "volts":
                assert state.bits[i] or current < bit.on_at * (1 + 1e-6)
                continue
            own = network.own_admittance[int(state.bits[i])][bit.branch]
            seen = current / abs(own) if own else 0.0
            assert seen >= bit.off_at * (1 - 1e-6) if state.bits[i] else seen < bit.on_at * (1 + 1e-6)


@FEW
@given(jobs())
def test_a_path_through_a_load_is_a_loop(job: Data) -> None:
    """From a source's hot side through the load and back: no step twice, and both ends at the same equipment's metal or strip."""
    examined = examine(build(as_read(job)))
    for state in examined.plain.values():
        for name, (_, element) in examined.circuit.elements.items():
            index = state.circuit.network.index[name]
            if element.kind in ("coil", "load") and abs(state.amps[index]) > 0.01:
                path = through(state, index)
                names = [step for step in path if step in state.circuit.network.node_of]
                assert len(names) == len(set(names))
                assert names


@FEW
@given(jobs())
def test_a_batch_settles_as_each_of_its_states_does_alone(job: Data) -> None:
    circuit = build(as_read(job))
    examined = examine(circuit)
    states = examined.settled.states
    picked = np.unique(np.linspace(0, len(states) - 1, 12).astype(int))
    for i in picked:
        alone = settle(circuit.engine, states_of(circuit, states.given[i : i + 1], states.live[i : i + 1]))
        assert alone.chatter[0] == examined.settled.chatter[i]
        if alone.chatter[0]:
            continue
        assert (alone.bits[0] == examined.settled.bits[i]).all()
        one = snapshots(circuit, alone)[0]
        same = snapshots(circuit, examined.settled, members=np.array([i]))[0]
        assert np.abs(one.volts - same.volts).max() <= 1e-6


# ---- what must not matter ----------------------------------------------------------------------------------------------


def assert_same(job: Data, other: Data, rename: dict[str, str] | None = None) -> None:
    one, two = prove(as_read(job)), prove(as_read(other))
    assert summary(one) == summary(two, rename)
    assert one.verdict == two.verdict


def shuffled(job: Any, rng: random.Random) -> Any:
    """Return data with the keys of every mapping in another order; lists keep theirs."""
    if isinstance(job, dict):
        keys = list(job)
        rng.shuffle(keys)
        return {key: shuffled(job[key], rng) for key in keys}
    return [shuffled(item, rng) for item in job] if isinstance(job, list) else job


# Two thermostats, one of them with power and nothing else: which of them is told must not hang on which is read first.
TWO_IDLE = {
    "callpath": 1,
    "equipment": {
        "th0": {"part": "thermostat/heat-pump", "at": "hall", "settings": {"power": "battery"}},
        "th1": {"part": "thermostat/split-supply", "at": "hall"},
        "in0": {"part": "indoor/air-handler", "at": "cellar"},
    },
    "cables": {"wall": {"between": ["hall", "cellar"], "conductors": ["red"]}},
    "landings": {"wall.red": ["th0.R", "in0.R"]},
}


@FEW
@example(TWO_IDLE, 1)
@given(jobs(), st.integers(0, 1000))
def test_the_order_of_keys_changes_nothing(job: Data, seed: int) -> None:
    assert_same(job, shuffled(job, random.Random(seed)))


@FEW
@given(jobs(faults=False), st.integers(0, 1000))
def test_names_change_nothing(job: Data, seed: int) -> None:
    """Equipment gets other ids, in another order of the alphabet; volts stay what they are."""
    ids = list(job["equipment"])
    new = [f"x{number}" for number in range(len(ids))]
    random.Random(seed).shuffle(new)
    rename = dict(zip(ids, new, strict=True))

    def renamed(item: Any) -> Any:
        if isinstance(item, dict):
            return {renamed(key): renamed(value) for key, value in item.items()}
        if isinstance(item, list):
            return [renamed(one) for one in item]
        head, dot, rest = item.partition(".") if isinstance(item, str) else ("", "", "")
        return f"{rename[head]}.{rest}" if dot and head in rename else item

    other = {key: renamed(value) for key, value in job.items() if key != "equipment"}
    other["equipment"] = {rename[id_]: device for id_, device in job["equipment"].items()}
    assert_same(job, other, rename)
    before, after = plain_volts(as_read(job)), plain_volts(as_read(other))
    for place, value in before.items():
        call, terminal = place.split(" ")
        id_, _, letters = terminal.partition(".")
        assert after[f"{call} {rename[id_]}.{letters}"] == pytest.approx(value, abs=1e-4)


@FEW
@given(jobs(faults=False), st.data())
def test_a_cable_drawn_from_its_other_end_is_the_same_cable(job: Data, data: st.DataObject) -> None:
    assume(job["cables"])
    id_ = data.draw(st.sampled_from(sorted(job["cables"])))
    other = copy.deepcopy(job)
    other["cables"][id_]["between"].reverse()
    for conductor, ends in other["landings"].items():
        if conductor.startswith(f"{id_}."):
            ends.reverse()
    assert_same(job, other)
    before, after = plain_volts(as_read(job)), plain_volts(as_read(other))
    assert before.keys() == after.keys()
    assert all(after[place] == pytest.approx(value, abs=1e-4) for place, value in before.items())


def _other_end(end: str | None, unit: str) -> str | None:
    return {f"{unit}.Y": f"{unit}.C", f"{unit}.C": f"{unit}.Y"}.get(end or "", end)


@FEW
@given(jobs(faults=False))
def test_the_two_leads_of_a_cooling_only_outdoor_unit_may_be_swapped(job: Data) -> None:
    units = [id_ for id_, device in job["equipment"].items() if device["part"] == "outdoor/condenser"]
    assume(units)
    other = copy.deepcopy(job)
    for unit in units:
        for ends in (*other["landings"].values(), *other.get("jumpers", [])):
            ends[:] = [_other_end(end, unit) for end in ends]
    one, two = prove(as_read(job)), prove(as_read(other))
    # What is dead is told once for each place where the voltage stops; which lead stands at that place may differ.
    assert set(summary(one)[0]) == set(summary(two)[0])
    assert summary(one)[1] == summary(two)[1]
    assert shown_in(one) == shown_in(two)


BESIDE = ["accessory/relay", "accessory/float-switch", "accessory/zone-valve", "accessory/transformer", "outdoor/condenser",
          "indoor/boiler", "indoor/air-handler", "thermostat/heat-only"]  # fmt: skip


@FEW
@given(jobs(), st.sampled_from(BESIDE))
def test_equipment_with_nothing_landed_changes_nothing_in_the_rest(job: Data, part: str) -> None:
    served = {**job, "serves": list(prove(as_read(job)).serves)}
    other = copy.deepcopy(served)
    other["equipment"]["beside"] = {"part": part, "at": "cellar"}
    # Where a call finds nothing in the job that could do it, whatever stands about is what should have been reached.
    before, after = prove(as_read(served)), prove(as_read(other))
    assume(all(before.calls[call].needed for call in before.serves))
    # Thermostats of different kinds find different things for one call; one of them may find nothing where another finds all.
    if len({device["part"] for device in job["equipment"].values() if device["part"].startswith("thermostat/")}) > 1:
        assume(all(after.calls[call].needed == before.calls[call].needed for call in before.serves))
    # At how many places a dead call is told may hang on which of two equally easy ways is looked at first; what is found may not.
    # What fits a thermostat is asked of all that is there; and a thermostat more may bring a call that nobody could make before.
    was, now = ({key: calls & set(before.calls) for key, calls in shown_in(proof).items()
                 if key[0] not in ("left-out", "nothing-served", "no-fit")} for proof in (before, after))  # fmt: skip
    assert was == now
    for call, result in before.calls.items():
        assert after.calls[call].running == result.running
        for name, load in result.sources.items():
            assert after.calls[call].sources[name].volts == pytest.approx(load.volts, abs=1e-4)


@FEW
@given(sound_jobs(), st.data())
def test_heavier_wire_never_lowers_the_voltage_of_what_it_feeds(job: Data, data: st.DataObject) -> None:
    """C: less resistance in series with a load leaves it more. A load elsewhere may lose a little to what this one now takes."""
    proof = prove(job_of(job))
    assume(proof.verdict == "clean")
    id_ = data.draw(st.sampled_from(sorted(job["cables"])))
    heavier = copy.deepcopy(job)
    heavier["cables"][id_]["awg"] = 14
    one, two = (examine(build(job_of(data))) for data in (job, heavier))
    for call, state in one.plain.items():
        for name, (equipment, element) in one.circuit.elements.items():
            if element.kind not in ("coil", "load") or element.hidden or equipment.part.calls:
                continue
            index = state.circuit.network.index[name]
            path = through(state, index) if abs(state.amps[index]) > 0.01 else ()
            before, after = abs(state.volts[index]), abs(two.plain[call].volts[index])
            if any(step.startswith(f"{id_}.") for step in path):
                assert after >= before - 1e-6, (call, name)
            else:
                assert after >= before - 0.15, (call, name)


@FEW
@given(jobs(faults=False), st.data())
def test_a_planted_fault_is_the_only_difference_that_it_makes(job: Data, data: st.DataObject) -> None:
    """An open conductor is as good as one taken off at both ends, but for what its capacitance shows."""
    assume(job["landings"])
    conductor = data.draw(st.sampled_from(sorted(job["landings"])))
    broken = {**job, "faults": [{"open": conductor}]}
    taken = copy.deepcopy(job)
    taken["landings"][conductor] = [None, None]
    one, two = prove(as_read(broken)), prove(as_read(taken))
    assert {call: result.running for call, result in one.calls.items()} == {c: r.running for c, r in two.calls.items()}


def test_the_strategies_use_every_part() -> None:
    """A part that no random job had would be a part that no property was tried on."""
    seen: set[str] = set()

    @settings(max_examples=1500, database=None)
    @given(any_equipment())
    def look(devices: Data) -> None:
        seen.update(device["part"] for device in devices.values())

    look()
    assert seen == set(default_catalogue().names)
