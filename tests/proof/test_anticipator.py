"""A heat anticipator is set to the current of its circuit (published); the heat at another current is computed."""

from __future__ import annotations

import pytest

from callpath.calls.reading import amps_in
from callpath.circuit.build import build
from tests.jobs import HOUSE, ZONE, amended, codes, job_of, only, proof_of

BIMETAL = amended(ZONE, equipment="{stat: {part: thermostat/bimetal, at: classroom}}", serves="[heat]")


def test_set_to_what_a_clamp_meter_reads_it_is_quiet() -> None:
    carried = amps_in(build(job_of(BIMETAL)), "heat", "wall.white").value
    # M: a zone valve's motor takes 0.2 to 0.32 A.
    assert 0.2 <= carried <= 0.4
    right = proof_of(BIMETAL, settings=f"{{stat: {{anticipator-amps: {carried:.2f}}}}}")
    assert "anticipator-off" not in codes(right, notes=True)


@pytest.mark.parametrize(("set_to", "told"), [(0.8, "overshoots"), (0.15, "end early")])
def test_set_wrong_it_says_what_to_set(set_to: float, told: str) -> None:
    found = only(proof_of(BIMETAL, settings=f"{{stat: {{anticipator-amps: {set_to}}}}}"), "anticipator-off")
    assert found.severity == "note"
    assert found.where == ("stat.anticipator",)
    assert found.calls == ("heat",)
    assert told in found.message
    assert found.remedy.startswith("set it to 0.")
    to = float(found.remedy.split()[3])
    again = proof_of(BIMETAL, settings=f"{{stat: {{anticipator-amps: {to}}}}}")
    assert "anticipator-off" not in codes(again, notes=True)


def test_the_heat_goes_with_the_square_of_the_current() -> None:
    """C: P (i / I)²; at twice the set current four times the heat."""
    found = only(proof_of(BIMETAL, settings="{stat: {anticipator-amps: 0.15}}"), "anticipator-off")
    carried = float(found.message.split("carries ")[1].split()[0])
    heat = float(found.message.split("gives ")[1].split()[0])
    assert heat == pytest.approx(0.1 * (carried / 0.15) ** 2, rel=0.08)


def test_an_electronic_input_takes_too_little_for_any_setting() -> None:
    board = amended(HOUSE, equipment="{stat: {part: thermostat/bimetal, at: hall}}", landings="{wall.blue: null}")
    found = only(proof_of(board), "anticipator-off")
    assert "does not reach" in found.remedy


def test_a_thermostat_without_one_and_a_dead_circuit_are_told_nothing() -> None:
    assert "anticipator-off" not in codes(proof_of(ZONE), notes=True)
    assert "anticipator-off" not in codes(proof_of(BIMETAL, landings="{wall.white: null}"), notes=True)
