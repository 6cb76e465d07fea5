"""The fault tree: from what does not run, test by test, to what to mend; worked out beforehand, for where no computer is.

For every call and everything that a single fault can make of it, the tree is the fault finder's own: the same faults, what each
shows by the same circuit, the same minutes. Ohmmeter tests come last, where volts, amps and looking leave several repairs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from callpath.circuit.solve import Ints
from callpath.faults.answer import cautions_of, shown_words
from callpath.faults.asked import Check
from callpath.faults.candidate import (
    Outcomes,
    candidate_tests,
    jump_pairs,
    outcomes_of,
    place_of,
    quick_outcomes,
    safe_jumps,
)
from callpath.faults.choose import work_of
from callpath.faults.cost import priced
from callpath.faults.posterior import predict
from callpath.faults.question import Problem
from callpath.faults.tree import Node, build_tree
from callpath.faults.troubleshoot import Case
from callpath.faults.words import faults_words
from callpath.job.model import Fault, Job
from callpath.progress import step

__all__ = ["Answer", "End", "Entry", "FaultTree", "Step", "fault_tree"]

_DEEPEST = 12
_MOST_TESTS = 150
# How much thought a test is worth; the rest is the fault finder's rule of thumb.
_WORK = 500


@dataclass(frozen=True)
class End:
    """Where the search ends: what may be wrong, the likeliest first; no test on paper tells apart what stands together."""

    suspects: tuple[tuple[Fault, ...], ...]

    @property
    def words(self) -> tuple[str, ...]:
        """What may be wrong, in words."""
        return tuple(dict.fromkeys(faults_words(faults) for faults in self.suspects))


@dataclass(frozen=True)
class Answer:
    """One thing that a test may show, in words and as bounds of the reading or what runs; and what follows."""

    words: str
    low: float
    high: float
    runs: frozenset[str]
    after: Step | End


@dataclass(frozen=True)
class Step:
    """A test to make, in words too, where, what it takes [min], what to be careful of, and its answers, the likeliest first."""

    test: Check
    words: str
    at: str
    minutes: float
    cautions: tuple[str, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True)
class Entry:
    """A symptom: on a call these functions run, and those should and do not, or should not and do."""

    call: str
    runs: frozenset[str]
    missing: tuple[str, ...]
    unwanted: tuple[str, ...]
    after: Step | End

    @property
    def words(self) -> str:
        """The symptom in words."""
        told = [f"does not run: {', '.join(self.missing)}"] * bool(self.missing)
        told += [f"runs and should not: {', '.join(self.unwanted)}"] * bool(self.unwanted)
        return f"on '{self.call}' {'; '.join(told)}"


@dataclass(frozen=True)
class FaultTree:
    """Every symptom with its search; ``silent`` are the single faults that make nothing run otherwise on any call."""

    entries: tuple[Entry, ...]
    silent: tuple[Fault, ...]


def fault_tree(job: Job) -> FaultTree:
    """Return the fault tree of a job.

    Parameters
    ----------
    job : Job
        The job as it should be; faults planted in it are left out.
    """
    return _Grown(Case(job)).tree()


_Shown = tuple[Outcomes, Ints]
"""A test's outcomes, and which of them each of some columns shows."""


class _Grown:
    """A tree being grown. Faults are counted as columns of ``rows``, the hypotheses of at most one fault."""

    def __init__(self, case: Case) -> None:
        self.case, self.shows = case, case.shows([])
        self.rows: Ints = np.flatnonzero(case.universe.two < 0).astype(np.intp)
        self.suspects = tuple(case.universe.faults_of(int(row)) for row in self.rows)
        self.prior, self.repairs = case.universe.prior[self.rows], case.repairs[self.rows]
        self.ends: dict[tuple[int, ...], Step | End] = {}

    def tree(self) -> FaultTree:
        """Return the whole tree."""
        symptoms = list(self._symptoms())
        empty = np.zeros(0, np.intp)
        seen: Ints = np.unique(np.concatenate([empty, *(columns for *_, columns in symptoms)]))
        quiet = np.setdiff1d(np.arange(len(self.rows)), seen)
        silent = tuple(fault for column in quiet for fault in self.suspects[column])
        outcomes = self._quick(seen) if len(seen) else []
        used = {
            found.test: found
            for *_, columns in symptoms
            for found in _tests(*self._grow(columns, _of(outcomes, seen, columns)))
        }
        # What stands on paper is what a meter shows while it is there; only the tests chosen so far are worth that look.
        self.shows.ready_meter([test.between for test in used if test.kind == "volts" and test.between is not None])
        metered = [self._with_meter(found, seen) for found in used.values()]
        entries = [
            Entry(
                call,
                runs,
                tuple(sorted(normal - runs)),
                tuple(sorted(runs - normal)),
                self._told(*self._grow(columns, _of(metered, seen, columns)), columns),
            )
            for call, runs, normal, columns in symptoms
        ]
        return FaultTree(tuple(entries), silent)

    def _symptoms(self) -> Iterator[tuple[str, frozenset[str], frozenset[str], Ints]]:
        """Yield every call, what runs there under some faults, what should, and these faults."""
        functions = tuple(self.case.circuit.functions)
        for call in self.case.calls:
            shown = predict(self.shows, Check("running", call, functions), self.rows)
            patterns = [frozenset(name for name, on in zip(functions, runs, strict=True) if on) for runs in shown.runs]
            # The first hypothesis is that nothing is wrong.
            normal = patterns[shown.index[0]]
            for number, runs in enumerate(patterns):
                if runs != normal:
                    yield call, runs, normal, np.flatnonzero(shown.index == number).astype(np.intp)

    def _quick(self, columns: Ints) -> list[Outcomes]:
        """Return what volts, amps and looking show under some faults, ohms left for the end."""
        rows = self.rows[columns]
        tests = candidate_tests(self.case.circuit, self.case.calls, ())
        tests += safe_jumps(self.shows, np.union1d(rows, self.rows[:1]), jump_pairs(self.case.circuit))
        return quick_outcomes(self.shows, tests, rows)

    def _with_meter(self, found: Outcomes, columns: Ints) -> Outcomes:
        return outcomes_of(predict(self.shows, found.test, self.rows[columns])) if found.test.kind == "volts" else found

    def _grow(self, columns: Ints, shown: Sequence[_Shown]) -> tuple[Node, list[Outcomes]]:
        """Return the search among some faults by some tests, those that tell nothing left out, and these tests."""
        step()
        telling = [(found, of) for found, of in shown if (of != of[0]).any()]
        case = self.case
        weights = self.prior[columns] / self.prior[columns].sum()
        repairs = np.unique(self.repairs[columns], return_inverse=True)[1].astype(np.intp).ravel()
        works = [work_of(case.circuit, found.test) for found, _ in telling]
        table, place = priced(case.minutes, works, case.locations)
        outcome = np.array([of for _, of in telling], np.intp).reshape(len(telling), len(columns))
        problem = Problem(weights, repairs, outcome, table, place)
        stats = [device.at for device in case.job.equipment.values() if device.part.calls]
        start = case.locations.index((stats or list(case.locations))[0])
        root = build_tree(problem, start, work=_WORK, deepest=_DEEPEST, most_tests=_MOST_TESTS)
        return root, [found for found, _ in telling]

    def _told(self, node: Node, tests: Sequence[Outcomes], columns: Ints, *, measured: bool = False) -> Step | End:
        """Return a node of a search in words; where several repairs are left, the ohmmeter's turn comes."""
        if node.choice is None or not node.branches:
            left = columns[list(node.hypotheses)]
            if measured or len(node.repairs) < 2:
                return End(tuple(self.suspects[column] for column in left))
            return self._by_ohms(left)
        found = tests[node.choice.test]
        answers = tuple(
            _answer(found, branch.outcome, self._told(branch.node, tests, columns, measured=measured))
            for branch in node.branches
        )
        at = place_of(self.case.circuit, found.test)
        return Step(
            found.test,
            self.case.words(found.test),
            at,
            node.choice.minutes,
            cautions_of(found.test, harmless="proved"),
            answers,
        )

    def _by_ohms(self, columns: Ints) -> Step | End:
        """Return the search among faults that only an ohmmeter can tell apart."""
        key = tuple(columns.tolist())
        if key not in self.ends:
            faults = [fault for column in columns for fault in self.suspects[column]]
            tests = candidate_tests(self.case.circuit, (), faults)
            found = [outcomes_of(predict(self.shows, test, self.rows[columns])) for test in tests]
            node, telling = self._grow(columns, [(each, each.of) for each in found])
            self.ends[key] = self._told(node, telling, columns, measured=True)
        return self.ends[key]


def _of(outcomes: Sequence[Outcomes], seen: Ints, columns: Ints) -> list[_Shown]:
    places = np.searchsorted(seen, columns)
    return [(found, found.of[places]) for found in outcomes]


def _tests(node: Node, tests: Sequence[Outcomes]) -> Iterator[Outcomes]:
    if node.choice is not None and node.branches:
        yield tests[node.choice.test]
        for branch in node.branches:
            yield from _tests(branch.node, tests)


def _answer(found: Outcomes, outcome: int, after: Step | End) -> Answer:
    words = shown_words(found, outcome)
    if found.test.kind == "running":
        runs = frozenset(name for name, on in zip(found.test.functions, found.runs[outcome], strict=True) if on)
        return Answer(words, 0.0, 0.0, runs, after)
    return Answer(words, float(found.low[outcome]), float(found.high[outcome]), frozenset(), after)
