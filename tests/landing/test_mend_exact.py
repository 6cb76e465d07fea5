"""That a repair is whole, proved and the smallest there is, and what makes its search exact."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job import Job, load_job
from callpath.landing.mend import mend
from callpath.landing.moves import Move, all_moves, moved
from callpath.landing.repair import Repairs
from callpath.proof.prove import prove
from tests.cli.run import ROOT
from tests.jobs import data, job_of
from tests.landing.repairs import EVERY, done, wrongly
from tests.parts.test_rigs import RIGS, joined, rigged

EXAMPLES = sorted((ROOT / "examples").glob("*.job.yaml"), key=str)


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_repair_takes_no_more_moves_than_the_mistakes(name: str, count: int) -> None:
    rng = random.Random(f"{name} {count}")
    for _ in range(4):
        found_right = job_of(EVERY[name])
        wrong, made = wrongly(found_right, rng, count)
        found = mend(wrong)
        assert len(found.moves) <= count, made
        assert found.fewest, made
        assert found.verdict == "clean", made
        again = prove(found.job)
        assert again.findings == found.proof.findings
        assert moved(wrong, found.moves).landings.keys() == found.job.landings.keys()


@pytest.mark.parametrize("name", EVERY)
def test_whatever_yes_and_no_refuse_the_proof_refuses_and_every_repair_meets_every_set(name: str) -> None:
    """What makes the search exact: taking the mistakes back is a repair, so it must meet every necessary set on its way."""
    rng = random.Random(name)
    right = job_of(EVERY[name])
    for _ in range(12):
        wrong, made = wrongly(right, rng, rng.randint(1, 4))
        # A splice that has lost its ends is still there to come back to.
        wrong = replace(wrong, splices={**right.splices, **wrong.splices})
        moves = all_moves(wrong)
        needs = Needs(build(wrong))
        repairs = Repairs(wrong, moves, needs, needs.serves())
        back = [i for i, move in enumerate(moves) if any(_takes_back(move, mistake) for mistake in made)]
        assert prove(moved(wrong, [moves[i] for i in back])).verdict == "clean"
        for size in range(len(back)):
            some = rng.sample(back, size)
            necessary = repairs.look(some)
            rest = sum(1 << i for i in back if i not in some)
            assert all(moves_ & rest for moves_ in necessary.sets())
            if not necessary.right():
                assert prove(moved(wrong, [moves[i] for i in some])).verdict == "findings"


def _takes_back(move: Move, mistake: Move) -> bool:
    if mistake.end >= 0:
        return (move.what, move.end, move.after) == (mistake.what, mistake.end, mistake.before)
    if mistake.do == "set":
        return (move.what, move.after) == (mistake.what, mistake.before)
    return move.thing == mistake.thing and move.do != mistake.do


TINY: dict[str, Any] = {
    "a boiler on two conductors": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [red, white]}
        landings:
          wall.red:   [stat.R, hot.R]
          wall.white: [stat.W, hot.W]
        """),
    "a dry contact": data("""
        callpath: 1
        equipment:
          stat: {part: thermostat/heat-only, at: hall}
          hot:  {part: indoor/boiler-tt, at: cellar}
        cables:
          wall: {between: [hall, cellar], conductors: [red, white, blue]}
        landings:
          wall.red:   [stat.R, hot.T1]
          wall.white: [stat.W, hot.T2]
        """),
}


@pytest.mark.parametrize("name", TINY)
def test_no_smaller_repair_is_found_by_trying_all(name: str) -> None:
    """Every set of one and of two moves proved, one by one."""
    rng = random.Random(name)
    for _ in range(5):
        wrong, _ = wrongly(job_of(TINY[name]), rng, rng.randint(1, 2))
        assert len(mend(wrong).moves) == _smallest(wrong, 2)


def _smallest(wrong: Job, most: int) -> int | None:
    moves = all_moves(wrong, metal=False)
    for size in range(most + 1):
        for made in itertools.combinations(moves, size):
            if len({move.thing for move in made}) == size and _clean(wrong, made):
                return size
    return None


def _clean(wrong: Job, made: Sequence[Move]) -> bool:
    return prove(moved(wrong, made)).verdict == "clean"


@pytest.mark.parametrize("part", RIGS)
def test_whatever_the_proof_finds_clean_yes_and_no_find_right(part: str) -> None:
    """Every part of the wider catalogue; where they disagreed, a repair could be overlooked."""
    job = job_of(joined(rigged(RIGS[part])))
    needs = Needs(build(job))
    assert Repairs(job, all_moves(job), needs, needs.serves()).look(()).right()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name.removesuffix(".job.yaml"))
def test_every_clean_example_is_right_beforehand_too(example: Path) -> None:
    job = load_job(example)
    if prove(job).verdict == "clean":
        needs = Needs(build(job))
        assert Repairs(job, all_moves(job), needs, needs.serves()).look(()).right()


def test_one_mistake_among_many_devices_takes_one_move() -> None:
    """Three zones and a hot-water tank on one panel, over a thousand moves to choose from."""
    job = load_job(ROOT / "examples" / "bathhouse-three-zones.job.yaml")
    wrong = replace(job, jumpers=(*job.jumpers, ("panel.T3-R", "panel.T3-W")))
    found = mend(wrong)
    assert done(found) == {("unjumper", "panel.T3-R", "panel.T3-W", None)}
    assert found.fewest
    assert found.verdict == "clean"
