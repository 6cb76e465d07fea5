"""Conductors that are landed at one end only: when their open end is live, from the settled circuit."""

from __future__ import annotations

import pytest

from tests.jobs import COTTAGE, HOUSE, only, proof_of


@pytest.mark.parametrize(
    ("landing", "told", "calls"),
    [
        ("wall.yellow: [null, board.Y]", "wall.yellow is landed on board.Y and on nothing at hall", ()),
        ("wall.green: [stat.G, null]", "on nothing at cellar: its open end is live on fan, cool", ("fan", "cool")),
        ("wall.white: [stat.W, null]", "its open end is live on heat", ("heat",)),
        ("wall.red: [null, board.R]", "its open end is live all the time", ("off", "fan", "cool", "heat")),
        ("wall.blue: [null, board.C]", "its open end is live on no call", ()),
    ],
)
def test_when_an_open_end_is_live(landing: str, told: str, calls: tuple[str, ...]) -> None:
    # On battery, so that the thermostat calls whatever is open.
    proof = proof_of(HOUSE, settings="stat: {power: battery}", landings=f"{{{landing}}}")
    found = only(proof, "half-landed")
    assert found.severity == "note"
    assert told in found.message
    assert found.calls == calls


def test_a_neighbour_of_a_live_conductor_shows_only_a_ghost() -> None:
    """P: stray capacitance brings volts to an open conductor that a load takes away."""
    proof = proof_of(COTTAGE, landings="{wall.green: [null, null], outside.red: [board.Y, null]}")
    assert only(proof, "half-landed").calls == ("cool",)
    loose = proof_of(COTTAGE, landings="{wall.yellow: [stat.Y, null]}", serves="[fan]")
    assert "half-landed" in [finding.code for finding in loose.findings]


def test_landed_at_both_ends_or_at_none_is_not_told() -> None:
    for landing in ("[stat.G, board.G]", "[null, null]"):
        proof = proof_of(COTTAGE, landings=f"{{wall.green: {landing}}}")
        assert not [finding for finding in proof.findings if finding.code == "half-landed"]
