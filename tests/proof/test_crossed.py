"""Which terminals sit where nobody would land them, though a proof may be clean."""

from __future__ import annotations

from typing import Any

import pytest

from callpath.proof.crossed import crossed_in
from tests.jobs import HOUSE, PUMP, job_of


@pytest.mark.parametrize("base", [HOUSE, PUMP])
def test_a_sound_job_has_none(base: dict[str, Any]) -> None:
    assert crossed_in(job_of(base)) == set()


def test_an_input_joined_to_its_own_common_is_one() -> None:
    assert crossed_in(job_of(HOUSE, jumpers=[["board.Y", "board.C"]])) == {"board.Y"}


def test_an_input_joined_to_another_input_or_to_power_is_none() -> None:
    """Y to G makes the blower run on either call: usual. Power on an input is told by what runs."""
    assert crossed_in(job_of(HOUSE, jumpers=[["board.Y", "board.G"]])) == set()
    assert crossed_in(job_of(HOUSE, jumpers=[["board.R", "board.G"]])) == set()


def test_power_on_the_common_of_equipment_and_common_on_its_power_are_two() -> None:
    landings = {"outside.red": ["air.C", "pump.R"], "outside.blue": ["air.R", "pump.C"]}
    assert crossed_in(job_of(PUMP, landings=landings)) == {"pump.R", "pump.C"}
