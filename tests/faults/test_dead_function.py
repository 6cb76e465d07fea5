"""What is driven and does not run: a suspect beyond the 24 V circuit, told from an open coil by a look at the coil."""

from __future__ import annotations

import random

import numpy as np
import pytest

from callpath.calls.closing import calls_of_job, given_for
from callpath.calls.reading import volts_between
from callpath.calls.sequence import sequence
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.errors import SeenError
from callpath.faults.asked import Setup
from callpath.faults.prior import default_priors, read_priors, shipped_priors
from callpath.faults.seen import read_seen, seen_text
from callpath.faults.troubleshoot import Case
from callpath.faults.world import World
from callpath.job import read_job
from callpath.job.model import Fault, Job
from callpath.job.write import job_data, job_text
from callpath.proof.prove import prove
from tests.faults.measured import planted_circuit
from tests.jobs import COTTAGE, HOUSE, PUMP, ZONE, Data, job_of

DEAD = Fault("idle", ("cond.compressor",))
COIL = Fault("open", ("cond.contactor",))
CALLED = (
    "  - {call: cool, running: {cond.compressor: false}}\n  - {call: cool, between: [cond.Y, cond.C], volts: 25.1}\n"
)


def likely(case: Case, seen: str) -> dict[tuple[Fault, ...], float]:
    answer = case.answer(read_seen(f"seen:\n{seen}", case.circuit))
    return {suspect.faults: suspect.probability for suspect in answer.suspects}


def planted(function: str, base: Data) -> Job:
    return read_job(job_text({**job_data(job_of(base)), "faults": [{"dead": function}]}))


def test_a_contactor_that_pulls_in_leaves_the_compressor_itself() -> None:
    case = Case(job_of(COTTAGE))
    found = likely(case, CALLED + "  - {call: cool, running: {cond.contactor: true}}\n")
    assert max(found, key=lambda faults: found[faults]) == (DEAD,)
    assert found[(DEAD,)] > 20 * found[(COIL,)]
    found = likely(case, CALLED + "  - {call: cool, running: {cond.contactor: false}}\n")
    assert found[(COIL,)] > 20 * found[(DEAD,)]


def test_a_look_at_the_coil_is_asked_for_where_it_tells_and_the_verdict_warns() -> None:
    case = Case(job_of(COTTAGE))
    seen = read_seen(f"seen:\n{CALLED}", case.circuit)
    world = World(case.job, (DEAD,), np.random.default_rng(2))
    answer = case.answer(seen)
    assert answer.next is not None
    assert answer.next.test.coils == {"cond.contactor"}
    while answer.next is not None:
        test = answer.next.test
        seen = [*seen, *read_seen(seen_text([type(seen[0])(test, world.answer(test))]), case.circuit)]
        assert seen[-1].test == test
        answer = case.answer(seen)
    assert answer.suspects[0].faults == (DEAD,)
    assert answer.as_json()["suspects"][0]["faults"] == [{"dead": "cond.compressor"}]
    told = " ".join(answer.advice)
    assert all(
        word in told for word in ("disconnect", "discharge every capacitor", "Line voltage", "licensed practice")
    )


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, PUMP, ZONE], ids=lambda base: base["title"][:20])
def test_what_runs_is_what_runs_in_the_planted_job(base: Data) -> None:
    case = Case(job_of(base))
    shows, rng = case.shows([]), random.Random(3)
    with_dead = [
        row for row in range(len(case.universe)) if any(f.kind == "idle" for f in case.universe.faults_of(row))
    ]
    for row in rng.sample(with_dead, 60):
        circuit = planted_circuit(case.job, case.universe.faults_of(row))
        for call in set(shows.calls) & set(calls_of_job(circuit)):
            running = snapshot(circuit, given_for(circuit, call)).running
            for name in circuit.functions:
                told = bool(shows.running(Setup(call), name, np.array([row]))[0])
                assert told == (name in running), (call, name, case.universe.faults_of(row))


def test_the_job_file_plants_it_and_only_the_function_feels_it() -> None:
    job = planted("cond.compressor", COTTAGE)
    assert job.faults == (DEAD,)
    assert read_job(job_text(job_data(job))) == job
    (finding,) = (f for f in prove(job).findings if f.severity == "fault")
    assert finding.code == "dead-call"
    assert "cond.contactor is energised" in finding.message
    assert prove(job).calls["cool"].running == ("board.blower",)
    events = [event.what for event in sequence(build(job), "cool")]
    assert "contactor coil pulls in" in events
    assert "compressor: does not run" in events
    assert "the compressor runs" not in events
    one, other = (volts_between(build(j), "cool", "cond.Y", "cond.C").value for j in (job, job_of(COTTAGE)))
    assert one == other


def test_what_waits_for_a_dead_burner_waits_in_the_proof_and_when_played() -> None:
    job = planted("board.heat", HOUSE)
    assert prove(job).calls["heat"].running == ()
    assert prove(job).calls["fan"].running == ("board.blower",)
    events = [event.what for event in sequence(build(job), "heat")]
    assert any("no flame is proved" in what for what in events)
    assert "the indoor blower runs" not in events


def test_rates_of_before_are_taken_with_the_shipped_one() -> None:
    lines = shipped_priors().splitlines(keepends=True)
    old = "".join(line for line in lines if "dead-function" not in line)
    assert read_priors(old) == default_priors()


def test_a_coil_spelled_wrong_is_told_with_the_nearest() -> None:
    with pytest.raises(SeenError, match=r"no function or coil of this job; did you mean 'cond\.contactor'"):
        read_seen("seen:\n  - {call: cool, running: {cond.contacter: true}}\n", build(job_of(COTTAGE)))
