"""The posterior against a Bayesian-network library, on thousands of random sets of evidence.

Source: pyAgrum, exact inference (lazy propagation), in a network of the hypothesis (with ``other`` as one of its states), the
mains voltage, and one node for each reading that depends on both. Tolerance: 1e-12.
"""

from __future__ import annotations

import numpy as np
import pyagrum as agrum

from callpath.faults.noise import supply
from callpath.faults.posterior import Belief

NETWORKS = 25
EVIDENCE_SETS = 100
SHOWN = 4


def network(prior: np.ndarray, tables: list[np.ndarray]) -> agrum.BayesNet:
    """Return the network; ``tables`` are (hypotheses + 1, supply values, readings), one for each test."""
    shares = supply()[1]
    net = agrum.BayesNet("job")
    net.add(agrum.LabelizedVariable("fault", "fault", len(prior)))
    net.add(agrum.LabelizedVariable("mains", "mains", len(shares)))
    net.cpt("fault")[:] = prior
    net.cpt("mains")[:] = shares
    for i, table in enumerate(tables):
        name = f"reading{i}"
        net.add(agrum.LabelizedVariable(name, name, table.shape[2]))
        net.addArc("fault", name)
        net.addArc("mains", name)
        for h in range(table.shape[0]):
            for s in range(table.shape[1]):
                net.cpt(name)[{"fault": h, "mains": s}] = table[h, s]
    return net


def test_thousands_of_random_evidence_sets() -> None:
    rng = np.random.default_rng(11)
    ranges = len(supply()[1])
    worst = 0.0
    for _ in range(NETWORKS):
        count, tests = int(rng.integers(3, 12)), int(rng.integers(1, 6))
        prior = rng.dirichlet(np.ones(count + 1))
        tables = [rng.dirichlet(np.full(SHOWN, 0.4), (count + 1, ranges)) for _ in range(tests)]
        for table in tables:
            # Where nothing enumerated is wrong, no reading follows from the mains.
            table[-1] = table[-1, 0]
        inference = agrum.LazyPropagation(network(prior, tables))
        for _ in range(EVIDENCE_SETS):
            seen = {i: int(rng.integers(SHOWN)) for i in range(tests) if rng.random() < 0.8}
            inference.setEvidence({f"reading{i}": value for i, value in seen.items()})
            inference.makeInference()
            theirs = np.array(inference.posterior("fault").toarray())
            belief = Belief.begin(prior[:-1], float(prior[-1]))
            for i, value in seen.items():
                belief = belief.updated(np.arange(count), tables[i][:-1, :, value], float(tables[i][-1, 0, value]))
            mine = np.append(belief.probability, belief.other)
            worst = max(worst, float(np.abs(mine - theirs).max()))
    assert worst < 1e-12
