"""The question that the chooser answers: hypotheses, what each test shows under them, what a test costs, where it leaves one.

Nothing here knows of circuits. A hypothesis is a number with a probability and a repair; a test is a number with an outcome
under every hypothesis, and minutes from every place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["Floats", "Integers", "Problem"]

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
    def alike(self) -> Integers:
        """For each hypothesis the number of its group: hypotheses of one group answer every test alike [hypotheses]."""
        if self.likelihood is None:
            rows = np.ascontiguousarray(self.outcome.T.astype(np.min_scalar_type(self.outcomes)))
        else:
            flat = self.likelihood.reshape(-1, self.likelihood.shape[2])
            rows = np.ascontiguousarray(np.round(flat.T * _LIKELIHOOD_STEPS).astype(np.int32))
        if not rows.shape[1]:
            return np.zeros(len(rows), dtype=np.intp)
        whole = rows.view(np.dtype((np.void, rows.itemsize * rows.shape[1]))).ravel()
        return np.unique(whole, return_inverse=True)[1].astype(np.intp)

    @cached_property
    def examples(self) -> Integers:
        """One hypothesis of each group."""
        return np.unique(self.alike, return_index=True)[1].astype(np.intp)

    @cached_property
    def kinds(self) -> tuple[Integers, Integers, Integers]:
        """Hypotheses of one group and one repair are one kind: kind of each hypothesis, group and repair of each kind."""
        repairs = int(self.repair.max()) + 1 if self.repair.size else 1
        both, kind = np.unique(self.alike * repairs + self.repair, return_inverse=True)
        return kind.astype(np.intp), (both // repairs).astype(np.intp), (both % repairs).astype(np.intp)
