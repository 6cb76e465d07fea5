"""The hot side on metal. C: 27 V behind 1.5 + j3 Ω drive some 7 A into the first link from the common to metal."""

from __future__ import annotations

import pytest

from callpath.landing.mend import mend
from tests.jobs import COTTAGE, HOUSE, MILL, codes, has, job_of, only, proof_of


def test_power_on_the_chassis_is_one_link_from_a_short() -> None:
    proof = proof_of(COTTAGE, jumpers="[[board.R, board.chassis]]")
    found = only(proof, "hot-on-metal")
    assert found.severity == "weak"
    assert found.calls == tuple(proof.calls)
    assert has(found.path, "board.R board.chassis")
    assert "the first link from board.C to metal is a dead short: board.fuse opens" in found.message
    assert codes(proof) == ["hot-on-metal"]


def test_the_hot_end_of_a_coil_is_hot_only_while_it_is_called() -> None:
    found = only(proof_of(COTTAGE, jumpers="[[cond.Y, cond.chassis]]"), "hot-on-metal")
    assert found.calls == ("cool",)
    assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow board.Y outside.red cond.Y cond.chassis")


def test_that_one_link_is_a_short_indeed() -> None:
    proof = proof_of(COTTAGE, jumpers="[[board.R, board.chassis], [cond.C, cond.chassis]]")
    assert codes(proof)[0] == "short"
    assert "hot-on-metal" not in codes(proof)


def test_a_conductor_that_touches_metal_shows_it_too() -> None:
    found = only(proof_of(COTTAGE, faults="[{short: [wall.red, board.chassis]}]"), "hot-on-metal")
    assert has(found.path, "board.R wall.red board.chassis")


@pytest.mark.parametrize("jumper", ["board.C, board.chassis", "cond.C, cond.chassis"])
def test_a_common_on_metal_is_right(jumper: str) -> None:
    assert proof_of(COTTAGE, jumpers=f"[[{jumper}]]").verdict == "clean"


def test_a_common_that_is_bonded_is_right_and_so_is_an_old_boards_return() -> None:
    assert proof_of(HOUSE, settings="board: {bonded-common: true}").verdict == "clean"
    assert proof_of(MILL).verdict == "clean"


def test_mend_takes_it_off_the_metal() -> None:
    found = mend(job_of(COTTAGE, jumpers=[["board.R", "board.chassis"]]))
    assert [(move.do, {move.what, move.before}) for move in found.moves] == [("unjumper", {"board.R", "board.chassis"})]
