"""Every voltage against ngspice: every call of every example, and hundreds of random networks, node by node.

Source: ngspice (Debian's package; its version stands in the head of the test report), AC analysis at 60 Hz of the
netlists that ``callpath netlist`` writes. Tolerance: 1e-6 of the node's voltage; see ``compare`` for floating ends.
"""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np

from callpath.calls.closing import calls_of_job, given_for
from callpath.calls.reading import volts_between
from callpath.circuit.build import Circuit, build
from callpath.circuit.settle import settle
from callpath.circuit.snapshot import Snapshot, snapshot, snapshots
from callpath.circuit.spice import netlist
from callpath.job import load_job
from callpath.job.model import Job
from tests.against import spice
from tests.circuit.general import eliminated
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.circuit.randomnet import random_net

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.job.yaml"))
RANDOM_NETWORKS = 400
TOLERANCE = 1e-6


def compare(states: list[Snapshot], folder: Path) -> str:
    """Compare all nodes of all states, check Kirchhoff's law on the way, and return what was compared in words.

    ngspice adds the admittances at a node before it solves, so that a conductor capped at both ends, held by 10⁻⁸ S of
    leakage beside the 3 S of its own copper, is known to it to no more than eight digits of the highest voltage. Where the two
    differ by more than a millionth, elimination in extended precision decides: callpath must agree with it, and be at
    least five times nearer to it than ngspice is.
    """
    answers = spice.solve([netlist(state, title="compared") for state in states], folder)
    nodes = decided = 0
    worst = 0.0
    for state, answer in zip(states, answers, strict=True):
        assert_kirchhoff(state)
        theirs = np.array([answer[f"n{i + 1}"] for i in range(len(state.potentials))])
        apart = spice.disagreement(state.potentials, theirs)
        nodes += len(apart)
        far = apart > TOLERANCE
        worst = max(worst, float(apart[~far].max(initial=0.0)))
        if far.any():
            ohms = [1 / y if y else complex(np.inf) for y in state.siemens]
            judge = eliminated(state.circuit.network, ohms, state.emf)
            off = spice.disagreement(state.potentials, judge)[far]
            assert (off < 0.5 * TOLERANCE).all()
            assert (off < 0.2 * spice.disagreement(theirs, judge)[far]).all()
            decided += int(far.sum())
    assert decided < 0.02 * nodes, f"{decided} of {nodes} nodes had to be decided by a third solver"
    told = f"{len(states)} states, {nodes} nodes, worst {worst:.2g}, {decided} nodes decided by a third solver"
    return f"ngspice {spice.version()}: {told}\n"


def test_every_node_of_every_example(tmp_path: Path) -> None:
    states = []
    for path in EXAMPLES:
        circuit = build(load_job(path))
        states += [snapshot(circuit, given_for(circuit, call)) for call in calls_of_job(circuit)]
    assert len(EXAMPLES) >= 15
    sys.stdout.write(compare(states, tmp_path))


def test_every_node_of_random_networks(tmp_path: Path) -> None:
    states = []
    for seed in range(RANDOM_NETWORKS):
        net = random_net(seed)
        circuit = Circuit(Job("random", {}, {}, {}), net.network)
        settled = settle(circuit.engine, net.states(1, 2))
        states += snapshots(circuit, settled)
    sys.stdout.write(compare(states, tmp_path))


def test_readings_are_what_spice_reads_with_the_meter_in(tmp_path: Path) -> None:
    """``read`` against the same netlist with the 10 MΩ meter across the two points."""
    circuit = build(load_job(next(path for path in EXAMPLES if path.name.startswith("dairy-float"))))
    pairs = list(itertools.combinations(("stat.W", "stat.C", "furnace.Y", "furnace.chassis", "cond.C", "float.1"), 2))
    for call in ("off", "cool"):
        state = snapshot(circuit, given_for(circuit, call))
        answers = spice.solve([netlist(state, title="read", between=pair) for pair in pairs], tmp_path)
        nodes = circuit.network.node_of
        for (one, two), answer in zip(pairs, answers, strict=True):
            theirs = abs(answer[f"n{nodes[one] + 1}"] - answer[f"n{nodes[two] + 1}"])
            mine = volts_between(circuit, call, one, two).value
            assert abs(mine - theirs) <= 1e-6 * max(theirs, 0.027), (call, one, two)


def test_a_netlist_says_where_every_terminal_is() -> None:
    circuit = build(load_job(EXAMPLES[0]))
    text = netlist(snapshot(circuit, given_for(circuit, "off")), title="terminals")
    for equipment in circuit.job.equipment.values():
        for letters in equipment.part.terminals:
            name = f"{equipment.id}.{letters}"
            assert f"* terminal {name} node n{circuit.network.node_of[name] + 1}\n" in text
    assert ".ac lin 1 60 60\n" in text
    assert "Rmeter" not in text
