"""The way that current takes, end by end."""

from __future__ import annotations

import pytest

from callpath.calls.closing import given_for
from callpath.circuit.build import build
from callpath.circuit.path import loop, through
from callpath.circuit.snapshot import Snapshot, snapshot
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import COTTAGE, job_of

COIL_LOOP = (
    "board.R", "wall.red", "stat.R", "stat.Y", "wall.yellow", "board.Y", "outside.red", "cond.Y", "cond.C",
    "outside.white", "board.C",
)  # fmt: skip


def state(call: str, **changes: object) -> Snapshot:
    circuit = build(job_of(COTTAGE, **changes))
    found = snapshot(circuit, given_for(circuit, call))
    assert_kirchhoff(found)
    return found


def way(of: Snapshot, name: str) -> tuple[str, ...]:
    return through(of, of.circuit.network.index[name])


def test_the_largest_current_of_a_source_is_its_loop() -> None:
    assert loop(state("cool"), 0) == COIL_LOOP


@pytest.mark.parametrize(
    "name", ["cond.contactor", "wall.yellow", "outside.white", "stat.contact-Y", "board.transformer"]
)
def test_every_branch_of_a_loop_tells_the_same_way(name: str) -> None:
    assert way(state("cool"), name) == COIL_LOOP


def test_a_load_beside_the_largest_has_a_way_of_its_own() -> None:
    assert way(state("cool"), "board.fan-input") == (
        "board.R", "wall.red", "stat.R", "stat.G", "wall.green", "board.G", "board.C",
    )  # fmt: skip


def test_a_pair_landed_the_other_way_round_is_told_as_it_is_landed() -> None:
    turned = state("cool", landings={"outside.red": ["board.C", "cond.C"], "outside.white": ["board.Y", "cond.Y"]})
    expected = (*COIL_LOOP[:6], "outside.white", "cond.Y", "cond.C", "outside.red", "board.C")
    assert way(turned, "cond.contactor") == expected


def test_a_splice_is_on_the_way() -> None:
    spliced = state(
        "cool",
        splices={"joint": "cellar"},
        landings={"wall.yellow": ["stat.Y", "joint"], "outside.red": ["joint", "cond.Y"]},
    )
    assert "joint" in way(spliced, "cond.contactor")


def test_a_short_leaves_one_conductor_for_the_other() -> None:
    held = build(job_of(COTTAGE, settings="board: {fuse-amps: 20}", faults=[
        {"short": ["outside.red", "outside.white"]}, {"stuck": "stat.contact-Y"}, {"high-resistance": "wall.red"},
    ]))  # fmt: skip
    shorted = snapshot(held, given_for(held, "off"))
    assert_kirchhoff(shorted)
    assert loop(shorted, 0) == (
        "board.R", "wall.red", "stat.R", "stat.Y", "wall.yellow", "board.Y", "outside.red", "outside.white", "board.C",
    )  # fmt: skip


def test_a_branch_without_current_has_no_way() -> None:
    dead = state("cool", faults=[{"dead": "board.transformer"}])
    assert way(dead, "cond.contactor") == ()
