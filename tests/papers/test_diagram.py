"""Diagrams measured: nothing overlaps, every conductor ends at its two terminals, few lines cross."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callpath.circuit.build import build, end_node
from callpath.job import Job, load_job, read_job
from callpath.papers import diagram
from callpath.papers.arrange import arrange
from callpath.papers.drawing import Diagram, Manner, Rect
from callpath.papers.layout import placed
from callpath.papers.order import arranged
from callpath.papers.symbol import HALF, strokes
from tests.jobs import HOUSE, Data, job_of
from tests.papers.geometry import wrongs
from tests.randomjob import jobs

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted([*ROOT.glob("examples/*.job.yaml"), *ROOT.glob("benchmarks/jobs/*.job.yaml")])


def check(job: Job, columns: int) -> None:
    drawn = diagram(job, columns=columns)
    assert list(wrongs(drawn)) == []
    ends = {line.name: line.ends for line in drawn.lines if line.kind == "conductor"}
    assert ends == {name: (end_node(name, 0, on), end_node(name, 1, on)) for name, on in job.landings.items()}
    assert sorted(map(sorted, job.jumpers)) == sorted(
        sorted(line.ends) for line in drawn.lines if line.kind == "jumper"
    )
    assert {terminal.block for terminal in drawn.terminals.values()} >= set(job.equipment)


@pytest.mark.parametrize("columns", [1, 2, 3])
@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_examples_are_drawn_clean(file: Path, columns: int) -> None:
    check(load_job(file), columns)


@settings(max_examples=120)
@given(jobs(), st.sampled_from([1, 2, 3]))
def test_any_job_is_drawn_clean(data: Data, columns: int) -> None:
    check(read_job(json.dumps(data)), columns)


def shuffled(job: Job, columns: int, chance: random.Random) -> int:
    """Crossings with everything that may stand anywhere in a random order."""
    arrangement = arrange(job, columns)
    for groups in arrangement.columns:
        chance.shuffle(groups)
        for group in groups:
            chance.shuffle(group.stacks)
            for stack in group.stacks:
                chance.shuffle(stack.rows)
    return placed(job, arrangement).crossings


@pytest.mark.parametrize("columns", [1, 3])
@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_no_random_order_crosses_less(file: Path, columns: int) -> None:
    job = load_job(file)
    chance = random.Random(7)
    best = min(shuffled(job, columns, chance) for _ in range(60))
    assert placed(job, arranged(job, columns)).crossings <= best


def order(drawn: Diagram, names: set[str]) -> list[str]:
    """Return terminals in the order in which they are read: column by column, from the top."""
    return sorted(names, key=lambda name: (drawn.terminals[name].rect.x, drawn.terminals[name].rect.y))


@pytest.mark.parametrize("columns", [1, 3])
@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_a_change_leaves_everything_else_where_it_was(file: Path, columns: int) -> None:
    """Whoever wires a job in its drawing looks for a terminal where it was."""
    job = load_job(file)
    before = diagram(job, columns=columns)
    again = diagram(job, columns=columns, like=before)
    assert (again.terminals, again.crossings) == (before.terminals, before.crossings)
    lifted = next(name for name, ends in job.landings.items() if None not in ends)
    after = diagram(
        replace(job, landings={**job.landings, lifted: (None, job.landings[lifted][1])}), columns=columns, like=before
    )
    assert list(wrongs(after)) == []
    both = {name for name in before.terminals if name in after.terminals}
    assert order(after, both) == order(before, both)


@settings(max_examples=60)
@given(jobs(), jobs(), st.sampled_from([1, 3]))
def test_any_job_is_drawn_clean_after_any_other(one: Data, two: Data, columns: int) -> None:
    before = diagram(read_job(json.dumps(one)), columns=columns)
    assert list(wrongs(diagram(read_job(json.dumps(two)), columns=columns, like=before))) == []


LONG = "a place whose name goes on and on " * 300


@pytest.mark.parametrize(
    "rename",
    [
        lambda text: text.replace("hall", LONG),
        lambda text: text.replace('"stat', '"' + "thermostat-in-the-great-hall-of-the-inn-"),
        lambda text: text.replace("wall", "שלום<script"),
        lambda text: text.replace("cellar", "خلف<b>{{7*7}}"),
        lambda text: text.replace('"red"', '"' + "赤" * 40 + '"').replace(".red", "." + "赤" * 40),
    ],
    ids=["place", "equipment", "cable", "markup", "colour"],
)
def test_names_of_any_length_and_script_find_room(rename: Callable[[str], str]) -> None:
    job = read_job(rename(json.dumps(HOUSE, ensure_ascii=False)))
    for columns in (1, 3):
        assert list(wrongs(diagram(job, columns=columns))) == []


def test_a_job_without_a_conductor_is_drawn() -> None:
    bare = job_of(HOUSE, cables={"wall": None, "outside": None}, landings=dict.fromkeys(HOUSE["landings"]))
    drawn = diagram(bare)
    assert drawn.lines == ()
    assert list(wrongs(drawn)) == []


def test_the_same_job_is_drawn_the_same_way() -> None:
    assert diagram(job_of(HOUSE)).lines == diagram(job_of(HOUSE)).lines


@pytest.mark.parametrize("manner", ["iec", "ansi"])
@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name.partition(".")[0])
def test_symbols_stand_in_their_boxes_and_overlap_nothing(file: Path, manner: Manner) -> None:
    job = load_job(file)
    drawn = diagram(job, symbols=manner)
    assert list(wrongs(drawn)) == []
    blocks = {block.id: block.rect for block in drawn.blocks}
    fitted = build(job).elements
    assert {symbol.name for symbol in drawn.symbols} == {name for name, (_, each) in fitted.items() if not each.hidden}
    for symbol in drawn.symbols:
        at = Rect(symbol.at[0] - HALF, symbol.at[1] - 6, 2 * HALF, 12)
        home = blocks[symbol.name.partition(".")[0]]
        assert home.x < at.x
        assert at.right < home.right
        assert home.y < at.y
        assert at.bottom < home.bottom
        assert not any(
            label.rect.overlaps(Rect(at.x, at.y, at.width, 10)) for label in drawn.labels if label.kind == "point"
        )
        assert strokes(symbol.kind, manner)
