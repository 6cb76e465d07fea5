"""The fault tree, walked for every single fault: planted in the circuit and measured there, it ends at that fault."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.snapshot import snapshot
from callpath.faults.troubleshoot import Case
from callpath.job import Fault, Job
from callpath.papers.tree import Answer, End, FaultTree, Step, fault_tree
from tests.faults.measured import measured, planted_circuit
from tests.jobs import COTTAGE, HOUSE, ZONE, Data, job_of


def fitting(step: Step, job: Job, fault: Fault) -> Answer:
    """The one answer that is seen on the job with the fault in it; nothing that grew the tree has a part in that."""
    seen = measured(job, (fault,), step.test)
    if step.test.kind == "running":
        runs = {name for name, on in seen.running.items() if on}
        fits = [answer for answer in step.answers if answer.runs == runs]
    else:
        fits = [answer for answer in step.answers if answer.low <= seen.value <= answer.high]
    assert len(fits) == 1, (step.words, fault, seen, [answer.words for answer in step.answers])
    return fits[0]


def walks(tree: FaultTree, job: Job, fault: Fault) -> Iterator[tuple[str, End]]:
    """Every symptom that a fault shows, with the end that its search comes to."""
    circuit = planted_circuit(job, (fault,))
    for call in calls_of_job(circuit):
        runs = frozenset(snapshot(circuit, given_for(circuit, call)).running)
        for entry in tree.entries:
            if entry.call == call and entry.runs == runs:
                node = entry.after
                while isinstance(node, Step):
                    node = fitting(node, job, fault).after
                yield call, node


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, ZONE], ids=["cottage", "house", "zone"])
def test_every_single_fault_is_found(base: Data) -> None:
    job = job_of(base)
    tree = fault_tree(job)
    universe = Case(job).universe
    faults = [faults[0] for row in range(len(universe)) if len(faults := universe.faults_of(row)) == 1]
    found = 0
    for fault in faults:
        ends = list(walks(tree, job, fault))
        for call, end in ends:
            assert (fault,) in end.suspects, (fault, call)
        assert (fault in tree.silent) == (not ends), fault
        found += bool(ends)
    assert found > len(faults) / 2


def test_what_stands_together_at_an_end_is_few() -> None:
    def ends(node: Step | End) -> Iterator[End]:
        if isinstance(node, End):
            yield node
        else:
            for answer in node.answers:
                yield from ends(answer.after)

    tree = fault_tree(job_of(HOUSE))
    sizes = [len(end.suspects) for entry in tree.entries for end in ends(entry.after)]
    assert sum(sizes) / len(sizes) < 2.5
    assert max(sizes) <= 8
