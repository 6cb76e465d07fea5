"""A test marked in the drawing: every mark is where the hand goes, says what it is, and covers no other."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from callpath.faults.asked import Check
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from callpath.papers import diagram, svg
from callpath.papers.measure import PAPER_MEASURE, THUMB
from callpath.papers.probe import clamped, plates
from tests.jobs import COTTAGE, ZONE, job_of
from tests.papers.geometry import inside, pieces

EXAMPLES = Path(__file__).parents[2] / "examples"
COOL = Check("volts", "cool", between=("cond.Y", "cond.C"))


def test_leads_are_on_their_terminals_and_the_thermostat_calls() -> None:
    drawn = diagram(job_of(COTTAGE))
    found = {plate.kind: plate for plate in plates(drawn, COOL)}
    assert set(found) == {"red", "black", "call"}
    for kind, terminal in (("red", "cond.Y"), ("black", "cond.C")):
        plate, at = found[kind].rect, drawn.terminals[terminal].rect
        assert at.x <= plate.x < plate.right <= at.right
        assert at.y <= plate.y + plate.height / 2 <= at.bottom
    assert found["call"].label.text == "calls cool"


@pytest.mark.parametrize(("measure", "columns"), [(PAPER_MEASURE, 3), (THUMB, 1)], ids=["wide", "narrow"])
def test_leads_on_lifted_ends_are_off_the_terminals_on_their_conductors(measure: object, columns: int) -> None:
    """A reading between bare ends in the hand is not one between the screws that they were taken off."""
    drawn = diagram(job_of(ZONE), columns=columns, measure=measure)  # type: ignore[arg-type]
    ends = ("patch.brown@1", "patch.orange@1")
    found = plates(drawn, Check("ohms", between=ends, lifted=("patch.brown", "patch.orange")))
    assert sorted(plate.kind for plate in found) == ["black", "lift", "lift", "red"]
    for plate in found:
        assert not any(plate.rect.overlaps(terminal.rect) for terminal in drawn.terminals.values())
        if plate.kind == "lift":
            continue
        name = "patch.brown" if plate.kind == "red" else "patch.orange"
        (line,) = [line for line in drawn.lines if line.name == name]
        assert any(plate.rect.y < y < plate.rect.bottom for _, y in line.points)


def test_a_jumper_can_be_lifted() -> None:
    job = load_job(EXAMPLES / "bathhouse-three-zones.job.yaml")
    test = Check("ohms", between=("v-pool.E1", "v-pool.E2"), lifted=("panel.V3-3+v-pool.E1",))
    assert sorted(plate.kind for plate in plates(diagram(job), test)) == ["black", "lift", "red"]
    assert clamped(test) == {"jumper:panel.V3-3+v-pool.E1"}


@pytest.mark.parametrize(
    ("test", "kinds"),
    [
        (Check("amps", "cool", conductor="outside.red"), ["call", "clamp"]),
        (Check("volts", "off", between=("board.R", "board.C")), ["black", "call", "red"]),
        (Check("ohms", between=("cond.Y", "cond.C"), lifted=("outside.red",)), ["black", "lift", "red"]),
        (Check("ohms", between=("cond.Y", "outside.red@2"), lifted=("outside.red",)), ["black", "lift", "red"]),
        (Check("running", "fan", functions=("board.blower", "cond.compressor")), ["call", "look", "look"]),
        (
            Check("running", "off", functions=("board.blower",), jumped=("board.R", "board.G")),
            ["call", "jump", "jump", "look"],
        ),
    ],
)
def test_every_kind_of_test_has_its_marks(test: Check, kinds: list[str]) -> None:
    assert sorted(plate.kind for plate in plates(diagram(job_of(COTTAGE)), test)) == kinds


def test_the_clamp_is_on_its_conductor() -> None:
    drawn = diagram(job_of(COTTAGE))
    test = Check("amps", "cool", conductor="wall.green")
    (plate,) = [plate for plate in plates(drawn, test) if plate.kind == "clamp"]
    (line,) = [line for line in drawn.lines if line.name == "wall.green"]
    assert any(inside(piece, plate.rect) for piece in pieces(line))
    assert clamped(test) == {"wall.green"}


@pytest.mark.parametrize(("measure", "columns"), [(PAPER_MEASURE, 3), (THUMB, 1)], ids=["wide", "narrow"])
@pytest.mark.parametrize(
    "example", ["garden-cottage", "brewery-two-stages", "orchard-heat-pump-o", "bathhouse-three-zones"]
)
def test_no_mark_covers_another(example: str, measure: object, columns: int) -> None:
    """Of every test that could be proposed, all marks lie within the sheet, and none lies on another."""
    case = Case(load_job(EXAMPLES / f"{example}.job.yaml"))
    drawn = diagram(case.job, columns=columns, measure=measure)  # type: ignore[arg-type]
    rows = case.repairs.argsort()[:200]
    tests = case.candidates(rows)
    assert {test.kind for test in tests} == {"running", "volts", "amps", "ohms"}
    for test in tests:
        found = plates(drawn, test)
        assert {"running": "look", "volts": "red", "amps": "clamp", "ohms": "red"}[test.kind] in {p.kind for p in found}
        for plate in found:
            assert plate.rect.x >= 0 <= plate.rect.y, test
            assert plate.rect.right <= drawn.width, test
            assert plate.rect.bottom <= drawn.height, test
        for one, other in itertools.combinations(found, 2):
            assert not one.rect.overlaps(other.rect), (test, one.kind, other.kind)


def test_marks_are_drawn_with_their_words() -> None:
    drawn = svg(diagram(job_of(COTTAGE)), test=COOL)
    for word in (">red<", ">black<", ">calls cool<", "plate-red"):
        assert word in drawn
    assert "probe" not in svg(diagram(job_of(COTTAGE)))
