"""The search as a tree: every hypothesis at one end, the right repair there, the minutes those of the policy."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmarks.habits import labels
from benchmarks.optimum import optimum
from callpath.faults.question import Problem
from callpath.faults.tree import Node, build_tree
from tests.faults.questions import questions, softened


def nodes(node: Node) -> Iterator[Node]:
    yield node
    for branch in node.branches:
        yield from nodes(branch.node)


@given(questions())
def test_every_hypothesis_ends_at_its_repair_after_the_fewest_minutes(problem: Problem) -> None:
    tree = build_tree(problem, 0)
    ends = [node for node in nodes(tree) if node.choice is None]
    assert sorted(h for end in ends for h in end.hypotheses) == list(range(len(problem.prior)))
    label = labels(problem)
    for end in ends:
        assert not end.cut
        assert {int(label[h]) for h in end.hypotheses} == {end.repairs[0]}
    assert tree.minutes == pytest.approx(optimum(problem, 0), rel=1e-9)
    assert sum(end.probability for end in ends) == pytest.approx(1)


@given(questions(9, 7), st.integers(0, 3), st.integers(0, 4))
def test_a_tree_cut_for_its_size_says_where(problem: Problem, deepest: int, most: int) -> None:
    tree = build_tree(problem, 0, deepest=deepest, most_tests=most)
    tests = [node for node in nodes(tree) if node.choice is not None]
    assert len(tests) <= most

    def depth(node: Node) -> int:
        return max((1 + depth(branch.node) for branch in node.branches), default=0)

    assert depth(tree) <= deepest
    label = labels(problem)
    for node in nodes(tree):
        unknown = len({int(label[h]) for h in node.hypotheses}) > 1
        assert node.cut == (unknown and node.choice is None)


@given(questions(), st.floats(0.0, 0.2))
def test_a_tree_is_plain_data(problem: Problem, doubt: float) -> None:
    told = json.loads(json.dumps(build_tree(softened(problem, doubt), 0, sure=0.9).as_json(), allow_nan=False))
    queue = [(told, 1.0)]
    while queue:
        node, probability = queue.pop()
        assert node["probability"] == pytest.approx(probability, abs=1e-4)
        assert ("test" in node) == ("outcomes" in node)
        queue += [(after["then"], after["then"]["probability"]) for after in node.get("outcomes", [])]
        if "outcomes" in node:
            together = sum(after["then"]["probability"] for after in node["outcomes"])
            assert together == pytest.approx(node["probability"], abs=1e-4)
