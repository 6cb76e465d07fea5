"""Leads lifted for an ohmmeter: jumpers among them, all that sit on a terminal, and in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.calls.reading import leads_on, ohms_between
from callpath.circuit.build import build
from callpath.errors import QuestionError, SeenError
from callpath.faults.asked import Check
from callpath.faults.candidate import direct_tests
from callpath.faults.seen import read_seen, seen_text
from callpath.faults.troubleshoot import Case
from callpath.faults.words import point_words, words_of_test
from callpath.job import load_job
from callpath.job.model import Fault
from tests.faults.test_troubleshoot import hunt
from tests.jobs import HOUSE, ZONE, job_of

BATH = load_job(Path(__file__).parents[2] / "examples" / "bathhouse-three-zones.job.yaml")


@pytest.mark.parametrize("valve", ["v-tank", "v-sauna", "v-pool"])
def test_a_stuck_end_switch_is_told_from_those_beside_it(valve: str) -> None:
    """Three end switches feed one contact of the panel; lifted off, an ohmmeter tells which of them is closed at rest."""
    fault = Fault("stuck", (f"{valve}.end-switch",))
    tests = list(direct_tests(build(BATH), [fault]))
    number = {"v-tank": 1, "v-sauna": 2, "v-pool": 3}[valve]
    wanted = Check("ohms", between=(f"{valve}.E1", f"{valve}.E2"), lifted=(f"panel.V{number}-3+{valve}.E1",))
    assert wanted in tests
    found, _, made = hunt(Case(BATH), (fault,))
    assert found
    assert made <= 12


def test_a_jumper_is_lifted_as_a_conductor_is() -> None:
    circuit = build(BATH)
    ends = ("panel.X1", "water.1")
    assert leads_on(BATH, "panel.X1") == ("panel.X1+water.1",)
    assert ohms_between(circuit, *ends).value < 1
    assert ohms_between(circuit, *ends, lifted=["panel.X1+water.1"]).value > 1e6
    with pytest.raises(QuestionError, match="sits on neither"):
        ohms_between(circuit, "v-pool.E1", "v-pool.E2", lifted=["panel.X1+water.1"])
    text = "seen:\n  - {between: [panel.X1, water.1], ohms: OL, lifted: [water.1+panel.X1]}\n"
    (seen,) = read_seen(text, circuit)
    assert seen.test.lifted == ("panel.X1+water.1",)
    assert "panel.X1+water.1" in seen_text([seen])
    with pytest.raises(SeenError, match="panel"):
        read_seen(text.replace("water.1+panel.X1", "panel.X1+water.2"), circuit)


def test_ends_and_jumpers_are_told_in_words() -> None:
    house, zone = job_of(HOUSE), job_of(ZONE)
    assert point_words("wall.red@2", house) == "the end of wall.red at cellar"
    assert point_words("patch.brown@1", zone) == "the end of patch.brown that belongs on valve.E1"
    assert point_words("board.fuse@2", house) == "the other end of board.fuse"
    assert point_words("board.R", house) == "board.R"
    test = Check("ohms", between=("panel.X1", "water.1"), lifted=("panel.X1+water.1",))
    assert words_of_test(test, BATH) == (
        "power off, the jumper panel.X1 to water.1 lifted: ohms from panel.X1 to water.1"
    )
