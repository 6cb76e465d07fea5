"""A contactor whose contacts are welded: pulled in with nothing on its coil."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from callpath.calls.closing import given_for
from callpath.calls.reading import volts_between
from callpath.calls.sequence import sequence
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.errors import JobError
from callpath.faults.asked import Setup
from callpath.faults.practice import complaint_of, hide
from callpath.faults.troubleshoot import Case
from callpath.job.model import Fault
from tests.faults.test_troubleshoot import hunt
from tests.jobs import HOUSE, RELAY, ZONE, job_of, only, proof_of

WELDED = Fault("stuck", ("cond.contactor",))


def test_the_compressor_runs_with_no_call_and_its_coil_is_as_it_was() -> None:
    circuit = build(job_of(HOUSE, faults=[{"stuck": "cond.contactor"}]))
    sound = build(job_of(HOUSE))
    assert circuit.job.faults == (WELDED,)
    assert snapshot(circuit, given_for(circuit, "off")).running == ("cond.compressor",)
    assert volts_between(circuit, "off", "cond.Y", "cond.C").value < 0.1
    ill, well = (volts_between(each, "cool", "cond.Y", "cond.C").value for each in (circuit, sound))
    assert ill == pytest.approx(well, abs=0.01)


def test_the_proof_and_the_sequence_tell_it() -> None:
    found = only(proof_of(HOUSE, faults=[{"stuck": "cond.contactor"}]), "unwanted-run")
    assert "cond.contactor stays pulled in" in found.message
    assert "replace cond.contactor" in found.remedy
    assert "off" in found.calls
    events = sequence(build(job_of(HOUSE, faults=[{"stuck": "cond.contactor"}])), "off")
    assert any(event.where == "cond.compressor" and "before the call" in event.because for event in events)


def test_it_is_suspected_found_and_hidden() -> None:
    case = Case(job_of(HOUSE))
    assert WELDED in case.universe.faults
    complaint = complaint_of(case, (WELDED,))
    assert complaint.answer.running["cond.compressor"]
    assert case.answer([complaint]).suspects[0].faults == (WELDED,)
    assert hunt(case, (WELDED,))[0]
    assert hide(case, 1).complaint


def test_every_hypothesis_with_it_shows_what_the_planted_job_shows() -> None:
    """The batch holds a bit; the planted job has a coil that needs no volts. Both settle alike, alone and beside others."""
    case = Case(job_of(HOUSE))
    universe, shows = case.universe, case.shows([])
    number = universe.faults.index(WELDED)
    rows = np.flatnonzero((universe.one == number) | (universe.two == number))[::17]
    for call in ("off", "cool"):
        bits = shows.settled(Setup(call), rows)
        for row, held in zip(rows.tolist(), bits, strict=True):
            planted = build(replace(case.job, faults=universe.faults_of(row)))
            state = snapshot(planted, given_for(planted, call))
            names = [bit.name for bit in shows.network.bits]
            mine = {name for name, on in zip(names, held, strict=False) if on}
            theirs = {bit.name for bit in planted.network.bits if state.bit(bit.name)}
            assert mine == theirs, (universe.faults_of(row), call)


@pytest.mark.parametrize(
    ("base", "name"), [(HOUSE, "board.cool-input"), (ZONE, "valve.motor"), (HOUSE, "wall.red")], ids=str
)
def test_what_is_no_contact_and_no_coil_does_not_stick(base: dict[str, object], name: str) -> None:
    with pytest.raises(JobError, match=r"not a contact or a coil that something follows|another kind"):
        job_of(base, faults=[{"stuck": name}])


def test_a_relay_sticks_by_its_coil_too() -> None:
    job = job_of(RELAY, faults=[{"stuck": "relay.coil"}])
    circuit = build(job)
    assert snapshot(circuit, given_for(circuit, "off")).bit("relay.coil")
