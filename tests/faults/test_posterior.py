"""Bayes' rule over all hypotheses, against exact fractions and against a Bayesian network library."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np

from callpath.faults.asked import Answer, Check, Seen
from callpath.faults.noise import supply
from callpath.faults.posterior import Belief, other_likelihood, predict
from callpath.faults.prior import default_priors
from callpath.faults.troubleshoot import Case
from tests.faults.measured import measured
from tests.jobs import HOUSE, PUMP, job_of


def test_thousands_of_random_updates_against_exact_fractions() -> None:
    rng = np.random.default_rng(3)
    shares = supply()[1]
    for _ in range(2000):
        count, classes = int(rng.integers(2, 7)), int(rng.integers(1, 4))
        prior = rng.dirichlet(np.ones(count + 1))
        belief = Belief.begin(prior[:-1], float(prior[-1]))
        exact = [[Fraction(float(p)) * Fraction(float(w)) for w in shares] for p in prior[:-1]]
        rest = Fraction(float(prior[-1]))
        for _ in range(int(rng.integers(1, 5))):
            index = rng.integers(0, classes, count)
            likelihood = rng.random((classes, len(shares))) ** 4
            other = float(rng.random())
            belief = belief.updated(index, likelihood, other)
            for h in range(count):
                exact[h] = [e * Fraction(float(v)) for e, v in zip(exact[h], likelihood[index[h]], strict=True)]
            rest *= Fraction(other)
        total = sum(map(sum, exact), rest)
        theirs = np.array([float(sum(row) / total) for row in exact])
        assert np.abs(belief.probability - theirs).max() < 1e-12
        assert abs(belief.other - float(rest / total)) < 1e-12


def test_leaving_out_the_light_ones_changes_nothing() -> None:
    """Every answer multiplied in for every hypothesis, one by one, gives what ``believe`` gives."""
    priors = default_priors()
    rng = random.Random(5)
    for base in (HOUSE, PUMP):
        case = Case(job_of(base))
        universe, shows = case.universe, case.shows([])
        rows = np.arange(len(universe))
        tests = [test for test in case.candidates(rows[:50]) if test.kind != "ohms"]
        for _ in range(6):
            hidden = universe.faults_of(rng.randrange(len(universe)))
            seen = [Seen(test, measured(case.job, hidden, test)) for test in rng.sample(tests, 5)]
            plain = Belief.begin(universe.prior, universe.other)
            for number, item in enumerate(seen):
                told = predict(shows, item.test, rows)
                plain = plain.updated(told.index, told.likelihood(item.answer, priors), other_likelihood(item))
                quick = case.belief(seen[: number + 1])
                assert np.abs(plain.probability - quick.probability).sum() < 1e-6
                assert abs(plain.other - quick.other) < 1e-6
            at_once = case.belief(list(reversed(seen)))
            assert np.abs(plain.probability - at_once.probability).sum() < 1e-6


def test_what_nobody_explains_is_other() -> None:
    case = Case(job_of(HOUSE))
    test = Check("volts", "cool", between=("board.R", "board.C"))
    belief = case.belief([Seen(test, Answer({}, 118.0))])
    assert belief.other > 0.9
    answer = case.answer([Seen(test, Answer({}, 118.0))])
    assert abs(sum(s.probability for s in answer.suspects) + answer.other - 1) < 1e-9
    assert answer.unexplained > 0.9
