"""Which faults explain what was seen, and which test to make next: the whole answer.

>>> case = Case(job)
>>> answer = case.answer([Seen(test, answer)])
>>> answer.suspects[0].faults
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.calls.closing import calls_of_job
from callpath.circuit.build import Circuit, build
from callpath.circuit.solve import Ints
from callpath.errors import QuestionError, nearest
from callpath.faults.answer import Answer, Leaf, Next, Suspect, cautions_of, one_for_a_range, shown_words, without_more
from callpath.faults.asked import Check, Seen, Setup
from callpath.faults.candidate import (
    Outcomes,
    candidate_tests,
    harmed,
    jump_pairs,
    meter_pairs,
    only_new,
    outcomes_of,
    place_of,
    places_of_check,
    quick_outcomes,
    safe_jumps,
)
from callpath.faults.choice import Choice
from callpath.faults.choose import SURE, choose, information, minutes_of, promising
from callpath.faults.cost import Minutes, default_minutes
from callpath.faults.noticed import unnoticed
from callpath.faults.places import places_of, sound
from callpath.faults.posterior import Belief, Ledger, predict
from callpath.faults.predict import Shows
from callpath.faults.prior import Priors, default_priors
from callpath.faults.universe import Universe, single_faults, universe_of
from callpath.faults.verdict import Told, Verdict, groups_of
from callpath.faults.words import faults_words, minutes_words, words_of_test
from callpath.job.model import Job
from callpath.progress import step

__all__ = ["Answer", "Case", "Leaf", "Next", "Suspect", "troubleshoot"]

# The next test is chosen among the likeliest suspects that hold this much of the belief, and it is enough to know the
# repair of these.
_SURE = 0.98
_RATHER_SURE = 0.9
# A jumper must be harmless under every hypothesis that is likelier than this.
_COULD_BE = 1e-5
# A jumper that somebody thought of is refused where it does harm with this probability.
_RISKED = 0.01
# Where it is rather likely that nothing enumerated explains the answers, one of them is to be doubted first.
_DOUBTFUL = 0.5
_MOST_SUSPECTS = 256
# Suspects that are named one by one; what is less likely is counted with ``other``.
_NAMED = 1e-4
_MOST_NAMED = 400
# Tests whose readings are taken with the meter in place before one is chosen.
_SHORTLIST = 24
# Faults that are looked for with an ohmmeter, single ones first.
_MOST_MEASURED = 32


class Case:
    """A job to be troubleshot: its hypotheses and what each would show, kept from question to question.

    Parameters
    ----------
    job : Job
        The job as it should be; faults planted in it are left out.
    priors : Priors, optional
        Assumed rates; those that ship with callpath by default.
    minutes : Minutes, optional
        What tests take; the assumptions that ship with callpath by default.
    """

    def __init__(self, job: Job, priors: Priors | None = None, minutes: Minutes | None = None) -> None:
        self.job = sound(job)
        self.priors = priors or default_priors()
        self.minutes = minutes or default_minutes()

    @cached_property
    def circuit(self) -> Circuit:
        """The job's circuit as it should be, in which tests are named."""
        return build(self.job)

    @cached_property
    def _hypotheses(self) -> tuple[Any, Universe]:
        step("listing every fault and pair of faults")
        singles = single_faults(self.circuit, self.priors)
        silent = unnoticed(self.job, [weighed.fault for weighed in singles])
        singles = [weighed for weighed in singles if weighed.fault not in silent]
        places = places_of(self.job, [weighed.fault for weighed in singles])
        return places, universe_of(singles, places.exclude(), self.priors)

    @cached_property
    def calls(self) -> tuple[str, ...]:
        """Calls that the job can make."""
        return calls_of_job(self.circuit)

    def words(self, test: Check) -> str:
        """Return a test of this job as one would tell a colleague to make it."""
        return words_of_test(test, self.job)

    @property
    def universe(self) -> Universe:
        """Every hypothesis."""
        return self._hypotheses[1]

    @cached_property
    def repairs(self) -> Ints:
        """The repair of every hypothesis."""
        return self.universe.repairs()

    def shows(self, seen: Sequence[Seen]) -> Shows:
        """Return what hypotheses show, ready for the jumps and meters of what was seen."""
        pairs = [pair for item in seen for pair in (item.test.jumped, item.test.setup.low_z) if pair is not None]
        wanted = tuple(dict.fromkeys([*jump_pairs(self.circuit), *pairs]))
        if self._shows is None or self._shows.jumps != wanted:
            self._shows = Shows(*self._hypotheses, wanted)
            self._shows.ready_meter(meter_pairs(self.circuit))
        return self._shows

    _shows: Shows | None = None

    def belief(self, seen: Sequence[Seen]) -> Belief:
        """Return how likely everything is after what was seen."""
        shows = self.shows(seen)
        begun = self._ledger
        if begun is None or list(seen[: len(begun.seen)]) != begun.seen:
            begun = Ledger(self.universe, self.priors)
            # What runs is known from the settled state alone; first, it spares most of the readings.
            rest = sorted(seen, key=lambda item: (item.test.kind != "running", item.test.jumped is not None))
            begun.take(shows, rest)
            begun.seen = list(seen)
        else:
            begun.take(shows, seen[len(begun.seen) :])
            begun.seen = list(seen)
        self._ledger = begun
        return begun.belief(shows)

    _ledger: Ledger | None = None

    def belief_without(self, seen: Sequence[Seen], test: Check) -> Belief:
        """Return how likely everything would be had one test not been made."""
        kept, self._ledger = self._ledger, None
        believed = self.belief([item for item in seen if item.test != test])
        self._ledger = kept
        return believed

    def answer(self, seen: Sequence[Seen], at: str | None = None, *, without: Collection[Check] = ()) -> Answer:
        """Return suspects and the next test.

        Parameters
        ----------
        seen : sequence of Seen
            What was seen and measured.
        at : str, optional
            Where the technician stands; by default where the last test was made, else at the first thermostat.
        without : collection of Check
            Tests that cannot be made.

        Raises
        ------
        QuestionError
            The job has no such location.
        """
        where = self.standing(seen, at)
        belief = self.belief(seen)
        probability = belief.probability
        rows = self._heavy(probability)
        shows = self.shows(seen)
        outcomes = self.outcomes(shows, rows, {*(item.test for item in seen), *without})
        groups = groups_of(outcomes, len(rows))
        chosen = self.planned(shows, rows, outcomes, probability, where)
        suspects = self._suspects(probability, rows, groups)
        named = sum(suspect.probability for suspect in suspects)
        other = float(max(0.0, 1 - named))
        following = None
        if chosen is None or belief.other > _DOUBTFUL:
            told = Told(rows, groups, probability, where)
            following = Verdict(self, shows, seen, told, without).doubt(planned=chosen is not None)
        if following is None and chosen is not None:
            following = self.next_planned(*chosen, rows, groups, probability)
        return Answer(suspects, other, belief.other, following, "" if following else self._done(probability, belief))

    # -- suspects ----------------------------------------------------------------------------------------------

    def _heavy(self, probability: NDArray[np.float64]) -> Ints:
        order = np.argsort(-probability, kind="stable")[:_MOST_SUSPECTS]
        mass = np.cumsum(probability[order])
        enough = int(np.searchsorted(mass, _SURE * probability.sum())) + 1
        found: Ints = np.sort(order[:enough])
        return found

    def _suspects(self, probability: NDArray[np.float64], rows: Ints, groups: Ints) -> tuple[Suspect, ...]:
        group_of = dict(zip(rows.tolist(), groups.tolist(), strict=True))
        order = np.argsort(-probability, kind="stable")[:_MOST_NAMED]
        fresh = int(groups.max(initial=-1)) + 1
        found = []
        for row in order[probability[order] >= _NAMED].tolist():
            group = group_of.get(row)
            if group is None:
                group, fresh = fresh, fresh + 1
            found.append(Suspect(self.universe.faults_of(row), float(probability[row]), group))
        return one_for_a_range(found)

    def _done(self, probability: NDArray[np.float64], belief: Belief) -> str:
        if belief.other > 0.5:
            return "nothing that is enumerated explains this: check the readings, and whether the job is wired as its file says"
        by_repair = np.bincount(self.repairs, probability)
        best = int(by_repair.argmax())
        if not self.universe.faults_of(int(np.flatnonzero(self.repairs == best)[0])):
            return "nothing is wrong that a test could show now"
        if by_repair[best] >= _RATHER_SURE * probability[self._heavy(probability)].sum():
            return "further tests would not change the repair"
        return "no further test tells which repair it is: begin with the likeliest"

    # -- tests -------------------------------------------------------------------------------------------------

    def standing(self, seen: Sequence[Seen], at: str | None = None) -> str:
        """Return where the technician stands: as told, else where the last test was, else at the first thermostat."""
        places = self.locations
        if at is not None and at not in places:
            raise QuestionError(f"this job has no location '{at}'; {nearest(at, places)}")
        if at is not None:
            return at
        if seen:
            return place_of(self.circuit, seen[-1].test)
        stats = [e.at for e in self.job.equipment.values() if e.part.calls]
        return (stats or list(places))[0]

    @cached_property
    def locations(self) -> tuple[str, ...]:
        """Where there is anything."""
        return tuple(dict.fromkeys([*(e.at for e in self.job.equipment.values()), *self.job.splices.values()]))

    def planned(
        self,
        shows: Shows,
        rows: Ints,
        outcomes: Sequence[Outcomes],
        probability: NDArray[np.float64],
        at: str,
        sure: float = SURE,
    ) -> tuple[Choice, Outcomes] | None:
        """Return the test that begins the cheapest plan to know the repair among some hypotheses, with its outcomes."""
        weights, repairs = probability[rows], self.repairs[rows]
        while outcomes:
            step("weighing the most telling tests")
            tests = promising(self.circuit, self.minutes, outcomes, repairs, weights, at, _SHORTLIST)
            outcomes = [found for found in outcomes if found.test not in tests]
            metered = self._with_meter(shows, rows, tests)
            while True:
                chosen = choose(self.circuit, self.minutes, metered, repairs, weights, at, self.locations, sure)
                if chosen is None:
                    break
                if self._harmless(shows, probability, metered[chosen.test].test):
                    return chosen, metered[chosen.test]
                del metered[chosen.test]
        return None

    def outcomes(self, shows: Shows, rows: Ints, made: Collection[Check]) -> list[Outcomes]:
        """Return what the tests that can be made would show under some hypotheses, those that tell nothing left out."""
        tests = [new for test in self.candidates(rows) if (new := only_new(test, made)) is not None]
        tests = list(dict.fromkeys(tests))
        safe = list(safe_jumps(shows, np.union1d(rows, [0]), jump_pairs(self.circuit)))
        tests += [test for test in safe if test not in made]
        return [found for found in quick_outcomes(shows, tests, rows) if len(np.unique(found.of)) > 1]

    def candidates(self, rows: Ints) -> list[Check]:
        """Return the tests, jumps apart, that could tell some hypotheses apart."""
        single = self.universe.two[rows] < 0
        first = [*rows[single].tolist(), *rows[~single].tolist()]
        faults = list(dict.fromkeys(fault for row in first for fault in self.universe.faults_of(row)))[:_MOST_MEASURED]
        return candidate_tests(self.circuit, calls_of_job(self.circuit), faults)

    def _with_meter(self, shows: Shows, rows: Ints, tests: Sequence[Check]) -> list[Outcomes]:
        """Return the outcomes of tests as the meter would show them."""
        shows.ready_meter([test.between for test in tests if test.kind == "volts" and test.between is not None])
        return [outcomes_of(predict(shows, test, rows)) for test in tests]

    def _harmless(self, shows: Shows, probability: NDArray[np.float64], test: Check) -> bool:
        """Tell whether a jumper shorts and overloads nothing under anything that could at all be wrong."""
        if test.jumped is None:
            return True
        could_be = _could_be(probability)
        return any(safe.jumped == test.jumped for safe in safe_jumps(shows, could_be, [test.jumped], test.call))

    def danger_of(self, seen: Sequence[Seen], test: Check) -> str:
        """Return why two terminals must not be joined for a test that somebody thought of; empty where nothing can be harmed.

        It is reckoned for the sound job and for everything that could still be wrong after what was seen; harm that takes
        something as unlikely as one in a hundred is the risk of every live test.
        """
        if test.jumped is None:
            return ""
        probability, shows = self.belief(seen).probability, self.shows(seen)
        if test.jumped not in shows.jumps:
            shows = Shows(*self._hypotheses, (test.jumped,))
        rows = _could_be(probability)
        harms = rows[harmed(shows, rows, Setup(test.call, test.jumped))]
        if not len(harms) or (0 not in harms and probability[harms].sum() < _RISKED):
            return ""
        held = self.universe.faults_of(int(harms[probability[harms].argmax()]))
        when = f"if {faults_words(held)}, which is not ruled out" if held and 0 not in harms else "even in a sound job"
        return (
            f"do not join {test.jumped[0]} and {test.jumped[1]}: {when}, that would open a fuse or burn or overload a "
            "transformer"
        )

    def next_planned(
        self, chosen: Choice, found: Outcomes, rows: Ints, groups: Ints, probability: NDArray[np.float64], why: str = ""
    ) -> Next:
        """Return a test that a plan has chosen."""
        repairs = self.repairs[rows]
        before = len(np.unique(repairs))
        after = max(len(np.unique(repairs[found.of == outcome])) for outcome in np.unique(found.of))
        long = minutes_words(max(chosen.minutes_remaining, chosen.minutes))
        why = why or (
            f"it leaves at most {after} of {before} possible repairs; with all that follows it should take {long} to know "
            "the repair"
        )
        return self._with_leaves(found, chosen.minutes, chosen.bits, why, rows, groups, probability)

    def next_of(self, shows: Shows, test: Check, why: str, told: Told) -> Next:
        """Return a test that no plan has chosen."""
        found = outcomes_of(predict(shows, test, told.rows))
        repairs = np.unique(self.repairs[told.rows], return_inverse=True)[1].ravel()
        bits = information(found.of, repairs, told.probability[told.rows])
        minutes = minutes_of(self.circuit, self.minutes, test, told.at)
        return self._with_leaves(found, minutes, bits, why, told.rows, told.groups, told.probability)

    def _with_leaves(
        self,
        found: Outcomes,
        minutes: float,
        bits: float,
        why: str,
        rows: Ints,
        groups: Ints,
        probability: NDArray[np.float64],
    ) -> Next:
        weights = probability[rows]
        group_of = dict(zip(rows.tolist(), groups.tolist(), strict=True))
        leaves = []
        for outcome in np.unique(found.of):
            here = found.of == outcome
            left = rows[here][np.argsort(-weights[here], kind="stable")]
            first: dict[int, Suspect] = {}
            for row in left.tolist():
                suspect = Suspect(self.universe.faults_of(row), float(probability[row]), group_of[row])
                first.setdefault(suspect.group, suspect)
            left_over = without_more(one_for_a_range(list(first.values())))
            share = float(weights[here].sum() / weights.sum())
            leaves.append(Leaf(share, shown_words(found, int(outcome)), left_over))
        leaves.sort(key=lambda leaf: -leaf.probability)
        at = places_of_check(self.circuit, found.test)[0]
        return Next(
            found.test,
            self.words(found.test),
            at,
            minutes,
            bits,
            why,
            cautions_of(found.test, harmless="proved"),
            tuple(leaves),
        )


def _could_be(probability: NDArray[np.float64]) -> Ints:
    """Return the hypotheses that no jumper may harm anything under: the sound job, and all that could still be wrong."""
    found: Ints = np.union1d(np.flatnonzero(probability > _COULD_BE), [0])
    return found


def troubleshoot(job: Job, seen: Sequence[Seen], *, at: str | None = None, priors: Priors | None = None) -> Answer:
    """Return the faults that explain what was seen of a job, and the next test worth making.

    Parameters
    ----------
    job : Job
        The job as it should be.
    seen : sequence of Seen
        What was seen and measured.
    at : str, optional
        Where the technician stands.
    priors : Priors, optional
        Assumed rates of faults.
    """
    return Case(job, priors).answer(seen, at)
