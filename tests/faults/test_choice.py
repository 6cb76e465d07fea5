"""The next test: never pointless, never called cheaper than can be, the best there is where that can be known.

What it is compared with, ``benchmarks/optimum.py`` and ``benchmarks/habits.py``, tries everything and shares no code with it.
"""

from __future__ import annotations

import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.habits import expected, labels, repair_per_minute
from benchmarks.optimum import optimum
from benchmarks.policy_instances import KINDS, instance
from callpath.faults.choice import next_test
from callpath.faults.question import Problem
from tests.faults.questions import questions, softened

MOST = settings.default.max_examples if settings.default is not None else 100
SOME = settings(max_examples=MOST // 2)


def picked(problem: Problem, at: int, weights: np.ndarray) -> int | None:
    choice = next_test(problem, at, weights)
    return None if choice is None else choice.test


def hastily(problem: Problem, at: int, weights: np.ndarray) -> int | None:
    choice = next_test(problem, at, weights, work=0)
    return None if choice is None else choice.test


def repairs_in_reach(problem: Problem) -> set[int]:
    """Return the likeliest repair after every sequence of outcomes that there can be, none at all included."""
    reached, queue = set(), [frozenset(range(len(problem.prior)))]
    best = set()
    while queue:
        live = queue.pop()
        if live in reached:
            continue
        reached.add(live)
        mass = np.bincount(problem.repair[list(live)], problem.prior[list(live)])
        best.add(int(mass.argmax()))
        for row in problem.outcome:
            queue += [frozenset(h for h in live if row[h] == o) for o in {row[h] for h in live}]
    return best


@given(questions())
def test_it_stops_exactly_when_no_test_could_change_the_repair(problem: Problem) -> None:
    choice = next_test(problem, 0, problem.prior)
    assert (choice is None) == (len(repairs_in_reach(problem)) == 1)


@given(questions())
def test_what_it_promises_on_small_questions_is_the_optimum_and_it_keeps_it(problem: Problem) -> None:
    least = optimum(problem, 0)
    assert least is not None
    choice = next_test(problem, 0, problem.prior)
    if choice is None:
        assert least == 0
        return
    assert choice.optimal
    assert choice.minutes_remaining == pytest.approx(least, rel=1e-9)
    if choice.instead is not None:
        assert choice.minutes_instead >= choice.minutes_remaining - 1e-9
        assert choice.instead != choice.test
    # ``expected`` also asserts that every test made tells something and that it stops only with the repair known.
    assert expected(problem, 0, picked) == pytest.approx(least, rel=1e-9)


@SOME
@given(st.sampled_from(sorted(KINDS.keys() - {"broad", "vast"})), st.integers(1000, 10**6))
def test_with_no_time_to_think_it_still_never_beats_the_optimum_nor_asks_in_vain(name: str, seed: int) -> None:
    problem = instance(name, seed)
    choice = next_test(problem, 0, problem.prior, work=0)
    if choice is None:
        assert len(set(labels(problem).tolist())) == 1
        return
    cost = expected(problem, 0, hastily)
    least = next_test(problem, 0, problem.prior, work=10**9)
    assert least is not None
    assert least.optimal
    assert choice.minutes_remaining >= least.minutes_remaining - 1e-9
    assert cost >= least.minutes_remaining - 1e-9


@SOME
@given(questions(9, 7), st.randoms(use_true_random=False))
def test_names_and_order_do_not_matter(problem: Problem, random: object) -> None:
    rng = np.random.default_rng(random.getrandbits(32))  # type: ignore[attr-defined]
    h, t, p = (rng.permutation(n) for n in (len(problem.prior), len(problem.place), len(problem.minutes)))
    # Each test's outcomes get new names, and so do repairs.
    outcomes = np.array([rng.permutation(problem.outcomes)[row] for row in problem.outcome])
    repairs = rng.permutation(len(problem.prior))[problem.repair]
    turned = Problem(
        problem.prior[h], repairs[h], outcomes[t][:, h], problem.minutes[p][:, t], np.argsort(p)[problem.place[t]]
    )
    one, other = next_test(problem, 0, problem.prior), next_test(turned, int(np.argsort(p)[0]), 3 * turned.prior)
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        assert one.minutes_remaining == pytest.approx(other.minutes_remaining, rel=1e-9)
        assert one.optimal == other.optimal


@given(questions())
def test_the_leaves_hold_everything_that_is_left_and_nothing_else(problem: Problem) -> None:
    choice = next_test(problem, 0, problem.prior)
    if choice is None:
        return
    assert len(choice.leaves) > 1
    assert sum(leaf.probability for leaf in choice.leaves) == pytest.approx(1)
    held = sorted(h for leaf in choice.leaves for h in leaf.hypotheses)
    assert held == list(range(len(problem.prior)))
    for leaf in choice.leaves:
        assert {int(problem.outcome[choice.test, h]) for h in leaf.hypotheses} == {leaf.outcome}
        assert {int(r) for r in problem.repair[list(leaf.hypotheses)]} == set(leaf.repairs)
        assert leaf.probability == pytest.approx(problem.prior[list(leaf.hypotheses)].sum())


def huffman(mass: list[float]) -> float:
    """Return the mean length of Huffman's code: the least mean number of yes-or-no questions, of any that can be put."""
    heap, length = sorted(mass), 0.0
    while len(heap) > 1:
        both = heapq.heappop(heap) + heapq.heappop(heap)
        length += both
        heapq.heappush(heap, both)
    return length


@given(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=6))
def test_with_every_question_allowed_it_takes_as_many_as_huffmans_code(mass: list[float]) -> None:
    # D. A. Huffman 1952, optimality of the code that joins the two least likely; from memory.
    count = len(mass)
    prior = np.array(mass) / sum(mass)
    subsets = np.arange(1, 2 ** (count - 1))
    outcome = (subsets[:, None] >> np.arange(count)) & 1
    tests = len(subsets)
    problem = Problem(prior, np.arange(count), outcome, np.ones((1, tests)), np.zeros(tests, dtype=np.intp))
    choice = next_test(problem, 0, prior)
    assert choice is not None
    assert choice.minutes_remaining == pytest.approx(huffman(prior.tolist()), rel=1e-9)


def test_an_even_chain_is_halved() -> None:
    # Halving a chain of 16 even suspects takes log2 16 = 4 readings (computed); voltages tell before from after.
    cuts = np.arange(1, 16)
    problem = Problem(
        np.full(16, 1 / 16),
        np.arange(16),
        (np.arange(16) >= cuts[:, None]).astype(np.intp),
        np.ones((1, 15)),
        np.zeros(15, dtype=np.intp),
    )
    choice = next_test(problem, 0, problem.prior)
    assert choice is not None
    assert cuts[choice.test] == 8
    assert (choice.bits, choice.minutes_remaining, choice.optimal) == (1.0, 4.0, True)


def test_a_question_that_tells_nothing_alone_is_asked_when_the_pair_of_them_tells_all() -> None:
    outcome = np.array([[0, 0, 1, 1], [0, 1, 0, 1]])
    problem = Problem(np.full(4, 0.25), np.array([0, 1, 1, 0]), outcome, np.ones((1, 2)), np.zeros(2, dtype=np.intp))
    choice = next_test(problem, 0, problem.prior)
    assert choice is not None
    assert (choice.bits, choice.minutes_remaining) == (0.0, 2.0)


def test_it_looks_further_than_the_next_walk() -> None:
    # From 0: a walk to 1 that pays for two cheap tests there, against one dear test here that tells a little more at once.
    outcome = np.array([[0, 0, 1, 1], [0, 1, 0, 1], [0, 1, 2, 2], [0, 0, 0, 1]])
    minutes = np.array([[4.2, 4.2, 5.0, 5.0], [0.2, 0.2, 9.0, 9.0]])
    problem = Problem(np.full(4, 0.25), np.arange(4), outcome, minutes, np.array([1, 1, 0, 0]))
    choice = next_test(problem, 0, problem.prior)
    assert choice is not None
    assert choice.test in (0, 1)
    assert repair_per_minute(problem, 0, problem.prior) == 2
    assert choice.minutes_remaining == pytest.approx(4.4)


@given(questions())
def test_certain_likelihoods_say_the_same_as_outcomes(problem: Problem) -> None:
    sharp, soft = (next_test(p, 0, p.prior) for p in (problem, softened(problem, 0.0)))
    assert (sharp is None) == (soft is None)
    if sharp is not None and soft is not None:
        assert soft.minutes_remaining == pytest.approx(sharp.minutes_remaining, rel=1e-9)
        assert soft.bits == pytest.approx(sharp.bits, abs=1e-9)


@SOME
@given(questions(), st.floats(0.01, 0.4), st.sampled_from([0.0, 1.0]), st.integers(0, 2**32 - 1))
def test_doubtful_readings_are_taken_once_each_until_sure_or_out_of_tests(
    problem: Problem, doubt: float, spread: float, seed: int
) -> None:
    soft, rng = softened(problem, doubt, spread), np.random.default_rng(seed)
    assert soft.likelihood is not None
    weights, made, at = soft.prior, [], 0
    while (choice := next_test(soft, at, weights, made=made, sure=0.95)) is not None:
        assert choice.test not in made
        assert choice.bits >= 0
        assert np.isfinite(choice.minutes_remaining)
        made.append(choice.test)
        at = int(soft.place[choice.test])
        weights = weights * soft.likelihood[choice.test, rng.integers(soft.outcomes)]
    # What the tests left over tell apart, and the likeliest repair of each such group.
    free = [t for t in range(len(soft.place)) if t not in made]
    live = np.flatnonzero(weights > 1e-6 * weights.sum())
    groups: dict[bytes, list[int]] = {}
    for h in live.tolist():
        groups.setdefault(np.round(soft.likelihood[free, :, h], 5).tobytes(), []).append(h)
    shares = np.zeros(len(problem.prior))
    for group in groups.values():
        shares[np.bincount(problem.repair[group], weights[group]).argmax()] += weights[group].sum()
    assert len(groups) < 2 or shares.max() > 0.95 * weights.sum() * (1 - 1e-5)


@given(questions(), st.sets(st.integers(0, 5)))
def test_tests_that_cannot_be_made_are_as_if_they_were_not(problem: Problem, barred: set[int]) -> None:
    barred = {test for test in barred if test < len(problem.place)}
    free = [test for test in range(len(problem.place)) if test not in barred]
    fewer = Problem(problem.prior, problem.repair, problem.outcome[free], problem.minutes[:, free], problem.place[free])
    choice, other = next_test(problem, 0, problem.prior, made=barred), next_test(fewer, 0, problem.prior)
    assert (choice is None) == (other is None)
    if choice is not None and other is not None:
        assert choice.minutes_remaining == pytest.approx(other.minutes_remaining, rel=1e-9)
        assert choice.optimal
        assert choice.test not in barred


def test_sure_enough_is_enough() -> None:
    outcome = np.array([[0, 1, 1], [0, 0, 1]])
    problem = Problem(np.array([0.9, 0.09, 0.01]), np.arange(3), outcome, np.ones((1, 2)), np.zeros(2, dtype=np.intp))
    assert next_test(problem, 0, problem.prior, sure=0.9) is None
    choice = next_test(problem, 0, problem.prior, sure=0.91)
    assert choice is not None
    assert choice.test == 1 or choice.minutes_remaining < 1.11


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"prior": np.array([0.5, 0.6])}, "priors"),
        ({"repair": np.array([0])}, "sizes"),
        ({"minutes": np.array([[0.0]])}, "more than 0 minutes"),
        ({"place": np.array([1])}, "place"),
        ({"outcome": np.array([[0, -1]])}, "counted from 0"),
        ({"likelihood": np.full((1, 2, 2), 0.4)}, "likelihoods"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(change: dict[str, np.ndarray], told: str) -> None:
    sound = {
        "prior": np.array([0.5, 0.5]),
        "repair": np.array([0, 1]),
        "outcome": np.array([[0, 1]]),
        "minutes": np.array([[1.0]]),
        "place": np.array([0]),
    }
    Problem(**sound)
    with pytest.raises(ValueError, match=told):
        Problem(**(sound | change))
