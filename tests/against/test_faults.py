"""What hypotheses show, against ngspice on the netlist of the job with the fault in it and the meter across the two points.

Source: ngspice, as in ``test_ngspice``. The network that all hypotheses share gives every conductor two ends of its own; built
that way the planted job must agree, ghosts to three thousandths. Built the usual way, as ``callpath
netlist`` writes it, a short sits on the terminal and not behind a hundredth of an ohm of screw: 2 % or 20 mV.
"""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from callpath.calls.closing import calls_of_job, given_for
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.circuit.spice import netlist
from callpath.faults.asked import Pair, Setup
from callpath.faults.candidate import candidate_tests
from callpath.faults.troubleshoot import Case
from tests.against import spice
from tests.jobs import HOUSE, MANOR, MILL, PUMP, RELAY, Data, job_of

SAMPLE = 60


def sampled(
    base: Data, rng: random.Random, apart: bool
) -> tuple[list[str], list[Pair], list[dict[str, int]], list[float]]:
    case = Case(job_of(base))
    shows = case.shows([])
    pairs = [check.between for check in candidate_tests(case.circuit, ["off"], []) if check.kind == "volts"]
    plain = [pair for pair in pairs if pair and "@" not in pair[0]]
    netlists, asked, nodes, mine = [], [], [], []
    while len(netlists) < SAMPLE:
        row, call, pair = rng.randrange(len(case.universe)), rng.choice(shows.calls), rng.choice(plain)
        circuit = build(replace(case.job, faults=case.universe.faults_of(row)), apart=apart)
        if call not in calls_of_job(circuit):
            continue
        state = snapshot(circuit, given_for(circuit, call))
        if state.chatter:
            continue
        netlists.append(netlist(state, title=call, between=pair))
        asked.append(pair)
        nodes.append(dict(circuit.network.node_of))
        mine.append(float(shows.volts(Setup(call), pair, np.array([row]))[0][0]))
    return netlists, asked, nodes, mine


@pytest.mark.parametrize(("apart", "part", "volts"), [(True, 3e-3, 1e-6), (False, 2e-2, 2e-2)])
def test_readings_under_random_faults(apart: bool, part: float, volts: float, tmp_path: Path) -> None:
    rng = random.Random(23)
    netlists: list[str] = []
    asked: list[Pair] = []
    nodes: list[dict[str, int]] = []
    mine: list[float] = []
    for base in (HOUSE, MANOR, MILL, PUMP, RELAY):
        for all_of_them, some in zip((netlists, asked, nodes, mine), sampled(base, rng, apart), strict=True):
            all_of_them.extend(some)  # type: ignore[arg-type]
    theirs = [
        abs(phasors[f"n{node[one] + 1}"] - phasors[f"n{node[two] + 1}"])
        for phasors, node, (one, two) in zip(spice.solve(netlists, tmp_path), nodes, asked, strict=True)
    ]
    off = np.abs(np.array(mine) - theirs) - np.maximum(part * np.array(theirs), volts)
    assert (off <= 0).all(), [(asked[i], mine[i], theirs[i]) for i in np.flatnonzero(off > 0)]
