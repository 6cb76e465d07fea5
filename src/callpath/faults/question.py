"""The question that the chooser answers: hypotheses, what each test shows under them, what a test costs, where it leaves one.

Nothing here knows of circuits. A hypothesis is a number with a probability and a repair; a test is a number with an outcome
under every hypothesis, and minutes from every place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["Floats", "Integers", "Problem", "alike"]

Floats = NDArray[np.float64]
Integers = NDArray[np.intp]

# Likelihoods that agree to a millionth are the same: no reading is known better.
_LIKELIHOOD_STEPS = 1e6


@dataclass(frozen=True, eq=False)
class Problem:
    """Hypotheses and the tests that tell them apart.

    Parameters
    ----------
    prior : ndarray [hypotheses]
        Probability of each hypothesis; what is missing to 1 belongs to hypotheses that nobody listed.
    repair : ndarray of int [hypotheses]
        The repair that each hypothesis calls for: finding the right one is the goal.
    outcome : ndarray of int [tests, hypotheses]
        Which outcome a test shows under a hypothesis, counted from 0.
    minutes : ndarray [places, tests]
        What a test takes from each place where the technician may stand [min]; more than 0.
    place : ndarray of int [tests]
        Where a test leaves the technician standing.
    likelihood : ndarray [tests, outcomes, hypotheses] or None
        Where readings overlap, the probability of each outcome under each hypothesis; None where outcomes are certain.

    Raises
    ------
    ValueError
        The arrays do not fit together, or hold what cannot be.
    """

    prior: Floats
    repair: Integers
    outcome: Integers
    minutes: Floats
    place: Integers
    likelihood: Floats | None = None

    def __post_init__(self) -> None:
        hypotheses, (tests, columns), (places, priced) = len(self.prior), self.outcome.shape, self.minutes.shape
        if not (len(self.repair) == columns == hypotheses and len(self.place) == priced == tests):
            raise ValueError(
                f"sizes do not fit: {hypotheses} priors, {len(self.repair)} repairs, outcomes {tests} × {columns}, "
                f"minutes {places} × {priced}, {len(self.place)} places of tests"
            )
        if tests and not (np.all(self.minutes > 0) and np.all(np.isfinite(self.minutes))):
            raise ValueError("every test takes more than 0 minutes, and a finite number of them")
        if tests and not (self.place.min() >= 0 and self.place.max() < places):
            raise ValueError(f"a test leaves the technician at a place that is not one of the {places}")
        if np.any(self.prior < 0) or self.prior.sum() > 1 + 1e-9:
            raise ValueError("priors are probabilities: none below 0, at most 1 together")
        if (self.outcome.size and self.outcome.min() < 0) or (self.repair.size and self.repair.min() < 0):
            raise ValueError("outcomes and repairs are counted from 0")
        if self.likelihood is not None and (
            self.likelihood.ndim != 3
            or self.likelihood.shape[0] != tests
            or self.likelihood.shape[2] != hypotheses
            or not np.allclose(self.likelihood.sum(axis=1), 1, atol=1e-6)
        ):
            raise ValueError("likelihoods are tests × outcomes × hypotheses and sum to 1 over the outcomes")

    @property
    def outcomes(self) -> int:
        """How many outcomes the test with the most of them has."""
        if self.likelihood is not None:
            return int(self.likelihood.shape[1])
        return int(self.outcome.max()) + 1 if self.outcome.size else 1

    @cached_property
    def _alike(self) -> tuple[Integers, Integers]:
        return alike(self, np.arange(len(self.place)), np.arange(len(self.prior)))

    @property
    def examples(self) -> Integers:
        """One hypothesis of each group that answers every test alike."""
        return self._alike[1]

    @cached_property
    def kinds(self) -> tuple[Integers, Integers, Integers]:
        """Hypotheses of one group and one repair are one kind: kind of each hypothesis, group and repair of each kind."""
        repairs = int(self.repair.max()) + 1 if self.repair.size else 1
        both, kind = np.unique(self._alike[0] * repairs + self.repair, return_inverse=True)
        return kind.astype(np.intp), (both // repairs).astype(np.intp), (both % repairs).astype(np.intp)


def alike(problem: Problem, tests: Integers, hypotheses: Integers) -> tuple[Integers, Integers]:
    """Return which of some hypotheses answer some tests alike.

    Returns
    -------
    group : ndarray of int [hypotheses]
        The number of each one's group.
    first : ndarray of int [groups]
        The place of one hypothesis of each group among those asked about.
    """
    if not len(tests):
        return np.zeros(len(hypotheses), dtype=np.intp), np.zeros(min(1, len(hypotheses)), dtype=np.intp)
    if problem.likelihood is None:
        rows = np.ascontiguousarray(problem.outcome[np.ix_(tests, hypotheses)].T, np.min_scalar_type(problem.outcomes))
    else:
        flat = problem.likelihood[tests][:, :, hypotheses].reshape(-1, len(hypotheses))
        rows = np.ascontiguousarray(np.round(flat.T * _LIKELIHOOD_STEPS), np.int32)
    whole = rows.view(np.dtype((np.void, rows.itemsize * rows.shape[1]))).ravel()
    _, first, group = np.unique(whole, return_index=True, return_inverse=True)
    return group.astype(np.intp), first.astype(np.intp)
