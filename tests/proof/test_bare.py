"""Equipment that nothing is landed on is told of: a float switch that nobody has wired stops nothing."""

from __future__ import annotations

from tests.jobs import HOUSE, codes, only, proof_of

FLOAT = "float: {part: accessory/float-switch, at: cellar}"


def test_what_nothing_is_landed_on_is_told() -> None:
    proof = proof_of(HOUSE, equipment=f"{{{FLOAT}}}")
    found = only(proof, "left-out")
    assert (found.severity, found.where) == ("note", ("float",))
    assert "nothing is landed on float" in found.message
    assert proof.verdict == "clean"


def test_a_jumper_is_enough_to_belong_to_the_circuit() -> None:
    wired = proof_of(HOUSE, equipment=f"{{{FLOAT}}}", jumpers="[[float.1, board.R]]")
    assert "left-out" not in codes(wired)


def test_it_is_not_told_beside_a_call_that_fails_without_it_nor_where_nothing_is_landed() -> None:
    off = "{outside.red: null, outside.white: null}"
    asked, not_asked = (proof_of(HOUSE, landings=off, serves=serves) for serves in ("[cool]", "[heat]"))
    assert only(not_asked, "left-out").where == ("cond",)
    assert "dead-call" in codes(asked)
    assert "left-out" not in codes(asked)
