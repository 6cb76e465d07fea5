"""Before a verdict: what is still to be made sure of when no plan asks for more.

A plan stops when the repair is likely enough, as the assumed rates and the answers have it. Both may be wrong: an answer may have
been taken down wrong, and nobody knows the rates. So, in this order,

* an answer that does not fit the likeliest suspect is asked for again;
* single faults that could be true after all, were the rates ten times off either way, are tested for;
* a fault that is known only from others being ruled out is shown itself; one that hangs on a single reading is read again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.solve import Ints
from callpath.faults.answer import Next
from callpath.faults.asked import Check, Seen
from callpath.faults.candidate import Outcomes, direct_tests, looks_together, only_new, outcomes_of
from callpath.faults.choose import minutes_of
from callpath.faults.posterior import predict
from callpath.faults.predict import Shows

if TYPE_CHECKING:
    from callpath.faults.troubleshoot import Case

__all__ = ["Told", "Verdict", "groups_of"]

# How far off the assumed rate of any fault may be, up or down; and were they so, how much likelier than a rival the fault that is
# believed still has to be: nine tenths against one.
_RATES_OFF = 10.0
_LIKELIER = 9.0
# A test tells a fault from all others where it has its answer in common with no more repairs than these, its own among them.
_HARDLY_ANY = 2
# A repair that is likelier than this without the one reading that tells it needs no second one.
_LIKELY_ANYWAY = 0.25


@dataclass(frozen=True)
class Told:
    """What is believed: the suspects looked at, their groups, the probability of every hypothesis, where one stands."""

    rows: Ints
    groups: Ints
    probability: NDArray[np.float64]
    at: str

    @property
    def best(self) -> Ints:
        """The likeliest hypothesis."""
        return np.array([int(self.probability.argmax())], np.intp)


class Verdict:
    """What would have to be made sure of before the likeliest suspect is believed.

    Parameters
    ----------
    case : Case
        The job and its hypotheses.
    shows : Shows
        What they show.
    seen : sequence of Seen
        What was seen and measured.
    told : Told
        What is believed after that.
    without : collection of Check
        Tests that cannot be made.
    """

    def __init__(self, case: Case, shows: Shows, seen: Sequence[Seen], told: Told, without: Collection[Check]) -> None:
        self.case, self.shows, self.seen, self.told, self.without = case, shows, seen, told, without
        self.made = {item.test for item in seen} | set(without)

    def doubt(self, *, planned: bool) -> Next | None:
        """Return a test that would settle a doubt; None where there is none. What a plan asks for goes before rivals."""
        return self._again() or (None if planned else self._rivals()) or self._confirmed()

    def _rivals(self) -> Next | None:
        """Return a test that tells the likeliest suspect from single faults that other rates would make as likely."""
        case, told = self.case, self.told
        (best,) = told.best.tolist()
        single = case.universe.two < 0
        could = single & (told.probability * _RATES_OFF**2 * _LIKELIER > told.probability[best])
        rows = np.union1d(np.flatnonzero(could), [best])
        if len(np.unique(case.repairs[rows])) < 2:
            return None
        outcomes = case.outcomes(self.shows, rows, self.made)
        chosen = case.planned(self.shows, rows, outcomes, told.probability, told.at, sure=1.0)
        if chosen is None:
            return None
        why = "nobody knows how usual each fault is: were the assumed rates ten times off, it could be another"
        return case.next_planned(*chosen, rows, groups_of(outcomes, len(rows)), told.probability, why)

    def _again(self) -> Next | None:
        """Return a test to make again because its answer does not fit the likeliest suspect; None where all fit."""
        for item in self.seen:
            if item.test in self.without or sum(other.test == item.test for other in self.seen) > 1:
                continue
            if not predict(self.shows, item.test, self.told.best).fits(item.answer, self.case.priors):
                why = "its answer does not fit what else was seen: make it again before believing either"
                return self.case.next_of(self.shows, item.test, why, self.told)
        return None

    def _confirmed(self) -> Next | None:
        """Return a test that shows the likeliest fault itself, where it is known only from others being ruled out.

        One answer taken down wrong, or priors that are far off, could have led here; a test that hardly any other fault
        would answer in the same way tells. Where such a test was made once, and it is the only one, it is read again: a
        single reading may be wrong. None where nothing is left to confirm.
        """
        (best,) = self.told.best.tolist()
        held = self.case.universe.faults_of(best)
        if not held:
            return None
        telling = self._specific(looks_together(item.test for item in self.seen), best)
        again: list[Check] = []
        why = "it shows the likeliest fault itself, which only follows from the rest so far"
        if telling:
            again = [test for test in telling if test.kind != "running" and test not in self.without]
            if len(telling) > 1 or not again or sum(item.test == again[0] for item in self.seen) > 1:
                return None
            if self._without(again[0], best) > _LIKELY_ANYWAY:
                return None
            why = "one reading alone tells this fault from the others: a second one, and it can be believed"
        direct = [test for test in direct_tests(self.case.circuit, held) if only_new(test, self.made) is not None]
        specific = [*self._specific(direct, best), *again]
        if not specific:
            return None
        cheapest = min(specific, key=lambda test: minutes_of(self.case.circuit, self.case.minutes, test, self.told.at))
        # What was looked at already need not be looked at again to see the rest.
        return self.case.next_of(self.shows, only_new(cheapest, self.made) or cheapest, why, self.told)

    def _without(self, test: Check, best: int) -> float:
        """Return how likely the repair of a hypothesis is without the answer of one test."""
        believed = self.case.belief_without(self.seen, test).probability
        return float(believed[self.case.repairs == self.case.repairs[best]].sum())

    def _specific(self, tests: Sequence[Check], best: int) -> list[Check]:
        """Return the tests that hardly any single fault of another repair would answer as a hypothesis does."""
        rows = np.append(np.arange(len(self.case.universe.faults) + 1), best)
        found = []
        for test in dict.fromkeys(tests):
            of = outcomes_of(predict(self.shows, test, rows)).of
            alike = np.unique(self.case.repairs[rows[of == of[-1]]])
            if len(alike) <= _HARDLY_ANY and of[0] != of[-1]:
                found.append(test)
        return found


def groups_of(outcomes: Sequence[Outcomes], count: int) -> Ints:
    """Return for each hypothesis the number of its group: those that show the same in every test."""
    if not outcomes:
        return np.zeros(count, np.intp)
    rows = np.stack([found.of for found in outcomes], axis=1)
    return np.unique(rows, axis=0, return_inverse=True)[1].astype(np.intp).ravel()
