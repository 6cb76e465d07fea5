"""Small random questions for the chooser."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from callpath.faults.question import Problem


@st.composite
def questions(draw: st.DrawFn, most_hypotheses: int = 7, most_tests: int = 6) -> Problem:
    """Return few hypotheses, some of which no test tells apart, under few tests at few places."""
    count = draw(st.integers(1, most_hypotheses))
    tests = draw(st.integers(1, most_tests))
    places = draw(st.integers(1, 3))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    outcome = rng.integers(draw(st.integers(1, 3)), size=(tests, count))
    for _ in range(draw(st.integers(0, 2))):
        outcome[:, rng.integers(count)] = outcome[:, rng.integers(count)]
    prior = rng.gamma(draw(st.sampled_from([0.3, 1.0, 5.0])), size=count) + 1e-3
    repair = rng.integers(draw(st.integers(1, count)), size=count)
    place = rng.integers(places, size=tests)
    return Problem(prior / prior.sum(), repair, outcome, rng.uniform(0.5, 9.0, (places, tests)), place)


def softened(problem: Problem, doubt: float, spread: float = 0.0) -> Problem:
    """Return the same question with every outcome in doubt: with some probability any other one shows.

    With a spread the doubt differs by test and hypothesis, so that every test tells a little of everything.
    """
    certain = (problem.outcome[:, None, :] == np.arange(problem.outcomes)[:, None]).astype(float)
    doubts = doubt * (1 + spread * np.random.default_rng(5).random((len(problem.place), 1, len(problem.prior))))
    likelihood = certain * (1 - doubts) + doubts / problem.outcomes
    return Problem(problem.prior, problem.repair, problem.outcome, problem.minutes, problem.place, likelihood)
