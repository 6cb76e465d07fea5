"""What every hypothesis shows, against the same fault planted in the job and built on its own."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.snapshot import snapshot
from callpath.faults.asked import Check, Setup
from callpath.faults.candidate import candidate_tests, jump_pairs
from callpath.faults.noise import amps_spread, ohms_spread, volts_spread
from callpath.faults.posterior import predict
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from tests.faults.measured import measured, planted_circuit
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE, Data, job_of

SAMPLE = 60
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, ZONE], ids=lambda base: base["title"][:20])
def test_settles_as_the_planted_job_does(base: Data) -> None:
    case = Case(job_of(base))
    shows = case.shows([])
    rng = random.Random(7)
    for call in shows.calls:
        for row in rng.sample(range(len(case.universe)), SAMPLE):
            circuit = planted_circuit(case.job, case.universe.faults_of(row))
            if call not in calls_of_job(circuit):
                continue
            alone = snapshot(circuit, given_for(circuit, call))
            bits = shows.settled(Setup(call), np.array([row]))[0]
            if alone.chatter:
                continue
            told = {bit.name: bool(on) for bit, on in zip(shows.network.bits, bits, strict=False)}
            assert {name: alone.bit(name) for name in told} == told, (call, case.universe.faults_of(row))


@pytest.mark.parametrize("base", [HOUSE, MANOR, MILL, PUMP, ZONE], ids=lambda base: base["title"][:20])
def test_readings_are_those_of_the_planted_job(base: Data) -> None:
    case = Case(job_of(base))
    shows = case.shows([])
    rng = random.Random(11)
    faults = case.universe.faults
    tests = candidate_tests(case.circuit, shows.calls, faults)
    kinds = {kind: [test for test in tests if test.kind == kind] for kind in ("volts", "amps", "ohms")}
    for kind, found in kinds.items():
        for _ in range(SAMPLE):
            test, row = rng.choice(found), rng.randrange(len(case.universe))
            held = case.universe.faults_of(row)
            theirs = measured(case.job, held, test).value
            told = predict(shows, test, np.array([row]))
            mine = float(told.shown[0])
            spread = {"volts": lambda v: volts_spread(v, v), "amps": amps_spread, "ohms": ohms_spread}[kind]
            # Within a tenth of what the meter itself and sound components may be off; and 20 mV, since a short that is planted
            # sits on the terminal and not behind a hundredth of an ohm of screw.
            within = max(0.1 * spread(np.array([theirs]))[0], 0.02 if kind == "volts" else 0.0)
            assert mine == theirs or abs(mine - theirs) < within, (
                test,
                held,
                mine,
                theirs,
            )


def test_every_hypothesis_settled_alone_or_standing_for_others_is_the_same() -> None:
    case = Case(job_of(HOUSE))
    shows = case.shows([])
    rows = np.arange(len(case.universe))
    for call in shows.calls:
        quick = shows.settled(Setup(call), rows)
        assert (quick == shows._settle(Setup(call), rows)).all()
    assert len(np.unique(shows._stands_for)) < 0.9 * len(rows)


def test_jumps_that_short_or_overload_a_source_are_not_offered() -> None:
    from callpath.faults.candidate import safe_jumps

    case = Case(job_of(HOUSE))
    shows = case.shows([])
    short = next(
        row for row in range(len(case.universe)) if [f.kind for f in case.universe.faults_of(row)] == ["shorted"]
    )
    pairs = jump_pairs(case.circuit)
    sound = {test.jumped for test in safe_jumps(shows, np.array([0]), pairs)}
    assert ("board.R", "board.Y") in sound
    left = {test.jumped for test in safe_jumps(shows, np.array([0, short]), pairs)}
    assert case.universe.faults_of(short)[0].where == ("stat.electronics",) or ("board.R", "board.Y") not in left


def test_what_is_shared_among_cores_is_what_one_would_find(monkeypatch: pytest.MonkeyPatch) -> None:
    case = Case(job_of(HOUSE))
    rows = np.arange(len(case.universe))
    check = Check("volts", "cool", between=("cond.Y", "cond.C"))
    alone = predict(case.shows([]), check, rows)
    monkeypatch.setattr("callpath.faults.predict._WORTH_SHARING", 100)
    shared = predict(Case(case.job).shows([]), check, rows)
    assert np.allclose(alone.shown[alone.index], shared.shown[shared.index], rtol=1e-9, atol=1e-12)


def test_ohms_of_one_hypothesis_do_not_hang_on_those_asked_beside_it() -> None:
    """A contact stuck closed that another hypothesis has open once shorted a point to the meter's other lead."""
    case = Case(load_job(EXAMPLES / "orchard-defrost-no-heat.job.yaml"))
    shows = case.shows([])
    rows = np.random.default_rng(3).choice(len(case.universe), 1500, replace=False)
    tests = [test for test in case.candidates(rows[:200]) if test.kind == "ohms" and test.between is not None]
    for test in tests[:: max(1, len(tests) // 8)]:
        assert test.between is not None
        together = shows.ohms(test.between, test.lifted, rows, test.call)
        alone = [shows.ohms(test.between, test.lifted, rows[i : i + 1], test.call)[0] for i in range(0, 1500, 10)]
        assert together[::10] == pytest.approx(np.array(alone), rel=1e-5, abs=1e-6)
