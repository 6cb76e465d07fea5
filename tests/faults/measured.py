"""A job with a fault in it, asked like a real one: the answers come from the planted job's own circuit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from callpath.calls.closing import calls_of_job, given_for
from callpath.calls.reading import amps_in, lifted_job, ohms_between, volts_between
from callpath.circuit.build import Circuit, build
from callpath.circuit.snapshot import snapshot
from callpath.faults.asked import Answer, Check
from callpath.faults.world import World
from callpath.job.model import Fault, Job


def planted_circuit(job: Job, faults: tuple[Fault, ...], jumped: tuple[str, str] | None = None) -> Circuit:
    """Return the circuit of a job with faults in it, and perhaps two terminals jumped."""
    extra = () if jumped is None else (Fault("extra", jumped),)
    return build(replace(job, faults=(*faults, *extra)))


def measured(job: Job, faults: tuple[Fault, ...], test: Check) -> Answer:
    """Return what a test shows on a job with faults in it, without any noise."""
    circuit = planted_circuit(job, faults, test.jumped)
    call = test.call if test.call in calls_of_job(circuit) else "off"
    if test.kind == "running":
        state = snapshot(circuit, given_for(circuit, call))
        return Answer(
            {name: state.bit(name) if name in test.coils else name in state.running for name in test.functions}
        )
    if test.kind == "amps":
        assert test.conductor is not None
        return Answer({}, amps_in(circuit, call, test.conductor).value)
    assert test.between is not None
    one, two = test.between
    if test.kind == "volts" and "@" not in one + two:
        return Answer({}, volts_between(circuit, call, one, two, low_z=test.low_z).value)
    if "@" in one or "@" in two:
        # A conductor's own ends are there only where the job is built with them.
        return World(job, faults, np.random.default_rng(0), exact=True).answer(test)
    on = [name for name in test.lifted if set(circuit.job.landings[name]) & {one, two}]
    circuit = build(lifted_job(circuit.job, on, (one, two)))
    return Answer({}, ohms_between(circuit, one, two, call=call).value)
