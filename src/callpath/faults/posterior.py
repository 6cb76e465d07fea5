"""How likely each hypothesis is after what was seen: Bayes' rule over all of them, exactly.

Each test divides the hypotheses into classes that show the same; a class has one likelihood for each value of the mains
voltage, which all readings share. ``Belief`` holds the joint weight of every hypothesis and mains voltage.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Ints
from callpath.faults.asked import Answer, Check, Seen
from callpath.faults.noise import amps_spread, broad, likelihood_of, ohms_spread, supply, volts_spread
from callpath.faults.predict import Shows
from callpath.faults.prior import Priors
from callpath.faults.universe import Universe

__all__ = ["Belief", "Ledger", "Prediction", "other_likelihood", "predict"]

Floats = NDArray[np.float64]

# Hypotheses lighter than this, against all, are not asked what they would show, unless it turns out that they could matter.
_LIGHT = 1e-9
# And together they may be off by no more than this.
_MAY_BE_OFF = 1e-9
# Short of what a number holds.
_BEYOND = 1e300


@dataclass(frozen=True)
class Prediction:
    """What some hypotheses show in one test, told as classes of those that show the same.

    ``index`` (rows,) is the class of each hypothesis; ``runs`` (classes, functions) for a look at what runs; ``shown`` and
    ``spread`` (classes,) for a reading, which may be anything from ``low`` to ``high`` where a class is a range of resistances.
    """

    test: Check
    index: Ints
    runs: NDArray[np.bool_]
    shown: Floats
    spread: Floats
    low: Floats
    high: Floats

    def likelihood(self, answer: Answer, priors: Priors) -> Floats:
        """Return the likelihood of an answer, (classes, supply values)."""
        if self.test.kind != "running":
            reach = (self.low, self.high)
            return likelihood_of(self.test.kind, answer.value, self.shown, self.spread, priors.misread, reach)
        seen = np.array([answer.running[name] for name in self.test.functions], bool)
        wrong = (self.runs != seen).sum(axis=1)
        one = priors.misseen**wrong * (1 - priors.misseen) ** (len(seen) - wrong)
        return np.repeat(one[:, None], len(supply()[0]), axis=1)

    def fits(self, answer: Answer, priors: Priors) -> bool:
        """Tell whether an answer is what the first hypothesis shows, rather than one that was taken down wrong."""
        likelihood = float(self.likelihood(answer, priors)[self.index[0]].max())
        if self.test.kind == "running":
            return likelihood > priors.misseen
        return likelihood > 2 * priors.misread * broad(self.test.kind, answer.value)

    def most(self, answer: Answer) -> float:
        """Return what the likelihood of an answer can be at most, whatever a hypothesis shows."""
        if self.test.kind == "running" or math.isinf(answer.value):
            return 1.0
        nothing = np.zeros(1)
        narrowest = {
            "volts": volts_spread(nothing, nothing),
            "amps": amps_spread(nothing),
            "ohms": ohms_spread(nothing),
        }
        return float(2 / (narrowest[self.test.kind][0] * math.sqrt(2 * math.pi)) + 1)


def predict(shows: Shows, test: Check, rows: Ints) -> Prediction:
    """Return what some hypotheses show in a test."""
    nothing = np.zeros(0)
    if test.kind != "running":
        # What is dead beyond the circuit no meter feels; how far a bad connection's reading may be off its neighbours tell.
        felt = shows.same_copper[rows]
        rows = shows.ranges.beside(felt)
    if test.kind == "running":
        runs = np.stack([shows.running(test.setup, name, rows) for name in test.functions], axis=1)
        code = runs @ (1 << np.arange(runs.shape[1], dtype=np.int64)) if runs.shape[1] < 60 else _row_codes(runs)
        _, first, index = np.unique(code, return_index=True, return_inverse=True)
        return Prediction(test, index.astype(np.intp), runs[first], *[nothing] * 4)
    if test.kind == "volts":
        assert test.between is not None
        shown, alone = shows.volts(test.setup, test.between, rows)
        spread = volts_spread(shown, alone)
    elif test.kind == "amps":
        assert test.conductor is not None
        shown = shows.amps(test.setup, test.conductor, rows)
        spread = amps_spread(shown)
    else:
        assert test.between is not None
        shown = shows.ohms(test.between, test.lifted, rows, test.call)
        spread = ohms_spread(shown)
    at = np.searchsorted(rows, felt)
    low, high = (edge[at] for edge in shows.ranges.reach(rows, shown, ohms=test.kind == "ohms"))
    shown, spread = shown[at], spread[at]
    # To a millionth of its spread is the same reading.
    step = np.where(
        np.isinf(shown), -1, np.round(np.where(np.isinf(shown), 0, shown) / (1e-6 * spread.min(initial=1.0)))
    )
    # And every range a class of its own.
    key = step + 1j * np.where(high > low, -1.0 - felt, np.round(spread * 1e6))
    _, first, index = np.unique(key, return_index=True, return_inverse=True)
    none = np.zeros((len(first), 0), bool)
    return Prediction(test, index.astype(np.intp), none, shown[first], spread[first], low[first], high[first])


def _row_codes(rows: NDArray[np.bool_]) -> Ints:
    return np.unique(rows, axis=0, return_inverse=True)[1].astype(np.intp)


def other_likelihood(seen: Seen) -> float:
    """Return how likely an answer is where nothing enumerated is wrong: even odds for what runs, any reading at all."""
    if seen.test.kind == "running":
        return float(0.5 ** len(seen.test.functions))
    return broad(seen.test.kind, seen.answer.value)


@dataclass(frozen=True)
class Belief:
    """Joint weight of hypotheses and mains voltage (hypotheses, supply values), and of ``other``; they sum to 1."""

    weights: Floats
    other: float

    @classmethod
    def begin(cls, prior: Floats, other: float) -> Belief:
        """Return the belief before anything was seen."""
        return cls(prior[:, None] * supply()[1], other)

    @property
    def probability(self) -> Floats:
        """Probability of each hypothesis."""
        found: Floats = self.weights.sum(axis=1)
        return found

    def updated(self, index: Ints, likelihood: Floats, other: float) -> Belief:
        """Return the belief after one answer.

        Parameters
        ----------
        index : (hypotheses,) int
            Class of each hypothesis.
        likelihood : (classes, supply values) float
            Likelihood of the answer in each class.
        other : float
            And where nothing enumerated is wrong.
        """
        weights = self.weights * likelihood[index]
        rest = self.other * other
        total = float(weights.sum()) + rest
        if total <= 0:
            # So unlikely that it is beyond what a number holds: nothing enumerated explains it.
            return Belief(np.zeros_like(weights), 1.0)
        return Belief(weights / total, rest / total)


class Ledger:
    """The belief after some answers, kept so that another answer costs one update.

    Hypotheses that the answers have made all but impossible are not asked about later ones, but carried with the most
    that they could still gain; those that could matter in the end are then asked after all.

    Parameters
    ----------
    universe : Universe
        The hypotheses.
    priors : Priors
        How far a person and a meter are to be believed.
    """

    def __init__(self, universe: Universe, priors: Priors) -> None:
        self.universe = universe
        self.priors = priors
        self.seen: list[Seen] = []
        # Each answer, the total by which the weights were divided after it, and the most that it can make of any weight.
        self._taken: list[tuple[Seen, float, float]] = []
        self._weights = Belief.begin(universe.prior, universe.other).weights
        self._other = universe.other
        self._asked = np.ones(len(universe), bool)
        self._bound = np.zeros(len(universe))

    def take(self, shows: Shows, seen: Sequence[Seen]) -> None:
        """Take some answers into account."""
        shows.ready_meter([i.test.between for i in seen if i.test.kind == "volts" and i.test.between is not None])
        for item in seen:
            self._take(shows, item)

    def _take(self, shows: Shows, item: Seen) -> None:
        asked, weights, bound = self._asked, self._weights, self._bound
        rows = np.flatnonzero(asked)
        gain, weights[rows] = self._answered(shows, item, rows, weights[rows])
        bound[~asked] *= gain
        self._other *= other_likelihood(item)
        total = float(weights[asked].sum()) + self._other
        if total <= 0:
            # So unlikely that it is beyond what a number holds: nothing enumerated explains it.
            self._other = total = 1.0
        weights /= total
        bound /= total
        self._other /= total
        self._taken.append((item, total, gain / total))
        light = asked & (weights.sum(axis=1) < _LIGHT)
        bound[light] = weights[light].sum(axis=1)
        asked &= ~light
        weights[light] = 0.0

    def belief(self, shows: Shows) -> Belief:
        """Return how likely everything is by now."""
        asked, weights, bound = self._asked, self._weights, self._bound
        little = _MAY_BE_OFF / max(1, int((~asked).sum()))
        matter = np.flatnonzero(~asked & (bound > little))
        late = Belief.begin(self.universe.prior, self.universe.other).weights[matter]
        # After each answer, the most that all later ones can make of any weight.
        most = np.cumprod([1.0, *(most for *_, most in self._taken[:0:-1])])[::-1]
        for (item, total, _), still in zip(self._taken, np.minimum(most, _BEYOND)[: len(self._taken)], strict=True):
            if not len(matter):
                break
            late = self._answered(shows, item, matter, late)[1] / total
            # What the answers so far leave of most of them is too little already.
            bound[matter] = late.sum(axis=1) * still
            matters = bound[matter] > little
            matter, late = matter[matters], late[matters]
        weights[matter], asked[matter], bound[matter] = late, True, 0.0
        total = float(weights.sum()) + self._other
        return Belief(weights / total, self._other / total)

    def _answered(self, shows: Shows, item: Seen, rows: Ints, weights: Floats) -> tuple[float, Floats]:
        """Return the most that an answer's likelihood can be, and the weights of some hypotheses times theirs."""
        prediction = predict(shows, item.test, rows)
        return prediction.most(item.answer), weights * prediction.likelihood(item.answer, self.priors)[prediction.index]
