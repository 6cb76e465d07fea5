"""How few minutes the chosen tests take: against the exact optimum, against the habits of the trade, and how fast it chooses."""

from __future__ import annotations

import json
import time
from pathlib import Path

import numpy as np

from benchmarks.example_questions import COMPLAINTS, question
from benchmarks.habits import HABITS, expected
from benchmarks.optimum import optimum
from benchmarks.policy_instances import KINDS, instance, many
from callpath.faults.choice import WORK, next_test
from callpath.faults.question import Problem

Row = dict[str, object]
EACH = 60
RATHER_SURE = 0.9
# Circuits in houses, with walks; the other kinds are made to be hard.
REALISTIC = ("branches", "chain", "house")
# What trying everything takes minutes to find: written by ``python -m benchmarks.policy``.
FROZEN = Path(__file__).parent / "policy_optima.json"


def row(name: str, value: float, unit: str, versus: str, ratio: float | None = None) -> Row:
    return {"name": name, "value": value, "unit": unit, "versus": versus, "ratio": ratio}


def chosen(problem: Problem, at: int, weights: np.ndarray) -> int | None:
    """Pick as the chooser does."""
    choice = next_test(problem, at, weights)
    return None if choice is None else choice.test


def against_optimum() -> tuple[list[Row], dict[str, list[list[float]]]]:
    """Compare with the optimum; also return, by kind, the minutes of the chooser and of every habit."""
    ratios: dict[str, list[float]] = {}
    minutes: dict[str, list[list[float]]] = {}
    frozen = json.loads(FROZEN.read_text(encoding="utf-8"))
    for name in sorted(KINDS):
        best = frozen.get(name) or {str(seed): optimum(instance(name, seed), 0) for seed in range(EACH)}
        for seed, least in best.items():
            if least is None or least == 0:
                continue
            problem = instance(name, int(seed))
            mine = expected(problem, 0, chosen)
            ratios.setdefault(name, []).append(mine / least)
            if name in REALISTIC:
                habits = [expected(problem, 0, habit) for habit in HABITS.values()]
                minutes.setdefault(name, []).append([mine, *habits])
    found = []
    every = np.concatenate([np.array(ratio) for ratio in ratios.values()])
    for name, ratio in {"all": every, **{name: np.array(ratio) for name, ratio in ratios.items()}}.items():
        versus = f"exact optimum, {len(ratio)} instances, worst {ratio.max():.4f}"
        found.append(row(f"minutes to the right repair, mean, {name}", float(ratio.mean()), "of the optimum", versus))
        if name == "all":
            last = float(np.percentile(ratio, 99))
            found.append(row("minutes to the right repair, 99th percentile, all", last, "of the optimum", versus))
    return found, minutes


def hastily(problem: Problem, at: int, weights: np.ndarray) -> int | None:
    """Pick as the chooser does with a hundredth of the work."""
    choice = next_test(problem, at, weights, work=WORK // 100)
    return None if choice is None else choice.test


def against_optimum_in_haste() -> list[Row]:
    """Compare with the optimum where the work allowed is far too little, to tell how much there is to spare."""
    ratios = []
    for name, best in json.loads(FROZEN.read_text(encoding="utf-8")).items():
        for seed, least in best.items():
            ratios.append(expected(instance(name, int(seed)), 0, hastily) / least)
    versus = f"exact optimum, {len(ratios)} frozen instances, worst {max(ratios):.4f}"
    name = "minutes to the right repair, mean, a hundredth of the work"
    return [row(name, float(np.mean(ratios)), "of the optimum", versus)]


def against_habits(minutes: dict[str, list[list[float]]]) -> list[Row]:
    """Compare the mean minutes with those of every habit of the trade on realistic instances."""
    found = []
    for name, table in {**minutes, "all realistic": [line for part in minutes.values() for line in part]}.items():
        mean = np.array(table).mean(axis=0)
        for habit, habits_mean in zip(HABITS, mean[1:], strict=True):
            versus = f"{habit}: {habits_mean:.2f} min"
            found.append(row(f"mean minutes, {name}", float(mean[0]), "min", versus, float(mean[0] / habits_mean)))
    return found


def on_examples() -> list[Row]:
    """Compare with the habits on the questions that the example jobs put, each policy stopping where the repair is 90 % sure."""
    table = []
    for name in COMPLAINTS:
        for complaint in (False, True):
            problem, at = question(name, complaint=complaint)
            mine = expected(problem, at, until_rather_sure, RATHER_SURE)
            table.append([mine, *(expected(problem, at, habit, RATHER_SURE) for habit in HABITS.values())])
    return against_habits({f"{len(table)} questions of the example jobs": table})[: len(HABITS)]


def until_rather_sure(problem: Problem, at: int, weights: np.ndarray) -> int | None:
    """Pick as the chooser does when that is sure enough."""
    choice = next_test(problem, at, weights, sure=RATHER_SURE)
    return None if choice is None else choice.test


def speed() -> list[Row]:
    """Time one choice and one update among 20,000 hypotheses, warm."""
    problem = many(20_000, 300)
    weights = problem.prior
    choice = next_test(problem, 0, weights)
    assert choice is not None
    choosing, updating = [], []
    for _ in range(7):
        start = time.perf_counter()
        next_test(problem, 0, weights)
        choosing.append(time.perf_counter() - start)
        start = time.perf_counter()
        weights = problem.prior * (problem.outcome[choice.test] == 0)
        weights = weights / weights.sum()
        updating.append(time.perf_counter() - start)
        weights = problem.prior
    start = time.perf_counter()
    HABITS["information per minute, one step"](problem, 0, problem.prior)
    greedy = time.perf_counter() - start
    chosen_in, updated_in = float(np.median(choosing)), float(np.median(updating))
    return [
        row(
            "next test, 20,000 hypotheses, 300 tests",
            1e3 * chosen_in,
            "ms",
            f"one greedy step without look-ahead, {1e3 * greedy:.0f} ms",
            chosen_in / greedy,
        ),
        row("one update, 20,000 hypotheses", 1e3 * updated_in, "ms", ""),
    ]


def policy() -> list[Row]:
    """Return every line about the choice of tests."""
    found, minutes = against_optimum()
    return found + against_optimum_in_haste() + against_habits(minutes) + on_examples() + speed()


def freeze() -> None:
    """Write down the optimum of instances that take long: by trying everything, and where that is too much by the planner.

    The planner's own optimum is the same number as that of trying everything wherever both were found.
    """
    best: dict[str, dict[str, float]] = {"broad": {}, "vast": {}}
    for name, seeds in {"broad": 60, "vast": 30}.items():
        for seed in range(seeds):
            problem = instance(name, seed)
            if name == "broad":
                least = optimum(problem, 0, 1_500_000)
            else:
                choice = next_test(problem, 0, problem.prior, work=100 * WORK)
                least = choice.minutes_remaining if choice is not None and choice.optimal else None
            if least:
                best[name][str(seed)] = least
            FROZEN.write_text(json.dumps(best, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    freeze()
